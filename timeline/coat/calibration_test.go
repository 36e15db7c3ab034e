package coat

import (
	"math"
	"math/rand/v2"
	"testing"

	"thatch/timeline"
)

// simulated is a dog drawn from the profile's own starting guesses: its file with readings of n sessions, and the same
// file with its true parameters pinned, which tells the truth.
func simulated(r *rand.Rand, p Profile, today timeline.Day, n int) (File, File) {
	zones := []timeline.Zone{timeline.Back, timeline.Ribs, timeline.Thigh}
	f := File{Dog: Dog{Name: "Bracken"}, Today: today, Zones: map[timeline.Zone]Zone{}}
	truth := File{Dog: f.Dog, Today: today, Zones: map[timeline.Zone]Zone{}, Priors: map[timeline.Zone]Priors{}}
	sg, se := lognormalMean1(p.Growth.DogCV), lognormalMean1(p.Growth.ZoneCV)
	g := math.Exp(-sg*sg/2 + sg*r.NormFloat64())
	for _, name := range zones {
		zp := p.Zones[name]
		e := math.Exp(-se*se/2 + se*r.NormFloat64())
		full := 0.0
		for full < lowFullMM {
			full = zp.LengthMaxMM.Mean + zp.LengthMaxMM.SD*r.NormFloat64()
		}
		lag := p.Growth.LagDays.Median * math.Exp(p.Growth.LagDays.SDLog*r.NormFloat64())
		truth.Priors[name] = pinned(p.Growth.RateMMPerDay*zp.RateFactor*g*e, lag, full)
		z := Zone{Layers: []Layer{{Pulled: today - 98, Share: 1}}}
		for k := range timeline.Day(4) {
			z.Work = append(z.Work, WorkDone{On: today - 42 + 14*k, Do: timeline.Take, Share: 0.2})
		}
		f.Zones[name], truth.Zones[name] = z, z
	}
	m := newModel(truth, p)
	for k := 4 - n; k < 4; k++ {
		day := today - 42 + 14*timeline.Day(k)
		at := m.ForecastStart(day)
		for _, name := range zones {
			z := f.Zones[name]
			mm := at.Zones[name].LongestMM.Median + math.Hypot(RulerSDMM, ModelSDMM)*r.NormFloat64()
			z.Measured = append(append([]Measured(nil), z.Measured...), Measured{On: day, LengthMM: max(mm, 0), SDMM: RulerSDMM})
			f.Zones[name] = z
		}
	}
	return f, truth
}

// The 80 % band of dogs drawn from the model itself must cover 80 %: with 600 values the standard error is about 2 %
// (more, for the zones of a dog share its factor), so 70–90 % fails on a wrong integral, not on luck.
func TestCalibrationOnTheModelsOwnDogs(t *testing.T) {
	p, err := ProfileNamed("rough")
	if err != nil {
		t.Fatal(err)
	}
	today := mustDay(t, "2026-05-01")
	const dogs = 200
	widths := map[int]float64{}
	for _, n := range []int{0, 2, 4} {
		r := rand.New(rand.NewPCG(7, 11))
		in, all := 0, 0
		var abs float64
		var width []float64
		for range dogs {
			f, truth := simulated(r, p, today, n)
			got, want := newModel(f, p).Forecast(today+28), newModel(truth, p).Forecast(today+28)
			for name, z := range got.Zones {
				d, v := z.LongestMM, want.Zones[name].LongestMM.Median
				if v >= d.P10 && v <= d.P90 {
					in++
				}
				abs += math.Abs(v - d.Median)
				all++
				width = append(width, d.P90-d.P10)
			}
		}
		cover := float64(in) / float64(all)
		widths[n] = dist(width).Median
		t.Logf("%d sessions: 80 %% band covers %.1f %%, mean absolute error %.2f mm, median width %.2f mm", n, 100*cover, abs/float64(all), widths[n])
		if cover < 0.70 || cover > 0.90 {
			t.Errorf("%d sessions: the 80 %% band covers %.1f %%", n, 100*cover)
		}
	}
	if widths[4] > 0.6*widths[0] {
		t.Errorf("four sessions narrow the band from %.2f to %.2f mm only", widths[0], widths[4])
	}
}
