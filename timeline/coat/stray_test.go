package coat

import (
	"math"
	"math/rand/v2"
	"testing"

	"thatch/timeline"
)

// Kind A: of the growth law itself.
func TestSigmoidIsSteepestAtItsRate(t *testing.T) {
	const rate, full, h = 0.4, 44.0, 1e-3
	c := Sigmoid{}
	steepest, at := 0.0, 0.0
	for s := h; s < 400; s += 0.05 {
		if v := (c.Length(0, rate, full, s+h) - c.Length(0, rate, full, s-h)) / (2 * h); v > steepest {
			steepest, at = v, s
		}
	}
	near(t, "steepest", steepest, rate, 1e-6)
	near(t, "share grown there", c.Length(0, rate, full, at)/full, 1-math.Exp(-0.5), 1e-3)
	for _, s := range []float64{3, 40, 120} {
		mid := c.Length(0, rate, full, s)
		near(t, "went on", c.Length(mid, rate, full, 25), c.Length(0, rate, full, s+25), 1e-9)
		near(t, "went back", c.Length(mid, rate, full, -s/2), c.Length(0, rate, full, s/2), 1e-9)
	}
	near(t, "overgrown", c.Length(50, rate, full, 10), 50, 0)
	near(t, "not out", c.Length(0, rate, full, -5), 0, 0)
}

// threeZones is a dog of the calibration whose hair grows so, read without error at four sessions.
func threeZones(t *testing.T, length func(age float64) float64) (File, timeline.Day) {
	today := mustDay(t, "2026-05-01")
	var c calibrated
	for k := range calibrationZones {
		for i, age := range sessionAges {
			c.read[k][i] = length(age)
		}
	}
	return c.file(today, 4), today + forecastAhead
}

func TestADogThatGrowsByAnotherLawIsForecastByIt(t *testing.T) {
	for _, c := range []struct {
		name   string
		length func(age float64) float64
		mixed  bool // forecast by several laws
		strays bool // and said so
	}{
		{"steady", func(age float64) float64 { return math.Min(45, 0.38*(age-18)) }, false, false},
		{"slow at first", func(age float64) float64 { return logisticFromNothing(0.38, 50, age-18) }, true, false},
		{"slower at first", func(age float64) float64 { return Sigmoid{}.Length(0, 0.38, 50, age-18) }, true, true},
		{"ever slower", func(age float64) float64 { return everSlower(0.8, 45, age-18) }, true, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			f, on := threeZones(t, c.length)
			m := mustModel(t, f)
			got := m.Forecast(on)
			if m.Strays() != c.strays || got.Strays != c.strays {
				t.Fatalf("strays: %v", m.Strays())
			}
			if mixed := m.zones[timeline.Back].curves != nil; mixed != c.mixed {
				t.Fatalf("by several laws: %v", mixed)
			}
			if _, said := got.Say(); said != c.strays {
				t.Errorf("said: %v", said)
			}
			steady := mustModel(t, f) // the same readings, by the profile's law alone
			var zones []*ZoneModel
			for _, name := range timeline.Zones() {
				if z := steady.zones[name]; z != nil {
					zones, z.curve, z.curves, z.law = append(zones, z), Plateau{}, nil, 0
				}
			}
			d := newDog(dogSD(steady.profile, f.Dog))
			h := steady.hear(zones, d, finalPoints, nil)
			for i, z := range zones {
				z.nodes = z.nodesOf(i, d, h)
				z.finish(true)
				a, b := got.Zones[z.name].LongestMM, z.Forecast(nil, on, Target{}).LongestMM
				truth := c.length(oldPulled + forecastAhead)
				switch {
				case !c.mixed && a != b:
					t.Errorf("%s: %+v, by the profile's law %+v", z.name, a, b)
				case c.mixed && (truth < a.P10 || truth > a.P90):
					t.Errorf("%s: %.1f mm is outside %+v", z.name, truth, a)
				case c.mixed && math.Abs(a.Median-truth) >= math.Abs(b.Median-truth):
					t.Errorf("%s: %.1f mm: %+v is no better than the profile's law, %+v", z.name, truth, a, b)
				}
			}
		})
	}
}

func TestWhatIsPinnedDoesNotStray(t *testing.T) {
	f, on := threeZones(t, func(age float64) float64 { return Sigmoid{}.Length(0, 0.38, 50, age-18) })
	f.Priors = map[timeline.Zone]Priors{timeline.Back: pinned(0.38, 18, 50)}
	m := mustModel(t, f)
	if !m.Strays() {
		t.Fatal("the other zones do not stray")
	}
	d := m.Forecast(on).Zones[timeline.Back].LongestMM
	near(t, "median", d.Median, 0.38*(oldPulled+forecastAhead-18), 1e-9)
	near(t, "band", d.P90-d.P10, 0, 1e-9)

	f.Priors = nil
	for name, z := range f.Zones {
		z.Measured = z.Measured[3:]
		f.Zones[name] = z
	}
	if mustModel(t, f).Strays() {
		t.Error("a law was told from one day")
	}
}

// The evidence for one law over another, against a mean of the likelihood over draws from the prior that shares no code
// with the grid.
func TestEvidenceOfTheLawsAgainstSampling(t *testing.T) {
	f, _ := threeZones(t, func(age float64) float64 { return logisticFromNothing(0.38, 50, age-18) + 0.5*math.Sin(age) })
	for _, name := range calibrationZones[1:] {
		delete(f.Zones, name)
	}
	m := mustModel(t, f)
	z := m.zones[timeline.Back]
	p := m.profile
	d := newDog(dogSD(p, f.Dog))
	r := rand.New(rand.NewPCG(5, 6))
	sg, se := lognormalMean1(p.Growth.DogCV), lognormalMean1(p.Growth.ZoneCV)
	var sums [3]float64
	for range 400_000 {
		rate := p.Growth.RateMMPerDay * p.Zones[timeline.Back].RateFactor *
			math.Exp(-sg*sg/2+sg*r.NormFloat64()) * math.Exp(-se*se/2+se*r.NormFloat64())
		lag := p.Growth.LagDays.Median * math.Exp(p.Growth.LagDays.SDLog*r.NormFloat64())
		full := drawFull(r, p.Zones[timeline.Back].LengthMaxMM)
		for k := range sums {
			like := 1.0
			for i, age := range sessionAges {
				s, l := age-lag, 0.0
				if x := rate * s / full; s > 0 {
					l = full * []float64{math.Min(1, x), -math.Expm1(-x * x * math.E / 2), -math.Expm1(-x)}[k]
				}
				variance := RulerSDMM*RulerSDMM + ModelSDMM*ModelSDMM
				e := f.Zones[timeline.Back].Measured[i].LengthMM - l
				like *= (1-slipShare)*math.Exp(-e*e/(2*variance)) + slipShare*math.Sqrt(2*math.Pi*variance)/MaxLengthMM
			}
			sums[k] += like
		}
	}
	for _, points := range [][4][3]int{askPoints, finalPoints} {
		var by [3]float64
		for k, c := range []Curve{Plateau{}, Sigmoid{}, Monomolecular{}} {
			z.curve = c
			by[k] = m.hear([]*ZoneModel{z}, d, points, nil).logEvidence
		}
		near(t, "slow at first over steady", by[1]-by[0], math.Log(sums[1]/sums[0]), 0.05)
		near(t, "ever slower over steady", by[2]-by[0], math.Log(sums[2]/sums[0]), 0.05)
	}
}
