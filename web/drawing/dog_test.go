package drawing

import (
	"testing"

	"thatch/timeline"
)

func TestEveryZoneIsDrawnOnceAndCanBeSeen(t *testing.T) {
	c := newCanvas()
	seen := map[timeline.Zone]int{}
	for _, s := range Dog().Shapes {
		seen[s.Zone]++
		i := c.top(s.At)
		if i < 0 || figure[i].zone != s.Zone {
			t.Errorf("the middle of %s shows another zone", s.Zone)
		}
		for _, p := range s.Pieces {
			if len(p.Hair) < 40 {
				t.Errorf("a piece of %s is bald", s.Zone)
			}
		}
	}
	for _, z := range timeline.Zones() {
		if seen[z] != 1 {
			t.Errorf("%s is drawn %d times", z, seen[z])
		}
	}
}

func TestTheDrawingIsAlwaysTheSame(t *testing.T) {
	a, b := draw(), draw()
	for i := range a.Shapes {
		if a.Shapes[i].Pieces[0] != b.Shapes[i].Pieces[0] {
			t.Fatalf("%s differs between two drawings", a.Shapes[i].Zone)
		}
	}
	if a.Rough != b.Rough {
		t.Fatal("the outline differs between two drawings")
	}
}
