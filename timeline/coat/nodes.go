package coat

import (
	"math"
	"sort"
)

// Every integral over a zone's uncertainty is a rank-1 lattice rule (Korobov 1959; Sloan & Joe 1994, Lattice Methods
// for Multiple Integration) of latticeN equal weights, carried from the unit cube to the posterior by its conditional
// quantiles. latticeA is the generator of smallest P2 in four dimensions (weights 1, 1, 0.6, 0.4) over all
// candidates; the fifth, the loft, goes along.
const (
	latticeN = 1021
	latticeA = 413
)

// latticePoint is node i's coordinate in dimension dim (0 … 4), inside (0, 1).
func latticePoint(i, dim int) float64 {
	z := 1
	for range dim {
		z = z * latticeA % latticeN
	}
	return (float64(i*z%latticeN) + 0.5) / latticeN
}

// nodes are latticeN equally likely states of a zone's parameters, one slice per quantity.
type nodes struct {
	rate []float64 // mm per season unit
	lag  []float64 // days
	full []float64 // L∞, mm
	lie  []float64 // depth per visible length
	zeta []float64 // of the loft, in its standard deviations

	law []int // of a dog forecast by several laws: which of the zone's curves the hair follows; nil of others

	dogVariance float64 // of log g as all other zones have it; 0 where the zone's rate has nothing of g
}

// medianBy is that of the nodes that follow the law.
func (n *nodes) medianBy(law int) params {
	of := func(v []float64) float64 {
		own := make([]float64, 0, latticeN)
		for i, x := range v {
			if n.law == nil || n.law[i] == law {
				own = append(own, x)
			}
		}
		return dist(own).Median
	}
	return params{of(n.rate), of(n.lag), of(n.full)}
}

func newNodes() *nodes {
	b := make([]float64, 5*latticeN)
	return &nodes{rate: b[:latticeN], lag: b[latticeN : 2*latticeN], full: b[2*latticeN : 3*latticeN], lie: b[3*latticeN : 4*latticeN], zeta: b[4*latticeN:]}
}

// dist is the median, p10 and p90 of equally likely values; it reorders v. Of the order only what the three need is made: a
// chart asks for hundreds of them.
func dist(v []float64) Dist {
	n := len(v)
	if n < 8 {
		sort.Float64s(v)
		return Dist{Median: quantile(v, 0.5), P10: quantile(v, 0.1), P90: quantile(v, 0.9)}
	}
	from, to := 0, n // v[from:to] holds what belongs there, in any order
	for _, p := range []float64{0.1, 0.5, 0.9} {
		i := int(math.Floor(p*float64(n) - 0.5))
		place(v[from:to], i-from)
		from = i + 1
		place(v[from:to], 0)
	}
	return Dist{Median: quantile(v, 0.5), P10: quantile(v, 0.1), P90: quantile(v, 0.9)}
}

// place puts the value that sorting would put at k there, no greater ones before it and no lesser ones behind it: Hoare's FIND
// (Communications of the ACM 4, 1961, algorithm 65), with the middle of three as the pivot.
func place(v []float64, k int) {
	for lo, hi := 0, len(v)-1; lo < hi; {
		a, b, c := v[lo], v[lo+(hi-lo)/2], v[hi]
		pivot := max(min(a, b), min(max(a, b), c))
		i, j := lo, hi
		for i <= j {
			for v[i] < pivot {
				i++
			}
			for pivot < v[j] {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return
		}
	}
}

// quantile puts value i of n sorted equally likely ones at probability (i + ½)/n and is linear between. Only the two values
// that it lies between need be where sorting would put them.
func quantile(sorted []float64, p float64) float64 {
	x := p*float64(len(sorted)) - 0.5
	i := int(math.Floor(x))
	if i < 0 {
		return sorted[0]
	}
	if i >= len(sorted)-1 {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (sorted[i+1]-sorted[i])*(x-float64(i))
}
