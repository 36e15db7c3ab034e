package measure

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"thatch/imaging/align"
	"thatch/timeline"
)

// What is taken for granted before a photo is looked at: standard deviations, mm and rad. How far a standing dog moves is
// judgement, no source.
const (
	skinSD     = 150.0 // of the first guess of the skin at one place: all places together must know nothing of a depth
	bendySD    = 2.5   // of the skin's change from one station to the next, against the first guess
	turnSD     = 0.2
	yawSD      = 0.10 // 6°
	bendSD     = 6.0
	nodSD      = 0.12
	headSD     = 8.0
	hindXSD    = 15.0
	hindYSD    = 10.0 // a trunk tilts, the feet stay
	legSD      = 4.0
	anyDepthSD = 12.0 // of a coat of which nothing is known
	edgeSD     = 1.4  // of an edge against its zone's depth at a station, tufts and all; neighbours are not independent
	clipAt     = 0.5  // residuals beyond are weighed down (Huber 1964, Ann. Math. Stat. 35:73–101)
)

// wanderSD is how far the skin of a zone is off where a photo's pose puts it: bodies are no plates. As it is in drawn dogs that
// turn, tilt and bend, so that the intervals that are told cover what they say.
var wanderSD = map[timeline.Zone]float64{
	timeline.Throat: 1.2, timeline.Crest: 1.3, timeline.Forechest: 1.0, timeline.Withers: 0.7, timeline.Back: 0.8,
	timeline.Loin: 0.8, timeline.Rump: 0.8, timeline.Underline: 0.9, timeline.Thigh: 1.4,
}

// adjustment is all unknowns of all photos of a dog, found at once: weighted least squares with what was known before as
// observations of their own, as photogrammetry adjusts a block of photos (Triggs, McLauchlan, Hartley, Fitzgibbon: Bundle
// adjustment, a modern synthesis, 2000; the covariance from the normal matrix as there, section 2).
type adjustment struct {
	body     *body
	views    []*view
	sittings []Sitting
	zoneAt   map[timeline.Zone]int

	skin   []float64   // per station, mm along its normal
	moved  []XY        // per tie
	depth  [][]float64 // per sitting and measured zone
	pose   []pose
	wander [][]float64 // per view and measured zone

	seen  [][]int // per sitting and measured zone: stations that were seen, over all photos
	cov   *mat.SymDense
	sumSq float64
}

// Where each group of unknowns begins.
func (a *adjustment) ixSkin(j int) int      { return j }
func (a *adjustment) ixTie(t int) int       { return len(a.skin) + 2*t }
func (a *adjustment) ixDepth(k, z int) int  { return a.ixTie(len(a.moved)) + k*len(measured) + z }
func (a *adjustment) ixPose(i int) int      { return a.ixDepth(len(a.depth), 0) + i*poseParams }
func (a *adjustment) ixWander(i, z int) int { return a.ixPose(len(a.pose)) + i*len(measured) + z }
func (a *adjustment) unknowns() int         { return a.ixWander(len(a.wander), 0) }

// adjust lays the views onto one dog. The first view gives the dog's own sense of place.
func adjust(views []*view, sittings []Sitting) (*adjustment, bool) {
	a := &adjustment{views: views, sittings: sittings, zoneAt: map[timeline.Zone]int{}}
	for z, zone := range measured {
		a.zoneAt[zone] = z
	}
	start := func(k int, zone timeline.Zone) float64 {
		if d, ok := sittings[k].ByHand[zone]; ok {
			return d.MM
		}
		return startMM
	}
	first := map[timeline.Zone]float64{}
	for _, zone := range measured {
		first[zone] = start(views[0].shot.Sitting, zone)
	}
	a.body = newBody(views[0], first)
	if len(a.body.stations) < 8 {
		return nil, false
	}
	a.skin, a.moved = make([]float64, len(a.body.stations)), make([]XY, len(a.body.ties))
	for k := range sittings {
		a.depth = append(a.depth, make([]float64, len(measured)))
		a.seen = append(a.seen, make([]int, len(measured)))
		for z, zone := range measured {
			a.depth[k][z] = start(k, zone)
		}
	}
	for _, v := range views {
		q, ok := a.firstPose(v)
		if !ok {
			return nil, false
		}
		a.pose = append(a.pose, q)
		a.wander = append(a.wander, make([]float64, len(measured)))
	}
	for range 12 {
		step, ok := a.step()
		if !ok {
			return nil, false
		}
		if step < 0.02 {
			break
		}
	}
	return a, true
}

// firstPose is where the trunk's points lie best, robustly.
func (a *adjustment) firstPose(v *view) (pose, bool) {
	var src, dst []align.XY
	var still pose
	for _, t := range a.body.ties {
		if xy, has := v.marks[t.point]; has && t.point.Part() == timeline.PartTrunk {
			d := 0.0
			if t.zone != "" {
				d = a.depth[v.shot.Sitting][a.zoneAt[t.zone]]
			}
			src = append(src, a.body.place(t.on, d, &still, v.distance))
			dst = append(dst, xy)
		}
	}
	f, err := align.Robust(src, dst, nil)
	if err != nil {
		return still, false
	}
	q := pose{}
	q[qTurn] = math.Atan2(f.Similarity.B, f.Similarity.A)
	// place turns about the middle, which still lies at the origin: what is mapped from there is the shift.
	at := f.Similarity.Apply(align.XY{})
	q[qX], q[qY] = at.X, at.Y
	q[qScale] = math.Max(-2*v.scaleSD, math.Min(2*v.scaleSD, math.Log(f.Similarity.Scale())))
	k := math.Exp(q[qScale])
	q[qX], q[qY] = q[qX]/k, q[qY]/k
	return q, true
}

// system is the normal equations, filled observation by observation.
type system struct {
	n     *mat.SymDense
	right []float64
}

// add takes an observation: Σ slope·Δ = off, of standard deviation 1 after division by sd.
func (s *system) add(at []int, slope []float64, off, sd float64) {
	w := 1 / (sd * sd)
	for i, p := range at {
		if slope[i] == 0 {
			continue
		}
		s.right[p] += w * slope[i] * off
		for j := i; j < len(at); j++ {
			q := at[j]
			v := w * slope[i] * slope[j]
			if p != q {
				s.n.SetSym(p, q, s.n.At(p, q)+v)
			} else if i == j {
				s.n.SetSym(p, p, s.n.At(p, p)+v)
			} else {
				s.n.SetSym(p, p, s.n.At(p, p)+2*v)
			}
		}
	}
}

// poseSlopes of a place: how it moves with each parameter of the pose, by difference.
func (a *adjustment) poseSlopes(s *station, d float64, i int) (p XY, slopes [poseParams]XY) {
	q := a.pose[i]
	p = a.body.place(s, d, &q, a.views[i].distance)
	for m := range poseParams {
		h := 1e-3
		if m == qTurn || m == qYaw || m == qNod || m == qScale {
			h = 1e-5
		}
		w := q
		w[m] += h
		r := a.body.place(s, d, &w, a.views[i].distance)
		slopes[m] = XY{X: (r.X - p.X) / h, Y: (r.Y - p.Y) / h}
	}
	return p, slopes
}

// step is one step of Gauss and Newton; it returns the largest change in mm.
func (a *adjustment) step() (float64, bool) {
	n := a.unknowns()
	sys := &system{n: mat.NewSymDense(n, nil), right: make([]float64, n)}
	a.sumSq = 0
	for k := range a.seen {
		clear(a.seen[k])
	}
	a.priors(sys)
	for i, v := range a.views {
		k := v.shot.Sitting
		for j := range a.body.stations {
			a.edgeSeen(sys, i, j, k)
		}
		for t := range a.body.ties {
			a.tieSeen(sys, i, t, k)
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(sys.n) {
		return 0, false
	}
	var x mat.VecDense
	if chol.SolveVecTo(&x, mat.NewVecDense(n, sys.right)) != nil {
		return 0, false
	}
	a.cov = mat.NewSymDense(n, nil)
	if chol.InverseTo(a.cov) != nil {
		return 0, false
	}
	return a.move(x.RawVector().Data)
}

func (a *adjustment) move(x []float64) (largest float64, ok bool) {
	add := func(to *float64, at int, unit float64) {
		*to += x[at]
		largest = math.Max(largest, math.Abs(x[at])*unit)
	}
	for j := range a.skin {
		add(&a.skin[j], a.ixSkin(j), 1)
	}
	for t := range a.moved {
		add(&a.moved[t].X, a.ixTie(t), 1)
		add(&a.moved[t].Y, a.ixTie(t)+1, 1)
	}
	for k := range a.depth {
		for z := range measured {
			add(&a.depth[k][z], a.ixDepth(k, z), 1)
		}
	}
	for i := range a.pose {
		for m := range poseParams {
			unit := 1.0
			if m == qTurn || m == qYaw || m == qNod || m == qScale {
				unit = 100 // mm at a decimetre
			}
			add(&a.pose[i][m], a.ixPose(i)+m, unit)
		}
		a.pose[i][qYaw] = math.Max(-0.4, math.Min(0.4, a.pose[i][qYaw]))
		for z := range measured {
			add(&a.wander[i][z], a.ixWander(i, z), 1)
		}
	}
	return largest, !math.IsNaN(largest)
}

func (a *adjustment) priors(sys *system) {
	one := []float64{1}
	know := func(at int, is, expected, sd float64) { sys.add([]int{at}, one, expected-is, sd) }
	for j := range a.skin {
		know(a.ixSkin(j), a.skin[j], 0, skinSD)
		if j > 0 {
			s, r := a.body.stations[j], a.body.stations[j-1]
			if gap := math.Hypot(s.at.X-r.at.X, s.at.Y-r.at.Y); gap < 3*stepMM && (s.zone == r.zone || joined[s.zone] && joined[r.zone]) {
				sys.add([]int{a.ixSkin(j), a.ixSkin(j - 1)}, []float64{1, -1}, a.skin[j-1]-a.skin[j], bendySD)
			}
		}
	}
	for t := range a.moved {
		know(a.ixTie(t), a.moved[t].X, 0, skinSD)
		know(a.ixTie(t)+1, a.moved[t].Y, 0, skinSD)
	}
	for k, s := range a.sittings {
		for z, zone := range measured {
			at := a.ixDepth(k, z)
			know(at, a.depth[k][z], startMM, anyDepthSD)
			if d, ok := s.ByHand[zone]; ok {
				know(at, a.depth[k][z], d.MM, d.SDMM)
			}
		}
	}
	for i, v := range a.views {
		for m, sd := range [poseParams]float64{qX: 1e3, qY: 1e3, qTurn: turnSD, qScale: math.Max(v.scaleSD, 1e-4), qYaw: yawSD, qBend: bendSD, qNod: nodSD, qHeadX: headSD, qHeadY: headSD, qHindX: hindXSD, qHindY: hindYSD, qLegX: legSD} {
			if i == 0 && (m == qX || m == qY || m == qTurn) {
				// The first photo is where the dog stands: all others are told against it.
				know(a.ixPose(i)+m, a.pose[i][m], a.pose[i][m], 1e-4)
				continue
			}
			know(a.ixPose(i)+m, a.pose[i][m], 0, sd)
		}
		for z, zone := range measured {
			know(a.ixWander(i, z), a.wander[i][z], 0, wanderSD[zone])
		}
	}
}

// edgeSeen is what a photo's edge says at a station.
func (a *adjustment) edgeSeen(sys *system, i, j, k int) {
	s, v := &a.body.stations[j], a.views[i]
	if v.shot.Skip[s.zone] {
		return
	}
	z := a.zoneAt[s.zone]
	expected := a.depth[k][z] + a.wander[i][z]
	o, slopes, ok := a.look(i, j, expected)
	if !ok {
		return
	}
	off := o - expected
	a.seen[k][z]++
	sd := edgeSD
	if r := math.Abs(off) / edgeSD; r > clipAt {
		sd *= math.Sqrt(r / clipAt)
	}
	// off falls as depth, wander and skin rise, and as the pose carries the skin outward.
	at := make([]int, 0, poseParams+3)
	slope := make([]float64, 0, poseParams+3)
	at, slope = append(at, a.ixSkin(j), a.ixDepth(k, z), a.ixWander(i, z)), append(slope, 1, 1, 1)
	for m := range poseParams {
		at, slope = append(at, a.ixPose(i)+m), append(slope, slopes[m])
	}
	sys.add(at, slope, off, sd)
	a.sumSq += off * off
}

// look is how far the edge of a view stands off the skin at a station, mm, and how much each parameter of the pose carries
// the skin outward there.
func (a *adjustment) look(i, j int, expected float64) (o float64, slopes [poseParams]float64, ok bool) {
	s, v := &a.body.stations[j], a.views[i]
	p, moves := a.poseSlopes(s, a.skin[j], i)
	q := a.pose[i]
	tip := a.body.place(s, a.skin[j]+1, &q, v.distance)
	ux, uy := tip.X-p.X, tip.Y-p.Y
	long := math.Hypot(ux, uy)
	if long == 0 {
		return 0, slopes, false
	}
	ux, uy = ux/long, uy/long
	t, ok := v.crossing(p, XY{X: ux, Y: uy}, expected*long)
	if !ok {
		return 0, slopes, false
	}
	for m := range poseParams {
		slopes[m] = (moves[m].X*ux + moves[m].Y*uy) / long
	}
	return t / long, slopes, true
}

// How far from where it is expected an edge is looked for, mm.
const reachMM = 25.0

// crossing is where a line from p leaves the dog, mm along u, the place nearest to the one expected.
func (v *view) crossing(p, u XY, expected float64) (float64, bool) {
	best, found := math.Inf(1), false
	n := len(v.edge)
	side := func(q XY) float64 { return (q.X-p.X)*-u.Y + (q.Y-p.Y)*u.X }
	far := reachMM + math.Abs(expected)
	before := side(v.edge[n-1])
	for k := range n {
		b := v.edge[k]
		now := side(b)
		// The walk has the dog on its right: it passes a line that leaves the dog from the left of the line to the right.
		if before >= 0 && now < 0 {
			a := v.edge[(k+n-1)%n]
			w := before / (before - now)
			x, y := a.X+w*(b.X-a.X)-p.X, a.Y+w*(b.Y-a.Y)-p.Y
			t := x*u.X + y*u.Y
			if math.Abs(t) < far && math.Abs(t-expected) < math.Abs(best-expected) {
				best, found = t, true
			}
		}
		before = now
	}
	return best, found && math.Abs(best-expected) < reachMM
}

// tieSeen is what a point that was tapped says.
func (a *adjustment) tieSeen(sys *system, i, t, k int) {
	v, tie := a.views[i], &a.body.ties[t]
	xy, has := v.marks[tie.point]
	if !has {
		return
	}
	on := *tie.on
	on.at.X, on.at.Y = on.at.X+a.moved[t].X, on.at.Y+a.moved[t].Y
	d, z := 0.0, -1
	if tie.zone != "" {
		z = a.zoneAt[tie.zone]
		d = a.depth[k][z]
	}
	p, moves := a.poseSlopes(&on, d, i)
	const h = 1e-3
	q := a.pose[i]
	slope := func(change func(s *station, d *float64)) XY {
		s, e := on, d
		change(&s, &e)
		r := a.body.place(&s, e, &q, v.distance)
		return XY{X: (r.X - p.X) / h, Y: (r.Y - p.Y) / h}
	}
	dx := slope(func(s *station, _ *float64) { s.at.X += h })
	dy := slope(func(s *station, _ *float64) { s.at.Y += h })
	at := []int{a.ixTie(t), a.ixTie(t) + 1}
	sx, sy := []float64{dx.X, dy.X}, []float64{dx.Y, dy.Y}
	if z >= 0 {
		dd := slope(func(_ *station, d *float64) { *d += h })
		at, sx, sy = append(at, a.ixDepth(k, z)), append(sx, dd.X), append(sy, dd.Y)
	}
	for m := range poseParams {
		at, sx, sy = append(at, a.ixPose(i)+m), append(sx, moves[m].X), append(sy, moves[m].Y)
	}
	sd := math.Hypot(v.tapMM, looseMM[tie.point])
	if z >= 0 {
		sd = math.Hypot(sd, 1) // tufts
	}
	offX, offY := xy.X-p.X, xy.Y-p.Y
	if r := math.Hypot(offX, offY) / sd; r > clipAt {
		sd *= math.Sqrt(r / clipAt)
	}
	sys.add(at, sx, offX, sd)
	sys.add(at, sy, offY, sd)
}
