package coat

import (
	"math"

	"thatch/timeline"
)

// ModelSDMM is the model's own error in a reading: what no choice of rate, lag and full length explains. Judgement.
const ModelSDMM = 1.5

// RulerSDMM is the sd of a reading that does not say its own. Judgement, until a salon has measured its spread.
const RulerSDMM = 1.0

// logNormal is the logarithm of a normal density up to a constant that does not depend on x or mean.
func logNormal(x, mean, variance float64) float64 {
	d := x - mean
	return -d * d / (2 * variance)
}

// sight is one reading with the hair that it can be of: the longest on that day, before the work of that day. The
// layers of a file that was started in mid-history do not tell what hair their follicles carried before; of such a day
// we know only that no layer was longer than the reading (atMost).
type sight struct {
	mm, variance float64
	atMost       bool
	spans        []span
}

func (z *ZoneModel) sights() []sight {
	var out []sight
	for _, r := range z.readings {
		sd := r.SDMM
		if sd == 0 {
			sd = RulerSDMM
		}
		s := sight{mm: r.LengthMM, variance: sd*sd + ModelSDMM*ModelSDMM, atMost: r.On <= z.snapshot}
		state := z.stateAt(r.On - 1)
		for i, l := range state.layers {
			if i > 0 && !state.mixed {
				break // in order: the first is the longest
			}
			if l.pulled < r.On {
				s.spans = append(s.spans, z.span(l, state.cuts, r.On))
			}
		}
		if len(s.spans) > 0 {
			out = append(out, s)
		}
	}
	return out
}

// logAtMost is log P(X ≤ x) for X of the normal distribution; Φ's tail by its leading term where it would underflow.
func logAtMost(x, mean, variance float64) float64 {
	t := (x - mean) / math.Sqrt(variance)
	if t < -8 {
		return -t*t/2 - math.Log(-t*math.Sqrt(2*math.Pi))
	}
	return math.Log(math.Erfc(-t/math.Sqrt2) / 2)
}

// readingsLikelihood is N(longest hair, σ² + ModelSDMM²) over all readings, plateau included.
func readingsLikelihood(sights []sight) likelihood {
	return func(rate, lag, full, out []float64) {
		nl, nf := len(lag), len(full)
		for j, g := range lag {
			for _, s := range sights {
				units := make([]float64, len(s.spans))
				for k := range s.spans {
					units[k] = s.spans[k].units(g)
				}
				for i, r := range rate {
					row := out[(i*nl+j)*nf : (i*nl+j+1)*nf]
					for m, f := range full {
						longest := 0.0
						for k := range s.spans {
							longest = max(longest, s.spans[k].lengthFrom(r, units[k], f))
						}
						if s.atMost {
							row[m] += logAtMost(s.mm, longest, s.variance)
						} else {
							row[m] += logNormal(s.mm, longest, s.variance)
						}
					}
				}
			}
		}
	}
}

// dogPoints is the number of points of the grid over log g.
const dogPoints = 81

// dog is the grid over log g, equally spaced over reachZ prior standard deviations.
type dog struct {
	logG [dogPoints]float64
	logP [dogPoints]float64 // log weight, up to a constant
}

func newDog(sd float64) *dog {
	d := &dog{}
	for k := range d.logG {
		z := -reachZ + 2*reachZ*float64(k)/(dogPoints-1)
		d.logG[k] = -sd*sd/2 + sd*z
		d.logP[k] = -z * z / 2
	}
	return d
}

// rateGiven is the log density of the zone's rate in log rate, for every point of the dog's grid, up to a constant.
func (p *prior) rateGiven(rate float64, d *dog, out *[dogPoints]float64) {
	lr := math.Log(rate)
	for k, g := range d.logG {
		out[k] = logNormal(lr, p.logBase+g, p.logE*p.logE)
	}
}

func logSumExp(v []float64) float64 {
	best := math.Inf(-1)
	for _, x := range v {
		best = math.Max(best, x)
	}
	if math.IsInf(best, -1) {
		return best
	}
	sum := 0.0
	for _, x := range v {
		sum += math.Exp(x - best)
	}
	return best + math.Log(sum)
}

// learn brings every zone from its prior to its posterior. Given g the zones are independent: each zone's readings say
// how likely each g is; what the others say of g becomes the zone's prior of its rate.
func (m *Model) learn() {
	d := newDog(dogSD(m.profile, m.file.Dog))
	grids := map[timeline.Zone]*grid{}
	says := map[timeline.Zone]*[dogPoints]float64{} // log p(the zone's readings | g)
	for _, name := range timeline.Zones() {
		z := m.zones[name]
		if z == nil {
			continue
		}
		sights := z.sights()
		if len(sights) == 0 {
			continue
		}
		g := posteriorGrid([3]axis{z.prior.rate, z.prior.lag, z.prior.full}, readingsLikelihood(sights))
		grids[name] = g
		if z.prior.shared {
			says[name] = z.evidenceOfDog(g, d)
		}
	}
	for _, name := range timeline.Zones() {
		z := m.zones[name]
		if z == nil {
			continue
		}
		z.nodes = newNodes()
		heard := false
		others := *d
		for _, from := range timeline.Zones() { // in order: sums of floats must not depend on a map's
			if s := says[from]; s != nil && from != name && z.prior.shared {
				heard = true
				for k := range others.logP {
					others.logP[k] += s[k]
				}
			}
		}
		g := grids[name]
		switch {
		case g != nil:
			if heard {
				z.rateFrom(&others, &g.axes[rateAxis])
				g.weigh()
			}
			g.fill(z.nodes)
		default:
			z.fillPrior(heard, &others)
		}
		z.finish(len(grids) > 0)
	}
}

// evidenceOfDog is log ∫ p(readings | rate) p(rate | g) drate for every g of the grid, up to a constant.
func (z *ZoneModel) evidenceOfDog(g *grid, d *dog) *[dogPoints]float64 {
	r := &g.axes[rateAxis]
	n := len(g.logL) / len(r.z)
	terms := make([][dogPoints]float64, len(r.z))
	row := make([]float64, n)
	for i := range r.z {
		k := 0
		for _, pl := range g.axes[lagAxis].logP {
			for _, pf := range g.axes[fullAxis].logP {
				row[k] = g.logL[i*n+k] + pl + pf
				k++
			}
		}
		like := logSumExp(row)
		z.prior.rateGiven(r.val[i], d, &terms[i])
		for k := range terms[i] {
			terms[i][k] += like
		}
	}
	var out [dogPoints]float64
	col := make([]float64, len(r.z))
	for k := range out {
		for i := range terms {
			col[i] = terms[i][k]
		}
		out[k] = logSumExp(col)
	}
	return &out
}

// rateFrom replaces the axis's prior by what the other zones say: ∫ p(rate | g) p(g | others) dg.
func (z *ZoneModel) rateFrom(others *dog, r *gridAxis) {
	var given [dogPoints]float64
	for i := range r.val {
		z.prior.rateGiven(r.val[i], others, &given)
		for k := range given {
			given[k] += others.logP[k]
		}
		r.logP[i] = logSumExp(given[:])
	}
}

// ratePoints is the number of points of the rate of a zone that has no reading of its own.
const ratePoints = 401

// fillPrior sets the nodes of a zone without a reading: lag and full length by their prior, the rate by its prior or, if
// other zones were heard, by what they say of g.
func (z *ZoneModel) fillPrior(heard bool, others *dog) {
	var r gridAxis
	var cum []float64
	if heard {
		lo, hi := z.prior.rate.bounds()
		r = makeAxis(z.prior.rate, lo, hi, ratePoints)
		z.rateFrom(others, &r)
		best := logSumExp(r.logP)
		w := make([]float64, len(r.z))
		for i := range w {
			w[i] = math.Exp(r.logP[i] - best)
		}
		cum = cumulate(w)
	}
	for i := range latticeN {
		u := latticePoint(i, rateAxis)
		if heard {
			_, zr := r.invert(cum, u)
			z.nodes.rate[i] = r.at(zr)
		} else {
			z.nodes.rate[i] = z.prior.rate.quantile(u)
		}
		z.nodes.lag[i] = z.prior.lag.quantile(latticePoint(i, lagAxis))
		z.nodes.full[i] = z.prior.full.quantile(latticePoint(i, fullAxis))
	}
}

// finish draws from the nodes what does not depend on a day. dogRead: some zone of the dog has a reading.
func (z *ZoneModel) finish(dogRead bool) {
	for i := range latticeN {
		z.nodes.lie[i] = z.prior.lie.quantile(latticePoint(i, 3))
	}
	full := dist(append([]float64(nil), z.nodes.full...))
	z.rateDist = dist(append([]float64(nil), z.nodes.rate...))
	z.lagDist = dist(append([]float64(nil), z.nodes.lag...))
	z.median = params{z.rateDist.Median, z.lagDist.Median, full.Median}
	z.status = z.statusOf(dogRead)
	// What is out on a day of the log is judged by the learned median, so the log is brought through once more.
	z.replay()
}

// statusOf compares the posterior's variance of the rate (where that is pinned: of the lag, of the full length) with
// the prior's. The dog's readings outweigh the starting guess where they carry at least its precision, and are of two
// days or more, for one day cannot tell rate from lag.
func (z *ZoneModel) statusOf(dogRead bool) Status {
	if !dogRead {
		return StartingGuess
	}
	ratio := 1.0
	switch {
	case !z.prior.rate.pinned():
		ratio = spreadRatio(z.prior.rate, z.nodes.rate)
	case !z.prior.lag.pinned():
		ratio = spreadRatio(z.prior.lag, z.nodes.lag)
	case !z.prior.full.pinned():
		ratio = spreadRatio(z.prior.full, z.nodes.full)
	}
	days := map[timeline.Day]bool{}
	for _, r := range z.readings {
		days[r.On] = true
	}
	switch {
	case ratio <= 0.5 && len(days) >= 2:
		return Learned
	case len(days) > 0 || ratio < 0.95:
		return Updating
	}
	return StartingGuess
}

func spreadRatio(a axis, v []float64) float64 {
	var sum, sq float64
	for _, x := range v {
		if a.log {
			x = math.Log(x)
		}
		x = (x - a.mu) / a.sd
		sum += x
		sq += x * x
	}
	n := float64(len(v))
	return sq/n - sum/n*sum/n
}
