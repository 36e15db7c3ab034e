package salon

import (
	"math"
	"testing"

	"thatch/imaging/phantom"
	"thatch/timeline"
)

func TestTheWantedOutlineBeginsAtTheEdgeAndLiesOnLaterPhotos(t *testing.T) {
	d := stood(t, phantom.Pose{Facing: timeline.SideLeft}, phantom.Pose{Facing: timeline.SideRight, HeadDeg: 5, HindFeetMM: 15})
	if l := must(d.s.TargetLook(ctx, d.dog.ID, "")); l.From != "points" || len(l.Lines) != 2 || len(l.Photos) != 2 {
		t.Errorf("without an edge: from %q, %d lines, %d photos", l.From, len(l.Lines), len(l.Photos))
	}
	drawn(d, 0)
	look := must(d.s.TargetLook(ctx, d.dog.ID, ""))
	if look.Photo.ID != d.photos[0].ID || look.From != "edge" {
		t.Fatalf("the photo with an edge is not where it begins: from %q", look.From)
	}
	truth := d.truth[0]
	edge, skin := newRingIndex(truth.Outline, 3), truth.Landmarks
	for i, line := range look.Lines {
		if len(line) != targetPlaces {
			t.Errorf("line %d has %d places", i, len(line))
		}
		for k, p := range line[1 : len(line)-1] {
			// Across the root of the tail the line leaves the edge, on purpose.
			if _, _, ok := edge.nearest(p); !ok && (i == 0 || k > 6) {
				t.Errorf("line %d, place %d is off the edge", i, k+1)
			}
		}
		for k, pt := range []timeline.Point{targetPoints[i][0], targetPoints[i][2]} {
			end := line[k*(len(line)-1)]
			if off := math.Hypot(end.X-skin[pt].X, end.Y-skin[pt].Y) * truth.MMPerPX; off > 25 {
				t.Errorf("line %d ends %.0f mm from the %s", i, off, pt)
			}
		}
	}

	// Bent, kept, and laid over a photo that shows the other side.
	look.Lines[0][10].Y -= 9
	kept := must(d.s.SaveTarget(ctx, d.dog.ID, 0, d.photos[0].ID, look.Lines))
	if again := must(d.s.TargetLook(ctx, d.dog.ID, "")); again.From != "kept" || again.Lines[0][10] != look.Lines[0][10] || again.Line.Rev != kept.Rev {
		t.Errorf("kept: from %q", again.From)
	}
	laid := must(d.s.TargetLook(ctx, d.dog.ID, d.photos[1].ID))
	if laid.From != "laid" {
		t.Fatalf("on the other photo: from %q", laid.From)
	}
	other := newRingIndex(d.truth[1].Outline, 60)
	for k, p := range laid.Lines[0] {
		if _, off, ok := other.nearest(p); k != 10 && (!ok || off*d.truth[1].MMPerPX > 14) {
			t.Errorf("on the other photo place %d is %.0f mm off the edge", k, off*d.truth[1].MMPerPX)
		}
	}

	if err := d.s.RemoveTarget(ctx, d.dog.ID, kept.Rev); err != nil {
		t.Fatal(err)
	}
	if l := must(d.s.TargetLook(ctx, d.dog.ID, "")); l.Line.Rev != 0 {
		t.Error("it is still there")
	}
}

func TestAWantedOutlineThatIsNoneIsRefused(t *testing.T) {
	d := stood(t, phantom.Pose{Facing: timeline.SideLeft})
	look := must(d.s.TargetLook(ctx, d.dog.ID, ""))
	photo := d.photos[0].ID
	_, err := d.s.SaveTarget(ctx, d.dog.ID, 0, photo, look.Lines[:1])
	wantFault(t, err, timeline.Invalid, "fault.target.lines", "line1")
	_, err = d.s.SaveTarget(ctx, d.dog.ID, 0, photo, [][]timeline.XY{look.Lines[0], {{X: 1, Y: 1}}})
	wantFault(t, err, timeline.Invalid, "fault.target.short", "line2")
	_, err = d.s.SaveTarget(ctx, d.dog.ID, 0, photo, [][]timeline.XY{look.Lines[0], {{X: 1, Y: 1}, {X: math.NaN(), Y: 1}}})
	wantFault(t, err, timeline.Invalid, "fault.edge.outside", "line2")
	other := newDog(t, d.s, "Other", day("2026-06-10"))
	_, err = d.s.SaveTarget(ctx, other.ID, 0, photo, look.Lines)
	wantFault(t, err, timeline.Invalid, "fault.target.photo", "photo")
	if l := must(d.s.TargetLook(ctx, other.ID, "")); l.Photo.ID != "" || len(l.Lines) != 0 {
		t.Error("a dog without photos has a line")
	}
	_, err = d.s.TargetLook(ctx, other.ID, photo)
	wantFault(t, err, timeline.Invalid, "fault.target.photo", "photo")
}
