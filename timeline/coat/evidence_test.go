package coat

import (
	"encoding/json"
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"thatch/timeline"
)

// lagQuantiles are those of LogNormal(ln 18, 0.35) weighted by w, by the midpoint rule on a fine grid of the lag itself:
// Bayes' rule written out, apart from the model's own integration.
func lagQuantiles(w func(lag float64) float64) Dist {
	prior := distuv.LogNormal{Mu: math.Log(18), Sigma: 0.35}
	const h = 0.001
	var cum []float64
	sum := 0.0
	for x := h / 2; x < 150; x += h {
		sum += prior.Prob(x) * w(x)
		cum = append(cum, sum)
	}
	at := func(p float64) float64 {
		for i, c := range cum {
			if c >= p*sum {
				return (float64(i) + 0.5) * h
			}
		}
		return math.NaN()
	}
	return Dist{Median: at(0.5), P10: at(0.1), P90: at(0.9)}
}

func nearDist(t *testing.T, what string, got, want Dist, tol float64) {
	t.Helper()
	near(t, what+", median", got.Median, want.Median, tol)
	near(t, what+", p10", got.P10, want.P10, tol)
	near(t, what+", p90", got.P90, want.P90, tol)
}

func between(lag, lo, hi, sd float64) float64 {
	n := distuv.Normal{Mu: lag, Sigma: sd}
	return n.CDF(hi) - n.CDF(lo)
}

// Kind A: a censored observation of the lag, against Bayes' rule written out; and, where a pull's lag is the zone's own
// and nothing is misheard, against the lognormal distribution cut off.
func TestNewHairIsCensoredEvidenceOnTheLag(t *testing.T) {
	p := mustDay(t, "2026-01-01")
	sharp := json.RawMessage(`{"growth":{"evidence":{"lag_sd_days":0.1,"wrong":0.0001}}}`)
	cut := func(lo, hi float64) func(float64) float64 {
		return func(lag float64) float64 {
			if lag > lo && lag <= hi {
				return 1
			}
			return 0
		}
	}
	// Tolerance: a tenth of a day; where the edge is sharp, less than the distance of the grid's points there (0.4 days).
	for _, c := range []struct {
		name string
		own  json.RawMessage
		seen []NewHair
		w    func(lag float64) float64
		tol  float64
	}{
		{"nothing seen", nil, nil, func(float64) float64 { return 1 }, 0.02},
		{"not out yet at 21 days", nil, []NewHair{{Pulled: p, NotOut: p + 21}}, func(l float64) float64 { return 0.98*between(l, 21, math.Inf(1), 2) + 0.02 }, 0.1},
		{"first tips between 14 and 28", nil, []NewHair{{Pulled: p, NotOut: p + 14, Out: p + 28}}, func(l float64) float64 { return 0.98*between(l, 14, 28, 2) + 0.02 }, 0.1},
		{"tips by 12 days", nil, []NewHair{{Pulled: p, Out: p + 12}}, func(l float64) float64 { return 0.98*between(l, math.Inf(-1), 12, 2) + 0.02 }, 0.1},
		{"two pulls", nil, []NewHair{{Pulled: p, NotOut: p + 20}, {Pulled: p + 30, Out: p + 52}}, func(l float64) float64 {
			return (0.98*between(l, 20, math.Inf(1), 2) + 0.02) * (0.98*between(l, math.Inf(-1), 22, 2) + 0.02)
		}, 0.1},
		{"sharp: not out yet at 21 days", sharp, []NewHair{{Pulled: p, NotOut: p + 21}}, cut(21, 1e9), 0.3},
		{"sharp: between 14 and 28", sharp, []NewHair{{Pulled: p, NotOut: p + 14, Out: p + 28}}, cut(14, 28), 0.3},
	} {
		f := oneZone(p+60, Zone{Layers: []Layer{{Pulled: p, Share: 1}}, NewHair: c.seen}, Priors{})
		f.OwnProfile = c.own
		m := mustModel(t, f)
		nearDist(t, c.name, m.Zone(timeline.Back).LagDays(), lagQuantiles(c.w), c.tol)
	}
	// What the eye saw of the lag is seen in the forecast: no tips at three weeks make tips at four less likely.
	at := func(seen []NewHair) float64 {
		f := oneZone(p+21, Zone{Layers: []Layer{{Pulled: p, Share: 1}}, NewHair: seen}, Priors{})
		return mustModel(t, f).Forecast(p + 35).Zones[timeline.Back].LongestMM.Median
	}
	if a, b := at(nil), at([]NewHair{{Pulled: p, NotOut: p + 21}}); b >= a-0.5 {
		t.Errorf("no tips at three weeks: %.2f mm at five, without that %.2f mm", b, a)
	}
}

func TestRipenessSpeaksOfLengthAndLag(t *testing.T) {
	p := mustDay(t, "2026-01-01")
	on := p + 60
	model := func(is timeline.Ripeness, more ...Ripeness) *Model {
		z := Zone{Layers: []Layer{{Pulled: p, Share: 1}}, Pinched: more}
		if is != "" {
			z.Ripeness = &Ripeness{On: on, Is: is}
		}
		return mustModel(t, oneZone(on, z, Priors{}))
	}
	last, lastLag := 0.0, math.Inf(1)
	for _, is := range timeline.Ripenesses() {
		z := model(is).Zone(timeline.Back)
		longest := z.ForecastStart(on, Target{}).LongestMM.Median
		if longest <= last {
			t.Errorf("%s: longest %.2f mm, riper than one of %.2f mm", is, longest, last)
		}
		if lag := z.LagDays().Median; lag >= lastLag {
			t.Errorf("%s: a lag of %.2f days, less ripe %.2f", is, lag, lastLag)
		} else {
			lastLag = lag
		}
		last = longest
	}
	without := model("").Zone(timeline.Back).ForecastStart(on, Target{}).LongestMM
	ready := model(timeline.Ready).Zone(timeline.Back).ForecastStart(on, Target{}).LongestMM
	if math.Abs(without.Median-ready.Median) > 4 || ready.P10 <= without.P10 {
		t.Errorf("one pinch that agrees moves %+v to %+v", without, ready)
	}
	twice := model(timeline.Blown, Ripeness{On: on - 10, Is: timeline.Blown}).Zone(timeline.Back).ForecastStart(on, Target{}).LongestMM.Median
	if once := model(timeline.Blown).Zone(timeline.Back).ForecastStart(on, Target{}).LongestMM.Median; twice <= once {
		t.Errorf("blown twice: %.2f mm, once %.2f mm", twice, once)
	}
}

func TestWhatIsNotReadyIsTestedAgain(t *testing.T) {
	p := mustDay(t, "2026-01-01")
	again := func(age timeline.Day, r *Ripeness) timeline.Day {
		return mustModel(t, oneZone(p+age, Zone{Layers: []Layer{{Pulled: p, Share: 1}}, Ripeness: r}, Priors{})).Zone(timeline.Back).TestAgain()
	}
	if d := again(40, nil); !d.IsZero() {
		t.Errorf("nothing tested: again on %s", d)
	}
	if d := again(90, &Ripeness{On: p + 90, Is: timeline.Ready}); !d.IsZero() {
		t.Errorf("ready: again on %s", d)
	}
	young, older := again(25, &Ripeness{On: p + 25, Is: timeline.NotReady})-p-25, again(45, &Ripeness{On: p + 45, Is: timeline.NotReady})-p-45
	if young < older || older < againSoonest || young > againLatest {
		t.Errorf("not ready at 25 days: again after %d; at 45 days: after %d", young, older)
	}
	if coming := again(45, &Ripeness{On: p + 45, Is: timeline.Coming}) - p - 45; coming > older {
		t.Errorf("coming: again after %d days, not ready: after %d", coming, older)
	}
}

func TestCoverOverrulesTheShareThatWasSaid(t *testing.T) {
	p := mustDay(t, "2026-01-01")
	day := p + 120
	inHair := func(share float64, cover timeline.Cover) float64 {
		z := Zone{
			Layers: []Layer{{Pulled: p, Share: 0.25}, {Pulled: p + 14, Share: 0.25}, {Pulled: p + 28, Share: 0.25}, {Pulled: p + 42, Share: 0.25}},
			Work:   []WorkDone{{On: day, Do: timeline.Take, Share: share}},
		}
		if cover != "" {
			z.Cover = []CoverSeen{{day, cover}}
		}
		return mustModel(t, oneZone(day, z, Priors{})).Forecast(day).Zones[timeline.Back].InHair.Median
	}
	e := mustProfile(t, "rough").Growth.Evidence.CoverAt
	for _, c := range []struct {
		share float64
		cover timeline.Cover
		want  float64
	}{
		{0.25, "", 0.75},
		{0.25, timeline.CoverFull, 0.75},
		{0.25, timeline.CoverThin, e.Full},
		{0.25, timeline.CoverSkinShows, e.Thin},
		{0.5, timeline.CoverFull, e.Full},
		{0.5, timeline.CoverThin, 0.5},
		{0.9, timeline.CoverFull, e.Full},
		{0.9, timeline.CoverSkinShows, 0.1},
	} {
		near(t, string(c.cover)+" after a take", inHair(c.share, c.cover), c.want, 1e-9)
	}
	// With nothing pulled that day there is no share to doubt: then it is the lag that bare skin speaks of.
	lag := func(cover ...CoverSeen) float64 {
		z := Zone{Layers: []Layer{{Pulled: p, Share: 1}}, Work: []WorkDone{{On: p + 22, Do: timeline.Card}}, Cover: cover}
		return mustModel(t, oneZone(p+22, z, Priors{})).Zone(timeline.Back).LagDays().Median
	}
	if none, bare, full := lag(), lag(CoverSeen{p + 22, timeline.CoverSkinShows}), lag(CoverSeen{p + 22, timeline.CoverFull}); !(full < none-1 && none+1 < bare) {
		t.Errorf("three weeks after a strip the lag is %.1f days, with skin showing %.1f, with full cover %.1f", none, bare, full)
	}
}

func mustProfile(t testing.TB, name string) Profile {
	t.Helper()
	p, err := ProfileNamed(name)
	if err != nil {
		t.Fatal(err)
	}
	return p
}
