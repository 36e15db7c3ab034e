package coat

import "math"

// grid is a zone's posterior over (rate, lag, full length) at equally spaced points of the axes' standard coordinates,
// where the trapezoidal rule converges faster than any power of the spacing for the smooth densities at hand.
type grid struct {
	axes [3]gridAxis
	logL []float64 // log-likelihood at [(rate·nLag + lag)·nFull + full]
	w    []float64 // posterior weight of the same points, summing to 1
}

// gridAxis is one axis of it: n points of z, h apart, and the quantity's value there.
type gridAxis struct {
	axis
	h    float64
	z    []float64
	val  []float64
	logP []float64 // log prior density in z, up to a constant
}

const (
	rateAxis = iota
	lagAxis
	fullAxis
)

// reachZ is how far into the prior's tails the grid looks, in standard deviations.
const reachZ = 5

func makeAxis(a axis, lo, hi float64, n int) gridAxis {
	g := gridAxis{axis: a, z: []float64{0}}
	if !a.pinned() {
		g.h = (hi - lo) / float64(n-1)
		g.z = make([]float64, n)
		for i := range g.z {
			g.z[i] = lo + g.h*float64(i)
		}
	}
	for _, z := range g.z {
		g.val = append(g.val, a.at(z))
		g.logP = append(g.logP, -z*z/2)
	}
	return g
}

// bounds is the widest range of z that the grid may cover.
func (a axis) bounds() (lo, hi float64) { return math.Max(-reachZ, a.zLow()), reachZ }

// Points per axis by how many axes are free, first to find where the mass is, then to integrate it there.
var (
	scoutPoints = [4][3]int{{1, 1, 1}, {201, 201, 201}, {41, 41, 41}, {25, 15, 13}}
	finalPoints = [4][3]int{{1, 1, 1}, {801, 801, 801}, {101, 81, 81}, {37, 23, 15}}
)

// likelihood fills out[(rate·nLag + lag)·nFull + full] with the log-likelihood at every combination of the values.
type likelihood func(rate, lag, full, out []float64)

// pointwise makes a likelihood of a function of single values.
func pointwise(f func(rate, lag, full float64) float64) likelihood {
	return func(rate, lag, full, out []float64) {
		k := 0
		for _, r := range rate {
			for _, l := range lag {
				for _, m := range full {
					out[k] = f(r, l, m)
					k++
				}
			}
		}
	}
}

// posteriorGrid integrates the likelihood against the priors of the three axes: once over the priors' whole reach to
// find the mass, once where it lies.
func posteriorGrid(axes [3]axis, like likelihood) *grid {
	free := 0
	var lo, hi [3]float64
	for k, a := range axes {
		if !a.pinned() {
			free++
		}
		lo[k], hi[k] = a.bounds()
	}
	scout := newGrid(axes, lo, hi, scoutPoints[free], like)
	for k := range axes {
		lo[k], hi[k] = scout.support(k)
	}
	return newGrid(axes, lo, hi, finalPoints[free], like)
}

func newGrid(axes [3]axis, lo, hi [3]float64, n [3]int, like likelihood) *grid {
	g := &grid{}
	size := 1
	for k, a := range axes {
		g.axes[k] = makeAxis(a, lo[k], hi[k], n[k])
		size *= len(g.axes[k].z)
	}
	b := make([]float64, 2*size)
	g.logL, g.w = b[:size], b[size:]
	like(g.axes[rateAxis].val, g.axes[lagAxis].val, g.axes[fullAxis].val, g.logL)
	g.weigh()
	return g
}

// weigh computes w from the likelihood and the axes' priors.
func (g *grid) weigh() {
	r, l, f := &g.axes[rateAxis], &g.axes[lagAxis], &g.axes[fullAxis]
	k, best := 0, math.Inf(-1)
	for _, pr := range r.logP {
		for _, pl := range l.logP {
			for _, pf := range f.logP {
				g.w[k] = g.logL[k] + pr + pl + pf
				best = math.Max(best, g.w[k])
				k++
			}
		}
	}
	sum := 0.0
	for k := range g.w {
		if d := g.w[k] - best; d > -40 {
			g.w[k] = math.Exp(d)
		} else {
			g.w[k] = 0
		}
		sum += g.w[k]
	}
	for k := range g.w {
		g.w[k] /= sum
	}
}

// marginal is the weight of each point of an axis.
func (g *grid) marginal(axis int) []float64 {
	nl, nf := len(g.axes[lagAxis].z), len(g.axes[fullAxis].z)
	out := make([]float64, len(g.axes[axis].z))
	for k, w := range g.w {
		switch axis {
		case rateAxis:
			out[k/(nl*nf)] += w
		case lagAxis:
			out[k/nf%nl] += w
		default:
			out[k%nf] += w
		}
	}
	return out
}

// supportFloor is the marginal weight, relative to the largest, below which the scouted grid is cut off.
const supportFloor = 1e-7

func (g *grid) support(axis int) (lo, hi float64) {
	a := g.axes[axis]
	min, max := a.bounds()
	if a.pinned() {
		return min, max
	}
	m := g.marginal(axis)
	top := 0.0
	for _, w := range m {
		top = math.Max(top, w)
	}
	first, last := len(m)-1, 0
	for i, w := range m {
		if w >= supportFloor*top {
			if i < first {
				first = i
			}
			last = i
		}
	}
	return math.Max(min, a.z[first]-a.h), math.Min(max, a.z[last]+a.h)
}

// moments are the posterior mean and variance of an axis's value.
func (g *grid) moments(axis int) (mean, variance float64) {
	m := g.marginal(axis)
	for i, w := range m {
		mean += w * g.axes[axis].val[i]
	}
	for i, w := range m {
		d := g.axes[axis].val[i] - mean
		variance += w * d * d
	}
	return mean, variance
}

// fill carries the lattice to the posterior: rate by its marginal, lag by its distribution given the rate's cell, full
// length given both (Rosenblatt 1952, Ann Math Stat 23:470–472), the density constant within a cell.
func (g *grid) fill(n *nodes) {
	r, l, f := &g.axes[rateAxis], &g.axes[lagAxis], &g.axes[fullAxis]
	nl, nf := len(l.z), len(f.z)
	rate := cumulate(g.marginal(rateAxis))
	lags := make([][]float64, len(r.z))
	fulls := make([][]float64, len(r.z)*nl)
	for i := range latticeN {
		ri, z := r.invert(rate, latticePoint(i, rateAxis))
		n.rate[i] = r.at(z)
		if lags[ri] == nil {
			row := make([]float64, nl)
			for j := range row {
				for _, w := range g.w[(ri*nl+j)*nf : (ri*nl+j+1)*nf] {
					row[j] += w
				}
			}
			lags[ri] = cumulate(row)
		}
		li, z := l.invert(lags[ri], latticePoint(i, lagAxis))
		n.lag[i] = l.at(z)
		k := ri*nl + li
		if fulls[k] == nil {
			fulls[k] = cumulate(g.w[k*nf : (k+1)*nf])
		}
		_, z = f.invert(fulls[k], latticePoint(i, fullAxis))
		n.full[i] = f.at(z)
	}
}

// cumulate is the running sum of weights, normalised to end at 1.
func cumulate(w []float64) []float64 {
	out := make([]float64, len(w))
	sum := 0.0
	for i, x := range w {
		sum += x
		out[i] = sum
	}
	for i := range out {
		out[i] /= sum
	}
	return out
}

// invert is the cell and the z at which the cumulated weights reach u.
func (a *gridAxis) invert(cum []float64, u float64) (cell int, z float64) {
	lo, hi := 0, len(cum)-1
	for lo < hi {
		mid := (lo + hi) / 2
		if cum[mid] < u {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	before := 0.0
	if lo > 0 {
		before = cum[lo-1]
	}
	within := 0.5
	if d := cum[lo] - before; d > 0 {
		within = (u - before) / d
	}
	return lo, a.z[lo] + a.h*(within-0.5)
}
