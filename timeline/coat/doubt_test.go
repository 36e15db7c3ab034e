package coat

import (
	"math"
	"testing"

	"thatch/timeline"
)

// A dog with four honest readings, and a fifth that is a slip: it is named, and moves nothing.
func TestASlipDoesNotDragTheZone(t *testing.T) {
	p := mustDay(t, "2026-01-01")
	today := p + 100
	forecast := func(extra ...Measured) (*Model, Dist) {
		z := Zone{Layers: []Layer{{Pulled: p, Share: 1}}}
		for _, age := range []timeline.Day{58, 72, 86, 100} {
			z.Measured = append(z.Measured, Measured{On: p + age, LengthMM: 0.42 * (float64(age) - 16), SDMM: 1})
		}
		z.Measured = append(z.Measured, extra...)
		m := mustModel(t, oneZone(today, z, Priors{}))
		return m, m.Forecast(today + 14).Zones[timeline.Back].LongestMM
	}
	_, clean := forecast()
	true93 := 0.42 * (93 - 16)
	for _, c := range []struct {
		name  string
		mm    float64
		looks Slip
		meant float64
	}{
		{"ten times too much", 10 * true93, SlipTenfold, true93},
		{"a tenth", true93 / 10, SlipTenfold, true93},
		{"an inch reading written as mm", true93 / 25.4, SlipInch, true93},
		{"another zone's", 60, SlipLong, 0},
	} {
		m, d := forecast(Measured{On: p + 93, LengthMM: c.mm, SDMM: 1})
		if math.Abs(d.Median-clean.Median) > 0.3 || math.Abs((d.P90-d.P10)/(clean.P90-clean.P10)-1) > 0.05 {
			t.Errorf("%s: the forecast moves from %+v to %+v", c.name, clean, d)
		}
		all := m.Doubted()
		if len(all) != 1 || all[0].Looks != c.looks || all[0].On != p+93 || math.Abs(all[0].MeantMM-c.meant) > 1e-9 {
			t.Errorf("%s: doubted %+v", c.name, all)
		}
	}
	m, confirmed := forecast(Measured{On: p + 93, LengthMM: 45, SDMM: 1, Confirmed: true})
	if len(m.Doubted()) != 0 {
		t.Errorf("confirmed and doubted: %+v", m.Doubted())
	}
	if confirmed.Median < clean.Median+1 {
		t.Errorf("a confirmed reading of 45 mm moves %.2f to %.2f only", clean.Median, confirmed.Median)
	}
	if m, _ := forecast(); len(m.Doubted()) != 0 {
		t.Errorf("honest readings doubted: %+v", m.Doubted())
	}
}

func TestAnHonestSurpriseIsHeard(t *testing.T) {
	p := mustDay(t, "2026-01-01")
	z := Zone{Layers: []Layer{{Pulled: p, Share: 1}}}
	for _, age := range []timeline.Day{50, 64} { // a dog that grows at 1.7 times the usual rate
		z.Measured = append(z.Measured, Measured{On: p + age, LengthMM: 0.65 * (float64(age) - 14), SDMM: 1})
	}
	m := mustModel(t, oneZone(p+64, z, Priors{}))
	if d := m.Doubted(); len(d) != 0 {
		t.Errorf("doubted: %+v", d)
	}
	near(t, "rate", m.Zone(timeline.Back).RateMMPerDay().Median, 0.65, 0.09)
}

func TestReadingsAreDoubtedBeforeTheyAreKept(t *testing.T) {
	band := func(lo, mid, hi float64) ZoneForecast { return ZoneForecast{LongestMM: Dist{mid, lo, hi}} }
	f := Forecast{Zones: map[timeline.Zone]ZoneForecast{
		timeline.Back: band(24, 28, 32), timeline.Ears: band(3, 5, 7), timeline.Beard: band(60, 70, 80), timeline.Tail: band(2, 15, 30),
	}}
	words := catalogue(t)
	for _, c := range []struct {
		name string
		mm   map[timeline.Zone]float64
		want []Doubt
	}{
		{"as expected", map[timeline.Zone]float64{timeline.Back: 27, timeline.Ears: 6}, nil},
		{"an honest surprise", map[timeline.Zone]float64{timeline.Back: 37}, nil},
		{"a digit too many", map[timeline.Zone]float64{timeline.Back: 280}, []Doubt{{Zone: timeline.Back, Looks: SlipTenfold, MeantMM: 28}}},
		{"centimetres", map[timeline.Zone]float64{timeline.Back: 2.8}, []Doubt{{Zone: timeline.Back, Looks: SlipTenfold, MeantMM: 28}}},
		{"inches", map[timeline.Zone]float64{timeline.Back: 1.125}, []Doubt{{Zone: timeline.Back, Looks: SlipInch, MeantMM: 1.125 * 25.4}}},
		{"millimetres taken for inches", map[timeline.Zone]float64{timeline.Beard: 70 * 25.4}, []Doubt{{Zone: timeline.Beard, Looks: SlipInch, MeantMM: 70}}},
		{"two zones exchanged", map[timeline.Zone]float64{timeline.Back: 70, timeline.Beard: 28}, []Doubt{
			{Zone: timeline.Beard, Looks: SlipOtherZone, MeantMM: 70, Other: timeline.Back}, {Zone: timeline.Back, Looks: SlipOtherZone, MeantMM: 28, Other: timeline.Beard},
		}},
		{"out of all measure", map[timeline.Zone]float64{timeline.Back: 60}, []Doubt{{Zone: timeline.Back, Looks: SlipLong}}},
		{"nothing of it left", map[timeline.Zone]float64{timeline.Beard: 12}, []Doubt{{Zone: timeline.Beard, Looks: SlipShort}}},
		{"little is known", map[timeline.Zone]float64{timeline.Tail: 33}, nil},
		{"a zone that is not forecast", map[timeline.Zone]float64{timeline.Feet: 300}, nil},
	} {
		got := Doubts(f, c.mm)
		if len(got) != len(c.want) {
			t.Errorf("%s: %+v", c.name, got)
			continue
		}
		for i, w := range c.want {
			g := got[i]
			said(t, words, g.Say())
			if g.Zone != w.Zone || g.Looks != w.Looks || g.Other != w.Other || math.Abs(g.MeantMM-w.MeantMM) > 1e-9 {
				t.Errorf("%s: %+v, want %+v", c.name, g, w)
			}
		}
	}
}
