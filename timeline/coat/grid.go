package coat

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
)

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

// Points per axis by how many axes are free: first to find where the mass is, then to integrate it there; to compare
// integrals without looking further, far fewer do.
var (
	scoutPoints = [4][3]int{{1, 1, 1}, {201, 201, 201}, {41, 41, 41}, {25, 15, 13}}
	finalPoints = [4][3]int{{1, 1, 1}, {801, 801, 801}, {101, 81, 81}, {37, 23, 15}}
	askPoints   = [4][3]int{{1, 1, 1}, {201, 201, 201}, {31, 21, 21}, {17, 13, 11}}
)

// lagPoints is the least number of points of the lag where what was seen of it has edges of its own.
const lagPoints = 61

// likelihood adds to out[(rate·nLag + lag)·nFull + full] the log-likelihood at every combination of the values.
type likelihood func(rate, lag, full, out []float64)

// pointwise makes a likelihood of a function of single values.
func pointwise(f func(rate, lag, full float64) float64) likelihood {
	return func(rate, lag, full, out []float64) {
		k := 0
		for _, r := range rate {
			for _, l := range lag {
				for _, m := range full {
					out[k] += f(r, l, m)
					k++
				}
			}
		}
	}
}

// posteriorGrid integrates the likelihood against the priors of the three axes: once over the priors' whole reach to
// find the mass, once where it lies.
func posteriorGrid(axes [3]axis, like likelihood) *grid {
	g := posteriorGridOf(axes, like, finalPoints, 1)
	g.weigh()
	return g
}

// posteriorGridOf takes points by how many axes are free, and at least so many of the lag, if that is. It leaves the
// weights to be computed.
func posteriorGridOf(axes [3]axis, like likelihood, points [4][3]int, lags int) *grid {
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
	n := points[free]
	n[lagAxis] = max(n[lagAxis], lags)
	return bareGrid(axes, lo, hi, n, like)
}

func newGrid(axes [3]axis, lo, hi [3]float64, n [3]int, like likelihood) *grid {
	g := bareGrid(axes, lo, hi, n, like)
	g.weigh()
	return g
}

// bareGrid leaves the weights to be computed.
func bareGrid(axes [3]axis, lo, hi [3]float64, n [3]int, like likelihood) *grid {
	g := &grid{}
	size := 1
	for k, a := range axes {
		g.axes[k] = makeAxis(a, lo[k], hi[k], n[k])
		size *= len(g.axes[k].z)
	}
	b := make([]float64, 2*size)
	g.logL, g.w = b[:size], b[size:]
	like(g.axes[rateAxis].val, g.axes[lagAxis].val, g.axes[fullAxis].val, g.logL)
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

// logSum is the logarithm of the sum of likelihood times prior over the points.
func (g *grid) logSum() float64 {
	r, l, f := &g.axes[rateAxis], &g.axes[lagAxis], &g.axes[fullAxis]
	all := make([]float64, 0, len(g.logL))
	for _, pr := range r.logP {
		for _, pl := range l.logP {
			for _, pf := range f.logP {
				all = append(all, g.logL[len(all)]+pr+pl+pf)
			}
		}
	}
	return floats.LogSumExp(all)
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
	top := floats.Max(m)
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
	return stat.PopMeanVariance(g.axes[axis].val, g.marginal(axis))
}

// fill carries the lattice to the posterior: rate by its marginal, lag by its distribution given the rate's cell, full
// length given both (Rosenblatt 1952, Ann Math Stat 23:470–472).
func (g *grid) fill(n *nodes) {
	r, l, f := &g.axes[rateAxis], &g.axes[lagAxis], &g.axes[fullAxis]
	nl, nf := len(l.z), len(f.z)
	rate := newCells(g.marginal(rateAxis))
	lags := make([]*cells, len(r.z))
	fulls := make([]*cells, len(r.z)*nl)
	for i := range latticeN {
		ri, z := r.invert(rate, latticePoint(i, rateAxis))
		n.rate[i] = r.at(z)
		if lags[ri] == nil {
			row := make([]float64, nl)
			for j := range row {
				row[j] = floats.Sum(g.w[(ri*nl+j)*nf : (ri*nl+j+1)*nf])
			}
			lags[ri] = newCells(row)
		}
		li, z := l.invert(lags[ri], latticePoint(i, lagAxis))
		n.lag[i] = l.at(z)
		k := ri*nl + li
		if fulls[k] == nil {
			fulls[k] = newCells(g.w[k*nf : (k+1)*nf])
		}
		_, z = f.invert(fulls[k], latticePoint(i, fullAxis))
		n.full[i] = f.at(z)
	}
}

// cells is a density rebuilt from its values at equally spaced points, each in the middle of its cell: the cell's mass is
// its mean value, not its middle one, and within it the density is linear. A density constant within each cell would be
// wider than the true one by h²/12 in variance (Sheppard 1898, Proc London Math Soc 29:353–380), this one by nothing of
// that order.
type cells struct {
	cum   []float64 // mass up to the end of a cell; ends at 1
	slope []float64 // of the density across a cell, over its mean: −2 … 2
}

func newCells(w []float64) *cells {
	n := len(w)
	b := make([]float64, 2*n)
	c := &cells{b[:n], b[n:]}
	at := func(i int) float64 {
		if i < 0 || i >= n {
			return 0
		}
		return w[i]
	}
	for i := range w {
		mean := math.Max(w[i]+(at(i+1)-2*w[i]+at(i-1))/24, 0)
		if mean > 0 {
			c.slope[i] = math.Max(-2, math.Min(2, (at(i+1)-at(i-1))/2/mean))
		}
		c.cum[i] = mean
	}
	floats.CumSum(c.cum, c.cum)
	floats.Scale(1/c.cum[n-1], c.cum)
	return c
}

// invert is the cell and the z at which the mass reaches u.
func (a *gridAxis) invert(c *cells, u float64) (cell int, z float64) {
	lo := min(sort.SearchFloat64s(c.cum, u), len(c.cum)-1)
	before := 0.0
	if lo > 0 {
		before = c.cum[lo-1]
	}
	within := 0.5
	if d := c.cum[lo] - before; d > 0 {
		within = (u - before) / d
	}
	// ∫ from −½ to x of 1 + s·x is within; the root that does not cancel.
	s := c.slope[lo]
	rest := within - 0.5 + s/8
	x := 2 * rest / (1 + math.Sqrt(math.Max(1+2*s*rest, 0)))
	return lo, a.z[lo] + a.h*math.Max(-0.5, math.Min(0.5, x))
}
