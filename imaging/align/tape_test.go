package align

import (
	"math"
	"math/rand/v2"
	"testing"

	"thatch/timeline"
)

// The stated error is held against what tapping a million times by chance gives (Monte Carlo method, JCGM 101:2008).
func TestATapesScaleAndItsErrorAreWhatChanceGives(t *testing.T) {
	a, b, mm, sd := XY{X: 400, Y: 2400}, XY{X: 1600, Y: 2432}, 500.0, TapeSD{MM: 1, TapPX: 3}
	s, sdS, err := ScaleFromTape(a, b, mm, sd)
	if err != nil {
		t.Fatal(err)
	}
	if want := 500 / math.Hypot(1200, 32); math.Abs(s-want) > 1e-12 {
		t.Errorf("scale %v, want %v", s, want)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	sum, of := 0.0, 200000
	for range of {
		tap := func(p XY) XY {
			return XY{X: p.X + sd.TapPX*rng.NormFloat64(), Y: p.Y + sd.TapPX*rng.NormFloat64()}
		}
		d := (mm+sd.MM*rng.NormFloat64())/distance(tap(a), tap(b)) - s
		sum += d * d / float64(of)
	}
	if got := math.Sqrt(sum); math.Abs(got/sdS-1) > 0.02 {
		t.Errorf("chance spreads the scale by %v, stated %v", got, sdS)
	}
}

func TestATapeThatTellsNothingIsRefused(t *testing.T) {
	ok := TapeSD{MM: 1, TapPX: 3}
	for name, c := range map[string]struct {
		a, b XY
		mm   float64
		sd   TapeSD
	}{
		"both marks on one place": {XY{X: 5, Y: 5}, XY{X: 5, Y: 5}, 500, ok},
		"no distance":             {XY{X: 5, Y: 5}, XY{X: 500, Y: 5}, 0, ok},
		"a distance below zero":   {XY{X: 5, Y: 5}, XY{X: 500, Y: 5}, -500, ok},
		"a mark that is nowhere":  {XY{X: math.NaN(), Y: 5}, XY{X: 500, Y: 5}, 500, ok},
		"no number for the error": {XY{X: 5, Y: 5}, XY{X: 500, Y: 5}, 500, TapeSD{MM: math.Inf(1)}},
	} {
		if _, _, err := ScaleFromTape(c.a, c.b, c.mm, c.sd); timeline.KindOf(err) != timeline.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
}
