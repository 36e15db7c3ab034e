package marker

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// lens is what is known of the camera before the symbol is looked at.
type lens struct {
	axis   XY
	axisSD float64 // px, along x and along y
	logF   float64 // log of the focal length, px
	logFSD float64
}

// held is the lens of a whole photo while little is seen yet: it is hardly free.
func (l lens) held() lens {
	l.axisSD, l.logFSD = min(l.axisSD, wholeAxisSD*math.Hypot(l.axis.X, l.axis.Y)*2), min(l.logFSD, 0.05)
	return l
}

// longer is the lens with a longer focal length, by that much of its log.
func (l lens) longer(log float64) lens {
	l.logF += log
	return l
}

// loose is any lens, and any part of its picture: what matters while a symbol is only to be read, and all that can be said
// of a cropped photo.
func (l lens) loose(focalSD float64) lens {
	l.axisSD, l.logFSD = 0.1*math.Hypot(l.axis.X, l.axis.Y)*2, max(l.logFSD, focalSD)
	return l
}

// fitted is a view with its quality.
type fitted struct {
	view
	seen    []sighting // with the offsets that are left, ink taken out
	weights []float64  // of the sightings, 0–1
	inkPX   float64    // by how much dark has spread into light
	rmsPX   float64    // of the offsets, robust
	logSSD  float64    // standard deviation of the log of the scale
	still   bool       // the last step moved nothing that matters
	cost    float64    // −2 log likelihood, but for a constant: of two fits to the same edges the smaller one is right
}

// The parameters of a fit: log scale, middle, turn about three axes, log focal length, axis, ink.
const (
	pLogS = iota
	pMidX
	pMidY
	pTurnX
	pTurnY
	pTurnZ
	pLogF
	pAxisX
	pAxisY
	pInk
	params
)

// smallStep of every parameter, for slopes by difference.
var smallStep = [params]float64{1e-5, 1e-3, 1e-3, 1e-5, 1e-5, 1e-5, 1e-4, 1, 1}

// stillStep is what no figure shows any more: a hundredth of the best reading's error.
var stillStep = [params]float64{1e-6, 1e-3, 1e-3, 2e-4, 2e-4, 2e-4, 1e-3, 2, 2}

// settledStep is stillStep, and for the ink a thousandth of a px.
func settledStep(k int) float64 {
	if k == pInk {
		return 1e-3
	}
	return stillStep[k]
}

func (w view) moved(i int, d float64) view {
	switch i {
	case pLogS:
		w.logS += d
	case pMidX:
		w.mid.X += d
	case pMidY:
		w.mid.Y += d
	case pTurnX:
		w.turn(d, 0, 0)
	case pTurnY:
		w.turn(0, d, 0)
	case pTurnZ:
		w.turn(0, 0, d)
	case pLogF:
		w.logF += d
	case pAxisX:
		w.axis.X += d
	case pAxisY:
		w.axis.Y += d
	}
	return w
}

// fit moves the view until the known modules' edges lie where the photo has them: weighted least squares by Gauss and
// Newton, damped (Marquardt 1963, SIAM J. 11(2)), with the biweight of Beaton and Tukey (1974, Technometrics 16(2)) so
// that what lies on the symbol does not pull. Edges that are met from dark to light and those met from light to dark
// share one spread of the ink (or of the exposure), which therefore does not enter the scale. Nil: too little is seen.
func fit(p *patch, start view, lens lens, known *pattern, rounds int) *fitted {
	edges := known.edges()
	f := &fitted{view: start}
	module := math.Exp(-start.logS) / float64(known.n)
	reach := module / 2
	for round := range rounds {
		seen := make([]sighting, 0, len(edges))
		for _, e := range edges {
			if s, ok := p.see(&f.view, known.n, e, reach); ok {
				seen = append(seen, s)
			}
		}
		if len(seen) < 40 || len(seen) < len(edges)/3 {
			return nil
		}
		f.seen = seen
		if !f.solve(lens, module) || !f.sane(p) {
			return nil
		}
		if round > 2 && f.still {
			break
		}
		if round > 0 {
			reach = max(3, 0.15*module)
		}
	}
	return f
}

// sane: the symbol is before the camera and where it is looked for.
func (f *fitted) sane(p *patch) bool {
	s := math.Exp(-f.logS)
	c := f.mid
	inside := c.X >= float64(p.x0) && c.Y >= float64(p.y0) && c.X <= float64(p.x0+p.w) && c.Y <= float64(p.y0+p.h)
	corner := f.at(0.5, 0.5)
	return s > 4 && s < 20000 && inside && f.r[2][2] > 0.2 && !math.IsNaN(corner.X+corner.Y)
}

// solve is one linear step and what follows from it for the offsets, which are then those that are left.
func (f *fitted) solve(l lens, module float64) bool {
	n := len(f.seen)
	rows := make([][params]float64, n)
	var moved [params]view
	for k := range pInk {
		moved[k] = f.moved(k, smallStep[k])
	}
	for i, s := range f.seen {
		for k := range pInk {
			q := moved[k].at(s.u, s.v)
			rows[i][k] = ((q.X-s.at.X)*s.normal.X + (q.Y-s.at.Y)*s.normal.Y) / smallStep[k]
		}
		rows[i][pInk] = s.sign
	}
	left := make([]float64, n)
	for i, s := range f.seen {
		left[i] = s.off - f.inkPX*s.sign
	}
	w := make([]float64, n)
	noise := 0.0
	var x [params]float64
	var inverse mat.SymDense
	var normal *mat.SymDense
	for round := range 8 {
		noise = max(spread(left), 0.01)
		for i, r := range left {
			w[i] = biweight(r / (4.685 * noise))
		}
		normal = mat.NewSymDense(params, nil)
		right := mat.NewVecDense(params, nil)
		for i := range rows {
			if w[i] == 0 {
				continue
			}
			for a := range params {
				right.SetVec(a, right.AtVec(a)+w[i]*rows[i][a]*f.seen[i].off)
				for b := a; b < params; b++ {
					normal.SetSym(a, b, normal.At(a, b)+w[i]*rows[i][a]*rows[i][b])
				}
			}
		}
		// What is known of the lens, in units of the noise; a turn of more than a radian a step is no step.
		for _, k := range [3]struct {
			at      int
			sd, off float64
		}{{pLogF, l.logFSD, l.logF - f.logF}, {pAxisX, l.axisSD, l.axis.X - f.axis.X}, {pAxisY, l.axisSD, l.axis.Y - f.axis.Y}} {
			pull := square(noise / k.sd)
			normal.SetSym(k.at, k.at, normal.At(k.at, k.at)+pull)
			right.SetVec(k.at, right.AtVec(k.at)+pull*k.off)
		}
		damp := square(noise / 0.3)
		damped := mat.NewSymDense(params, nil)
		damped.CopySym(normal)
		for _, k := range [3]int{pTurnX, pTurnY, pTurnZ} {
			damped.SetSym(k, k, damped.At(k, k)+damp)
		}
		var chol mat.Cholesky
		if !chol.Factorize(damped) {
			return false
		}
		var sol mat.VecDense
		if chol.SolveVecTo(&sol, right) != nil {
			return false
		}
		// Mostly two or three rounds do; the last digits of a weight move no figure.
		settled := round > 0
		for k := range x {
			v := sol.AtVec(k)
			settled = settled && math.Abs(v-x[k]) < 0.05*settledStep(k)
			x[k] = v
		}
		for i := range rows {
			left[i] = f.seen[i].off
			for k := range params {
				left[i] -= rows[i][k] * x[k]
			}
		}
		if settled || round == 7 {
			if chol.InverseTo(&inverse) != nil {
				return false
			}
			break
		}
	}
	// Too long a step is shortened as a whole: of axis, turn and focal length, each alone would lead elsewhere.
	part := 1.0
	for k := range pInk {
		limit := math.Inf(1)
		switch k {
		case pTurnX, pTurnY, pTurnZ:
			limit = 0.3
		case pMidX, pMidY:
			limit = module
		case pLogS:
			limit = 0.1
		case pLogF:
			limit = 1
		case pAxisX, pAxisY:
			limit = l.axisSD
		}
		if math.IsNaN(x[k]) {
			return false
		}
		if size := math.Abs(x[k]); size > limit {
			part = min(part, limit/size)
		}
	}
	f.still = true
	for k := range pInk {
		f.still = f.still && math.Abs(x[k]) < stillStep[k]
		f.view = f.moved(k, part*x[k])
	}
	// Beyond what the lens may be lie views of the same symbol from impossibly near.
	far := 3 * l.logFSD
	f.logF = math.Max(l.logF-far, math.Min(l.logF+far, f.logF))
	far = 3 * l.axisSD
	f.axis.X = math.Max(l.axis.X-far, math.Min(l.axis.X+far, f.axis.X))
	f.axis.Y = math.Max(l.axis.Y-far, math.Min(l.axis.Y+far, f.axis.Y))
	f.inkPX = math.Max(-module/3, math.Min(module/3, x[pInk]))
	sum, ws := 0.0, 0.0
	for i := range left {
		f.seen[i].off = left[i]
		sum += w[i] * square(left[i])
		ws += w[i]
	}
	if ws < 2*params {
		return false
	}
	f.weights = w
	f.rmsPX = math.Sqrt(sum / (ws - params))
	f.logSSD = f.rmsPX * math.Sqrt(inverse.At(pLogS, pLogS))
	f.cost = 2*float64(n)*math.Log(noise) + square((f.logF-l.logF)/l.logFSD) + square((f.axis.X-l.axis.X)/l.axisSD) + square((f.axis.Y-l.axis.Y)/l.axisSD)
	return true
}

func square(v float64) float64 { return v * v }

func biweight(t float64) float64 {
	if math.Abs(t) >= 1 {
		return 0
	}
	return square(1 - t*t)
}

// spread is the standard deviation of offsets, from their median size, as if they were normal.
func spread(v []float64) float64 {
	a := make([]float64, len(v))
	for i, x := range v {
		a[i] = math.Abs(x)
	}
	slices.Sort(a)
	return a[len(a)/2] / 0.6745
}
