package salon

import (
	"math"
	"slices"
	"testing"

	"thatch/imaging/outline"
	"thatch/imaging/phantom"
	"thatch/timeline"
	"thatch/timeline/outside"
)

// overlap is the intersection over the union of an edge with the drawn dog (A).
func overlap(e timeline.Edge, truth phantom.Truth) float64 {
	b := truth.Mask.Bounds()
	r := outline.Result{WidthPX: b.Dx(), HeightPX: b.Dy(), Polygon: e.Polygon, Holes: e.Holes}
	both, any := 0, 0
	for i, in := range r.Mask() {
		dog := truth.Mask.Pix[i] > 127
		if in && dog {
			both++
		}
		if in || dog {
			any++
		}
	}
	return float64(both) / float64(any)
}

// middleOf is the vertex half-way along a zone's stretch.
func middleOf(t *testing.T, l EdgeLook, z timeline.Zone) timeline.XY {
	t.Helper()
	var at []int
	for i, a := range l.Along {
		if a == z {
			at = append(at, i)
		}
	}
	if len(at) == 0 {
		t.Fatalf("no stretch of the edge is %s", z)
	}
	return l.Edge.Polygon[at[len(at)/2]]
}

// drawn keeps the drawn dog's own outline (A) as the edge of a photo.
func drawn(d standing, i int) timeline.Edge {
	return must(d.s.keepEdge(ctx, timeline.Edge{Photo: d.photos[i].ID, Method: outline.FromLandmarks, Polygon: d.truth[i].Outline}))
}

func says(t *testing.T, s *Salon, photo timeline.ID, is string, zones ...timeline.Zone) timeline.Edge {
	t.Helper()
	e := must(s.edgeOf(ctx, photo))
	e, err := s.SayOfEdge(ctx, photo, e.Rev, is, zones...)
	if err != nil {
		t.Fatalf("%s %v: %v", is, zones, err)
	}
	return e
}

func TestAnEdgeIsFoundFromThePointsAndThenFromTheDogsLastEdge(t *testing.T) {
	outside.Alone(t)
	d := stood(t, phantom.Pose{Facing: timeline.SideLeft}, phantom.Pose{Facing: timeline.SideLeft, HeadDeg: 8, HindFeetMM: 20, ForeFeetMM: -10, BackFlexMM: 4})
	first, second := d.photos[0].ID, d.photos[1].ID

	e := must(d.s.FindEdge(ctx, first, 0))
	if e.Method != outline.FromLandmarks || e.Rev == 0 || e.Maker != edgeMaker || e.Saved.IsZero() {
		t.Errorf("the first edge: %s, rev %d, maker %d", e.Method, e.Rev, e.Maker)
	}
	if iou := overlap(e, d.truth[0]); iou < 0.9 {
		t.Errorf("from the points: overlap %.3f", iou)
	}
	look := must(d.s.EdgeLook(ctx, first))
	if len(look.Zones) != 14 || !look.Why.IsZero() {
		t.Errorf("%d zones in the outline, why %s", len(look.Zones), look.Why)
	}
	for _, z := range look.Zones {
		if !z.Shown {
			t.Errorf("no stretch of the edge is %s", z.Zone)
		}
	}
	// Without a word on the first edge the second photo begins from its points.
	if e := must(d.s.FindEdge(ctx, second, 0)); e.Method != outline.FromLandmarks {
		t.Errorf("an edge that nobody has looked at was laid over another photo: %s", e.Method)
	}
	says(t, d.s, first, EdgeRight, toplineZones...)
	again := must(d.s.FindEdge(ctx, second, 1))
	if again.Method != outline.FromOutline {
		t.Errorf("the dog's last edge was not used: %s", again.Method)
	}
	if iou := overlap(again, d.truth[1]); iou < 0.9 {
		t.Errorf("from the last edge: overlap %.3f", iou)
	}
	t.Logf("overlap from points %.3f, from the last edge %.3f", overlap(e, d.truth[0]), overlap(again, d.truth[1]))
}

func TestAnEdgeLaidOverAnotherPhotoMovesWithThePartsOfTheDog(t *testing.T) {
	d := stood(t, phantom.Pose{Facing: timeline.SideLeft}, phantom.Pose{Facing: timeline.SideLeft, HeadDeg: 10, HindFeetMM: 25, ForeFeetMM: -15})
	// The drawn outline itself (A), looked at.
	was := d.truth[0]
	e := timeline.Edge{Photo: d.photos[0].ID, Polygon: was.Outline, Confirmed: []timeline.Zone{timeline.Back}}
	must(d.s.keepEdge(ctx, e))
	over, found, err := d.s.lastEdgeOver(ctx, d.photos[1])
	if err != nil || !found {
		t.Fatal(found, err)
	}
	index := newRingIndex(d.truth[1].Outline, 200)
	body := bodyOf(d.truth[1].Landmarks, nil)
	var off []float64
	for _, p := range over {
		_, dist, _ := index.nearest(p)
		off = append(off, math.Min(dist, 200)/body)
	}
	slices.Sort(off)
	median, p95 := off[len(off)/2], off[len(off)*95/100]
	t.Logf("off by %.2f %% of the body's length, p95 %.2f %%", 100*median, 100*p95)
	if median > 0.01 || p95 > 0.04 {
		t.Errorf("off by %.2f %% of the body's length, p95 %.2f %%", 100*median, 100*p95)
	}
}

func TestAConfirmedZoneIsLookedAtAgainWhereItsEdgeMoves(t *testing.T) {
	outside.Alone(t)
	d := stood(t, phantom.Pose{Facing: timeline.SideLeft})
	photo := d.photos[0].ID
	e := must(d.s.FindEdge(ctx, photo, 0))
	says(t, d.s, photo, EdgeRight, toplineZones...)
	e = says(t, d.s, photo, EdgeRight, timeline.Thigh)
	if !slices.Equal(e.Confirmed, []timeline.Zone{timeline.Withers, timeline.Back, timeline.Loin, timeline.Rump, timeline.Thigh}) {
		t.Fatalf("confirmed: %v", e.Confirmed)
	}
	look := must(d.s.EdgeLook(ctx, photo))
	at := middleOf(t, look, timeline.Back)
	before := overlap(e, d.truth[0])

	// Half of a brush of dog is taken out of the middle of the back.
	out := EdgeStroke{Do: StrokeOut, RadiusPX: 12, Path: []timeline.XY{{X: at.X - 4, Y: at.Y + 6}, {X: at.X + 4, Y: at.Y + 6}}}
	cut := must(d.s.CorrectEdge(ctx, photo, e.Rev, []EdgeStroke{out}))
	if slices.Contains(cut.Confirmed, timeline.Back) {
		t.Error("the back is still confirmed after a piece of it was painted out")
	}
	for _, z := range []timeline.Zone{timeline.Rump, timeline.Thigh} {
		if !slices.Contains(cut.Confirmed, z) {
			t.Errorf("%s is not confirmed any more, though nothing changed there", z)
		}
	}
	if overlap(cut, d.truth[0]) >= before {
		t.Error("painting out a piece of the dog changed nothing")
	}

	// Undo brings back the edge and what was said of it.
	back := must(d.s.PutBackEdge(ctx, photo, cut.Rev, e.Polygon, e.Holes, e.Confirmed))
	if !slices.Equal(back.Confirmed, e.Confirmed) || overlap(back, d.truth[0]) != before {
		t.Errorf("undo: %v", back.Confirmed)
	}
	// A change made from an older version is refused, and changes nothing.
	_, err := d.s.CorrectEdge(ctx, photo, cut.Rev, []EdgeStroke{out})
	wantFault(t, err, timeline.Conflict, "fault.edge.changed", "")
	// Found again and the same: what was found right stays so.
	same := must(d.s.FindEdge(ctx, photo, back.Rev))
	if !slices.Equal(same.Confirmed, e.Confirmed) {
		t.Errorf("found again: %v", same.Confirmed)
	}
}

func TestLegsBeardAndUnderlineAreLookedAtOneByOne(t *testing.T) {
	d := stood(t, phantom.Pose{Facing: timeline.SideLeft})
	photo := d.photos[0].ID
	_, err := d.s.SayOfEdge(ctx, photo, 0, EdgeRight, timeline.Back)
	wantFault(t, err, timeline.Invalid, "fault.edge.no_edge", "say")
	e := drawn(d, 0)
	for _, z := range singleZones {
		_, err := d.s.SayOfEdge(ctx, photo, e.Rev, EdgeRight, timeline.Back, z)
		wantFault(t, err, timeline.Invalid, "fault.edge.single", "say")
	}
	for _, z := range singleZones {
		e = says(t, d.s, photo, EdgeRight, z)
	}
	e = says(t, d.s, photo, "lead", timeline.Crest)
	e = says(t, d.s, photo, "hand", timeline.Beard)
	if e.LookOnly[timeline.Crest] != "lead" || e.LookOnly[timeline.Beard] != "hand" || slices.Contains(e.Confirmed, timeline.Beard) || len(e.Confirmed) != 3 {
		t.Errorf("look only %v, confirmed %v", e.LookOnly, e.Confirmed)
	}
	e = says(t, d.s, photo, EdgeUnsaid, timeline.Beard)
	e = says(t, d.s, photo, EdgeRight, timeline.Crest)
	if len(e.LookOnly) != 0 || !slices.Contains(e.Confirmed, timeline.Crest) {
		t.Errorf("taken back: look only %v, confirmed %v", e.LookOnly, e.Confirmed)
	}
	for name, c := range map[string]struct {
		is   string
		zone timeline.Zone
	}{"no reason of ours": {"sun", timeline.Back}, "a zone by hand only": {EdgeRight, timeline.Ears}, "no zone": {EdgeRight, "wing"}} {
		t.Run(name, func(t *testing.T) {
			_, err := d.s.SayOfEdge(ctx, photo, e.Rev, c.is, c.zone)
			wantFault(t, err, timeline.Invalid, "fault.edge.say", "say")
		})
	}
}

func TestConfirmedZonesFollowThePoints(t *testing.T) {
	d := stood(t, phantom.Pose{Facing: timeline.SideLeft})
	photo := d.photos[0]
	drawn(d, 0)
	says(t, d.s, photo.ID, EdgeRight, timeline.Back)
	says(t, d.s, photo.ID, EdgeRight, timeline.Thigh)
	moved := timeline.Landmarks{}
	for p, xy := range photo.Landmarks {
		moved[p] = xy
	}
	moved[timeline.Nose] = timeline.XY{X: moved[timeline.Nose].X + 2, Y: moved[timeline.Nose].Y}
	p := must(d.s.SavePoints(ctx, photo.ID, photo.Rev, moved))
	if e := must(d.s.edgeOf(ctx, photo.ID)); len(e.Confirmed) != 2 {
		t.Errorf("a nose that moves by two pixels: confirmed %v", e.Confirmed)
	}
	w, ts := moved[timeline.WithersPt], moved[timeline.TailSet]
	moved[timeline.WithersPt] = timeline.XY{X: w.X + 0.4*(ts.X-w.X), Y: w.Y}
	must(d.s.SavePoints(ctx, photo.ID, p.Rev, moved))
	if e := must(d.s.edgeOf(ctx, photo.ID)); !slices.Equal(e.Confirmed, []timeline.Zone{timeline.Thigh}) {
		t.Errorf("the back is another stretch now: confirmed %v", e.Confirmed)
	}
}

func TestWhatIsNoCorrectionIsRefused(t *testing.T) {
	d := stood(t, phantom.Pose{Facing: timeline.SideLeft})
	photo := d.photos[0].ID
	line := []timeline.XY{{X: 300, Y: 300}, {X: 310, Y: 300}}
	_, err := d.s.CorrectEdge(ctx, photo, 0, []EdgeStroke{{Do: StrokeIn, RadiusPX: 5, Path: line}})
	wantFault(t, err, timeline.Invalid, "fault.edge.no_edge", "strokes")
	_, err = d.s.PutBackEdge(ctx, photo, 0, d.truth[0].Outline, nil, nil)
	wantFault(t, err, timeline.Invalid, "fault.edge.no_edge", "polygon")
	e := must(d.s.FindEdge(ctx, photo, 0))
	nan := math.NaN()
	for name, strokes := range map[string][]EdgeStroke{
		"none":                     {},
		"without a place":          {{Do: StrokeIn, RadiusPX: 5}},
		"a drag from nowhere":      {{Do: StrokeDrag, RadiusPX: 5, Path: line[:1]}},
		"no brush":                 {{Do: StrokeIn, Path: line}},
		"a brush without a size":   {{Do: StrokeIn, RadiusPX: nan, Path: line}},
		"a brush like the picture": {{Do: StrokeIn, RadiusPX: 700, Path: line}},
		"another tool":             {{Do: "erase", RadiusPX: 5, Path: line}},
		"too many":                 slices.Repeat([]EdgeStroke{{Do: StrokeIn, RadiusPX: 5, Path: line}}, maxStrokes+1),
	} {
		t.Run(name, func(t *testing.T) {
			_, err := d.s.CorrectEdge(ctx, photo, e.Rev, strokes)
			wantFault(t, err, timeline.Invalid, "fault.edge.strokes", "strokes")
		})
	}
	_, err = d.s.CorrectEdge(ctx, photo, e.Rev, []EdgeStroke{{Do: StrokeIn, RadiusPX: 5, Path: []timeline.XY{{X: nan, Y: 1}}}})
	wantFault(t, err, timeline.Invalid, "fault.edge.outside", "strokes")
	_, err = d.s.CorrectEdge(ctx, photo, e.Rev, []EdgeStroke{{Do: StrokeIn, RadiusPX: 5, Path: []timeline.XY{{X: 9000, Y: 1}}}})
	wantFault(t, err, timeline.Invalid, "fault.edge.outside", "strokes")
	_, err = d.s.RoughEdge(ctx, photo, e.Rev, slices.Repeat(line, maxRoughPoints))
	wantFault(t, err, timeline.Invalid, "fault.edge.many", "points")
	_, err = d.s.RoughEdge(ctx, photo, e.Rev, line)
	wantFault(t, err, timeline.Invalid, "fault.outline.few_points", "points")
	if now := must(d.s.edgeOf(ctx, photo)); now.Rev != e.Rev {
		t.Error("a refused correction changed the edge")
	}

	p := must(d.s.SetPhotoFacts(ctx, photo, d.photos[0].Rev, PhotoEdit{Side: timeline.SideRear}))
	_, err = d.s.FindEdge(ctx, p.ID, e.Rev)
	wantFault(t, err, timeline.Invalid, "fault.edge.side", "photo")
}

func TestARoughLineRoundTheDogIsEnough(t *testing.T) {
	d := stood(t, phantom.Pose{Facing: timeline.SideRight})
	photo := d.photos[0]
	ring := d.truth[0].Outline
	var rough []timeline.XY
	for i := range 24 {
		rough = append(rough, ring[i*len(ring)/24])
	}
	e := must(d.s.RoughEdge(ctx, photo.ID, 0, rough))
	if iou := overlap(e, d.truth[0]); iou < 0.88 || e.Method != outline.FromPoints {
		t.Errorf("%s: overlap %.3f", e.Method, iou)
	}
}

func TestWhatAFingerDrewStaysAsItWasDrawn(t *testing.T) {
	d := stood(t, phantom.Pose{Facing: timeline.SideLeft})
	photo := d.photos[0].ID
	e := drawn(d, 0)
	look := must(d.s.EdgeLook(ctx, photo))
	at := middleOf(t, look, timeline.Back)
	on := func(e timeline.Edge, p timeline.XY) bool {
		b := d.truth[0].Mask.Bounds()
		m := outline.Result{WidthPX: b.Dx(), HeightPX: b.Dy(), Polygon: e.Polygon, Holes: e.Holes}.Mask()
		return m[int(math.Round(p.Y))*b.Dx()+int(math.Round(p.X))]
	}

	// A sliver, less than a hair's width on the screen, is as good as any.
	sliver := timeline.XY{X: at.X, Y: at.Y - 3}
	e = must(d.s.CorrectEdge(ctx, photo, e.Rev, []EdgeStroke{{Do: StrokeIn, RadiusPX: 3, Path: []timeline.XY{{X: at.X - 9, Y: at.Y - 2}, {X: at.X + 9, Y: at.Y - 2}}}}))
	if !on(e, sliver) {
		t.Error("a sliver that was painted in is not dog")
	}
	e = must(d.s.CorrectEdge(ctx, photo, e.Rev, []EdgeStroke{{Do: StrokeOut, RadiusPX: 4, Path: []timeline.XY{{X: at.X - 5, Y: at.Y + 2}, {X: at.X + 5, Y: at.Y + 2}}}}))
	if on(e, timeline.XY{X: at.X, Y: at.Y + 2}) || on(e, timeline.XY{X: at.X + 4, Y: at.Y + 4}) {
		t.Error("what was painted out is dog")
	}

	// A pull moves the place under the finger to where it was let go, and nothing beyond its reach.
	look = must(d.s.EdgeLook(ctx, photo))
	at = middleOf(t, look, timeline.Loin)
	says(t, d.s, photo, EdgeRight, timeline.Thigh)
	e = says(t, d.s, photo, EdgeRight, timeline.Loin)
	to := timeline.XY{X: at.X + 1, Y: at.Y - 11}
	next := must(d.s.CorrectEdge(ctx, photo, e.Rev, []EdgeStroke{{Do: StrokeDrag, RadiusPX: 25, Path: []timeline.XY{at, to}}}))
	if _, off, _ := newRingIndex(next.Polygon, 5).nearest(to); off > 1.5 {
		t.Errorf("the place that was pulled lies %.1f px from where it was let go", off)
	}
	if !slices.Equal(next.Confirmed, []timeline.Zone{timeline.Thigh}) {
		t.Errorf("confirmed: %v", next.Confirmed)
	}
	was := newRingIndex(e.Polygon, 1)
	for _, p := range next.Polygon {
		if _, off, ok := was.nearest(p); math.Hypot(p.X-at.X, p.Y-at.Y) > 28 && (!ok || off > 0.2) {
			t.Fatalf("the edge moved at %v, out of reach of the pull", p)
		}
	}
}

func TestThePointsOfADogsFirstPhotoAreToldByHerOutline(t *testing.T) {
	d := stood(t, phantom.Pose{Facing: timeline.SideRight})
	p := must(d.s.SavePoints(ctx, d.photos[0].ID, d.photos[0].Rev, nil))
	drawn(d, 0)
	told := must(d.s.ProposePoints(ctx, p.ID))
	if !told.Outlined || told.From.ID != "" || told.Facing != timeline.SideRight {
		t.Fatalf("outlined %v, from %q, facing %s", told.Outlined, told.From.ID, told.Facing)
	}
	body := bodyOf(d.truth[0].Landmarks, nil)
	var off []float64
	for pt, xy := range told.Landmarks {
		if c := told.Confidence[pt]; c < 0 || c > 1 {
			t.Errorf("confidence of the %s: %g", pt, c)
		}
		at := d.truth[0].Landmarks[pt]
		off = append(off, math.Hypot(xy.X-at.X, xy.Y-at.Y)/body)
	}
	slices.Sort(off)
	if len(off) < 8 || off[len(off)/2] > 0.08 {
		t.Errorf("%d points, off by %.1f %% of the body's length", len(off), 100*off[len(off)/2])
	}
}
