package coat

import (
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/floats"

	"thatch/timeline"
)

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

// variance is that of log g.
func (d *dog) variance() float64 {
	best := floats.Max(d.logP[:])
	var sum, mean, square float64
	for k, p := range d.logP {
		w := math.Exp(p - best)
		sum, mean, square = sum+w, mean+w*d.logG[k], square+w*d.logG[k]*d.logG[k]
	}
	mean /= sum
	return square/sum - mean*mean
}

// rateGiven is the log density of the zone's rate in log rate, for every point of the dog's grid, up to a constant.
func (p *prior) rateGiven(rate float64, d *dog, out *[dogPoints]float64) {
	lr := math.Log(rate)
	for k, g := range d.logG {
		out[k] = logNormal(lr, p.logBase+g, p.logE*p.logE)
	}
}

// heardAs is what the readings of all zones say, the hair taken to grow by one law.
type heardAs struct {
	grids       []*grid
	says        []*[dogPoints]float64 // log p(the zone's readings | g)
	alone       []float64             // the zone's part of the evidence that does not depend on g
	logEvidence float64               // log p(all readings), up to a constant that is the same for every law
}

// hear integrates the readings of the zones by their curves, on grids of so many points; of zones that may not stray what
// is known of them is kept, if given. Given g the zones are independent: each zone's readings say how likely each g is.
func (m *Model) hear(zones []*ZoneModel, d *dog, points [4][3]int, known *heardAs) *heardAs {
	h := &heardAs{make([]*grid, len(zones)), make([]*[dogPoints]float64, len(zones)), make([]float64, len(zones)), 0}
	share(m.pace, len(zones), func(i int) {
		if known != nil && !zones[i].mayStray() {
			h.grids[i], h.says[i], h.alone[i] = known.grids[i], known.says[i], known.alone[i]
			return
		}
		h.grids[i], h.says[i], h.alone[i] = zones[i].hear(m.profile.Growth.Evidence, d, points)
	})
	h.sum(d)
	return h
}

func (z *ZoneModel) hear(e Evidence, d *dog, points [4][3]int) (g *grid, says *[dogPoints]float64, alone float64) {
	like := z.heard(e)
	if like == nil {
		return nil, nil, 0
	}
	lags := 1
	if len(z.zone.NewHair)+len(z.zone.Cover) > 0 {
		lags = lagPoints
	}
	g = posteriorGridOf([3]axis{z.prior.rate, z.prior.lag, z.prior.full}, like, points, lags)
	for _, a := range g.axes {
		if !a.pinned() {
			alone += math.Log(a.h)
		}
	}
	if z.prior.shared {
		return g, z.evidenceOfDog(g, d), alone
	}
	return g, nil, alone + g.logSum()
}

func (h *heardAs) sum(d *dog) {
	of := d.logP
	h.logEvidence = 0
	for i := range h.grids {
		if h.says[i] != nil {
			floats.Add(of[:], h.says[i][:])
		}
		h.logEvidence += h.alone[i]
	}
	h.logEvidence += floats.LogSumExp(of[:])
}

// learn brings every zone from its prior to its posterior: what the other zones say of g becomes the zone's prior of its
// rate.
func (m *Model) learn() {
	d := newDog(dogSD(m.profile, m.file.Dog))
	var zones []*ZoneModel // in order: sums of floats must not depend on a map's
	for _, name := range timeline.Zones() {
		if z := m.zones[name]; z != nil {
			zones = append(zones, z)
		}
	}
	laws := m.lawsOf(zones, d)
	m.strays = laws[0].p < strayBelow
	steady := laws[0].heard
	read := slices.ContainsFunc(steady.grids, func(g *grid) bool { return g != nil })
	share(m.pace, len(zones), func(i int) {
		z := zones[i]
		if len(laws) > 1 && z.mayStray() {
			all := make([]*nodes, len(laws))
			for k, l := range laws {
				all[k] = z.nodesOf(i, d, l.heard)
			}
			z.mix(laws, all)
		} else {
			z.nodes = z.nodesOf(i, d, steady)
		}
		if steady.grids[i] != nil {
			z.doubt()
		}
		z.finish(read)
	})
}

// nodesOf is the posterior of zone i; what it does to the zone's grid is done once.
func (z *ZoneModel) nodesOf(i int, d *dog, h *heardAs) *nodes {
	n := newNodes()
	heard := false
	others := *d
	for from, s := range h.says {
		if s != nil && from != i && z.prior.shared {
			heard = true
			floats.Add(others.logP[:], s[:])
		}
	}
	if z.prior.shared {
		n.dogVariance = others.variance()
	}
	g := h.grids[i]
	if g == nil {
		z.fillPrior(n, heard, &others)
		return n
	}
	if heard {
		z.rateFrom(&others, &g.axes[rateAxis])
	}
	g.weigh()
	g.fill(n)
	return n
}

// Pace is how much of the machine learning may take; it is asked from several goroutines.
type Pace interface {
	Busy() bool                    // others want the machine: one core is enough
	Do(piece func()) (rest func()) // does a piece of work; rest is called before the next one
}

// share calls f with 0 … n−1, each once, on all cores, or while the pace (nil: none) is busy on one, with rests between; what
// f(i) does must depend on i alone.
func share(pace Pace, n int, f func(i int)) {
	if pace == nil {
		pace = ownMachine{}
	}
	var next atomic.Int64
	take := func() int { return int(next.Add(1)) - 1 }
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), n) - 1 {
		wg.Go(func() {
			for !pace.Busy() {
				i := take()
				if i >= n {
					return
				}
				f(i)
			}
		})
	}
	rest := func() {}
	for i := take(); i < n; i = take() { // what the others leave
		rest()
		rest = pace.Do(func() { f(i) })
	}
	wg.Wait()
}

// ownMachine is the pace of who is alone.
type ownMachine struct{}

func (ownMachine) Busy() bool { return false }

func (ownMachine) Do(piece func()) func() {
	piece()
	return func() {}
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
const ratePoints = 161

// fillPrior sets the nodes of a zone without a reading: lag and full length by their prior, the rate by its prior or, if
// other zones were heard, by what they say of g.
func (z *ZoneModel) fillPrior(n *nodes, heard bool, others *dog) {
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
			n.rate[i] = r.at(zr)
		} else {
			n.rate[i] = z.prior.rate.quantile(u)
		}
		n.lag[i] = z.prior.lag.quantile(latticePoint(i, lagAxis))
		n.full[i] = z.prior.full.quantile(latticePoint(i, fullAxis))
	}
}

// finish draws from the nodes what does not depend on a day. dogRead: some zone of the dog has a reading.
func (z *ZoneModel) finish(dogRead bool) {
	z.fillStand()
	z.rateDist = dist(append([]float64(nil), z.nodes.rate...))
	z.lagDist = dist(append([]float64(nil), z.nodes.lag...))
	z.median = z.nodes.medianBy(z.law)
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
