package overlay

import "math"

// spline is the centripetal Catmull–Rom curve through its points (P. J. Barry, R. N. Goldman, SIGGRAPH 1988; that
// centripetal knots give no cusp and no loop within a span: C. Yuksel, S. Schaefer, J. Keyser, Computer-Aided Design 43,
// 2011). Both ends are continued by reflection. It needs two points.
type spline struct{ p []XY }

func newSpline(p []XY) spline {
	n := len(p)
	q := make([]XY, 0, n+2)
	q = append(q, sub(scale(p[0], 2), p[1]))
	q = append(q, p...)
	return spline{append(q, sub(scale(p[n-1], 2), p[n-2]))}
}

// at is the place and the direction at share u of the span after point i.
func (s spline) at(i int, u float64) (place, direction XY) {
	p := s.p[i : i+4]
	var t [4]float64
	for k := 1; k < 4; k++ {
		// A point set twice would make the knots coincide.
		t[k] = t[k-1] + math.Max(math.Sqrt(length(sub(p[k], p[k-1]))), 1e-6)
	}
	// Hermite form: the tangents at both ends, in units of the span.
	d := t[2] - t[1]
	m := func(a, b, c XY, da, db float64) XY {
		v := add(scale(sub(b, a), 1/da), scale(sub(c, b), 1/db))
		return scale(sub(v, scale(sub(c, a), 1/(da+db))), d)
	}
	m1, m2 := m(p[0], p[1], p[2], t[1]-t[0], d), m(p[1], p[2], p[3], d, t[3]-t[2])
	u2, u3 := u*u, u*u*u
	place = add(add(scale(p[1], 2*u3-3*u2+1), scale(m1, u3-2*u2+u)), add(scale(p[2], 3*u2-2*u3), scale(m2, u3-u2)))
	direction = add(add(scale(p[1], 6*u2-6*u), scale(m1, 3*u2-4*u+1)), add(scale(p[2], 6*u-6*u2), scale(m2, 3*u2-2*u)))
	return place, direction
}

// tangent is the direction at point i.
func (s spline) tangent(i int) XY {
	if i < len(s.p)-3 {
		_, d := s.at(i, 0)
		return d
	}
	_, d := s.at(i-1, 1)
	return d
}

func add(a, b XY) XY             { return XY{X: a.X + b.X, Y: a.Y + b.Y} }
func sub(a, b XY) XY             { return XY{X: a.X - b.X, Y: a.Y - b.Y} }
func scale(a XY, k float64) XY   { return XY{X: k * a.X, Y: k * a.Y} }
func dot(a, b XY) float64        { return a.X*b.X + a.Y*b.Y }
func length(a XY) float64        { return math.Hypot(a.X, a.Y) }
func lerp(a, b XY, t float64) XY { return add(a, scale(sub(b, a), t)) }
func finite(a XY) bool           { s := a.X + a.Y; return !math.IsNaN(s) && !math.IsInf(s, 0) }
