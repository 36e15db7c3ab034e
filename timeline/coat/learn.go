package coat

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/distuv"

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

// A reading that nobody was asked about may be a slip: another zone, another unit, a digit too many. Of slipShare of them
// nothing is believed; what is written then is any length at all. So a reading four standard deviations from every
// plausible coat moves nothing, and an honest surprise is heard. Judgement, no source.
const (
	slipShare   = 0.01
	slipDensity = 1.0 / MaxLengthMM // per mm
)

// sight is one reading with the hair that it can be of: the longest on that day, before the work of that day. The
// layers of a file that was started in mid-history do not tell what hair their follicles carried before; of such a day
// we know only that no layer was longer than the reading (atMost).
type sight struct {
	reading      int // its index in the file
	mm, variance float64
	atMost       bool
	confirmed    bool
	slip         float64 // the slips' density over that of the reading's own error at its peak
	spans        []span
}

// logLikelihood of the reading where the longest hair is that long, up to a constant; slip is the part of it, a share of the
// density itself, that is not believed.
func (s *sight) logLikelihood(longest float64) float64 {
	if s.atMost {
		l := logAtMost(s.mm, longest, s.variance)
		if !s.confirmed {
			l = math.Log((1-slipShare)*math.Exp(l) + slipShare)
		}
		return l
	}
	d := s.mm - longest
	e := -d * d / (2 * s.variance)
	if s.confirmed {
		return e
	}
	return math.Log((1-slipShare)*math.Exp(e) + s.slip)
}

// slipGiven is the probability that the reading is a slip where the longest hair is that long.
func (s *sight) slipGiven(longest float64) float64 {
	if s.confirmed {
		return 0
	}
	if s.atMost {
		return slipShare / ((1-slipShare)*math.Exp(logAtMost(s.mm, longest, s.variance)) + slipShare)
	}
	return s.slip / math.Exp(s.logLikelihood(longest))
}

// longestSpans are the layers that may hold the longest hair on a day before its work.
func (z *ZoneModel) longestSpans(on timeline.Day) []span {
	var out []span
	state := z.stateAt(on - 1)
	for i, l := range state.layers {
		if i > 0 && !state.mixed {
			break // in order: the first is the longest
		}
		if l.pulled < on {
			out = append(out, z.span(l, state.cuts, on))
		}
	}
	return out
}

func (z *ZoneModel) sights() []sight {
	var out []sight
	for i, r := range z.readings {
		sd := r.SDMM
		if sd == 0 {
			sd = RulerSDMM
		}
		s := sight{reading: i, mm: r.LengthMM, variance: sd*sd + ModelSDMM*ModelSDMM, atMost: r.On <= z.snapshot, confirmed: r.Confirmed}
		s.slip = slipShare * slipDensity * math.Sqrt(2*math.Pi*s.variance)
		if s.spans = z.longestSpans(r.On); len(s.spans) > 0 {
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
	return math.Log(distuv.UnitNormal.CDF(t))
}

// readingsLikelihood is N(longest hair, σ² + ModelSDMM²) over all readings, plateau included, slips apart.
func readingsLikelihood(sights []sight) likelihood {
	n := 0
	for i := range sights {
		n += len(sights[i].spans)
	}
	return func(rate, lag, full, out []float64) {
		nl, nf := len(lag), len(full)
		units := make([]float64, n)
		for j, g := range lag {
			at := 0
			for i := range sights {
				for k := range sights[i].spans {
					units[at] = sights[i].spans[k].units(g)
					at++
				}
			}
			for i, r := range rate {
				row := out[(i*nl+j)*nf : (i*nl+j+1)*nf]
				for m, f := range full {
					row[m] += logReadings(sights, units, r, f)
				}
			}
		}
	}
}

// logReadings is the log-likelihood of all readings at one value of the parameters, the growing times of all spans in turn
// given. Densities are multiplied and their logarithm taken once a few readings, for the logarithm is the dear part.
func logReadings(sights []sight, units []float64, rate, full float64) float64 {
	sum, product, at := 0.0, 1.0, 0
	for i := range sights {
		s := &sights[i]
		longest := 0.0
		for k := range s.spans {
			longest = max(longest, s.spans[k].lengthFrom(rate, units[at], full))
			at++
		}
		if s.atMost || s.confirmed {
			sum += s.logLikelihood(longest)
			continue
		}
		d := s.mm - longest
		if e := d * d / (2 * s.variance); e < 30 { // beyond, e^−e is nothing beside a slip
			product *= (1-slipShare)*math.Exp(-e) + s.slip
		} else {
			product *= s.slip
		}
		if product < 1e-200 {
			sum += math.Log(product)
			product = 1
		}
	}
	return sum + math.Log(product)
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
		like := z.heard(m.profile.Growth.Evidence)
		if like == nil {
			continue
		}
		lags := 1
		if len(z.zone.NewHair)+len(z.zone.Cover) > 0 {
			lags = lagPoints
		}
		g := posteriorGridOf([3]axis{z.prior.rate, z.prior.lag, z.prior.full}, like, lags)
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
			z.doubt()
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
		like := floats.LogSumExp(row)
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
		out[k] = floats.LogSumExp(col)
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
		r.logP[i] = floats.LogSumExp(given[:])
	}
}

// ratePoints is the number of points of the rate of a zone that has no reading of its own.
const ratePoints = 401

// fillPrior sets the nodes of a zone without a reading: lag and full length by their prior, the rate by its prior or, if
// other zones were heard, by what they say of g.
func (z *ZoneModel) fillPrior(heard bool, others *dog) {
	var r gridAxis
	var rate *cells
	if heard {
		lo, hi := z.prior.rate.bounds()
		r = makeAxis(z.prior.rate, lo, hi, ratePoints)
		z.rateFrom(others, &r)
		best := floats.LogSumExp(r.logP)
		w := make([]float64, len(r.z))
		for i := range w {
			w[i] = math.Exp(r.logP[i] - best)
		}
		rate = newCells(w)
	}
	for i := range latticeN {
		u := latticePoint(i, rateAxis)
		if heard {
			_, zr := r.invert(rate, u)
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
	z.fillStand()
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
