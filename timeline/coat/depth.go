package coat

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"thatch/timeline"
)

// DepthSDMM is the sd of a depth reading that does not say its own, and the model's own error in a depth. Judgement, until a
// salon has measured its spread.
const DepthSDMM = 1.0

// depthSight is one reading of how far a zone stands off the body, with the hair that carries it.
type depthSight struct {
	mm, variance   float64
	loftMM, loftSD float64
	spans          []span // of the layers; of one alone where it holds the visible length for certain
	shares         []float64
}

// depthSights are the readings of depth whose layers are known. A reading is of the start of its day.
func (z *ZoneModel) depthSights() []depthSight {
	var out []depthSight
	for _, d := range z.zone.Depth {
		state := z.stateAt(d.On - 1)
		if d.On <= z.snapshot || len(state.layers) == 0 {
			continue
		}
		sd := d.SDMM
		if sd == 0 {
			sd = DepthSDMM
		}
		s := depthSight{mm: d.DepthMM, variance: sd*sd + DepthSDMM*DepthSDMM}
		s.loftMM, s.loftSD = z.loftAt(d.On - 1)
		layers := state.layers
		if !state.mixed {
			layers = layers[state.layerAt(visibleShare):][:1]
		}
		for _, l := range layers {
			s.spans = append(s.spans, z.span(l, state.cuts, d.On))
			s.shares = append(s.shares, l.share)
		}
		if !state.mixed {
			s.shares[0] = 1
		}
		out = append(out, s)
	}
	return out
}

// visible is the visible length at one value of the parameters.
func (s *depthSight) visible(rate, lag, full float64) float64 {
	if len(s.spans) == 1 {
		return s.spans[0].lengthFrom(rate, s.spans[0].units(lag), full)
	}
	// The length that visibleShare of the follicles exceed: the longest one with as much hair at least as long.
	best := 0.0
	lengths := make([]float64, len(s.spans))
	for k := range s.spans {
		lengths[k] = s.spans[k].lengthFrom(rate, s.spans[k].units(lag), full)
	}
	for k, l := range lengths {
		cum := 0.0
		for j, other := range lengths {
			if other > l || other == l && j <= k {
				cum += s.shares[j]
			}
		}
		if cum >= visibleShare-shareEps {
			best = max(best, l)
		}
	}
	return best
}

// visibleAt is the visible length at a node.
func (s *depthSight) visibleAt(n *nodes, i int) float64 {
	if n.law != nil {
		t := *s
		t.spans = make([]span, len(s.spans))
		for k := range s.spans {
			t.spans[k] = s.spans[k].by[n.law[i]]
		}
		s = &t
	}
	return s.visible(n.rate[i], n.lag[i], n.full[i])
}

// stand is what is known of lie and loft given the other parameters: jointly normal. depth = lie·V + loft + ζ·sd(loft) is
// linear in (lie, ζ), so readings update it in closed form, one at a time (the measurement update of Kalman 1960, J Basic
// Eng 82:35–45). ζ is the dog's own idea of "some" and "woolly", in standard deviations of the profile's.
type stand struct {
	lie, zeta            float64
	varLie, cov, varZeta float64
	logLikelihood        float64
}

func (p *prior) stand() stand {
	return stand{lie: p.lie.mu, varLie: p.lie.sd * p.lie.sd, varZeta: 1}
}

func (k *stand) see(s *depthSight, visible float64) {
	a, b := visible, s.loftSD
	gainLie, gainZeta := k.varLie*a+k.cov*b, k.cov*a+k.varZeta*b
	variance := a*gainLie + b*gainZeta + s.variance
	e := s.mm - k.lie*a - s.loftMM - k.zeta*b
	k.logLikelihood += -e*e/(2*variance) - math.Log(variance)/2
	k.lie += gainLie / variance * e
	k.zeta += gainZeta / variance * e
	k.varLie -= gainLie * gainLie / variance
	k.cov -= gainLie * gainZeta / variance
	k.varZeta -= gainZeta * gainZeta / variance
}

// depthLikelihood integrates lie and loft out: a depth also says something of the length that carries it.
func (z *ZoneModel) depthLikelihood(sights []depthSight) likelihood {
	return pointwise(func(rate, lag, full float64) float64 {
		k := z.prior.stand()
		for i := range sights {
			k.see(&sights[i], sights[i].visible(rate, lag, full))
		}
		return k.logLikelihood
	})
}

// fillStand carries the lattice to lie and loft, node by node, given the node's growth.
func (z *ZoneModel) fillStand() {
	sights := z.depthSights()
	for i := range latticeN {
		u, v := latticePoint(i, 3), distuv.UnitNormal.Quantile(latticePoint(i, 4))
		if len(sights) == 0 {
			z.nodes.lie[i], z.nodes.zeta[i] = z.prior.lie.quantile(u), v
			continue
		}
		k := z.prior.stand()
		for j := range sights {
			k.see(&sights[j], sights[j].visibleAt(z.nodes, i))
		}
		given := axis{mu: k.lie, sd: math.Sqrt(max(k.varLie, 0)), low: z.prior.lie.low}
		z.nodes.lie[i] = given.quantile(u)
		rest := k.varZeta
		if k.varLie > 0 {
			k.zeta += k.cov / k.varLie * (z.nodes.lie[i] - k.lie)
			rest -= k.cov * k.cov / k.varLie
		}
		z.nodes.zeta[i] = k.zeta + math.Sqrt(max(rest, 0))*v
	}
}

// loftAt is the undercoat's lift at the end of a day as last seen, mm, with its sd.
func (z *ZoneModel) loftAt(day timeline.Day) (mm, sd float64) {
	seen := z.loftBefore
	for _, l := range z.lofts {
		if l.on <= day {
			seen = l.loft
		}
	}
	return z.growth.LoftMM[seen], z.growth.LoftSDMM[seen]
}
