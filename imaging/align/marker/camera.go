package marker

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// view is how a pinhole camera with square pixels and its axis through the middle of the photo sees the plane of a symbol.
// Places on the plane are in sides of the symbol from its middle, u to the right and v down.
type view struct {
	logS float64       // log of the scale at the symbol's middle, sides per px square to the camera: distance over focal length
	mid  XY            // of the symbol, px
	r    [3][3]float64 // columns: the plane's u, v and normal in the camera's axes (right, down, away)
	logF float64       // log of the focal length, px
	axis XY            // where the camera's axis meets the photo, px
}

// at is where a place on the plane is seen; not finite behind the camera.
func (w *view) at(u, v float64) XY {
	f := math.Exp(w.logF)
	z := math.Exp(w.logS) * f
	x := z*(w.mid.X-w.axis.X)/f + w.r[0][0]*u + w.r[0][1]*v
	y := z*(w.mid.Y-w.axis.Y)/f + w.r[1][0]*u + w.r[1][1]*v
	z += w.r[2][0]*u + w.r[2][1]*v
	if z <= 0 {
		return XY{X: math.NaN(), Y: math.NaN()}
	}
	return XY{X: w.axis.X + f*x/z, Y: w.axis.Y + f*y/z}
}

// jacobian is px per side of the symbol along u and along v, at a place.
func (w *view) jacobian(u, v float64) (ju, jv XY) {
	const h = 1e-4
	a, b := w.at(u-h, v), w.at(u+h, v)
	c, d := w.at(u, v-h), w.at(u, v+h)
	return XY{X: (b.X - a.X) / (2 * h), Y: (b.Y - a.Y) / (2 * h)}, XY{X: (d.X - c.X) / (2 * h), Y: (d.Y - c.Y) / (2 * h)}
}

// turn adds a small rotation, radians about the camera's axes.
func (w *view) turn(x, y, z float64) {
	a := math.Sqrt(x*x + y*y + z*z)
	if a == 0 {
		return
	}
	// Rodrigues' formula.
	s, c := math.Sin(a)/a, (1-math.Cos(a))/(a*a)
	m := [3][3]float64{
		{1 - c*(y*y+z*z), -s*z + c*x*y, s*y + c*x*z},
		{s*z + c*x*y, 1 - c*(x*x+z*z), -s*x + c*y*z},
		{-s*y + c*x*z, s*x + c*y*z, 1 - c*(x*x+y*y)},
	}
	var out [3][3]float64
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				out[i][j] += m[i][k] * w.r[k][j]
			}
		}
	}
	w.r = out
}

// tiltDeg is the angle between the plane's normal and the camera's axis, 0–90.
func (w *view) tiltDeg() float64 {
	return math.Acos(math.Min(1, math.Abs(w.r[2][2]))) * 180 / math.Pi
}

// viewsOf are the two views of a symbol that is seen with the given px per side along u and v: from afar, a plane turned
// towards the camera and one turned away look alike. They are taken from a camera that looks straight at the symbol,
// where no perspective stretches it, and turned back.
func viewsOf(mid, ju, jv, axis XY, logF float64) [2]view {
	f := math.Exp(logF)
	ray := unit([3]float64{(mid.X - axis.X) / f, (mid.Y - axis.Y) / f, 1})
	// The rows of the straight camera's axes: right stays level, away is the ray.
	right := unit([3]float64{ray[2], 0, -ray[0]})
	straight := [3][3]float64{right, cross(ray, right), ray}
	look := func(dir [3]float64) XY {
		var p [3]float64
		for i, row := range straight {
			p[i] = row[0]*dir[0] + row[1]*dir[1] + row[2]*dir[2]
		}
		return XY{X: f * p[0] / p[2], Y: f * p[1] / p[2]}
	}
	slope := func(j XY) XY {
		const h = 1e-4
		p := look([3]float64{(mid.X - axis.X + h*j.X) / f, (mid.Y - axis.Y + h*j.Y) / f, 1})
		q := look([3]float64{(mid.X - axis.X - h*j.X) / f, (mid.Y - axis.Y - h*j.Y) / f, 1})
		return XY{X: (p.X - q.X) / (2 * h), Y: (p.Y - q.Y) / (2 * h)}
	}
	ju, jv = slope(ju), slope(jv)
	// The larger singular value is the side that is not foreshortened.
	a, b, c, d := ju.X, jv.X, ju.Y, jv.Y
	p := (a*a + b*b + c*c + d*d) / 2
	det := a*d - b*c
	k := math.Sqrt(p + math.Sqrt(math.Max(0, p*p-det*det)))
	var out [2]view
	for i := range out {
		w := view{logS: math.Log(ray[2] / k), mid: mid, logF: logF, axis: axis}
		u := [3]float64{a / k, c / k}
		v := [3]float64{b / k, d / k}
		u[2] = math.Sqrt(math.Max(0, 1-u[0]*u[0]-u[1]*u[1]))
		v[2] = math.Sqrt(math.Max(0, 1-v[0]*v[0]-v[1]*v[1]))
		if u[0]*v[0]+u[1]*v[1] > 0 { // the columns are square to each other
			v[2] = -v[2]
		}
		if i == 1 {
			u[2], v[2] = -u[2], -v[2]
		}
		u = unit(u)
		dot := u[0]*v[0] + u[1]*v[1] + u[2]*v[2]
		for j := range v {
			v[j] -= dot * u[j]
		}
		v = unit(v)
		n := cross(u, v)
		for j := range 3 {
			for m := range 3 { // back to the camera as it stands
				w.r[j][0] += straight[m][j] * u[m]
				w.r[j][1] += straight[m][j] * v[m]
				w.r[j][2] += straight[m][j] * n[m]
			}
		}
		out[i] = w
	}
	return out
}

func cross(a, b [3]float64) [3]float64 {
	return [3]float64{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

func unit(v [3]float64) [3]float64 {
	n := math.Sqrt(v[0]*v[0] + v[1]*v[1] + v[2]*v[2])
	return [3]float64{v[0] / n, v[1] / n, v[2] / n}
}

// through is the view moved so that it sees the middles of the three finder patterns of n modules where they are, as near
// as a few steps bring it: six numbers for six.
func (w view) through(n int, seen [3]XY) view {
	const unknowns = 6 // scale, middle, turn; the lens stays
	a := 3.5/float64(n) - 0.5
	places := [3]XY{{X: a, Y: a}, {X: -a, Y: a}, {X: a, Y: -a}}
	scale := math.Exp(-w.logS)
	for range 6 {
		jac, off := mat.NewDense(unknowns, unknowns, nil), mat.NewVecDense(unknowns, nil)
		far := 0.0
		for i, p := range places {
			q := w.at(p.X, p.Y)
			dx, dy := seen[i].X-q.X, seen[i].Y-q.Y
			off.SetVec(2*i, dx)
			off.SetVec(2*i+1, dy)
			far = max(far, math.Hypot(dx, dy))
			for k := range unknowns {
				m := w.moved(k, smallStep[k])
				r := m.at(p.X, p.Y)
				jac.Set(2*i, k, (r.X-q.X)/smallStep[k])
				jac.Set(2*i+1, k, (r.Y-q.Y)/smallStep[k])
			}
		}
		if !(far > 0.01) {
			return w
		}
		// Seen square, a turn moves nothing at first: it is held to what little is asked of it.
		var normal mat.SymDense
		normal.SymOuterK(1, jac.T())
		for k := pTurnX; k <= pTurnZ; k++ {
			normal.SetSym(k, k, normal.At(k, k)+square(0.01*scale))
		}
		var right, step mat.VecDense
		right.MulVec(jac.T(), off)
		var chol mat.Cholesky
		if !chol.Factorize(&normal) || chol.SolveVecTo(&step, &right) != nil {
			return w
		}
		next := w
		for k := range unknowns {
			next = next.moved(k, step.AtVec(k))
		}
		if at := next.at(0, 0); math.IsNaN(at.X) || math.Abs(next.logS-w.logS) > 0.3 {
			return w
		}
		w = next
	}
	return w
}
