package coat

import (
	"math"
	"testing"

	"thatch/timeline"
)

// Kind A: with growth pinned the visible length is known, and lie and loft are updated as jointly normal quantities: the
// closed form for one reading written out here, and many readings of different lengths that tell lie from loft.
func TestLieIsLearnedFromLengthAndDepth(t *testing.T) {
	p := mustDay(t, "2026-01-01")
	today := p + 100
	visible := func(day timeline.Day) float64 { return 0.38 * (float64(day-p) - 18) }
	model := func(depth ...Depth) *Model {
		f := oneZone(today, Zone{Layers: []Layer{{Pulled: p, Share: 1}}, Depth: depth}, pinned(0.38, 18, 60))
		f.Dog.Undercoat = timeline.UndercoatSome
		return mustModel(t, f)
	}
	g := mustProfile(t, "rough").Growth
	loft, loftSD := g.LoftMM[timeline.LoftSome], g.LoftSDMM[timeline.LoftSome]

	v := visible(today)
	before := model().Forecast(today).Zones[timeline.Back].DepthMM
	z90 := 1.2815515655446004 // of the standard normal distribution
	sd := math.Sqrt(g.Lie.SD*g.Lie.SD*v*v + loftSD*loftSD)
	nearDist(t, "before any reading", before, Dist{g.Lie.Mean*v + loft, g.Lie.Mean*v + loft - z90*sd, g.Lie.Mean*v + loft + z90*sd}, 0.03)

	// One reading of 20 mm, sd 1 (and the model's own 1): the depth itself is normal with prior sd² and noise 1 + 1.
	post := 1 / (1/(sd*sd) + 1/2.0)
	mean := post * ((g.Lie.Mean*v+loft)/(sd*sd) + 20/2.0)
	nearDist(t, "after one reading", model(Depth{today, 20, 1}).Forecast(today).Zones[timeline.Back].DepthMM,
		Dist{mean, mean - z90*math.Sqrt(post), mean + z90*math.Sqrt(post)}, 0.03)

	// A flat-lying coat over an undercoat that lifts it: lie 0.3 and loft 3 mm, told apart by readings of several lengths.
	var many []Depth
	for day := p + 30; day <= today; day += 5 {
		many = append(many, Depth{day, 0.3*visible(day) + 3, 0.5})
	}
	// Bayesian regression of depth − lie·V − loft on (V, sd of loft), by its normal equations.
	aa, ab, bb, ra, rb := 1/(g.Lie.SD*g.Lie.SD), 0.0, 1.0, 0.0, 0.0
	for _, d := range many {
		v, rest := visible(d.On), d.DepthMM-g.Lie.Mean*visible(d.On)-loft
		w := 1 / (0.5*0.5 + DepthSDMM*DepthSDMM)
		aa, ab, bb, ra, rb = aa+w*v*v, ab+w*v*loftSD, bb+w*loftSD*loftSD, ra+w*v*rest, rb+w*loftSD*rest
	}
	det := aa*bb - ab*ab
	m := model(many...)
	var lie, zeta float64
	z := m.Zone(timeline.Back)
	for i := range latticeN {
		lie += z.nodes.lie[i] / latticeN
		zeta += z.nodes.zeta[i] / latticeN
	}
	near(t, "lie", lie, g.Lie.Mean+(bb*ra-ab*rb)/det, 0.001)
	near(t, "loft in its sd", zeta, (aa*rb-ab*ra)/det, 0.01)
	near(t, "lie against the truth", lie, 0.3, 0.04)
	near(t, "loft against the truth", loft+loftSD*zeta, 3, 1)
	near(t, "depth ahead", m.Forecast(today + 20).Zones[timeline.Back].DepthMM.Median, 0.3*visible(today+20)+3, 0.5)

	// A lie that the file tells is not learned.
	told := 0.6
	f := oneZone(today, Zone{Layers: []Layer{{Pulled: p, Share: 1}}, Depth: many, Lie: &told}, pinned(0.38, 18, 60))
	for _, l := range mustModel(t, f).Zone(timeline.Back).nodes.lie {
		if l != told {
			t.Fatalf("lie %v, told %v", l, told)
		}
	}
}

func TestADepthAlsoSpeaksOfTheLength(t *testing.T) {
	p := mustDay(t, "2026-01-01")
	today := p + 80
	longest := func(depth ...Depth) Dist {
		lie := 0.5
		return mustModel(t, oneZone(today, Zone{Layers: []Layer{{Pulled: p, Share: 1}}, Lie: &lie, Depth: depth}, Priors{})).Forecast(today).Zones[timeline.Back].LongestMM
	}
	none, deep, flat := longest(), longest(Depth{today, 18, 0}), longest(Depth{today, 6, 0})
	if !(flat.Median < none.Median && none.Median < deep.Median) {
		t.Errorf("longest %.1f mm; %.1f with 18 mm of depth, %.1f with 6 mm", none.Median, deep.Median, flat.Median)
	}
	if deep.P90-deep.P10 > 0.7*(none.P90-none.P10) {
		t.Errorf("a depth with a known lie narrows %+v to %+v only", none, deep)
	}
}

func TestVisibleOfMixedLayersIsTheBundles(t *testing.T) {
	p := mustDay(t, "2026-01-01")
	today := p + 100
	at := func(mm float64) *float64 { return &mm }
	z := Zone{
		Layers: []Layer{{Pulled: p, Share: 0.15}, {Pulled: p + 20, Share: 0.35, LengthMM: at(22)}, {Pulled: p + 40, Share: 0.5, LengthMM: at(25)}},
		Depth:  []Depth{{today, 15, 1}},
	}
	m := mustModel(t, oneZone(today, z, Priors{})).Zone(timeline.Back)
	s := m.depthSights()[0]
	b := m.stateAt(today - 1).bundle(today)
	for i := range latticeN {
		near(t, "visible", s.visible(m.nodes.rate[i], m.nodes.lag[i], m.nodes.full[i]), b.measure(i).visible, 1e-12)
	}
}

// What a ruler has read of a zone stays known when its depth is read as well: the band of the longest hair gets narrower at
// most.
func TestADepthBesideAReadingTakesNothingAway(t *testing.T) {
	p := mustDay(t, "2026-03-01")
	today := p + 60
	of := func(depth ...Depth) Dist {
		z := Zone{Layers: []Layer{{Pulled: p, Share: 1}}, Measured: []Measured{{On: p + 40, LengthMM: 9}, {On: p + 50, LengthMM: 12.5}}, Depth: depth}
		return mustModel(t, oneZone(today, z, Priors{})).Forecast(today + 1).Zones[timeline.Back].LongestMM
	}
	without, with := of(), of(Depth{On: p + 50, DepthMM: 8, SDMM: 2})
	if wide, was := with.P90-with.P10, without.P90-without.P10; wide > 1.05*was {
		t.Errorf("the band was %.1f mm wide by two readings, and is %.1f mm with a depth beside them", was, wide)
	}
	if math.Abs(with.Median-without.Median) > 0.5*(without.P90-without.P10) {
		t.Errorf("the longest hair was %.1f mm, and is %.1f mm with a depth beside it", without.Median, with.Median)
	}
}
