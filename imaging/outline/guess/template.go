package guess

import (
	"math"

	"thatch/timeline"
)

// XY is a place; in pixels of the upright photo, or, in the template, in bodies.
type XY = timeline.XY

// The template is a standing square terrier facing left, seen exactly from the side: the mean of drawn dogs. Its unit is the
// body, from point of chest to point of rear; its origin the middle of its points; y runs down.

// corner is a place of the template's edge.
type corner struct {
	x, y float64
	// sd is how far the true edge lies from where the corner comes to lie when all points are given, in bodies: one
	// standard deviation across the edge, over drawn dogs.
	sd float64
}

// mark is where a point lies, and how far it is off in one direction when it is told from the silhouette alone.
type mark struct {
	point timeline.Point
	x, y  float64
}

// template is what the table holds: closed parts, the near side and the two far legs, and the points.
type template struct {
	marks []mark
	parts [][]corner
}

// A dog differs from the template in ways that change little from place to place, as a longer trunk or shorter legs do, and
// in others that are its own within a part, as a bent hock is. Both are taken to be normal errors whose covariance falls
// with distance (a Gaussian process: Rasmussen, Williams 2006, chapter 2), wide enough for dogs that are no terriers.
const (
	broadSD, broadReach = 0.09, 0.75 // in bodies
	ownSD, ownReach     = 0.035, 0.25
	markSD              = 0.006 // of a point that somebody has tapped, and of what a point of a dog means
)

func covariance(ax, ay, bx, by float64) float64 {
	d := (ax-bx)*(ax-bx) + (ay-by)*(ay-by)
	return broadSD*broadSD*math.Exp(-d/(2*broadReach*broadReach)) + ownSD*ownSD*math.Exp(-d/(2*ownReach*ownReach))
}

// fitted is the template laid over a photo by some of the points.
type fitted struct {
	t      *template
	pose   similarity // of the template onto the photo
	at     [][2]float64
	solved [][]float64 // L of the covariance between the points given
	weight [][2]float64
	misfit float64 // of the points to the template, squared, in standard deviations: about 2 a point for a dog like others
}

// fit lays the template over points, in pixels: a similarity by least squares, then the rest of the way by the error that is
// most probable.
func (t *template) fit(lm timeline.Landmarks, mirrored bool) (*fitted, bool) {
	f := &fitted{t: t}
	var from, to []XY
	for _, m := range t.marks {
		if p, ok := lm[m.point]; ok {
			from, to = append(from, XY{X: m.x, Y: m.y}), append(to, p)
		}
	}
	var ok bool
	if f.pose, ok = bestSimilarity(from, to, mirrored); !ok {
		return nil, false
	}
	n := len(from)
	k := make([][]float64, n)
	f.weight = make([][2]float64, n)
	for i := range n {
		f.at = append(f.at, [2]float64{from[i].X, from[i].Y})
		p := f.pose.back(to[i])
		f.weight[i] = [2]float64{p.X - from[i].X, p.Y - from[i].Y}
		k[i] = make([]float64, n)
		for j := range i + 1 {
			k[i][j] = covariance(from[i].X, from[i].Y, from[j].X, from[j].Y)
		}
		k[i][i] += markSD * markSD
	}
	if !cholesky(k) {
		return nil, false
	}
	f.solved = k
	for c := range 2 {
		v := make([]float64, n)
		for i := range v {
			v[i] = f.weight[i][c]
		}
		forward(k, v)
		for _, q := range v {
			f.misfit += q * q
		}
		backward(k, v)
		for i := range v {
			f.weight[i][c] = v[i]
		}
	}
	return f, true
}

// place is where a place of the template comes to lie in the photo, and how far it may be off in one direction because no
// point is near, in bodies.
func (f *fitted) place(x, y float64) (XY, float64) {
	k := make([]float64, len(f.at))
	dx, dy := x, y
	for i, a := range f.at {
		k[i] = covariance(x, y, a[0], a[1])
		dx += k[i] * f.weight[i][0]
		dy += k[i] * f.weight[i][1]
	}
	forward(f.solved, k)
	v := covariance(x, y, x, y)
	for _, q := range k {
		v -= q * q
	}
	return f.pose.to(XY{X: dx, Y: dy}), math.Sqrt(max(v, 0))
}

// similarity turns, scales and shifts, after mirroring if so.
type similarity struct {
	a, b, tx, ty float64
	mirrored     bool
}

func (s similarity) to(p XY) XY {
	if s.mirrored {
		p.X = -p.X
	}
	return XY{X: s.a*p.X - s.b*p.Y + s.tx, Y: s.b*p.X + s.a*p.Y + s.ty}
}

func (s similarity) back(p XY) XY {
	d := s.a*s.a + s.b*s.b
	x, y := p.X-s.tx, p.Y-s.ty
	q := XY{X: (s.a*x + s.b*y) / d, Y: (s.a*y - s.b*x) / d}
	if s.mirrored {
		q.X = -q.X
	}
	return q
}

func (s similarity) scale() float64 { return math.Hypot(s.a, s.b) }

// bestSimilarity is that of least squares (Umeyama 1991, IEEE TPAMI 13(4):376–380; in the plane, as complex numbers).
func bestSimilarity(from, to []XY, mirrored bool) (similarity, bool) {
	s := similarity{mirrored: mirrored}
	n := float64(len(from))
	if n < 2 {
		return s, false
	}
	var fx, fy, gx, gy float64
	sign := 1.0
	if mirrored {
		sign = -1
	}
	for i := range from {
		fx, fy = fx+sign*from[i].X/n, fy+from[i].Y/n
		gx, gy = gx+to[i].X/n, gy+to[i].Y/n
	}
	var re, im, d float64
	for i := range from {
		x, y := sign*from[i].X-fx, from[i].Y-fy
		u, v := to[i].X-gx, to[i].Y-gy
		re, im, d = re+x*u+y*v, im+x*v-y*u, d+x*x+y*y
	}
	s.a, s.b = re/d, im/d
	s.tx, s.ty = gx-s.a*fx+s.b*fy, gy-s.b*fx-s.a*fy
	l := s.scale()
	return s, l > 0 && !math.IsInf(l, 0) && !math.IsNaN(l)
}

// cholesky factors the lower triangle of a in place.
func cholesky(a [][]float64) bool {
	for i := range a {
		for j := range i + 1 {
			sum := a[i][j]
			for k := range j {
				sum -= a[i][k] * a[j][k]
			}
			if i == j {
				if !(sum > 0) {
					return false
				}
				a[i][i] = math.Sqrt(sum)
			} else {
				a[i][j] = sum / a[j][j]
			}
		}
	}
	return true
}

func forward(l [][]float64, v []float64) {
	for i := range v {
		for k := range i {
			v[i] -= l[i][k] * v[k]
		}
		v[i] /= l[i][i]
	}
}

func backward(l [][]float64, v []float64) {
	for i := len(v) - 1; i >= 0; i-- {
		for k := i + 1; k < len(v); k++ {
			v[i] -= l[k][i] * v[k]
		}
		v[i] /= l[i][i]
	}
}
