package store

import (
	"context"
	"testing"

	tl "thatch/timeline"
)

// What figures are made of has changed where the stamp has, and only there: a page that reads it need not read the edges.
func TestTheStampChangesWithWhatFiguresAreMadeOf(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	p := keptPhoto(t, s)
	now := func() string { return must(s.MeasuringStamp(ctx, p.Dog))(t) }
	if got := now(); got != "" {
		t.Errorf("no photo has an edge: %q", got)
	}
	edge := must(s.SaveEdge(ctx, tl.Edge{Photo: p.ID, Method: "points", Polygon: []tl.XY{{X: 1, Y: 1}, {X: 9, Y: 1}, {X: 9, Y: 9}}}))(t)
	seen := func(maker int, mm float64) tl.MarkerLook {
		return tl.MarkerLook{Maker: maker, Seen: &tl.MarkerSeen{Dog: p.Dog, SizeMM: 80, MMPerPX: mm}}
	}
	look := func(v tl.MarkerLook) func() error {
		return func() error { return s.SetMarkerLook(ctx, p.SHA256, v) }
	}
	for _, c := range []struct {
		what    string
		act     func() error
		changes bool
	}{
		{"a marker is seen", look(seen(1, 0.3)), true},
		{"the same is seen by a newer look", look(seen(2, 0.3)), false},
		{"another scale is seen", look(seen(3, 0.31)), true},
		{"the lens is known", func() error { return s.SetFocal(ctx, p.SHA256, 3000) }, true},
		{"a zone is found right", func() error { edge.Confirmed = []tl.Zone{tl.Back}; _, err := s.SaveEdge(ctx, edge); return err }, true},
		{"the tape is marked", func() error {
			_, err := s.SaveTape(ctx, p.ID, p.Rev, &tl.Tape{A: tl.XY{X: 1, Y: 9}, B: tl.XY{X: 90, Y: 9}, MM: 500})
			return err
		}, true},
	} {
		before := now()
		if err := c.act(); err != nil {
			t.Fatalf("%s: %v", c.what, err)
		}
		if got := now() != before; got != c.changes {
			t.Errorf("%s: the stamp changes: %t", c.what, got)
		}
	}
	if scales := must(s.Scales(ctx, p.Dog))(t); scales[p.SHA256].FocalPX != 3000 || scales[p.SHA256].Marker.Seen.MMPerPX != 0.31 {
		t.Errorf("scales %+v", scales)
	}
}
