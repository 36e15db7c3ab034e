package store

import (
	"context"
	"math"
	"reflect"
	"strings"
	"testing"

	tl "thatch/timeline"
)

func keptPhoto(t *testing.T, s *Store) tl.Photo {
	t.Helper()
	ctx := context.Background()
	d := must(s.CreateDog(ctx, fullDog()))(t)
	in := must(s.ReceiveFile(ctx, strings.NewReader("a photo"), 1<<20))(t)
	p, _, err := s.KeepPhoto(ctx, in, original(), photoOf(d.ID, "2026-05-04T14:00:00"), nil)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestAnEdgeComesBackAsItWasSavedAndIsCheckedForChanges(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	p := keptPhoto(t, s)
	if _, err := s.Edge(ctx, p.ID); tl.KindOf(err) != tl.NotFound {
		t.Errorf("before one is found: %v", err)
	}
	want := tl.Edge{
		Photo: p.ID, Polygon: []tl.XY{{X: 1.5, Y: 2}, {X: 30, Y: 2.25}, {X: 20, Y: 40}}, Holes: [][]tl.XY{{{X: 3, Y: 4}, {X: 5, Y: 6}, {X: 7, Y: 1}}},
		Method: "landmarks", Confirmed: []tl.Zone{tl.Back, tl.Loin}, LookOnly: map[tl.Zone]string{tl.Crest: "lead"}, Maker: 1,
	}
	got := must(s.SaveEdge(ctx, want))(t)
	want.Rev, want.Saved = 1, got.Saved
	if !reflect.DeepEqual(got, want) || got.Saved.IsZero() {
		t.Errorf("saved %+v, want %+v", got, want)
	}
	for how, e := range map[string]tl.Edge{"by photo": must(s.Edge(ctx, p.ID))(t), "of the dog": must(s.Edges(ctx, p.Dog))(t)[p.ID]} {
		if !reflect.DeepEqual(e, want) {
			t.Errorf("%s: %+v", how, e)
		}
	}
	want.Rev = 0
	if _, err := s.SaveEdge(ctx, want); tl.KindOf(err) != tl.Conflict {
		t.Errorf("a second new one: %v", err)
	}
	want.Rev, want.Confirmed = 1, nil
	if got = must(s.SaveEdge(ctx, want))(t); got.Rev != 2 || len(got.Confirmed) != 0 {
		t.Errorf("changed %+v", got)
	}
	if _, err := s.SaveEdge(ctx, want); tl.KindOf(err) != tl.Conflict {
		t.Errorf("from an old version: %v", err)
	}
	if err := s.RemoveEdge(ctx, p.ID, 1); tl.KindOf(err) != tl.Conflict {
		t.Errorf("removed from an old version: %v", err)
	}
	if err := s.RemoveEdge(ctx, p.ID, 2); err != nil {
		t.Error(err)
	}
	if err := s.RemoveEdge(ctx, p.ID, 2); tl.KindOf(err) != tl.NotFound {
		t.Errorf("removed twice: %v", err)
	}
	if _, err := s.SaveEdge(ctx, want); tl.KindOf(err) != tl.NotFound {
		t.Errorf("a change of one that is gone: %v", err)
	}
}

func TestWhatIsNoEdgeIsRefused(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	p := keptPhoto(t, s)
	for name, e := range map[string]tl.Edge{
		"no number":          {Polygon: []tl.XY{{X: math.NaN()}}},
		"out of every photo": {Holes: [][]tl.XY{{{X: 2e6}}}},
		"an unknown zone":    {Confirmed: []tl.Zone{"wing"}},
		"a zone by hand":     {LookOnly: map[tl.Zone]string{tl.Ribs: "lead"}},
		"endless":            {Polygon: make([]tl.XY, maxEdgePlaces+1)},
	} {
		e.Photo = p.ID
		if _, err := s.SaveEdge(ctx, e); tl.KindOf(err) != tl.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestADogHasOneTargetLine(t *testing.T) {
	s, ctx := newStore(t, Options{}), context.Background()
	p := keptPhoto(t, s)
	if _, err := s.TargetLine(ctx, p.Dog); tl.KindOf(err) != tl.NotFound {
		t.Errorf("before one is drawn: %v", err)
	}
	v := tl.TargetLine{Dog: p.Dog, Photo: p.ID, Lines: [][]tl.XY{{{X: 1, Y: 2}, {X: 3, Y: 4.5}}, {}}}
	got := must(s.SaveTargetLine(ctx, v))(t)
	v.Rev, v.Saved = 1, got.Saved
	if !reflect.DeepEqual(got, v) || !reflect.DeepEqual(must(s.TargetLine(ctx, p.Dog))(t), v) {
		t.Errorf("saved %+v, want %+v", got, v)
	}
	if _, err := s.SaveTargetLine(ctx, tl.TargetLine{Dog: p.Dog, Photo: p.ID}); tl.KindOf(err) != tl.Conflict {
		t.Errorf("a second new one: %v", err)
	}
	if got = must(s.SaveTargetLine(ctx, v))(t); got.Rev != 2 {
		t.Errorf("changed %+v", got)
	}
	if err := s.RemoveTargetLine(ctx, p.Dog, 1); tl.KindOf(err) != tl.Conflict {
		t.Errorf("removed from an old version: %v", err)
	}
	if err := s.RemoveTargetLine(ctx, p.Dog, 2); err != nil {
		t.Error(err)
	}
	if _, err := s.SaveTargetLine(ctx, tl.TargetLine{Dog: p.Dog, Photo: p.ID, Lines: [][]tl.XY{{{X: math.Inf(1)}}}}); tl.KindOf(err) != tl.Invalid {
		t.Errorf("no place: %v", err)
	}
}
