package measure

import (
	"math"

	"thatch/timeline"
)

// XY is a place in pixels; the centre of the top left pixel is (0, 0).
type XY = timeline.XY

// contour is an edge walked from the nose over the back to the tail and round below, with the dog's points on it.
type contour struct {
	at   []XY      // in order of the walk
	was  []int     // index in the polygon as it came
	s    []float64 // way from at[0], px; one more than at: the last is the whole way round
	mark map[timeline.Point]int
	down XY      // unit vector towards the table
	back float64 // withers to tail set, px
}

// between two marks, forward.
func (c *contour) span(from, to int) float64 {
	d := c.s[to] - c.s[from]
	if to < from {
		d += c.s[len(c.at)]
	}
	return d
}

// low is how far down a place lies, px.
func (c *contour) low(p XY) float64 { return p.X*c.down.X + p.Y*c.down.Y }

// walk orders an edge. ok is false where it is none, or withers and tail set are not placed.
func walk(polygon []XY, lm timeline.Landmarks, facing timeline.Side) (c *contour, ok bool) {
	withers, hasW := lm[timeline.WithersPt]
	tail, hasT := lm[timeline.TailSet]
	n := len(polygon)
	if !hasW || !hasT || n < 16 {
		return nil, false
	}
	c = &contour{mark: map[timeline.Point]int{}, back: math.Hypot(tail.X-withers.X, tail.Y-withers.Y)}
	if c.back < minBackPX {
		return nil, false
	}
	area := 0.0
	for i, a := range polygon {
		b := polygon[(i+1)%n]
		area += a.X*b.Y - b.X*a.Y
		if s := a.X + a.Y; math.IsNaN(s) || math.IsInf(s, 0) {
			return nil, false
		}
	}
	// Clockwise as seen goes from nose to tail over the back of a dog that looks left.
	forward := (area > 0) == (facing != timeline.SideRight)
	start := 0
	if nose, has := lm[timeline.Nose]; has {
		start = nearest(polygon, nose)
	} else {
		for i, p := range polygon {
			if (p.X-polygon[start].X)*(tail.X-withers.X) < 0 {
				start = i
			}
		}
	}
	c.at, c.was, c.s = make([]XY, n), make([]int, n), make([]float64, n+1)
	for k := range n {
		i := (start + k) % n
		if !forward {
			i = (start - k + n) % n
		}
		c.at[k], c.was[k] = polygon[i], i
	}
	for k := range n {
		a, b := c.at[k], c.at[(k+1)%n]
		c.s[k+1] = c.s[k] + math.Hypot(b.X-a.X, b.Y-a.Y)
	}
	along := XY{X: (tail.X - withers.X) / c.back, Y: (tail.Y - withers.Y) / c.back}
	if f, has := lm[timeline.FrontPaw]; has {
		if h, has := lm[timeline.HindPaw]; has {
			if d := math.Hypot(h.X-f.X, h.Y-f.Y); d > c.back/3 {
				along = XY{X: (h.X - f.X) / d, Y: (h.Y - f.Y) / d}
			}
		}
	}
	c.down = XY{X: -along.Y, Y: along.X}
	if c.down.Y < 0 {
		c.down = XY{X: along.Y, Y: -along.X}
	}
	c.marks(lm)
	if _, has := c.mark[timeline.TailSet]; !has {
		return nil, false
	}
	return c, true
}

// minBackPX is the least length of a back that figures are read from.
const minBackPX = 40

// marks sets the dog's points on the edge, each on the stretch that the points before it leave: a paw may be nearer to the
// other leg's edge than to its own. One that lies far from it is left out.
func (c *contour) marks(lm timeline.Landmarks) {
	order := []timeline.Point{
		timeline.Occiput, timeline.WithersPt, timeline.TailSet, timeline.Buttock, timeline.Hock, timeline.HindPaw,
		timeline.FrontPaw, timeline.Prosternum,
	}
	from := 0
	c.mark[timeline.Nose] = 0
	for _, p := range order {
		xy, has := lm[p]
		if !has {
			continue
		}
		best, bestD := -1, 0.15*c.back
		for k := from; k < len(c.at); k++ {
			if d := math.Hypot(c.at[k].X-xy.X, c.at[k].Y-xy.Y); d < bestD {
				best, bestD = k, d
			}
		}
		if best >= 0 {
			c.mark[p], from = best, best
		}
	}
}

func nearest(polygon []XY, p XY) int {
	best, bestD := 0, math.Inf(1)
	for i, q := range polygon {
		if d := math.Hypot(q.X-p.X, q.Y-p.Y); d < bestD {
			best, bestD = i, d
		}
	}
	return best
}

// tailEnds is the place where the underside of the tail meets the body again, after the tail set and before the buttock;
// the tail set itself where the edge shows no tail.
func (c *contour) tailEnds(set, buttock int) int {
	chord := math.Hypot(c.at[set].X-c.at[buttock].X, c.at[set].Y-c.at[buttock].Y)
	if c.span(set, buttock) < 1.5*chord {
		return set
	}
	away := func(k int) float64 { return math.Hypot(c.at[k].X-c.at[set].X, c.at[k].Y-c.at[set].Y) }
	tip := set
	for k := set; k < buttock; k++ {
		// The buttock lies far from the tail set too; the tip is far from both.
		if d := away(k) + math.Hypot(c.at[k].X-c.at[buttock].X, c.at[k].Y-c.at[buttock].Y); d > away(tip)+math.Hypot(c.at[tip].X-c.at[buttock].X, c.at[tip].Y-c.at[buttock].Y) {
			tip = k
		}
	}
	root := tip
	for k := tip; k < buttock; k++ {
		if away(k) < away(root) {
			root = k
		}
	}
	return root
}
