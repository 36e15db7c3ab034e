package salon

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"math"
	"slices"
	"strconv"
	"testing"
	"time"

	"thatch/imaging"
	"thatch/imaging/measure"
	"thatch/imaging/phantom"
	"thatch/timeline"
	"thatch/timeline/outside"
)

// photographed is a drawn dog (A) with sittings in the salon: her points and outlines are the drawn ones, the pictures plain
// sheets of the right size, because nothing here looks at pixels.
type photographed struct {
	s        *Salon
	dog      timeline.Dog
	sittings []phantom.Sitting
	photos   [][]timeline.Photo
	first    timeline.Day
}

func drawnAs(v phantom.Shot) phantom.Truth {
	return phantom.TruthOf(v.Dog, v.Coat, v.Pose, small(v.Camera))
}

// small is the same camera with a quarter of the pixels each way: nothing here reads them, and decoding them takes time.
func small(c phantom.Camera) phantom.Camera {
	c.WidthPX, c.HeightPX, c.MMPerPX = c.WidthPX/4, c.HeightPX/4, c.MMPerPX*4
	return c
}

func (d photographed) on(k int) timeline.Day { return d.first + timeline.Day(d.sittings[k].DayOffset) }

func photographedDog(t *testing.T, seed int64, sittings, photos int, combed ...int) photographed {
	t.Helper()
	s, clock := opened(t)
	out := photographed{s: s, first: day("2026-03-02")}
	clock.set(out.first + 200)
	for v := range phantom.SittingsOf(seed, 1, sittings, photos, phantom.Standing) {
		out.sittings = append(out.sittings, v)
	}
	out.dog = must(s.CreateDog(ctx, NewDog{
		Name: "Bracken", WithersMM: out.sittings[0].Dog.WithersMM, ShareOK: true,
		Answers: timeline.Answers{On: out.first - 1, LastWorked: out.first - 90, Undercoat: timeline.UndercoatSome},
	}))
	for k, v := range out.sittings {
		session := must(s.OpenSession(ctx, out.dog.ID, out.on(k)))
		var mine []timeline.Photo
		for i, shot := range v.Shots {
			truth := drawnAs(shot)
			p := out.photo(t, fmt.Sprintf("%d-%d.jpg", k, i), out.on(k).Time().Add(time.Duration(600+i)*time.Minute), small(shot.Camera).WidthPX, small(shot.Camera).HeightPX)
			p = must(s.SetPhotoFacts(ctx, p.ID, p.Rev, PhotoEdit{Side: truth.Facing, Phase: timeline.PhaseStart, CoatState: timeline.CoatBrushedDown}))
			p = must(s.SavePoints(ctx, p.ID, p.Rev, truth.Landmarks))
			ok(s.st.SetFocal(ctx, p.SHA256, shot.Camera.DistanceMM/truth.MMPerPX))
			ok(s.st.SetMarkerLook(ctx, p.SHA256, timeline.MarkerLook{Seen: &timeline.MarkerSeen{Dog: out.dog.ID, SizeMM: 80, MMPerPX: truth.MMPerPX, SDMMPerPX: 0.001 * truth.MMPerPX}}))
			e := must(s.keepEdge(ctx, timeline.Edge{Photo: p.ID, Method: "landmarks", Polygon: truth.Outline}))
			e.Confirmed = measure.Measured()
			must(s.keepEdge(ctx, e))
			mine = append(mine, p)
		}
		out.photos = append(out.photos, mine)
		if slices.Contains(combed, k) {
			out.comb(k, session.ID, measure.Measured()...) // by the protocol all zones once
		}
	}
	return out
}

// photo adds a plain sheet, no two of the same colour.
func (d photographed) photo(t *testing.T, name string, at time.Time, w, h int) timeline.Photo {
	t.Helper()
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	c := color.NRGBA{uint8(at.Unix() / 60), uint8(at.Unix() / 15360), 77, 255}
	for i := 0; i < len(img.Pix); i += 4 {
		img.Pix[i], img.Pix[i+1], img.Pix[i+2], img.Pix[i+3] = c.R, c.G, c.B, c.A
	}
	var b bytes.Buffer
	ok(imaging.EncodeJPEG(&b, img, 60))
	p := add(t, d.s, d.dog.ID, name, must(imaging.InsertEXIF(b.Bytes(), imaging.EXIFFields{TakenLocal: at}))).Photo
	ok(d.s.st.SetPhotoReady(ctx, p.SHA256, ""))
	return p
}

func (d photographed) comb(k int, session timeline.ID, zones ...timeline.Zone) {
	var rs []timeline.Reading
	truth := drawnAs(d.sittings[k].Shots[0])
	for _, z := range zones {
		rs = append(rs, timeline.Reading{Dog: d.dog.ID, Session: session, Zone: z, On: d.on(k), Of: timeline.OfDepth, LengthMM: truth.DepthMM[z]})
	}
	must(d.s.st.AddReadings(ctx, rs))
}

func zoneIn(t *testing.T, m MeasuredSitting, z timeline.Zone) MeasuredZone {
	t.Helper()
	i := slices.IndexFunc(m.Zones, func(v MeasuredZone) bool { return v.Zone == z })
	if i < 0 {
		t.Fatalf("%s is not among %d zones", z, len(m.Zones))
	}
	return m.Zones[i]
}

func TestPhotosWithMarkerTellDepthsAndWhatHasChanged(t *testing.T) {
	d := photographedDog(t, 71, 2, 3, 0)
	m := must(d.s.Measured(ctx, d.dog.ID))
	if len(m.Sittings) != 2 || m.Sittings[0].On != d.on(1) || m.Sittings[0].By != ScaleByMarker {
		t.Fatalf("%d sittings, first of %s by %q", len(m.Sittings), m.Sittings[0].On, m.Sittings[0].By)
	}
	now, was := drawnAs(d.sittings[1].Shots[0]), drawnAs(d.sittings[0].Shots[0])
	for _, z := range []timeline.Zone{timeline.Withers, timeline.Back, timeline.Loin, timeline.Rump} {
		v := zoneIn(t, m.Sittings[0], z)
		if v.DepthMM == nil || v.ChangeMM == nil {
			t.Fatalf("%s: no figure: %v", z, v.Why)
		}
		if off := math.Abs(v.DepthMM.MM - now.DepthMM[z]); off > 3*v.DepthMM.SDMM || v.DepthMM.SDMM > 2 || v.DepthMM.N != 3 {
			t.Errorf("%s: %.1f ± %.1f mm of %d photos, drawn %.1f", z, v.DepthMM.MM, v.DepthMM.SDMM, v.DepthMM.N, now.DepthMM[z])
		}
		if off := math.Abs(v.ChangeMM.MM - (now.DepthMM[z] - was.DepthMM[z])); off > 3*v.ChangeMM.SDMM {
			t.Errorf("%s: changed by %.1f ± %.1f mm, drawn %.1f", z, v.ChangeMM.MM, v.ChangeMM.SDMM, now.DepthMM[z]-was.DepthMM[z])
		}
		if v.Expected == nil {
			t.Errorf("%s: nothing was expected", z)
		}
	}
	if len(m.Sittings[0].Shape.Places) == 0 || m.Sittings[0].Shape.N != 3 {
		t.Errorf("shape of %d photos with %d places", m.Sittings[0].Shape.N, len(m.Sittings[0].Shape.Places))
	}
	if m.Sittings[0].Lines.ScaleBy != ScaleByMarker || math.Abs(m.Sittings[0].Lines.MMPerPX/now.MMPerPX-1) > 0.05 {
		t.Errorf("lines are drawn by %q, %.3f mm per px", m.Sittings[0].Lines.ScaleBy, m.Sittings[0].Lines.MMPerPX)
	}
}

func TestDepthsByPhotoTeachTheCoatAndACombCountsOnce(t *testing.T) {
	d := photographedDog(t, 72, 2, 2, 0)
	m := must(d.s.Measured(ctx, d.dog.ID))
	f := must(d.s.CoatFile(ctx, d.dog.ID))
	for _, z := range []timeline.Zone{timeline.Back, timeline.Rump} {
		if n := len(f.Zones[z].Depth); n != 2 {
			t.Fatalf("%s: %d depths in the coat file, photos on two days", z, n)
		}
		for k, seen := range f.Zones[z].Depth {
			v := zoneIn(t, m.Sittings[1-k], z)
			if seen.On != d.on(k) || math.Abs(seen.DepthMM-v.DepthMM.MM) > 1e-9 || seen.SDMM < v.DepthMM.SDMM-1e-9 {
				t.Errorf("%s on %s: %.2f ± %.2f mm in the file, %.2f ± %.2f measured", z, seen.On, seen.DepthMM, seen.SDMM, v.DepthMM.MM, v.DepthMM.SDMM)
			}
		}
	}
	// A comb on a day without photos is a depth all the same.
	must(d.s.st.AddReadings(ctx, []timeline.Reading{{Dog: d.dog.ID, Zone: timeline.Back, On: d.on(0) + 3, Of: timeline.OfDepth, LengthMM: 9}}))
	f = must(d.s.CoatFile(ctx, d.dog.ID))
	if seen := f.Zones[timeline.Back].Depth; len(seen) != 3 || seen[1].DepthMM != 9 || seen[1].On != d.on(0)+3 {
		t.Errorf("with a comb between: %v", seen)
	}
	// What was expected of a day knows nothing of the day's own photos.
	h := must(d.s.history(ctx, must(d.s.Dog(ctx, d.dog.ID))))
	for _, seen := range h.file(d.on(1), d.on(1)).Zones[timeline.Back].Depth {
		if seen.On >= d.on(1) {
			t.Errorf("the expectation of %s knows the depth of %s", d.on(1), seen.On)
		}
	}
}

// TestWhereItCannotMeasureItSaysSo: whatever is missing, no figure, and the first thing that is missing.
func TestWhereItCannotMeasureItSaysSo(t *testing.T) {
	outside.Alone(t)
	for _, c := range []struct {
		name    string
		spoil   func(t *testing.T, d photographed, p timeline.Photo)
		why     string // of the photo; "": it is used
		depth   string // of the back
		topline bool
	}{
		{"the coat is brushed up", func(t *testing.T, d photographed, p timeline.Photo) {
			must(d.s.SetPhotoFacts(ctx, p.ID, p.Rev, PhotoEdit{CoatState: timeline.CoatBrushedUp}))
		}, "look.coat_state", "", false},
		{"the coat is damp", func(t *testing.T, d photographed, p timeline.Photo) {
			must(d.s.SetPhotoFacts(ctx, p.ID, p.Rev, PhotoEdit{CoatState: timeline.CoatDamp}))
		}, "look.coat_state", "", false},
		{"nobody has looked at the edge", func(t *testing.T, d photographed, p timeline.Photo) {
			e := must(d.s.edgeOf(ctx, p.ID))
			e.Confirmed = nil
			must(d.s.keepEdge(ctx, e))
		}, "measured.unconfirmed", "", false},
		{"a lead lies across the back", func(t *testing.T, d photographed, p timeline.Photo) {
			e := must(d.s.edgeOf(ctx, p.ID))
			e.LookOnly = map[timeline.Zone]string{timeline.Back: "lead"}
			must(d.s.keepEdge(ctx, e))
		}, "", "measure.unconfirmed", true},
		{"no marker and no tape", func(t *testing.T, d photographed, p timeline.Photo) {
			ok(d.s.st.SetMarkerLook(ctx, p.SHA256, timeline.MarkerLook{Told: []string{"bent"}}))
		}, "", "measured.withers_scale", true},
		{"no marker, no tape, no height", func(t *testing.T, d photographed, p timeline.Photo) {
			ok(d.s.st.SetMarkerLook(ctx, p.SHA256, timeline.MarkerLook{}))
			dog := must(d.s.Dog(ctx, d.dog.ID))
			dog.WithersMM = 0
			must(d.s.UpdateDog(ctx, dog))
		}, "measured.no_scale", "", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := photographedDog(t, 73, 1, 1, 0)
			c.spoil(t, d, d.photos[0][0])
			m := must(d.s.Measured(ctx, d.dog.ID)).Sittings[0]
			if m.Photos[0].Why.Key != c.why {
				t.Errorf("the photo: %q, want %q", m.Photos[0].Why.Key, c.why)
			}
			if got := len(m.Shape.Places) > 0; got != c.topline {
				t.Errorf("topline read: %t", got)
			}
			if c.depth == "" {
				if len(m.Zones) > 0 || m.By != "" {
					t.Errorf("%d zones by %q", len(m.Zones), m.By)
				}
			} else if v := zoneIn(t, m, timeline.Back); v.DepthMM != nil || v.Why.Key != c.depth {
				t.Errorf("back: %v, %q", v.DepthMM, v.Why.Key)
			}
		})
	}
}

func TestATapeIsAScaleToo(t *testing.T) {
	d := photographedDog(t, 74, 1, 1, 0)
	p := d.photos[0][0]
	truth := drawnAs(d.sittings[0].Shots[0])
	ok(d.s.st.SetMarkerLook(ctx, p.SHA256, timeline.MarkerLook{}))
	must(d.s.st.SaveTape(ctx, p.ID, p.Rev, &timeline.Tape{A: timeline.XY{X: 75, Y: 350}, B: timeline.XY{X: 75 + 500/truth.MMPerPX, Y: 350}, MM: 500}))
	m := must(d.s.Measured(ctx, d.dog.ID)).Sittings[0]
	if m.By != ScaleByTape || math.Abs(m.Photos[0].Scale.MMPerPX/truth.MMPerPX-1) > 1e-9 {
		t.Fatalf("by %q, %.4f mm per px, drawn %.4f", m.By, m.Photos[0].Scale.MMPerPX, truth.MMPerPX)
	}
	if v := zoneIn(t, m, timeline.Back); v.DepthMM == nil {
		t.Errorf("no depth by tape: %v", v.Why)
	}
}

// A rise is told to be taken only where it stands out of this salon's own spread.
func TestWhatTheSalonsOwnSpreadHidesIsNotToldToBeTaken(t *testing.T) {
	rise := measure.Run{FromMM: 60, ToMM: 100, PeakMM: 4, PeakAtMM: 80, SDMM: 0.5, Zone: timeline.Loin, Most: true}
	for _, c := range []struct {
		name string
		peak float64
		sure bool
		want string
	}{
		{"a sure rise", 4, true, "advice.high"}, {"a rise within the spread", 4, false, "advice.high.unsure"},
		{"a sure dip", -4, true, "advice.low"}, {"a dip within the spread", -4, false, "advice.low.unsure"},
	} {
		rise.PeakMM, rise.Sure = c.peak, c.sure
		if got := adviceOf(rise).Key; got != c.want {
			t.Errorf("%s: %s", c.name, got)
		}
	}
}

func TestASalonChecksItsOwnSpreadAndCanTakeItBack(t *testing.T) {
	d := photographedDog(t, 75, 1, 5, 0)
	all := must(d.s.Checks(ctx))
	if len(all.Offers) != 1 || !all.Offers[0].Enough() || len(all.Made) != 0 {
		t.Fatalf("%d offers, %d made", len(all.Offers), len(all.Made))
	}
	var ids []timeline.ID
	for _, p := range d.photos[0] {
		ids = append(ids, p.ID)
	}
	_, err := d.s.AddCheck(ctx, ids[:4])
	wantFault(t, err, timeline.Invalid, "fault.check.number", "photos")
	_, err = d.s.AddCheck(ctx, append(slices.Clone(ids[:4]), ids[0]))
	wantFault(t, err, timeline.Invalid, "fault.check.twice", "photos")
	c := must(d.s.AddCheck(ctx, ids))
	if c.Floor.N != 5 || c.Floor.ToplineMM <= 0 || c.Floor.ToplineMM > 6 || len(c.Floor.DepthMM) == 0 {
		t.Errorf("floor %+v", c.Floor)
	}
	m := must(d.s.Measured(ctx, d.dog.ID))
	if m.Checked == nil || m.Floor.ToplineMM != c.Floor.ToplineMM {
		t.Errorf("the check does not count: %+v", m.Floor)
	}
	if all = must(d.s.Checks(ctx)); len(all.Offers) != 0 || len(all.Made) != 1 {
		t.Errorf("after it %d offers, %d made", len(all.Offers), len(all.Made))
	}
	ok(d.s.TrashCheck(ctx, c.ID))
	if m = must(d.s.Measured(ctx, d.dog.ID)); m.Checked != nil || m.Floor.ToplineMM != usualFloor.ToplineMM {
		t.Errorf("taken back, it counts: %+v", m.Floor)
	}
}

// What start minus end of a day show is that day's work: the drawn dog loses what her coat loses. How well depths are told, and
// where they are not, is tried on many dogs in imaging/measure.
func TestStartAndEndOfADayShowItsWork(t *testing.T) {
	d := photographedDog(t, 77, 2, 3, 0)
	// The second sitting becomes the end of the first one's day.
	for _, p := range d.photos[1] {
		p = must(d.s.CorrectDate(ctx, p.ID, p.Rev, d.on(0).String()+"T17:30", false))[0]
		must(d.s.SetPhotoFacts(ctx, p.ID, p.Rev, PhotoEdit{Phase: timeline.PhaseEnd}))
	}
	session := must(d.s.OpenSession(ctx, d.dog.ID, d.on(0)))
	page := must(d.s.SessionPage(ctx, session.ID))
	before, after := drawnAs(d.sittings[0].Shots[0]).DepthMM, drawnAs(d.sittings[1].Shots[0]).DepthMM
	seen := 0
	for _, v := range page.ByPhoto {
		is := after[v.Zone] - before[v.Zone]
		if off := math.Abs(v.ChangeMM.MM - is); off > 3.5*v.ChangeMM.SDMM {
			t.Errorf("%s: %.1f ± %.1f mm, drawn %.1f", v.Zone, v.ChangeMM.MM, v.ChangeMM.SDMM, is)
		}
		if v.Real && v.ChangeMM.MM*is < 0 {
			t.Errorf("%s: called real with the wrong sign: %.1f, drawn %.1f", v.Zone, v.ChangeMM.MM, is)
		}
		seen++
	}
	if seen < 5 {
		t.Errorf("%d zones tell of the work", seen)
	}
	other := must(d.s.OpenSession(ctx, d.dog.ID, d.on(1)))
	if page := must(d.s.SessionPage(ctx, other.ID)); len(page.ByPhoto) != 0 {
		t.Errorf("a day without photos tells of work in %d zones", len(page.ByPhoto))
	}
}

func TestWhatIsDetectedInAPhotoMakesItOrAZoneLookOnly(t *testing.T) {
	t.Run("taken from too near", func(t *testing.T) {
		d := photographedDog(t, 73, 1, 1, 0)
		p := d.photos[0][0]
		ok(d.s.st.SetFocal(ctx, p.SHA256, 900/drawnAs(d.sittings[0].Shots[0]).MMPerPX))
		m := must(d.s.Measured(ctx, d.dog.ID)).Sittings[0]
		if v := zoneIn(t, m, timeline.Back); v.DepthMM != nil || v.Why.Key != "measured.too_near" {
			t.Errorf("back: %v, %q", v.DepthMM, v.Why.Key)
		}
		if len(m.Shape.Places) == 0 {
			t.Error("the shape needs no distance, and is not told")
		}
	})
	t.Run("the head held otherwise in one of three photos", func(t *testing.T) {
		d := photographedDog(t, 77, 1, 3, 0)
		p := must(d.s.Photo(ctx, d.photos[0][1].ID))
		lm := timeline.Landmarks{}
		neck := p.Landmarks[timeline.WithersPt]
		sin, cos := math.Sincos(30 * math.Pi / 180)
		for pt, xy := range p.Landmarks {
			if pt.Part() == timeline.PartHead {
				x, y := xy.X-neck.X, xy.Y-neck.Y
				xy = timeline.XY{X: neck.X + x*cos - y*sin, Y: neck.Y + x*sin + y*cos}
			}
			lm[pt] = xy
		}
		must(d.s.SavePoints(ctx, p.ID, p.Rev, lm))
		e := must(d.s.edgeOf(ctx, p.ID))
		e.Confirmed = measure.Measured()
		must(d.s.keepEdge(ctx, e))
		m := must(d.s.Measured(ctx, d.dog.ID)).Sittings[0]
		n := 0
		for _, q := range m.Photos {
			if q.Stands[timeline.Crest].Key == "measured.head" {
				n++
				if q.Photo.ID != p.ID {
					t.Errorf("%s is said to hold the head otherwise", q.Photo.File)
				}
			}
		}
		if n != 1 {
			t.Errorf("%d photos with the head held otherwise", n)
		}
	})
}

func TestTheOutlineIsHeldAgainstTheOneThatIsWanted(t *testing.T) {
	d := photographedDog(t, 77, 1, 3, 0)
	first := d.photos[0][0]
	look := must(d.s.TargetLook(ctx, d.dog.ID, first.ID))
	if look.From != "edge" {
		t.Fatalf("the lines begin from %q", look.From)
	}
	keep := func(lines [][]timeline.XY) []WantedOff {
		kept := must(d.s.TargetLook(ctx, d.dog.ID, first.ID)).Line
		must(d.s.SaveTarget(ctx, d.dog.ID, kept.Rev, first.ID, lines))
		return must(d.s.Measured(ctx, d.dog.ID)).Sittings[0].Wanted
	}
	got := keep(look.Lines)
	if len(got) != 2 || got[0].N != 3 {
		t.Fatalf("%d lines held against %+v", len(got), got)
	}
	for _, w := range got {
		if w.OverMM > 6 || w.LackMM > 6 {
			t.Errorf("line %d follows the outline, and is told off: %+v", w.Line, w)
		}
	}
	// A neck wanted 14 mm lower: the coat stands over the line by that, measured across the slope of the neck.
	truth := drawnAs(d.sittings[0].Shots[0])
	lower := [][]timeline.XY{nil, look.Lines[1]}
	for _, q := range look.Lines[0] {
		lower[0] = append(lower[0], timeline.XY{X: q.X, Y: q.Y + 14/truth.MMPerPX})
	}
	if got = keep(lower); got[0].OverMM < 8 || got[0].OverMM > 20 || got[0].LackMM != 0 {
		t.Errorf("a neck line 14 mm lower: %+v", got[0])
	}
}

func TestADogThatIsTurnedAwayInOnePhotoIsNotMeasuredInIt(t *testing.T) {
	d := photographedDog(t, 77, 1, 3, 0)
	p := must(d.s.Photo(ctx, d.photos[0][1].ID))
	lm := timeline.Landmarks{}
	for pt, xy := range p.Landmarks {
		lm[pt] = timeline.XY{X: float64(p.WidthPX)/2 + 0.9*(xy.X-float64(p.WidthPX)/2), Y: xy.Y} // as at 26 degrees
	}
	must(d.s.SavePoints(ctx, p.ID, p.Rev, lm))
	e := must(d.s.edgeOf(ctx, p.ID))
	for i := range e.Polygon {
		e.Polygon[i].X = float64(p.WidthPX)/2 + 0.9*(e.Polygon[i].X-float64(p.WidthPX)/2)
	}
	e.Confirmed = measure.Measured()
	must(d.s.keepEdge(ctx, e))
	m := must(d.s.Measured(ctx, d.dog.ID)).Sittings[0]
	for _, q := range m.Photos {
		if out := !q.Why.IsZero(); out != (q.Photo.ID == p.ID) {
			t.Errorf("%s: %q", q.Photo.File, q.Why.Key)
		}
	}
	if v := zoneIn(t, m, timeline.Back); v.DepthMM == nil || v.DepthMM.N != 2 {
		t.Errorf("the back by the other two: %+v, %v", v.DepthMM, v.Why)
	}
}

// A run is drawn where it is: on the outline's own places between its ends, its letters at the farthest one.
func TestARunIsDrawnOnTheBackItIsRead(t *testing.T) {
	d := photographedDog(t, 77, 1, 3, 0)
	truth := drawnAs(d.sittings[0].Shots[0])
	w, tail := truth.Landmarks[timeline.WithersPt], truth.Landmarks[timeline.TailSet]
	long := math.Hypot(tail.X-w.X, tail.Y-w.Y)
	lengthMM := long * truth.MMPerPX
	r := measure.Run{FromMM: 0.4 * lengthMM, ToMM: 0.6 * lengthMM, PeakMM: 3, PeakAtMM: 0.5 * lengthMM}
	path, at := onEdge(truth.Outline, truth.Landmarks, r, lengthMM)
	if path == "" {
		t.Fatal("nothing is drawn")
	}
	along := func(p timeline.XY) float64 {
		return ((p.X-w.X)*(tail.X-w.X) + (p.Y-w.Y)*(tail.Y-w.Y)) / long / long
	}
	if u := along(at); math.Abs(u-0.5) > 0.02 || math.Abs(at.Y-(w.Y+tail.Y)/2) > 0.15*long {
		t.Errorf("the letters are at %.2f of the back, %v", u, at)
	}
	n := number.FindAllString(path, -1)
	for k := 0; k+1 < len(n); k += 2 {
		p := timeline.XY{X: must(strconv.ParseFloat(n[k], 64)), Y: must(strconv.ParseFloat(n[k+1], 64))}
		if u := along(p); u < 0.38 || u > 0.62 {
			t.Errorf("a run from 0.4 to 0.6 of the back is drawn at %.2f", u)
		}
	}
	if path, _ := onEdge(truth.Outline, timeline.Landmarks{}, r, lengthMM); path != "" {
		t.Error("without points it is drawn somewhere")
	}
}

// What a show allows is the coat model's word: much time fills a small dip and not a deep one, no time fills none; what is left
// under a top layer that was pulled is short on the next day and long enough months later.
func TestWhatCanBeReachedByTheShowIsTheModelsWord(t *testing.T) {
	s, _ := opened(t)
	today := day("2026-06-10")
	d := must(s.CreateDog(ctx, NewDog{
		Name: "Bracken", WithersMM: 350, ShareOK: true,
		Answers: timeline.Answers{On: today - 2, LastWorked: today - 45, Undercoat: timeline.UndercoatSome},
	}))
	m := must(s.model(must(s.CoatFile(ctx, d.ID))))
	zone := m.Zone(timeline.Loin)
	for _, c := range []struct {
		name string
		peak float64
		sure bool
		days timeline.Day
		want string
	}{
		{"a small dip, ten weeks ahead", -1.5, true, 70, "advice.reach.low"},
		{"a deep dip, ten weeks ahead", -40, true, 70, "advice.short.low"},
		{"a small dip, tomorrow", -1.5, true, 1, "advice.short.low"},
		{"a rise, tomorrow", 2, true, 1, "advice.short.high"},
		{"a rise, four months ahead", 2, true, 120, "advice.reach.high"},
		{"a rise that is not sure", 2, false, 70, ""},
	} {
		got := reachOf(zone, measure.Run{PeakMM: c.peak, Sure: c.sure, Zone: timeline.Loin}, today, timeline.Show{Name: "Hall Show", On: today + c.days})
		if got.Key != c.want {
			t.Errorf("%s: %q, want %q", c.name, got.Key, c.want)
		}
	}
}
