package salon

import (
	"math"
	"testing"

	"thatch/imaging/phantom"
	"thatch/timeline"
)

func TestTwoMarksOnTheTapeGiveThePhotoItsScale(t *testing.T) {
	d := stood(t, phantom.Pose{Facing: timeline.SideLeft})
	p := must(d.s.Photo(ctx, d.photos[0].ID))
	look := must(d.s.TapeLook(ctx, p.ID))
	if look.Kept || look.Scale.By != "" || look.Tape.MM != TapeMM || look.Marker {
		t.Fatalf("before: %+v", look)
	}
	// Two places as far apart as the drawing's own scale makes 500 mm (A).
	px := TapeMM / d.truth[0].MMPerPX
	a := timeline.XY{X: 60, Y: 560}
	b := timeline.XY{X: a.X + px*math.Cos(0.02), Y: a.Y + px*math.Sin(0.02)}
	saved := must(d.s.SaveTape(ctx, p.ID, p.Rev, timeline.Tape{A: a, B: b, MM: TapeMM}))
	look = must(d.s.TapeLook(ctx, p.ID))
	if !look.Kept || look.Scale.By != ScaleByTape || math.Abs(look.Scale.MMPerPX/d.truth[0].MMPerPX-1) > 1e-9 || !look.Scale.ForDepths() {
		t.Errorf("scale %+v, drawn with %.6f", look.Scale, d.truth[0].MMPerPX)
	}
	if sd := look.Scale.SDMMPerPX; !(sd > 0) || look.Scale.Percent() > 5 {
		t.Errorf("its error: %.4f", sd)
	}
	if _, err := d.s.RemoveTape(ctx, p.ID, p.Rev); timeline.KindOf(err) != timeline.Conflict {
		t.Errorf("taken away from an older page: %v", err)
	}
	saved = must(d.s.RemoveTape(ctx, p.ID, saved.Rev))
	if look = must(d.s.TapeLook(ctx, p.ID)); look.Kept || saved.Tape != nil {
		t.Error("the marks are still there")
	}
	d.shows(0, nil, nil)
	if look = must(d.s.TapeLook(ctx, p.ID)); !look.Marker {
		t.Error("the marker is seen, and nobody says so")
	}
}

func TestMarksThatCannotBeAreRefused(t *testing.T) {
	d := stood(t, phantom.Pose{Facing: timeline.SideLeft})
	p := must(d.s.Photo(ctx, d.photos[0].ID))
	at := func(x, y float64) timeline.XY { return timeline.XY{X: x, Y: y} }
	for name, c := range map[string]struct {
		tape       timeline.Tape
		key, field string
	}{
		"both in one place":  {timeline.Tape{A: at(100, 500), B: at(104, 500), MM: 500}, "fault.align.tape_short", "marks"},
		"far outside":        {timeline.Tape{A: at(100, 500), B: at(4000, 500), MM: 500}, "fault.edge.outside", "marks"},
		"no number":          {timeline.Tape{A: at(math.NaN(), 500), B: at(400, 500), MM: 500}, "fault.edge.outside", "marks"},
		"no distance":        {timeline.Tape{A: at(100, 500), B: at(600, 500)}, "fault.tape.distance", "mm"},
		"metres":             {timeline.Tape{A: at(100, 500), B: at(600, 500), MM: 5000}, "fault.tape.distance", "mm"},
		"a distance of none": {timeline.Tape{A: at(100, 500), B: at(600, 500), MM: math.NaN()}, "fault.tape.distance", "mm"},
	} {
		_, err := d.s.SaveTape(ctx, p.ID, p.Rev, c.tape)
		if f := faultOf(err); f == nil || f.Kind != timeline.Invalid || f.Say.Key != c.key || f.Field != c.field {
			t.Errorf("%s: %v", name, err)
		}
	}
	rear := must(d.s.SetPhotoFacts(ctx, p.ID, p.Rev, PhotoEdit{Side: timeline.SideRear}))
	_, err := d.s.SaveTape(ctx, p.ID, rear.Rev, timeline.Tape{A: at(100, 500), B: at(600, 500), MM: 500})
	if f := faultOf(err); f == nil || f.Say.Key != "fault.tape.side" {
		t.Errorf("from behind: %v", err)
	}
}
