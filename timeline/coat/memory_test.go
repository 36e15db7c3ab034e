package coat

import (
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"thatch/timeline"
	"thatch/timeline/outside"
)

// seenFile is a dog of whom everything was seen that can be seen, by lot.
func seenFile(t testing.TB, rng *rand.Rand) File {
	f := fullFile(t)
	for name, z := range f.Zones {
		if rng.IntN(2) == 0 {
			z.Measured = nil
		}
		z.Work, z.Measured = slices.Clone(z.Work), slices.Clone(z.Measured)
		first := z.Work[0].On
		for k := range timeline.Day(4) {
			on := first + 14*k
			switch rng.IntN(6) {
			case 0:
				z.Pinched = append(z.Pinched, Ripeness{On: on, Is: timeline.Ripenesses()[rng.IntN(4)]})
			case 1:
				z.Cover = append(z.Cover, CoverSeen{On: on, Is: timeline.CoverThin})
			case 2:
				z.Depth = append(z.Depth, Depth{On: on, DepthMM: 6 + 6*rng.Float64(), SDMM: 1})
			case 3:
				z.NewHair = append(z.NewHair, NewHair{Pulled: first, NotOut: on + 3})
			}
		}
		if n := len(z.Pinched); n > 0 {
			z.Ripeness = &z.Pinched[n-1]
		}
		f.Zones[name] = z
	}
	return f
}

// A: a model from memory against the same model made anew, figure by figure.
func TestAModelFromMemoryIsTheSameModel(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	hits := 0
	for range outside.ManyOf(t, 12) {
		memory, f := NewMemory(100), seenFile(t, rng)
		for range 4 {
			got, err := NewWith(f, memory, true)
			if err != nil {
				t.Fatal(err)
			}
			want, err := New(f)
			if err != nil {
				t.Fatal(err)
			}
			for _, on := range []timeline.Day{f.Today - 30, f.Today, f.Today + 40} {
				if a, b := got.Forecast(on), want.Forecast(on); !reflect.DeepEqual(a, b) {
					t.Fatalf("forecast of %s differs", on)
				}
				if a, b := got.ForecastStart(on), want.ForecastStart(on); !reflect.DeepEqual(a, b) {
					t.Fatalf("forecast of the start of %s differs", on)
				}
			}
			if a, b := got.Doubted(), want.Doubted(); !reflect.DeepEqual(a, b) {
				t.Fatalf("doubted: %v, want %v", a, b)
			}
			for name := range f.Zones {
				_, a := got.Zone(name).TopLayer(nil, f.Today)
				_, b := want.Zone(name).TopLayer(nil, f.Today)
				if a != b || got.Zone(name).TestAgain() != want.Zone(name).TestAgain() {
					t.Fatalf("%s: top layer %g, want %g", name, a, b)
				}
			}
			// A change of one zone by lot: work before or after all that was seen of it, a pinch test that holds no longer,
			// or something seen.
			before := len(memory.at)
			zones := slices.Sorted(func(yield func(timeline.Zone) bool) {
				for name := range f.Zones {
					if !yield(name) {
						return
					}
				}
			})
			name := zones[rng.IntN(len(zones))]
			z, next := f.Zones[name], File{}
			next = f
			next.Zones = map[timeline.Zone]Zone{}
			for n, zone := range f.Zones {
				next.Zones[n] = zone
			}
			z.Work, z.Cover = slices.Clone(z.Work), slices.Clone(z.Cover)
			teaches := false
			switch rng.IntN(6) {
			case 5: // on the day of something seen, after it or before it
				if n := len(z.Pinched); n > 0 {
					z.Work = append(z.Work, WorkDone{On: z.Pinched[n-1].On, Do: timeline.Take, Share: 0.1 + 0.5*rng.Float64()})
				} else if n := len(z.Measured); n > 0 {
					z.Work = append(z.Work, WorkDone{On: z.Measured[n-1].On, Do: timeline.Take, Share: 0.1 + 0.5*rng.Float64()})
				}
			case 4:
				next.Today += 3
			case 0:
				z.Work = append(z.Work, WorkDone{On: f.Today, Do: timeline.Take, Share: 0.3})
			case 1:
				z.Work[rng.IntN(len(z.Work))].Share = 0.2 + 0.5*rng.Float64()
			case 2:
				z.Ripeness = nil
			case 3:
				z.Cover, teaches = append(z.Cover, CoverSeen{On: f.Today, Is: timeline.CoverFull}), true
			}
			next.Zones[name] = z
			f = next
			if _, err := NewWith(f, memory, true); err != nil {
				t.Fatal(err)
			}
			if after := len(memory.at); after == before && !teaches {
				hits++
			} else if after == before {
				t.Fatal("what was seen taught nothing")
			}
		}
	}
	if hits == 0 {
		t.Error("nothing was ever remembered")
	}
}

// A groomer measures and pinches first and then logs a dozen lines: nothing is learned anew for any of them.
func TestWorkOnTheDayOfAReadingTeachesNothing(t *testing.T) {
	for name, c := range map[string]struct {
		see     func(z *Zone, on timeline.Day)
		teaches bool
	}{
		"after a reading":            {func(z *Zone, on timeline.Day) { z.Measured = append(z.Measured, Measured{On: on, LengthMM: 20}) }, false},
		"after a pinch test":         {func(z *Zone, on timeline.Day) { z.Pinched = append(z.Pinched, Ripeness{On: on, Is: timeline.Ready}) }, false},
		"after a photo was measured": {func(z *Zone, on timeline.Day) { z.Depth = append(z.Depth, Depth{On: on, DepthMM: 9, SDMM: 1}) }, false},
		"before the cover was judged": {func(z *Zone, on timeline.Day) {
			z.Cover = append(z.Cover, CoverSeen{On: on, Is: timeline.CoverFull})
		}, true},
	} {
		f := fullFile(t)
		z := f.Zones[timeline.Back]
		z.Work, z.Measured = slices.Clone(z.Work), slices.Clone(z.Measured)
		c.see(&z, f.Today)
		f.Zones[timeline.Back] = z
		before := lessonOf(f)
		z.Work = append(z.Work, WorkDone{On: f.Today, Do: timeline.Take, Share: 0.3})
		f.Zones[timeline.Back] = z
		after := lessonOf(f)
		if (before != after) != c.teaches {
			t.Errorf("work %s: learned anew %v, want %v", name, before != after, c.teaches)
		}
	}
}

func TestAMemoryKeepsTheNewest(t *testing.T) {
	memory := NewMemory(2)
	for _, mm := range []float64{300, 310, 320, 300} {
		f := fullFile(t)
		f.Dog.WithersMM = mm
		if _, err := NewWith(f, memory, true); err != nil {
			t.Fatal(err)
		}
	}
	if len(memory.at) != 2 || memory.order.Len() != 2 {
		t.Errorf("%d kept, want 2", len(memory.at))
	}
	if _, err := NewWith(fullFile(t), memory, false); err != nil || len(memory.at) != 2 || memory.order.Front().Value.(*learned).key == memory.order.Back().Value.(*learned).key {
		t.Errorf("what is not to be kept: %v, %d kept", err, len(memory.at))
	}
	bad := fullFile(t)
	bad.Today = 0
	if _, err := NewWith(bad, memory, true); err == nil {
		t.Error("a bad file has a model")
	}
}
