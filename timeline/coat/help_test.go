package coat

import (
	"math"
	"testing"

	"thatch/timeline"
)

func mustDay(t testing.TB, s string) timeline.Day {
	t.Helper()
	d, err := timeline.ParseDay(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func mustModel(t testing.TB, f File) *Model {
	t.Helper()
	m, err := New(f)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.10g, want %.10g ± %g", what, got, want, tol)
	}
}

func nearRel(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	near(t, what, got, want, math.Abs(want)*tol)
}

// pinned are priors without any uncertainty.
func pinned(rate, lag, full float64) Priors {
	return Priors{RateMMPerDay: &MeanSD{rate, 0}, LagDays: &MedianSD{lag, 0}, LengthMaxMM: &MeanSD{full, 0}}
}

// oneZone is a file of the back alone.
func oneZone(today timeline.Day, z Zone, p Priors) File {
	return File{
		Dog: Dog{Name: "Bracken"}, Today: today,
		Zones:  map[timeline.Zone]Zone{timeline.Back: z},
		Priors: map[timeline.Zone]Priors{timeline.Back: p},
	}
}

// values are all numbers of a forecast.
func (z ZoneForecast) values() []float64 {
	var v []float64
	for _, d := range []Dist{z.LongestMM, z.VisibleMM, z.MeanMM, z.DepthMM, z.InHair, z.RateMMPerDay, z.LagDays} {
		v = append(v, d.Median, d.P10, d.P90)
	}
	if z.Readiness != nil {
		v = append(v, *z.Readiness)
	}
	return v
}
