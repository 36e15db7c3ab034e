package coat

import (
	"math"

	"thatch/timeline"
)

// Nobody knows by what law a dog's hair slows down. A dog whose readings go better with another law than with the
// profile's curve is forecast by all of them that do, each as far as its readings speak for it: where a plateau would draw
// a straight line on, its band then has room for what such a coat may do. The judgement is the dog's, from all its zones
// together, for one zone's readings say little of it.
//
// The squares of the residuals would not show it: rate and lag bend a straight line through an S so well that what is left
// is smaller than a ruler's error. The whole likelihood does: the lag would have to be late and the rate high in every
// zone at once.

// other is a law that a coat may follow instead of its profile's, with its odds against that before any reading. Judgement,
// no source: of a slow beginning no more is known than of none; hair that is ever slower looks so like a plateau when it
// is read a few times that it must speak for itself more clearly.
type other struct {
	curve Curve
	odds  float64
}

func otherLaws(own Curve) []other {
	if _, ok := own.(Monomolecular); ok {
		return []other{{Sigmoid{}, 1}, {Plateau{}, 0.4}}
	}
	return []other{{Sigmoid{}, 1}, {Monomolecular{}, 0.4}}
}

// leastOdds is what a law needs against the profile's, after the readings, to be forecast by too; a rough answer below
// askedOdds is believed. Only where the profile's law is left less than strayBelow of the probability is it said that the
// dog strays: of dogs that do follow it, one in twenty is.
const (
	leastOdds  = 1
	askedOdds  = 0.3
	strayBelow = 0.25
)

// law is a law of growth with its probability and what the readings say by it.
type law struct {
	curve Curve
	p     float64
	heard *heardAs
}

// mayStray reports whether the zone's growth is free to follow another law. A pinned figure is a figure of the profile's.
func (z *ZoneModel) mayStray() bool {
	return !z.prior.rate.pinned() && !z.prior.lag.pinned() && !z.prior.full.pinned()
}

// lawsOf are the laws by which the dog is forecast, the profile's first. A law of growth cannot be told from one day.
func (m *Model) lawsOf(zones []*ZoneModel, d *dog) []law {
	own, _ := curveNamed(m.profile.Growth.Curve)
	laws := []law{{own, 1, m.hear(zones, d, finalPoints, nil)}}
	steady := laws[0].heard
	days := map[timeline.Day]bool{}
	for _, z := range zones {
		if z.mayStray() {
			for _, r := range z.readings {
				days[r.On] = true
			}
		}
	}
	if len(days) < 2 {
		return laws
	}
	sum := 1.0
	for _, o := range otherLaws(own) {
		for _, z := range zones {
			if z.mayStray() {
				z.curve = o.curve
			}
		}
		odds := func(h *heardAs) float64 { return o.odds * math.Exp(h.logEvidence-steady.logEvidence) }
		if odds(m.hear(zones, d, askPoints, steady)) < askedOdds {
			continue
		}
		if h := m.hear(zones, d, finalPoints, steady); odds(h) >= leastOdds {
			laws = append(laws, law{o.curve, odds(h), h})
			sum += odds(h)
		}
	}
	for i := range laws {
		laws[i].p /= sum
	}
	for _, z := range zones {
		z.curve = own
	}
	return laws
}

// mix makes the zone's nodes of those of every law, of which its probability's share is kept: which ones is decided by a
// sixth coordinate of the lattice. The likeliest law becomes the zone's curve, by which single values are told.
func (z *ZoneModel) mix(laws []law, all []*nodes) {
	n := newNodes()
	n.law = make([]int, latticeN)
	for i := range latticeN {
		u, k := latticePoint(i, 5), 0
		for k < len(laws)-1 && u >= laws[k].p {
			u -= laws[k].p
			k++
		}
		n.law[i] = k
		n.rate[i], n.lag[i], n.full[i] = all[k].rate[i], all[k].lag[i], all[k].full[i]
	}
	n.dogVariance = all[0].dogVariance
	z.nodes = n
	for k, l := range laws {
		z.curves = append(z.curves, l.curve)
		if l.p > laws[z.law].p {
			z.law = k
		}
	}
	z.curve = z.curves[z.law]
}

// Strays reports whether the dog's readings speak clearly against the curve of its profile, so that its bands allow for
// another.
func (m *Model) Strays() bool { return m.strays }
