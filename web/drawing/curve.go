package drawing

import (
	"math"
	"strconv"
	"strings"
)

// spline samples a smooth curve through the points (centripetal Catmull–Rom; Barry, Goldman 1988), n samples a piece.
// Centripetal spacing makes no loops where points lie close, as at an ear's tip.
func spline(pts []XY, closed bool, n int) []XY {
	var out []XY
	at := func(i int) XY {
		if closed {
			return pts[(i+len(pts))%len(pts)]
		}
		return pts[max(0, min(len(pts)-1, i))]
	}
	pieces := len(pts) - 1
	if closed {
		pieces = len(pts)
	}
	for i := range pieces {
		p0, p1, p2, p3 := at(i-1), at(i), at(i+1), at(i+2)
		for j := range n {
			out = append(out, catmull(p0, p1, p2, p3, float64(j)/float64(n)))
		}
	}
	if !closed {
		out = append(out, pts[len(pts)-1])
	}
	return out
}

func catmull(p0, p1, p2, p3 XY, u float64) XY {
	knot := func(t float64, a, b XY) float64 {
		return t + math.Max(1e-6, math.Sqrt(math.Hypot(b.X-a.X, b.Y-a.Y)))
	}
	t0 := 0.0
	t1 := knot(t0, p0, p1)
	t2 := knot(t1, p1, p2)
	t3 := knot(t2, p2, p3)
	t := t1 + u*(t2-t1)
	mix := func(a, b XY, ta, tb float64) XY {
		w := (t - ta) / (tb - ta)
		return XY{X: a.X + (b.X-a.X)*w, Y: a.Y + (b.Y-a.Y)*w}
	}
	a1, a2, a3 := mix(p0, p1, t0, t1), mix(p1, p2, t1, t2), mix(p2, p3, t2, t3)
	b1, b2 := mix(a1, a2, t0, t2), mix(a2, a3, t1, t3)
	return mix(b1, b2, t1, t2)
}

// inside is the even–odd rule.
func inside(poly []XY, p XY) bool {
	in := false
	for i, j := 0, len(poly)-1; i < len(poly); j, i = i, i+1 {
		a, b := poly[i], poly[j]
		if (a.Y > p.Y) != (b.Y > p.Y) && p.X < (b.X-a.X)*(p.Y-a.Y)/(b.Y-a.Y)+a.X {
			in = !in
		}
	}
	return in
}

// pathD writes a polyline as path data in whole units, by relative steps: short, and fine enough for a drawing 1000 wide.
func pathD(pts []XY, closed bool) string {
	var b strings.Builder
	x, y := 0, 0
	for i, p := range pts {
		px, py := int(math.Round(p.X)), int(math.Round(p.Y))
		if i == 0 {
			b.WriteByte('M')
			pair(&b, px, py)
			b.WriteByte('l')
		} else if px != x || py != y {
			if i > 1 {
				b.WriteByte(' ')
			}
			pair(&b, px-x, py-y)
		}
		x, y = px, py
	}
	if closed {
		b.WriteByte('z')
	}
	return b.String()
}

func pair(b *strings.Builder, x, y int) {
	b.WriteString(strconv.Itoa(x))
	if y >= 0 {
		b.WriteByte(' ')
	}
	b.WriteString(strconv.Itoa(y))
}

// hairs writes strokes one after the other, each from the end of the one before: short, and what is alike stays alike in it,
// so that it is squeezed well.
type hairs struct {
	strings.Builder
	x, y int // the pen
}

// hair is a direction, a length and a slight bend.
type hair struct{ angle, length, bend float64 }

// stroke is one hair from its root.
func (h *hairs) stroke(root XY, of hair) {
	s, c := math.Sincos(of.angle)
	dx, dy := c*of.length, s*of.length
	mx, my := dx/2-s*of.bend, dy/2+c*of.bend
	if h.Len() == 0 {
		h.WriteByte('M')
	} else {
		h.WriteByte('m')
	}
	x, y := int(math.Round(root.X)), int(math.Round(root.Y))
	pair(&h.Builder, x-h.x, y-h.y)
	h.WriteByte('q')
	pair(&h.Builder, int(math.Round(mx)), int(math.Round(my)))
	ex, ey := int(math.Round(dx)), int(math.Round(dy))
	if ex >= 0 {
		h.WriteByte(' ')
	}
	pair(&h.Builder, ex, ey)
	h.x, h.y = x+ex, y+ey
}
