package coat

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"thatch/timeline"
)

// A: the same three numbers as from the values sorted by the standard library.
func TestDistIsThatOfTheSortedValues(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 1))
	for name, draw := range map[string]func(i int) float64{
		"drawn":      func(int) float64 { return rng.NormFloat64() },
		"few values": func(int) float64 { return float64(rng.IntN(4)) },
		"all alike":  func(int) float64 { return 12 },
		"rising":     func(i int) float64 { return float64(i) },
		"falling":    func(i int) float64 { return -float64(i) },
		"organ pipe": func(i int) float64 { return -math.Abs(float64(i) - 500) },
		"far tails":  func(int) float64 { return math.Exp(40 * rng.NormFloat64()) },
		"some +Inf":  func(int) float64 { return rng.Float64() / float64(rng.IntN(2)) },
	} {
		for _, n := range []int{1, 2, 3, 7, 8, 9, 10, 11, 19, 20, 21, 100, latticeN} {
			for range 40 {
				v := make([]float64, n)
				for i := range v {
					v[i] = draw(i)
				}
				s := slices.Sorted(slices.Values(v))
				want := Dist{Median: quantile(s, 0.5), P10: quantile(s, 0.1), P90: quantile(s, 0.9)}
				same := func(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }
				if got := dist(v); !same(got.Median, want.Median) || !same(got.P10, want.P10) || !same(got.P90, want.P90) {
					t.Fatalf("%s, %d values: %+v, want %+v", name, n, got, want)
				}
				slices.Sort(v)
				if !slices.Equal(v, s) {
					t.Fatalf("%s, %d values: not the values that went in", name, n)
				}
			}
		}
	}
}

func BenchmarkDist(b *testing.B) {
	rng := rand.New(rand.NewPCG(8, 2))
	all := make([]float64, latticeN)
	for i := range all {
		all[i] = rng.NormFloat64()
	}
	v := make([]float64, latticeN)
	for b.Loop() {
		copy(v, all)
		dist(v)
	}
}

// A: the lengths of a chart against those of the whole forecast.
func TestLengthsAreThoseOfTheForecast(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 3))
	m, err := New(seenFile(t, rng))
	if err != nil {
		t.Fatal(err)
	}
	for name, z := range m.zones {
		steps := []Step{{On: z.today + 7, Do: timeline.Take, Share: 0.4}}
		for _, on := range []timeline.Day{z.today - 20, z.today, z.today + 30} {
			for what, c := range map[string]struct {
				got  Lengths
				want ZoneForecast
			}{
				"at its start": {z.LengthsStart(on), z.ForecastStart(on, Target{})},
				"at its end":   {z.LengthsEnd(on), z.ForecastEnd(on, Target{})},
				"after steps":  {z.LengthsAfter(steps, z.today+30), z.Forecast(steps, z.today+30, Target{})},
			} {
				if c.got.LongestMM != c.want.LongestMM || c.got.VisibleMM != c.want.VisibleMM {
					t.Errorf("%s, %s %s: %+v, want %+v", name, on, what, c.got, c.want)
				}
			}
		}
	}
}
