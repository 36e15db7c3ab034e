package coat

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"thatch/timeline"
)

// axis is one uncertain quantity before the readings, told in a standard normal coordinate z: a normal quantity is
// mu + sd·z, a lognormal one exp(mu + sd·z). A normal one is cut at low. sd 0 pins it.
type axis struct {
	log    bool
	mu, sd float64
	low    float64
}

func (a axis) pinned() bool { return a.sd == 0 }

func (a axis) at(z float64) float64 {
	if a.log {
		return math.Exp(a.mu + a.sd*z)
	}
	return math.Max(a.mu+a.sd*z, a.low)
}

// zLow is the z below which the quantity is cut.
func (a axis) zLow() float64 {
	if a.log || a.sd == 0 {
		return math.Inf(-1)
	}
	return (a.low - a.mu) / a.sd
}

// quantile is the value at probability u of the cut distribution.
func (a axis) quantile(u float64) float64 {
	if a.sd == 0 {
		return a.at(0)
	}
	if z := a.zLow(); !math.IsInf(z, -1) {
		cut := distuv.UnitNormal.CDF(z)
		u = cut + u*(1-cut)
	}
	return a.at(distuv.UnitNormal.Quantile(u))
}

// lognormalMean1 is the sd of the logarithm of a lognormal quantity of the given coefficient of variation, never
// quite 0, so that the dog's grid has a width.
func lognormalMean1(cv float64) float64 { return max(math.Sqrt(math.Log1p(cv*cv)), 1e-4) }

// prior is a zone before its readings. Where the rate is shared, rate = base·g·e with g of the dog, e of the zone, both
// lognormal of mean 1; then rate is its marginal over g, and rateGiven the logarithm's mean and sd given log g.
type prior struct {
	rate, lag, full, lie axis
	shared               bool
	logBase              float64 // of the rate given log g = 0
	logE                 float64 // sd of the rate's logarithm given g
	season               Season
}

// Rates and lengths that a normal prior may not fall below; a hair has some length, and a rate of zero is no coat.
const (
	lowRateMMPerDay = 0.001
	lowFullMM       = 2
	lowLie          = 0.02
)

func zonePrior(p Profile, zp ZoneProfile, d Dog, over Priors) prior {
	g := p.Growth
	spread := spreadOf(p, d)
	sg, se := lognormalMean1(g.DogCV*spread), lognormalMean1(g.ZoneCV*spread)
	lag := g.LagDays
	if d.Undercoat == timeline.UndercoatNone {
		lag = g.LagDaysNoUndercoat
	}
	out := prior{
		shared:  true,
		logBase: math.Log(g.RateMMPerDay*zp.RateFactor) - se*se/2,
		logE:    se,
		lag:     axis{log: true, mu: math.Log(lag.Median), sd: lag.SDLog * spread},
		full:    axis{mu: zp.LengthMaxMM.Mean, sd: zp.LengthMaxMM.SD * spread, low: lowFullMM},
		lie:     axis{mu: g.Lie.Mean + g.LieAdd[d.Texture], sd: g.Lie.SD, low: lowLie},
	}
	out.rate = axis{log: true, mu: out.logBase - sg*sg/2, sd: math.Hypot(sg, se)}
	if o := over.RateMMPerDay; o != nil {
		out.shared = false
		out.rate = axis{mu: o.Mean, sd: o.SD, low: lowRateMMPerDay}
	}
	if o := over.LagDays; o != nil {
		out.lag = axis{log: true, mu: math.Log(o.Median), sd: o.SDLog}
		if o.Median == 0 {
			out.lag = axis{} // hair at once, for certain
		}
	}
	if o := over.LengthMaxMM; o != nil {
		out.full = axis{mu: o.Mean, sd: o.SD, low: lowFullMM}
	}
	if o := over.Season; o != nil {
		out.season = *o
	}
	return out
}

// traits are what is known of the dog that may widen its spreads, as the profile's spread_factor names them.
func (d Dog) traits() []string {
	out := []string{string(d.Texture), string(d.Undercoat)}
	for _, h := range []struct {
		is   bool
		name string
	}{{d.EverClipped, "ever_clipped"}, {d.Neutered, "neutered"}, {d.CoatChange, "coat_change"}} {
		if h.is {
			out = append(out, h.name)
		}
	}
	return out
}

// spreadOf is how much wider than usual this dog's spreads are.
func spreadOf(p Profile, d Dog) float64 {
	spread := 1.0
	for _, k := range d.traits() {
		if f, ok := p.Growth.SpreadFactor[k]; ok {
			spread *= f
		}
	}
	return spread
}

// dogSD is the sd of log g for a dog.
func dogSD(p Profile, d Dog) float64 { return lognormalMean1(p.Growth.DogCV * spreadOf(p, d)) }
