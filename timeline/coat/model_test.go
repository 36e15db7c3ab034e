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

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.9g, want %.9g ± %g", what, got, want, tol)
	}
}

func TestQuick(t *testing.T) {
	p := mustDay(t, "2026-01-01")
	f := File{Today: p + 70, Zones: map[timeline.Zone]Zone{"back": {Layers: []Layer{{Pulled: p, Share: 1}}}},
		Priors: map[timeline.Zone]Priors{"back": {RateMMPerDay: &MeanSD{.38, .10}, LagDays: &MedianSD{18, 0}, LengthMaxMM: &MeanSD{50, 0}}}}
	m, err := New(f)
	if err != nil {
		t.Fatal(err)
	}
	d := m.Forecast(p + 70).Zones["back"].LongestMM
	near(t, "m", d.Median, 19.760, .005)
	near(t, "p10", d.P10, 13.096, .005)
	near(t, "p90", d.P90, 26.424, .005)
}
