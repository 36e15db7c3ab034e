package measure

import (
	"math"
	"testing"

	"thatch/timeline"
)

// flatDog is a plain square dog whose topline is as drawn: up(x) mm above 300 at x from the withers, 200 mm of back.
func flatDog(up func(x float64) float64) Shot {
	s := Shot{WidthPX: 1000, HeightPX: 800, MMPerPX: 0.5, SDMMPerPX: 0.001, Facing: timeline.SideLeft}
	at := func(x, y float64) XY { return XY{X: 300 + x/0.5, Y: 700 - y/0.5} }
	add := func(x, y float64) { s.Outline = append(s.Outline, at(x, y)) }
	// Neck, back, rear, belly, chest: clockwise as seen from the nose.
	add(-120, 320)
	add(-100, 340)
	for x := -60.0; x < 0; x += 1 {
		add(x, 300-x/3)
	}
	for x := 0.0; x <= 200; x += 1 {
		add(x, 300+up(x))
	}
	for y := 299.0; y > 0; y -= 2 {
		add(240-20*y/300, y)
	}
	for x := 240.0; x > -40; x -= 2 {
		add(x, 0)
	}
	for y := 0.0; y < 250; y += 2 {
		add(-40, y)
	}
	add(-80, 290)
	s.Landmarks = timeline.Landmarks{
		timeline.Nose: at(-120, 320), timeline.Occiput: at(-60, 320), timeline.WithersPt: at(0, 300+up(0)), timeline.MidBack: at(100, 300+up(100)),
		timeline.TailSet: at(200, 300+up(200)), timeline.Buttock: at(225, 220), timeline.Prosternum: at(-40, 200),
	}
	return s
}

func bump(mid, half, high float64) func(float64) float64 {
	return func(x float64) float64 {
		if d := math.Abs(x-mid) / half; d < 1 {
			return high * (1 + math.Cos(math.Pi*d)) / 2
		}
		return 0
	}
}

func TestAToplineIsReadAsItIsDrawn(t *testing.T) {
	for _, c := range []struct {
		name     string
		up       func(float64) float64
		from, to float64 // of the one run
		peak     float64
	}{
		{"a straight back has no run", func(float64) float64 { return 0 }, 0, 0, 0},
		{"a slope is no dip", func(x float64) float64 { return -0.08 * x }, 0, 0, 0},
		{"a dip behind the withers", bump(50, 30, -5), 26, 74, -5},
		{"a rise at the loin", bump(150, 25, 4), 132, 168, 4},
		{"a tuft is no rise", bump(100, 5, 4), 0, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			shots := []Shot{flatDog(c.up), flatDog(c.up), flatDog(c.up)}
			shape, ok := Toplines(shots)
			if !ok || shape.N != 3 || math.Abs(shape.LengthMM-200) > 4 {
				t.Fatalf("%v %+v photos, %v mm", ok, shape.N, shape.LengthMM)
			}
			runs := shape.Runs(0.5)
			if c.peak == 0 {
				if len(runs) != 0 {
					t.Fatalf("runs %+v", runs)
				}
				return
			}
			if len(runs) != 1 {
				t.Fatalf("runs %+v", runs)
			}
			r := runs[0]
			if math.Abs(r.PeakMM-c.peak) > 0.4 || math.Abs(r.FromMM-c.from) > 8 || math.Abs(r.ToMM-c.to) > 8 || !r.Most || !r.Sure {
				t.Errorf("%+v", r)
			}
		})
	}
}

func TestARiseIsSureOnlyBeyondTwiceTheSalonsOwnSpread(t *testing.T) {
	shape, _ := Toplines([]Shot{flatDog(bump(150, 25, 4)), flatDog(bump(150, 25, 4)), flatDog(bump(150, 25, 4))})
	for _, c := range []struct {
		floor float64
		sure  bool
	}{{1, true}, {1.9, true}, {2.1, false}, {5, false}} {
		if r := shape.Runs(c.floor)[0]; r.Sure != c.sure {
			t.Errorf("floor %v mm: %+v", c.floor, r)
		}
	}
}

func TestWhatOnePhotoOfThreeShowsIsNotSure(t *testing.T) {
	none := func(float64) float64 { return 0 }
	shape, _ := Toplines([]Shot{flatDog(bump(150, 25, 9)), flatDog(none), flatDog(none)})
	if r := shape.Runs(0.5); len(r) != 1 || r[0].Most || r[0].Sure {
		t.Errorf("%+v", r)
	}
	one, _ := Toplines([]Shot{flatDog(bump(150, 25, 9))})
	if r := one.Runs(0.5); len(r) != 1 || r[0].Sure {
		t.Errorf("from one photo: %+v", r)
	}
}

func TestAnEdgeThatIsNotToBeUsedGivesNoTopline(t *testing.T) {
	s := flatDog(func(float64) float64 { return 0 })
	s.Skip = map[timeline.Zone]bool{timeline.Withers: true, timeline.Back: true, timeline.Loin: true, timeline.Rump: true}
	if p, ok := Topline(&s); ok {
		t.Errorf("%d places", len(p))
	}
	s.Skip = map[timeline.Zone]bool{timeline.Loin: true}
	p, ok := Topline(&s)
	if !ok {
		t.Fatal("a lead across the loin takes the whole back")
	}
	across := 0
	for _, q := range p {
		if q.AtMM > 140 && q.AtMM < 160 {
			across++
		}
		if q.Zone == timeline.Loin && q.AtMM > 140 && q.AtMM < 160 && !math.IsNaN(q.MM) {
			t.Errorf("a number across the lead: %+v", q)
		}
	}
	if across < 5 {
		t.Errorf("only %d places across the lead", across)
	}
}
