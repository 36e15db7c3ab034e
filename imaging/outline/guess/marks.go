package guess

import (
	"math"

	"thatch/imaging/outline"
	"thatch/timeline"
)

const (
	leastMarks = 5     // withers, tail set and three more
	drawnPX    = 320.0 // of a body in the picture on which the parts of the template are joined
	strangerSD = 0.010 // in bodies: how much farther the edge of a dog may lie that is none of those drawn
	doubtful   = 0.75  // of what the covariance says of places far from all points
	trustedPX  = 1e6   // a point farther out is no place of a photo
)

// FromLandmarks is the template of a standing dog, fitted to the points of a photo of widthPX × heightPX. It wants withers,
// tail set and at least three others; ok is false with fewer, or where they are no points of a dog seen from the side. Which
// way the dog faces is told by withers and tail set; facing only counts where one lies above the other.
func FromLandmarks(lm timeline.Landmarks, facing timeline.Side, widthPX, heightPX int) (g outline.Guess, ok bool) {
	f, ok := fitMarks(lm, facing)
	if !ok || widthPX < 3 || heightPX < 3 {
		return g, false
	}
	g.Polygon, g.CornersSD = f.polygon()
	g.Method, g.CornerSD = outline.FromLandmarks, 0.03
	inside := false
	for _, p := range g.Polygon {
		inside = inside || p.X >= 0 && p.Y >= 0 && p.X < float64(widthPX) && p.Y < float64(heightPX)
	}
	return g, inside && len(g.Polygon) >= 3
}

func fitMarks(lm timeline.Landmarks, facing timeline.Side) (*fitted, bool) {
	known := timeline.Landmarks{}
	for _, m := range drawn.marks {
		p, ok := lm[m.point]
		if ok && math.Abs(p.X) < trustedPX && math.Abs(p.Y) < trustedPX {
			known[m.point] = p
		}
	}
	withers, a := known[timeline.WithersPt]
	tail, b := known[timeline.TailSet]
	if !a || !b || len(known) < leastMarks || math.Hypot(withers.X-tail.X, withers.Y-tail.Y) < 2 {
		return nil, false
	}
	mirrored := withers.X > tail.X
	if math.Abs(withers.X-tail.X) < math.Abs(withers.Y-tail.Y)/2 {
		mirrored = facing == timeline.SideRight
	}
	f, ok := drawn.fit(known, mirrored)
	if !ok {
		return nil, false
	}
	// Upright, and as large as withers and tail set say, or something else was tapped.
	size := math.Hypot(withers.X-tail.X, withers.Y-tail.Y) / f.pose.scale() / drawn.span(timeline.WithersPt, timeline.TailSet)
	return f, f.pose.a > 0 && math.Abs(f.pose.b) < f.pose.a && size > 0.5 && size < 2
}

func (t *template) span(a, b timeline.Point) float64 {
	p, q := t.mark(a), t.mark(b)
	return math.Hypot(p.x-q.x, p.y-q.y)
}

func (t *template) mark(p timeline.Point) mark {
	for _, m := range t.marks {
		if m.point == p {
			return m
		}
	}
	return mark{}
}

// polygon joins the fitted parts into one closed polygon in the photo, with how far each corner may be off as a share of its
// width, which is the length of the body that package outline counts in.
func (f *fitted) polygon() (polygon []XY, sd []float64) {
	type placed struct {
		XY
		sd float64
	}
	var parts [][]placed
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, part := range f.t.parts {
		var out []placed
		for _, c := range part {
			p, far := f.place(c.x, c.y)
			out = append(out, placed{p, math.Hypot(math.Hypot(c.sd, strangerSD), doubtful*far)})
			x0, y0, x1, y1 = min(x0, p.X), min(y0, p.Y), max(x1, p.X), max(y1, p.Y)
		}
		parts = append(parts, out)
	}
	perPX := f.pose.scale() / drawnPX // pixels of the photo to one of the drawing
	w, h := int((x1-x0)/perPX)+5, int((y1-y0)/perPX)+5
	if !(w > 0 && h > 0 && w < 16*drawnPX && h < 16*drawnPX) {
		return nil, nil
	}
	m := newMask(w, h)
	for _, part := range parts {
		ring := make([]XY, len(part))
		for i, p := range part {
			ring[i] = XY{X: (p.X-x0)/perPX + 2, Y: (p.Y-y0)/perPX + 2}
		}
		m.paint(ring)
	}
	ring := simpler(m.ring(), 1)
	left, right := math.Inf(1), math.Inf(-1)
	for i, p := range ring {
		ring[i] = XY{X: (p.X-2)*perPX + x0, Y: (p.Y-2)*perPX + y0}
		left, right = min(left, ring[i].X), max(right, ring[i].X)
	}
	for _, p := range ring {
		best, of := math.Inf(1), 0.0
		for _, part := range parts {
			for _, c := range part {
				if d := math.Hypot(c.X-p.X, c.Y-p.Y); d < best {
					best, of = d, c.sd
				}
			}
		}
		sd = append(sd, min(of*f.pose.scale()/(right-left), 0.1))
	}
	return ring, sd
}
