package salon

import (
	"bytes"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"thatch/imaging"
	"thatch/imaging/phantom"
	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/timeline/outside"
)

// standing is a drawn dog whose geometry is known exactly (A), photographed on two days: the coat is one layer, so that its
// longest hair is what the outline follows, and lies as the kind of coat's profile says, so that what is tried is the
// geometry and not the guess of the lie.
type standing struct {
	s      *Salon
	dog    timeline.Dog
	photos []timeline.Photo
	truth  []phantom.Truth
	images []*image.NRGBA
}

const jacketMM = 24.0

func stood(t *testing.T, poses ...phantom.Pose) standing {
	t.Helper()
	s, _ := opened(t)
	first := day("2026-05-13")
	d := must(s.CreateDog(ctx, NewDog{
		Name: "Bracken", WithersMM: 350, ShareOK: true,
		Answers: timeline.Answers{On: first, LastWorked: first - 90, Undercoat: timeline.UndercoatSome},
	}))
	profile := must(coat.ProfileNamed("rough"))
	lie, loft := profile.Growth.Lie.Mean+profile.Growth.LieAdd[d.Texture], profile.Growth.LoftMM[timeline.LoftSome]
	hair := phantom.Coat{}
	for _, z := range timeline.Zones() {
		hair[z] = phantom.ZoneCoat{LengthMM: jacketMM, LieRatio: lie, LoftMM: loft, InHair: 1}
	}
	body := phantom.Dog{Seed: 7, WithersMM: d.WithersMM}
	out := standing{s: s, dog: d}
	rng := rand.New(rand.NewPCG(5, 5))
	for i, pose := range poses {
		cam := phantom.Frame(body, 800, 600).Held(rng)
		img, truth := phantom.Render(body, hair, pose, cam, phantom.Rooms()[0])
		var b bytes.Buffer
		ok(imaging.EncodeJPEG(&b, img, 90))
		on := first + timeline.Day(14*i)
		b2 := must(imaging.InsertEXIF(b.Bytes(), imaging.EXIFFields{TakenLocal: on.Time().Add(10 * time.Hour)}))
		v := must(s.OpenSession(ctx, d.ID, on))
		mm := map[timeline.Zone]float64{}
		for _, z := range []timeline.Zone{timeline.Crest, timeline.Withers, timeline.Back, timeline.Loin, timeline.Rump, timeline.Thigh, timeline.Forechest} {
			mm[z] = jacketMM
		}
		must(s.AddReadings(ctx, d.ID, v.ID, on, mm, true))
		p := add(t, s, d.ID, on.String()+".jpg", b2).Photo
		ok(s.st.SetPhotoReady(ctx, p.SHA256, ""))
		p = must(s.SetPhotoFacts(ctx, p.ID, p.Rev, PhotoEdit{Side: truth.Facing, CoatState: timeline.CoatBrushedDown}))
		p = must(s.SavePoints(ctx, p.ID, p.Rev, truth.Landmarks))
		out.photos, out.truth, out.images = append(out.photos, p), append(out.truth, truth), append(out.images, img)
	}
	return out
}

var number = regexp.MustCompile(`-?\d+(\.\d+)?`)

// placesOf are the places of a path that is written with absolute coordinates.
func placesOf(t *testing.T, o Overlay, kind string) []timeline.XY {
	t.Helper()
	i := slices.IndexFunc(o.Lines, func(l Line) bool { return l.Kind == kind })
	if i < 0 {
		t.Fatalf("no line %s among %d, missing %v", kind, len(o.Lines), o.Missing)
	}
	if strings.ContainsAny(o.Lines[i].D, "lhvcqazmst") {
		t.Fatalf("relative commands in %.40s", o.Lines[i].D)
	}
	n := number.FindAllString(o.Lines[i].D, -1)
	var out []timeline.XY
	for k := 0; k+1 < len(n); k += 2 {
		out = append(out, timeline.XY{X: must(strconv.ParseFloat(n[k], 64)), Y: must(strconv.ParseFloat(n[k+1], 64))})
	}
	return out
}

// farthestMM is how far the places between withers and tail set lie from a closed line, at most.
func farthestMM(places, line []timeline.XY, truth phantom.Truth) float64 {
	w, ts := truth.Landmarks[timeline.WithersPt], truth.Landmarks[timeline.TailSet]
	worst := 0.0
	for _, p := range places {
		u := ((p.X-w.X)*(ts.X-w.X) + (p.Y-w.Y)*(ts.Y-w.Y)) / ((ts.X-w.X)*(ts.X-w.X) + (ts.Y-w.Y)*(ts.Y-w.Y))
		if u < 0.05 || u > 0.95 || p.Y > w.Y+0.3*math.Abs(ts.X-w.X) {
			continue
		}
		best := math.Inf(1)
		for i := range line {
			a, b := line[i], line[(i+1)%len(line)]
			dx, dy := b.X-a.X, b.Y-a.Y
			k := math.Max(0, math.Min(1, ((p.X-a.X)*dx+(p.Y-a.Y)*dy)/math.Max(dx*dx+dy*dy, 1e-12)))
			best = math.Min(best, math.Hypot(p.X-a.X-k*dx, p.Y-a.Y-k*dy))
		}
		worst = math.Max(worst, best*truth.MMPerPX)
	}
	return worst
}

func TestLinesOnAPhotoLieWhereTheDrawnDogHasSkinAndOutline(t *testing.T) {
	d := stood(t, phantom.Pose{Facing: timeline.SideLeft}, phantom.Pose{Facing: timeline.SideRight})
	for i, p := range d.photos {
		o := must(d.s.Overlay(ctx, p.ID))
		if len(o.Missing) > 0 {
			t.Fatalf("missing %v", o.Missing)
		}
		// The scale comes from the height alone: no better than a few per cent (design: never below √(σ_H² + σ_d²)/H).
		if got, want := o.MMPerPX, d.truth[i].MMPerPX; math.Abs(got/want-1) > 0.03 || o.MMPerPXSD <= 0 {
			t.Errorf("photo %d: %.4f ± %.4f mm per px, drawn with %.4f", i, got, o.MMPerPXSD, want)
		}
		for kind, line := range map[string][]timeline.XY{LineSkin: d.truth[i].SkinLine, LineMeasured: d.truth[i].Outline} {
			places := placesOf(t, o, kind)
			// 3 mm: a spline through three tapped points follows a drawn back that well; a depth missed altogether is 13.
			if far := farthestMM(places, line, d.truth[i]); far > 3 || len(places) < 20 {
				t.Errorf("photo %d: %s lies up to %.1f mm from the truth (%d places)", i, kind, far, len(places))
			}
		}
		for _, kind := range []string{LineExpected, LineExpectedLow, LineExpectedHigh, LineTargetMin, LineTargetMax} {
			placesOf(t, o, kind)
		}
		if !slices.Contains(o.SkinFrom, timeline.Withers) || !slices.Contains(o.MeasuredZones, timeline.Back) {
			t.Errorf("photo %d: skin fixed by %v, measured %v", i, o.SkinFrom, o.MeasuredZones)
		}
	}
}

func TestTwoPhotosOfASideAreLaidOverEachOther(t *testing.T) {
	d := stood(t, phantom.Pose{Facing: timeline.SideLeft}, phantom.Pose{Facing: timeline.SideLeft})
	c := must(d.s.Compare(ctx, d.photos[0].ID, d.photos[1].ID))
	if !c.Comparable || !c.Aligned || len(c.LookOnly) != 0 || c.Align.Mirrored || c.DaysBetween != 14 || !c.DaysKnown || c.Ref.ID != d.photos[0].ID {
		t.Fatalf("comparable %v aligned %v look only %v days %d", c.Comparable, c.Aligned, c.LookOnly, c.DaysBetween)
	}
	for _, pt := range []timeline.Point{timeline.WithersPt, timeline.MidBack, timeline.TailSet, timeline.Buttock} {
		got, want := c.Align.Transform.Apply(d.truth[1].Landmarks[pt]), d.truth[0].Landmarks[pt]
		if off := math.Hypot(got.X-want.X, got.Y-want.Y) * d.truth[0].MMPerPX; off > 3 {
			t.Errorf("%s lands %.1f mm off", pt, off)
		}
	}
	if len(c.OverlayA.Lines) == 0 || len(c.OverlayB.Lines) == 0 || c.OverlayB.On != day("2026-05-27") || c.OverlayB.WidthPX != 800 {
		t.Errorf("lines A %d, B %d on %s in a frame %d wide", len(c.OverlayA.Lines), len(c.OverlayB.Lines), c.OverlayB.On, c.OverlayB.WidthPX)
	}
	for _, z := range c.Zones {
		if z.Zone == timeline.Back && (z.Change == nil || z.Change.MM != 0 || z.Change.Real || z.A.ExpectedMM == nil) {
			t.Errorf("back %+v", z)
		}
		if z.Zone == timeline.Ears && (z.Change != nil || z.A.MeasuredMM != nil) {
			t.Errorf("a figure for ears that nobody measured: %+v", z)
		}
	}
	pic := must(d.s.AlignedPicture(ctx, c.Over.ID, c.Ref.ID))
	warped, err := jpeg.Decode(pic)
	ok(err)
	pic.Close()
	if warped.Bounds().Dx() != 800 || warped.Bounds().Dy() != 600 {
		t.Fatalf("aligned picture %v, the reference's view is 800 × 600", warped.Bounds())
	}
	// Laid over each other the dogs differ less than as they were taken: in means of 8 × 8 px, because no two strands lie alike
	// in two photos, and with the light's own difference taken out.
	differ := func(img image.Image) float64 {
		var offs []float64
		for y := 0; y+8 <= 600; y += 8 {
			for x := 0; x+8 <= 800; x += 8 {
				off, in := 0.0, 0
				for k := range 64 {
					px, py := x+k%8, y+k/8
					if d.truth[0].Mask.GrayAt(px, py).Y == 255 {
						in++
					}
					r, _, _, _ := img.At(px, py).RGBA()
					off += float64(r>>8) - float64(d.images[0].NRGBAAt(px, py).R)
				}
				if in == 64 {
					offs = append(offs, off/64)
				}
			}
		}
		light, sum := median(offs), 0.0
		for _, off := range offs {
			sum += math.Abs(off - light)
		}
		return sum / float64(len(offs))
	}
	before, after := differ(d.images[1]), differ(warped)
	if after > 0.7*before {
		t.Errorf("mean difference on the dog %.1f before, %.1f after", before, after)
	}
	again := must(d.s.AlignedPicture(ctx, c.Over.ID, c.Ref.ID))
	defer again.Close()
	if again.ETag != pic.ETag {
		t.Error("the same picture has two names")
	}
}

func TestADogFacingTheOtherWayIsMirroredAndLookedAtOnly(t *testing.T) {
	d := stood(t, phantom.Pose{Facing: timeline.SideLeft}, phantom.Pose{Facing: timeline.SideRight})
	c := must(d.s.Compare(ctx, d.photos[0].ID, d.photos[1].ID))
	if !c.Aligned || !c.Align.Mirrored || c.Comparable || len(c.LookOnly) != 1 || c.LookOnly[0].Key != "look.other_side" {
		t.Fatalf("aligned %v mirrored %v comparable %v look only %v", c.Aligned, c.Align.Mirrored, c.Comparable, c.LookOnly)
	}
	must(d.s.AlignedPicture(ctx, c.Over.ID, c.Ref.ID)).Close()
}

func TestLookOnlyNamesWhatIsMissingAndGivesNoLines(t *testing.T) {
	d := stood(t, phantom.Pose{Facing: timeline.SideLeft}, phantom.Pose{Facing: timeline.SideLeft})
	a, b := d.photos[0], d.photos[1]
	compare := func() Comparison { return must(d.s.Compare(ctx, a.ID, b.ID)) }
	want := func(what string, c Comparison, key string, lines bool) {
		t.Helper()
		if c.Comparable || !slices.ContainsFunc(c.LookOnly, func(w timeline.Phrase) bool { return w.Key == key }) || (len(c.OverlayA.Lines) > 0) != lines {
			t.Errorf("%s: comparable %v, look only %v, %d lines", what, c.Comparable, c.LookOnly, len(c.OverlayA.Lines))
		}
	}
	b = must(d.s.SetPhotoFacts(ctx, b.ID, b.Rev, PhotoEdit{CoatState: timeline.CoatDamp}))
	want("a damp coat", compare(), "look.coat_state", true)
	b = must(d.s.SetPhotoFacts(ctx, b.ID, b.Rev, PhotoEdit{CoatUnsaid: true}))
	want("a coat nobody spoke of", compare(), "look.coat_unsaid", true)
	b = must(d.s.SetPhotoFacts(ctx, b.ID, b.Rev, PhotoEdit{CoatState: timeline.CoatBrushedDown}))

	// Without points on the first, the second is the frame.
	a = must(d.s.SavePoints(ctx, a.ID, a.Rev, nil))
	c := compare()
	want("points missing", c, "look.points", true)
	if c.Ref.ID != b.ID || c.Over.ID != a.ID || c.Aligned {
		t.Errorf("the frame is %s, aligned %v", c.Ref.File, c.Aligned)
	}
	_, err := d.s.AlignedPicture(ctx, a.ID, b.ID)
	wantFault(t, err, timeline.Invalid, "fault.photo.not_alignable", "")

	b = must(d.s.SetPhotoFacts(ctx, b.ID, b.Rev, PhotoEdit{Side: timeline.SideFront}))
	want("a photo from the front", compare(), "look.side", false)
	b = must(d.s.SetPhotoFacts(ctx, b.ID, b.Rev, PhotoEdit{Side: timeline.SideLeft}))

	dog := must(d.s.Dog(ctx, d.dog.ID))
	dog.WithersMM = 0
	must(d.s.UpdateDog(ctx, dog))
	o := must(d.s.Overlay(ctx, b.ID))
	if len(o.Lines) != 0 || o.MMPerPX != 0 || len(o.Missing) != 1 || o.Missing[0].Key != "look.withers_height" {
		t.Errorf("without a height: %d lines, %v mm per px, missing %v", len(o.Lines), o.MMPerPX, o.Missing)
	}

	_, err = d.s.Compare(ctx, a.ID, a.ID)
	wantFault(t, err, timeline.Invalid, "fault.compare.same", "b")
	other := newDog(t, d.s, "Teasel", day("2026-05-01"))
	p := add(t, d.s, other.ID, "x.jpg", snap(t, 1, "2026-06-01 10:00")).Photo
	_, err = d.s.Compare(ctx, a.ID, p.ID)
	wantFault(t, err, timeline.Invalid, "fault.compare.other_dog", "b")
}

func TestAfterTheWorkYesterdaysReadingIsNoFigureOfTheEvening(t *testing.T) {
	d := stood(t, phantom.Pose{Facing: timeline.SideLeft})
	v := must(d.s.st.SessionOn(ctx, d.dog.ID, day("2026-05-13")))
	must(d.s.SaveSession(ctx, SessionEdit{ID: v.ID, Rev: v.Rev, Work: []timeline.ZoneWork{{Zone: timeline.Back, Do: timeline.Strip}}}))
	p := must(d.s.SetPhotoFacts(ctx, d.photos[0].ID, d.photos[0].Rev, PhotoEdit{Phase: timeline.PhaseEnd}))
	o := must(d.s.Overlay(ctx, p.ID))
	if slices.Contains(o.MeasuredZones, timeline.Back) || !slices.Contains(o.MeasuredZones, timeline.Loin) {
		t.Errorf("measured %v: the back was stripped after its reading, the loin was not touched", o.MeasuredZones)
	}
}

func TestPointsAreProposedFromTheDogsOwnPhotoOrFromUsualPlaces(t *testing.T) {
	outside.Alone(t)
	d := stood(t, phantom.Pose{Facing: timeline.SideLeft}, phantom.Pose{Facing: timeline.SideLeft})
	b := must(d.s.SavePoints(ctx, d.photos[1].ID, d.photos[1].Rev, nil))
	got := must(d.s.ProposePoints(ctx, b.ID))
	if got.From.ID != d.photos[0].ID || !got.Found {
		t.Fatalf("from %q, found %v", got.From.File, got.Found)
	}
	for _, pt := range []timeline.Point{timeline.WithersPt, timeline.MidBack, timeline.TailSet} {
		p, q := got.Landmarks[pt], d.truth[1].Landmarks[pt]
		if off := math.Hypot(p.X-q.X, p.Y-q.Y) * d.truth[1].MMPerPX; off > 15 {
			t.Errorf("%s proposed %.0f mm off", pt, off)
		}
	}
	if len(must(d.s.Photo(ctx, b.ID)).Landmarks) != 0 {
		t.Error("a proposal was stored")
	}

	fresh := newDog(t, d.s, "Teasel", day("2026-05-01"))
	p := add(t, d.s, fresh.ID, "x.jpg", snap(t, 1, "2026-06-01 10:00")).Photo
	got = must(d.s.ProposePoints(ctx, p.ID))
	if got.From.ID != "" || got.Found || len(got.Landmarks) != len(timeline.Points()) {
		t.Fatalf("for a first photo: %+v", got)
	}
	for pt, xy := range got.Landmarks {
		if xy.X < 0 || xy.Y < 0 || xy.X > 95 || xy.Y > 71 || got.Confidence[pt] != 0 {
			t.Errorf("%s at %v with confidence %v", pt, xy, got.Confidence[pt])
		}
	}
	p = must(d.s.SetPhotoFacts(ctx, p.ID, p.Rev, PhotoEdit{Side: timeline.SideAbove}))
	_, err := d.s.ProposePoints(ctx, p.ID)
	wantFault(t, err, timeline.Invalid, "fault.points.side", "photo")
	_, err = d.s.SavePoints(ctx, b.ID, b.Rev, timeline.Landmarks{"knee": {X: 1, Y: 1}})
	wantFault(t, err, timeline.Invalid, "fault.points.unknown", "points")
	_, err = d.s.SavePoints(ctx, b.ID, b.Rev, timeline.Landmarks{timeline.Nose: {X: 1e6, Y: 1}})
	wantFault(t, err, timeline.Invalid, "fault.points.outside", "points.nose")
}

// depth = lie · visible length + loft (A), with the profile's own figures and the loft that was seen last.
func TestDepthFollowsTheLieAndTheLoftThatWasSeenLast(t *testing.T) {
	p := must(coat.ProfileNamed("rough"))
	on := day("2026-06-10")
	h := history{
		dog: timeline.Dog{Texture: timeline.TextureHarsh, Answers: timeline.Answers{Undercoat: timeline.UndercoatHeavy}}, profile: p,
		sessions: []timeline.Session{{On: on - 14, Loft: timeline.LoftSome}, {On: on, Loft: timeline.LoftNone}},
	}
	lie := p.Growth.Lie.Mean + p.Growth.LieAdd[timeline.TextureHarsh]
	for name, c := range map[string]struct {
		c    onDay
		loft timeline.Loft
	}{
		"before anything was carded, as the answers say": {onDay{h: h, on: on - 20}, timeline.LoftWoolly},
		"on the morning of the first carding":            {onDay{h: h, on: on - 14}, timeline.LoftWoolly},
		"that evening":                                   {onDay{h: h, on: on - 14, end: true}, timeline.LoftSome},
		"on the next morning":                            {onDay{h: h, on: on}, timeline.LoftSome},
		"after the second time":                          {onDay{h: h, on: on, end: true}, timeline.LoftNone},
	} {
		if got, want := c.c.depthOf(20), lie*20+p.Growth.LoftMM[c.loft]; math.Abs(got-want) > 1e-12 {
			t.Errorf("%s: %v mm, want %v", name, got, want)
		}
	}
}
