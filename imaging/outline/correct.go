package outline

import (
	"image"
	"math"
	"slices"

	"thatch/imaging"
	"thatch/timeline"
)

const (
	reachBody    = 0.07 // of the body's length: how far beside a stroke the edge is looked for again
	besideBody   = 0.12 // of the body's length: what is looked at beside that, to learn from
	strokeRounds = 2
	finerPX      = 2 * workPX // long side of the picture of which a window is cut
	borderCells  = 3          // between where the edge may change and where the old one goes on
)

// Correct is an edge corrected by strokes, in their order. It is looked for again only beside what was painted: what was
// painted stays as it was painted, and beyond a window around it every corner of the old edge stays where it was. A drag
// replaces a stretch of the edge as it is.
//
// The fault is Invalid where a stroke is none or does not touch the dog.
func Correct(img *image.NRGBA, prev Result, strokes []Stroke) (Result, error) {
	if err := check(strokes, prev.WidthPX, prev.HeightPX); err != nil {
		return prev, err
	}
	if len(prev.Polygon) < 3 || img.Rect.Dx() != prev.WidthPX || img.Rect.Dy() != prev.HeightPX {
		return prev, timeline.NewFault(timeline.Invalid, "fault.outline.nothing_to_correct").At("correct outline")
	}
	c := &correction{img: img, cell: max(1, float64(max(prev.WidthPX, prev.HeightPX))/finerPX)}
	c.rings = append(c.rings, facing(prev.Polygon, 1))
	left, right := math.Inf(1), math.Inf(-1)
	for _, p := range prev.Polygon {
		left, right = min(left, p.X), max(right, p.X)
	}
	c.body = right - left
	for _, hole := range prev.Holes {
		c.rings = append(c.rings, facing(hole, -1))
	}
	for i := 0; i < len(strokes); {
		if strokes[i].Kind == Drag {
			if !c.drag(strokes[i].Points) {
				return prev, timeline.NewFault(timeline.Invalid, "fault.outline.drag_far", "n", i+1).At("correct outline").In("strokes")
			}
			i++
			continue
		}
		n := i
		for n < len(strokes) && strokes[n].Kind != Drag {
			n++
		}
		for _, near := range c.clusters(strokes[i:n]) {
			if !c.paint(near) {
				return prev, timeline.NewFault(timeline.Invalid, "fault.outline.not_joined").At("correct outline").In("strokes")
			}
		}
		i = n
	}
	out := Result{WidthPX: prev.WidthPX, HeightPX: prev.HeightPX, Method: prev.Method, EmptySays: prev.EmptySays}
	out.Polygon, out.Holes = assemble(c.rings)
	for i, s := range strokes {
		if s.Kind != PaintIn || slices.ContainsFunc(strokes[i+1:], func(later Stroke) bool { return s.box().meets(later.box()) }) {
			continue // what later strokes may have taken back is not asked for
		}
		for _, p := range s.Points {
			if c.inPicture(p) && !out.has(p) {
				return prev, timeline.NewFault(timeline.Invalid, "fault.outline.apart").At("correct outline").In("strokes")
			}
		}
	}
	return out, nil
}

// facing is a ring walked so that its area has the sign.
func facing(ring []XY, sign float64) []XY {
	ring = slices.Clone(ring)
	if area(ring)*sign < 0 {
		slices.Reverse(ring)
	}
	return ring
}

// assemble tells the dog's outer edge, the largest, and the holes in it from other rings.
func assemble(rings [][]XY) (outer []XY, holes [][]XY) {
	for _, r := range rings {
		if area(r) > 0 && (outer == nil || area(r) > area(outer)) {
			outer = r
		}
	}
	for _, r := range rings {
		if area(r) < 0 && Inside(r[0], outer) {
			holes = append(holes, r)
		}
	}
	slices.SortStableFunc(holes, func(a, b []XY) int { return int(math.Copysign(1, area(a)-area(b))) })
	return outer, holes
}

// Inside reports whether a place lies inside of a closed line: a ray to its right crosses it an odd number of times.
func Inside(p XY, ring []XY) (in bool) {
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		if (a.Y <= p.Y) != (b.Y <= p.Y) && p.X < a.X+(p.Y-a.Y)/(b.Y-a.Y)*(b.X-a.X) {
			in = !in
		}
	}
	return in
}

// has reports whether a place is on the dog.
func (r Result) has(p XY) bool {
	in := Inside(p, r.Polygon)
	for _, hole := range r.Holes {
		in = in && !Inside(p, hole)
	}
	return in
}

// correction is an edge while it is corrected.
type correction struct {
	img   *image.NRGBA
	rings [][]XY // pieces of positive area, holes of negative
	body  float64
	cell  float64 // pixels of the photo to one of the picture of which a window is cut, at least
}

func (c *correction) inPicture(p XY) bool {
	return p.X >= 0 && p.Y >= 0 && p.X <= float64(c.img.Rect.Dx()-1) && p.Y <= float64(c.img.Rect.Dy()-1)
}

// reach is how far from a stroke's line the edge may change, in pixels of the photo.
func (c *correction) reach(s Stroke) float64 { return max(s.RadiusPX, c.cell) + reachBody*c.body }

// clusters are strokes in heaps whose windows do not meet, each in its order.
func (c *correction) clusters(strokes []Stroke) [][]Stroke {
	of, windows := make([]int, len(strokes)), make([]window, len(strokes))
	for i, s := range strokes {
		of[i] = i
		windows[i] = s.box().grown(c.reach(s) - s.RadiusPX + 8*borderCells*c.cell)
	}
	for again := true; again; {
		again = false
		for i := range strokes {
			for j := range i {
				a, b := of[i], of[j]
				if a == b || !windows[a].meets(windows[b]) {
					continue
				}
				windows[b] = windows[b].with(windows[a])
				for k := range of {
					if of[k] == a {
						of[k] = b
					}
				}
				again = true
			}
		}
	}
	var out [][]Stroke
	for first := range strokes {
		var heap []Stroke
		for i, s := range strokes {
			if of[i] == first {
				heap = append(heap, s)
			}
		}
		if heap != nil {
			out = append(out, heap)
		}
	}
	return out
}

// paint cuts anew beside strokes that lie together. ok is false where the new edge does not meet the old one at the
// border of any window that was tried.
func (c *correction) paint(strokes []Stroke) (ok bool) {
	w := strokes[0].box()
	for _, s := range strokes {
		w = w.with(s.box().grown(c.reach(s) - s.RadiusPX))
	}
	all := w.grown(besideBody*c.body + 16*c.cell)
	frame := image.Rect(int(all.x0), int(all.y0), int(all.x1)+1, int(all.y1)+1).Intersect(image.Rect(0, 0, c.img.Rect.Dx(), c.img.Rect.Dy()))
	if frame.Dx() < 3 || frame.Dy() < 3 {
		return true // beside the picture: nothing to do
	}
	part := c.img.SubImage(frame.Add(c.img.Rect.Min)).(*image.NRGBA)
	small := imaging.Resize(part, min(workPX, max(3, int(float64(max(frame.Dx(), frame.Dy()))/c.cell))))
	sx, sy := float64(small.Rect.Dx())/float64(frame.Dx()), float64(small.Rect.Dy())/float64(frame.Dy())
	ox, oy := float64(frame.Min.X), float64(frame.Min.Y)
	there := func(p XY) XY { return XY{X: (p.X-ox+0.5)*sx - 0.5, Y: (p.Y-oy+0.5)*sy - 0.5} }
	back := func(p XY) XY { return XY{X: (p.X+0.5)/sx - 0.5 + ox, Y: (p.Y+0.5)/sy - 0.5 + oy} }
	cell := 1 / min(sx, sy)

	rings := make([][]XY, len(c.rings))
	for i, ring := range c.rings {
		for _, p := range ring {
			rings[i] = append(rings[i], there(p))
		}
	}
	cut := newCutter(small, c.body*sx)
	was := Fill(rings, cut.w, cut.h)
	open, painted := c.strokesOn(cut, strokes, there, cell)
	cut.correct(was, open, painted)
	fresh := allRings(cut.now, cut.w, cut.h)
	for _, ring := range fresh {
		for i, p := range ring {
			ring[i] = back(p)
		}
	}
	// Where an edge runs along the border it crosses it here and there by chance; another border is clear of it.
	for k := range 5 * borderCells {
		// By a fraction, so that no corner lies on the border.
		if out, ok := w.grown((borderCells+float64(k)*0.8137+0.0123)*cell).stitch(c.rings, fresh, 3*cell); ok {
			c.rings = out
			return true
		}
	}
	return false
}

// strokesOn marks what lies within reach of strokes, and what was painted: 1 in, −1 out, the later stroke before the earlier.
// What is painted is a little wider on the picture that is cut, so that its smoothed edge does not touch it.
func (c *correction) strokesOn(cut *cutter, strokes []Stroke, there func(XY) XY, cell float64) (open []bool, painted []int8) {
	open, painted = make([]bool, cut.w*cut.h), make([]int8, cut.w*cut.h)
	exact := make([]bool, cut.w*cut.h)
	for _, s := range strokes {
		as := int8(1)
		if s.Kind == PaintOut {
			as = -1
		}
		line := make([]XY, len(s.Points))
		for i, p := range s.Points {
			line[i] = there(p)
		}
		for p, d := range distancesFrom(line, c.reach(s)/cell, cut.w, cut.h) {
			switch d := float64(d) * cell; {
			case d <= s.RadiusPX:
				open[p], painted[p], exact[p] = true, as, true
			case d <= s.RadiusPX+1.5*cell:
				open[p] = true
				if !exact[p] {
					painted[p] = as
				}
			case d <= c.reach(s):
				open[p] = true
			}
		}
	}
	return open, painted
}

// correct looks for the edge again where it is open, about what was with what was painted.
func (c *cutter) correct(was, open []bool, painted []int8) {
	c.now = slices.Clone(was)
	for p, as := range painted {
		if as != 0 {
			c.now[p] = as > 0
		}
	}
	fromGround, fromDog := squaredDistance(c.now, false, c.w, c.h), squaredDistance(c.now, true, c.w, c.h)
	toOpen := squaredDistance(open, true, c.w, c.h)
	c.far, c.loose = make([]float32, len(was)), make([]float32, len(was))
	loose := float32(max(laterSD*c.body, 1))
	for p, dog := range c.now {
		c.loose[p] = loose
		side := float32(1)
		if !dog {
			side = -1
		}
		switch {
		case open[p] && painted[p] == 0:
			d := fromGround[p]
			if !dog {
				d = fromDog[p]
			}
			c.far[p] = side * min(float32(math.Sqrt(float64(d)))-0.5, lookAt*loose*0.99)
		case toOpen[p] <= 2: // beside what is open: certain
			c.far[p] = side * (lookAt*loose + 1)
		default:
			c.far[p] = side * (lookAt*loose + 3)
		}
	}
	c.search(strokeRounds)
}

// drag replaces the shorter stretch of the nearest ring, between the places nearest to the ends of a line, by the line. ok is
// false where an end is nowhere near an edge.
func (c *correction) drag(line []XY) (ok bool) {
	first, last := line[0], line[len(line)-1]
	nearest := func(ring []XY, p XY) (at int, d float64) {
		d = math.Inf(1)
		for i, q := range ring {
			if l := math.Hypot(q.X-p.X, q.Y-p.Y); l < d {
				at, d = i, l
			}
		}
		return at, d
	}
	which, best := 0, math.Inf(1)
	for i, ring := range c.rings {
		_, a := nearest(ring, first)
		_, b := nearest(ring, last)
		if max(a, b) < best {
			which, best = i, max(a, b)
		}
	}
	if best > besideBody*c.body {
		return false
	}
	ring := c.rings[which]
	n := len(ring)
	from, _ := nearest(ring, first)
	to, _ := nearest(ring, last)
	length := func(from, to int) (sum float64) {
		for i := from; i != to; i = (i + 1) % n {
			sum += math.Hypot(ring[(i+1)%n].X-ring[i].X, ring[(i+1)%n].Y-ring[i].Y)
		}
		return sum
	}
	line = slices.Clone(line)
	if length(to, from) < length(from, to) {
		from, to = to, from
		slices.Reverse(line)
	}
	// The line instead of what lies from one place to the other; the rest of the ring as it is.
	out := line
	for i := (to + 1) % n; i != from; i = (i + 1) % n {
		out = append(out, ring[i])
	}
	if len(out) >= 3 {
		c.rings[which] = facing(out, area(ring))
	}
	return true
}
