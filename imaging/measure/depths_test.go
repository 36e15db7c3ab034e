package measure

import (
	"testing"

	"thatch/timeline"
)

func TestWithoutAReadingByHandNoDepthIsTold(t *testing.T) {
	flat := func(float64) float64 { return 0 }
	for _, n := range []int{1, 3} {
		shots := make([]Shot, n)
		for i := range shots {
			shots[i] = flatDog(flat)
		}
		r, ok := Depths(shots, []Sitting{{}})
		if !ok {
			t.Fatalf("%d photos: nothing", n)
		}
		for _, z := range Measured() {
			if f, why := r.Tell(0, z, true); why.IsZero() {
				t.Errorf("%d photos: %s %+v", n, z, f)
			}
		}
	}
}

func TestADepthByHandIsToldAgainAndItsChangeSeen(t *testing.T) {
	flat := func(float64) float64 { return 0 }
	low := func(float64) float64 { return -3 }
	shots := []Shot{flatDog(flat), flatDog(flat), flatDog(low), flatDog(low)}
	shots[2].Sitting, shots[3].Sitting = 1, 1
	for _, z := range []timeline.Point{timeline.WithersPt, timeline.MidBack, timeline.TailSet} {
		// Points stand on the coat, so they sink with it; those of the body do not.
		if shots[2].Landmarks[z] == shots[0].Landmarks[z] {
			t.Fatal("the points do not follow the coat")
		}
	}
	first := map[timeline.Zone]Depth{timeline.Withers: {MM: 14, SDMM: 1}, timeline.Back: {MM: 15, SDMM: 1}, timeline.Loin: {MM: 15, SDMM: 1}, timeline.Rump: {MM: 12, SDMM: 1}, timeline.Forechest: {MM: 9, SDMM: 1}, timeline.Thigh: {MM: 11, SDMM: 1}}
	r, ok := Depths(shots, []Sitting{{ByHand: first}, {ByHand: map[timeline.Zone]Depth{timeline.Back: {MM: 12, SDMM: 1}}}})
	if !ok {
		t.Fatal("nothing")
	}
	if f, why := r.Tell(0, timeline.Back, false); !why.IsZero() || f.MM < 14 || f.MM > 16 || f.SDMM > 1.2 || f.N != 2 {
		t.Errorf("%+v %v", f, why)
	}
	if c, ok := r.Change(timeline.Loin, 0, 1); !ok || c.MM > -1.5 || c.MM < -4.5 {
		t.Errorf("loin %+v", c)
	}
	if _, why := r.Tell(1, timeline.Beard, true); why.Key != "measure.by_hand" {
		t.Errorf("beard: %v", why)
	}
	if _, why := r.Tell(1, timeline.Underline, false); why.Key != "measure.unconfirmed" {
		t.Errorf("underline: %v", why)
	}
}
