package align

import (
	"math"
	"sort"
)

// around is a grid of places, step px apart, inside the convex hull of ps or within margin px of it.
func around(ps []XY, margin, step float64) []XY {
	h := hull(ps)
	if len(h) == 0 || !(step > 0) {
		return nil
	}
	lo, hi := h[0], h[0]
	for _, p := range h {
		lo = XY{X: math.Min(lo.X, p.X), Y: math.Min(lo.Y, p.Y)}
		hi = XY{X: math.Max(hi.X, p.X), Y: math.Max(hi.Y, p.Y)}
	}
	var out []XY
	for y := lo.Y - margin; y <= hi.Y+margin; y += step {
		for x := lo.X - margin; x <= hi.X+margin; x += step {
			if p := (XY{X: x, Y: y}); beyond(h, p) <= margin {
				out = append(out, p)
			}
		}
	}
	return out
}

// hull is the convex hull of ps, counted round (A. M. Andrew, Inf. Process. Lett. 9, 1979).
func hull(ps []XY) []XY {
	ps = append([]XY(nil), ps...)
	sort.Slice(ps, func(i, j int) bool { return ps[i].X < ps[j].X || ps[i].X == ps[j].X && ps[i].Y < ps[j].Y })
	if len(ps) < 3 {
		return ps
	}
	chain := func(ps []XY) []XY {
		var c []XY
		for _, p := range ps {
			for len(c) >= 2 && cross(c[len(c)-2], c[len(c)-1], p) <= 0 {
				c = c[:len(c)-1]
			}
			c = append(c, p)
		}
		return c[:len(c)-1]
	}
	low := chain(ps)
	for i, j := 0, len(ps)-1; i < j; i, j = i+1, j-1 {
		ps[i], ps[j] = ps[j], ps[i]
	}
	return append(low, chain(ps)...)
}

// beyond is the distance of p from the convex polygon h, 0 inside.
func beyond(h []XY, p XY) float64 {
	in, d := len(h) > 2, math.Inf(1)
	for i, a := range h {
		b := h[(i+1)%len(h)]
		in = in && cross(a, b, p) >= 0
		l := square(b.X-a.X) + square(b.Y-a.Y)
		t := 0.0
		if l > 0 {
			t = clamp01(((p.X-a.X)*(b.X-a.X) + (p.Y-a.Y)*(b.Y-a.Y)) / l)
		}
		d = math.Min(d, distance(p, XY{X: a.X + t*(b.X-a.X), Y: a.Y + t*(b.Y-a.Y)}))
	}
	if in {
		return 0
	}
	return d
}

func cross(o, a, b XY) float64 { return (a.X-o.X)*(b.Y-o.Y) - (a.Y-o.Y)*(b.X-o.X) }

func mean(ps []XY) XY {
	var m XY
	for _, p := range ps {
		m.X, m.Y = m.X+p.X/float64(len(ps)), m.Y+p.Y/float64(len(ps))
	}
	return m
}

// thinned keeps about n of ps, spread evenly.
func thinned(ps []XY, n int) []XY {
	if len(ps) <= n {
		return ps
	}
	out := make([]XY, 0, n)
	// A stride that shares no factor with the grid's rows would be better still; fractions are near enough.
	for i := range n {
		out = append(out, ps[int((float64(i)+0.5)*float64(len(ps))/float64(n))])
	}
	return out
}
