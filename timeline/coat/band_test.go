package coat

import (
	"math"
	"testing"

	"thatch/timeline"
)

// A: the table against the functions that it stands for.
func TestATableOfABandIsTheBand(t *testing.T) {
	for _, name := range ProfileNames() {
		p, err := ProfileNamed(name)
		if err != nil {
			t.Fatal(err)
		}
		e := p.Growth.Evidence
		for _, r := range timeline.Ripenesses() {
			lo, hi, ok := e.ripenessBand(r)
			if !ok {
				continue
			}
			for _, curve := range []Curve{Plateau{}, Monomolecular{}, Sigmoid{}} {
				for _, sd := range []float64{e.RipeAt.SD, bandSD, bandSD / 10} {
					b := bandOf(curve, lo, hi, sd, e.Wrong)
					worst := 0.0
					for x := 0.0; x < 17; x += 0.000737 {
						const rate, full = 0.4, 33.0
						share := curve.Length(0, rate, full, x*full/rate) / full
						worst = max(worst, math.Abs(b.at(x)-logBetween(share, lo, hi, sd, e.Wrong)))
					}
					if worst > 1e-5 {
						t.Errorf("%s, %s, %T, sd %g: off by %g", name, r, curve, sd, worst)
					}
				}
			}
		}
	}
}

func TestWhatGrewFromNothingIsHeardAsEverythingElse(t *testing.T) {
	p, err := ProfileNamed("rough")
	if err != nil {
		t.Fatal(err)
	}
	e := p.Growth.Evidence
	lo, hi, _ := e.ripenessBand(timeline.Coming)
	s := span{curve: Monomolecular{}, pulled: 10, clock: 70}
	b := bandOf(s.curve, lo, hi, e.RipeAt.SD, e.Wrong)
	rate, lag, full := []float64{0.2, 0.4, 0.7}, []float64{5, 20, 61, 80}, []float64{15, 30}
	got, want := make([]float64, 24), make([]float64, 24)
	b.grown(&s)(rate, lag, full, got)
	ofLongest([]span{s}, func(longest, full float64) float64 {
		return bandOf(Plateau{}, lo, hi, e.RipeAt.SD, e.Wrong).share(longest / full)
	})(rate, lag, full, want)
	for i := range got {
		if math.Abs(got[i]-want[i]) > 1e-5 {
			t.Errorf("place %d: %g, want %g", i, got[i], want[i])
		}
	}
}
