package coat

import (
	"math"
	"sort"

	"thatch/timeline"
)

// Lesson is what a ruler's reading of one zone would teach.
type Lesson struct {
	Zone      timeline.Zone
	NowMM     Dist    // the longest hair today, before the work of today
	NarrowsMM float64 // by so much the bands of all zones would become narrower, each by its weight
	OwnMM     float64 // of it in the zone itself, its weight left out
}

// Lessons are the zones by what a reading of today would teach of the visible length on a day ahead if nothing more were
// pulled until then, most first: the preposterior analysis of Raiffa & Schlaifer 1961 (Applied Statistical Decision Theory).
// weight says how much the band of a zone matters; a zone without one does not.
//
// In the zone itself the nodes are weighed anew by every reading that is to be expected. Another zone learns only through what
// they share, the dog's rate g, and by linear regression: of the logarithm of a zone's rate, g explains the share that it had
// of its variance before the zone was read.
func (m *Model) Lessons(today, ahead timeline.Day, weight map[timeline.Zone]float64) []Lesson {
	var all []*pupil
	for _, name := range timeline.Zones() {
		if z := m.zones[name]; z != nil {
			all = append(all, z.pupil(today, ahead))
		}
	}
	out := make([]Lesson, len(all))
	variance := varianceOfDog(all)
	share(m.pace, len(all), func(i int) {
		p := all[i]
		out[i] = Lesson{Zone: p.name, NowMM: p.nowMM, OwnMM: math.Max(0, p.widthMM-p.widthReadMM())}
		out[i].NarrowsMM = weight[p.name] * out[i].OwnMM
		for k, q := range all {
			if k != i {
				out[i].NarrowsMM += weight[q.name] * q.narrowedBy(p, variance)
			}
		}
	})
	sort.SliceStable(out, func(i, j int) bool { return out[i].NarrowsMM > out[j].NarrowsMM })
	return out
}

// readingVariance is the error of a ruler's reading as the model hears it, mm².
const readingVariance = RulerSDMM*RulerSDMM + ModelSDMM*ModelSDMM

// pupil is a zone with what it could be taught.
type pupil struct {
	name       timeline.Zone
	now, ahead []float64 // longest hair today and visible length ahead, at every node, mm
	byAhead    []int     // nodes by length ahead
	nowMM      Dist
	widthMM    float64 // from p10 to p90 of ahead

	shared        bool
	ofDog         float64 // share of the log rate's deviation that is the dog's
	dogVariance   float64 // of log g, by what all zones have told
	nowVariance   float64
	aheadVariance float64
	nowWithDog    float64 // covariances with log g
	aheadWithDog  float64
}

func (z *ZoneModel) pupil(today, ahead timeline.Day) *pupil {
	p := &pupil{name: z.name, now: make([]float64, latticeN), ahead: make([]float64, latticeN), byAhead: make([]int, latticeN), shared: z.prior.shared}
	before, later := z.stateAt(today-1).bundle(today), z.stateAt(today).bundle(ahead)
	logRate := make([]float64, latticeN)
	for i := range latticeN {
		p.now[i], p.ahead[i], p.byAhead[i] = before.measure(i).longest, later.measure(i).visible, i
		logRate[i] = math.Log(z.nodes.rate[i])
	}
	sort.Slice(p.byAhead, func(a, b int) bool { return p.ahead[p.byAhead[a]] < p.ahead[p.byAhead[b]] })
	p.nowMM = dist(append([]float64(nil), p.now...))
	d := dist(append([]float64(nil), p.ahead...))
	p.widthMM = d.P90 - d.P10
	p.nowVariance, p.aheadVariance = covariance(p.now, p.now), covariance(p.ahead, p.ahead)
	if p.shared && z.nodes.dogVariance > 0 {
		prior := z.nodes.dogVariance + z.prior.logE*z.prior.logE
		p.ofDog = z.nodes.dogVariance / prior
		// What the zone's own readings took from the variance of its log rate they took, by that share twice, from g's.
		p.dogVariance = z.nodes.dogVariance - p.ofDog*p.ofDog*(prior-covariance(logRate, logRate))
		p.nowWithDog = p.ofDog * covariance(p.now, logRate)
		p.aheadWithDog = p.ofDog * covariance(p.ahead, logRate)
	}
	return p
}

// varianceOfDog is the variance of log g as the zones have it, which agree but for their shapes.
func varianceOfDog(all []*pupil) float64 {
	sum, n := 0.0, 0
	for _, p := range all {
		if p.shared && p.dogVariance > 0 {
			sum += p.dogVariance
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return sum / float64(n)
}

// narrowedBy is by how much the band of the zone becomes narrower by a reading of another.
func (q *pupil) narrowedBy(p *pupil, dogVariance float64) float64 {
	if dogVariance <= 0 || q.aheadVariance <= 0 || !p.shared || !q.shared {
		return 0
	}
	c := q.aheadWithDog * p.nowWithDog / dogVariance
	share := c * c / (p.nowVariance + readingVariance) / q.aheadVariance
	return q.widthMM * (1 - math.Sqrt(1-math.Min(share, 0.99)))
}

// Readings to be expected are taken at so many quantiles of the hair's length, each with an error by Gauss and Hermite's rule
// of three points.
const expectedReadings = 9

var readingErrors = [3]struct{ sd, weight float64 }{{-math.Sqrt(3), 1.0 / 6}, {0, 2.0 / 3}, {math.Sqrt(3), 1.0 / 6}}

// widthReadMM is the width of the zone's band ahead that is to be expected once it has been read.
func (p *pupil) widthReadMM() float64 {
	sorted := append([]float64(nil), p.now...)
	sort.Float64s(sorted)
	w := make([]float64, latticeN)
	sum := 0.0
	for k := range expectedReadings {
		at := quantile(sorted, (float64(k)+0.5)/expectedReadings)
		for _, e := range readingErrors {
			mm, total := at+e.sd*math.Sqrt(readingVariance), 0.0
			for i, l := range p.now {
				w[i] = math.Exp(logNormal(l, mm, readingVariance))
				total += w[i]
			}
			sum += e.weight * p.weighedWidth(w, total)
		}
	}
	return sum / expectedReadings
}

func (p *pupil) weighedWidth(w []float64, total float64) float64 {
	lo, hi, cum := math.NaN(), 0.0, 0.0
	for _, i := range p.byAhead {
		cum += w[i]
		if math.IsNaN(lo) && cum >= 0.1*total {
			lo = p.ahead[i]
		}
		if cum >= 0.9*total {
			hi = p.ahead[i]
			break
		}
	}
	return hi - lo
}

func covariance(a, b []float64) float64 {
	var sa, sb, sab float64
	for i := range a {
		sa, sb, sab = sa+a[i], sb+b[i], sab+a[i]*b[i]
	}
	n := float64(len(a))
	return sab/n - sa/n*sb/n
}
