package guess

import (
	"math"
	"slices"

	"thatch/imaging/outline"
)

// mask is a silhouette by rows.
type mask struct {
	w, h int
	in   []bool
}

func newMask(w, h int) *mask { return &mask{w, h, make([]bool, w*h)} }

func (m *mask) at(x, y int) bool { return x >= 0 && y >= 0 && x < m.w && y < m.h && m.in[y*m.w+x] }

func (m *mask) area() (n int) {
	for _, v := range m.in {
		if v {
			n++
		}
	}
	return n
}

// paint adds what lies inside a closed polygon (even-odd, pixel centres).
func (m *mask) paint(polygon []XY) {
	for i, in := range outline.Fill([][]XY{polygon}, m.w, m.h) {
		m.in[i] = m.in[i] || in
	}
}

// largest is its largest piece over edges.
func (m *mask) largest() *mask {
	label := m.pieces()
	count := map[int32]int{}
	best := int32(0)
	for _, l := range label {
		if l > 0 {
			count[l]++
		}
	}
	for l := int32(1); int(l) <= len(count); l++ {
		if best == 0 || count[l] > count[best] {
			best = l
		}
	}
	out := newMask(m.w, m.h)
	for i, l := range label {
		out.in[i] = best != 0 && l == best
	}
	return out
}

// pieces labels the pieces that hold together over edges, from 1 in the order of their first pixel.
func (m *mask) pieces() []int32 {
	label := make([]int32, len(m.in))
	next := int32(0)
	var stack []int
	for i := range m.in {
		if !m.in[i] || label[i] != 0 {
			continue
		}
		next++
		label[i] = next
		stack = append(stack[:0], i)
		for len(stack) > 0 {
			p := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			x, y := p%m.w, p/m.w
			for _, d := range [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
				if q := p + d[1]*m.w + d[0]; m.at(x+d[0], y+d[1]) && label[q] == 0 {
					label[q] = next
					stack = append(stack, q)
				}
			}
		}
	}
	return label
}

// ring is the outer edge of the largest piece as a closed polygon through the middles of the sides that pixels share with
// what is not in, walked clockwise as the picture is seen.
func (m *mask) ring() []XY {
	big := m.largest()
	start := slices.Index(big.in, true)
	if start < 0 {
		return nil
	}
	// Walk the cracks: at a corner of the grid, heading d (0 right, 1 down, 2 left, 3 up) with the piece on the right hand.
	x, y := start%m.w, start/m.w
	x0, y0, d := x, y, 0
	step := [4][2]int{{1, 0}, {0, 1}, {-1, 0}, {0, -1}}
	right := [4][2]int{{0, 0}, {-1, 0}, {-1, -1}, {0, -1}} // the pixel ahead on the right hand
	left := [4][2]int{{0, -1}, {0, 0}, {-1, 0}, {-1, -1}}
	var out []XY
	for {
		out = append(out, XY{X: float64(x) + 0.5*float64(step[d][0]) - 0.5, Y: float64(y) + 0.5*float64(step[d][1]) - 0.5})
		x, y = x+step[d][0], y+step[d][1]
		switch {
		case !big.at(x+right[d][0], y+right[d][1]):
			d = (d + 1) % 4
		case big.at(x+left[d][0], y+left[d][1]):
			d = (d + 3) % 4
		}
		if x == x0 && y == y0 && d == 0 {
			return out
		}
	}
}

func (m *mask) not() *mask {
	out := newMask(m.w, m.h)
	for i, v := range m.in {
		out.in[i] = !v
	}
	return out
}

// filled is it without holes smaller than a share of its area.
func (m *mask) filled(share float64) *mask {
	outside := m.not()
	label := outside.pieces()
	count, edge := map[int32]int{}, map[int32]bool{}
	for i, l := range label {
		count[l]++
		if x, y := i%m.w, i/m.w; x == 0 || y == 0 || x == m.w-1 || y == m.h-1 {
			edge[l] = true
		}
	}
	out := newMask(m.w, m.h)
	most := share * float64(m.area())
	for i, l := range label {
		out.in[i] = m.in[i] || l > 0 && !edge[l] && float64(count[l]) < most
	}
	return out
}

// overlap is the intersection of two silhouettes over their union.
func overlap(a, b []bool) float64 {
	both, any := 0, 0
	for i := range a {
		if a[i] && b[i] {
			both++
		}
		if a[i] || b[i] {
			any++
		}
	}
	if any == 0 {
		return 0
	}
	return float64(both) / float64(any)
}

// simpler thins a closed polygon by the Ramer–Douglas–Peucker rule (Douglas, Peucker 1973), so that no place of it lies off
// by more than a distance.
func simpler(ring []XY, off float64) []XY {
	if len(ring) < 4 {
		return ring
	}
	// Two ends far apart part the ring in two lines.
	a, b := 0, 0
	for range 2 {
		most := -1.0
		for i, p := range ring {
			if d := math.Hypot(p.X-ring[a].X, p.Y-ring[a].Y); d > most {
				most, b = d, i
			}
		}
		a, b = b, a
	}
	a, b = min(a, b), max(a, b)
	keep := make([]bool, len(ring))
	keep[a], keep[b] = true, true
	n := len(ring)
	stack := [][2]int{{a, b}, {b, a + n}}
	for len(stack) > 0 {
		s := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		p, q := ring[s[0]%n], ring[s[1]%n]
		l := math.Hypot(q.X-p.X, q.Y-p.Y)
		most, at := off, -1
		for i := s[0] + 1; i < s[1]; i++ {
			r := ring[i%n]
			d := math.Hypot(r.X-p.X, r.Y-p.Y)
			if l > 0 {
				d = math.Abs((r.X-p.X)*(q.Y-p.Y)-(r.Y-p.Y)*(q.X-p.X)) / l
			}
			if d > most {
				most, at = d, i
			}
		}
		if at >= 0 {
			keep[at%n] = true
			stack = append(stack, [2]int{s[0], at}, [2]int{at, s[1]})
		}
	}
	var out []XY
	for i, k := range keep {
		if k {
			out = append(out, ring[i])
		}
	}
	return out
}

// kth is the k-th smallest number.
func kth(v []float64, k int) float64 {
	if len(v) == 0 {
		return 0
	}
	slices.Sort(v)
	return v[min(max(k, 0), len(v)-1)]
}

// polygon is the silhouette as one closed polygon, simpler by off: holes of more than a share of its area are joined to the
// outer edge by a slit where both lie nearest.
func (m *mask) polygon(off, share float64) []XY {
	big := m.largest()
	out := simpler(big.ring(), off)
	least := share * float64(big.area())
	outside := big.not()
	label := outside.pieces()
	count, open := map[int32]int{}, map[int32]bool{}
	last := int32(0)
	for i, l := range label {
		count[l]++
		last = max(last, l)
		if x, y := i%m.w, i/m.w; x == 0 || y == 0 || x == m.w-1 || y == m.h-1 {
			open[l] = true
		}
	}
	for l := int32(1); l <= last; l++ {
		if open[l] || float64(count[l]) < least {
			continue
		}
		one := newMask(m.w, m.h)
		for i := range one.in {
			one.in[i] = label[i] == l
		}
		hole := simpler(one.ring(), off)
		if len(hole) < 3 || len(out) < 3 {
			continue
		}
		slices.Reverse(hole)
		best, a, b := math.Inf(1), 0, 0
		for i, p := range out {
			for j, q := range hole {
				if d := math.Hypot(p.X-q.X, p.Y-q.Y); d < best {
					best, a, b = d, i, j
				}
			}
		}
		// … a, b … b, a …
		joined := slices.Clone(out[:a+1])
		joined = append(joined, hole[b:]...)
		joined = append(joined, hole[:b+1]...)
		out = append(joined, out[a:]...)
	}
	return out
}
