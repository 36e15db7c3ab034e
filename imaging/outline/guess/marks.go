package guess

import (
	"math"

	"thatch/imaging/outline"
	"thatch/timeline"
)

const (
	leastMarks = 5
	drawnPX    = 320.0 // of a body in the picture on which the parts of the template are joined
	strangerSD = 0.015 // in bodies: how much farther the edge of a dog may lie that is none of those drawn
	legFrom    = 0.2   // in the template, where legs begin
	legSD      = 0.02  // in bodies, beside that: of legs, of which the far ones stand anywhere
	doubtful   = 0.75  // of what the covariance says of places far from all points
	trustedPX  = 1e6   // a point farther out is no place of a photo
	openMisfit = 2.0   // by less, the points do not tell which way the dog faces
	mostMisfit = 9.0   // of a point: no dog is as unlike the template
)

// FromLandmarks is the template of a standing dog, fitted to the points of a photo of widthPX × heightPX. It wants at least
// five points, tail set or withers among them and as far apart as half a body; withers, tail set, a paw of each pair and the
// nose are the five that say most. ok is false with fewer, or where they are no points of a dog that stands upright and is
// seen from the side. Which way the dog faces is told by the points; facing counts where they leave it open.
func FromLandmarks(lm timeline.Landmarks, facing timeline.Side, widthPX, heightPX int) (g outline.Guess, ok bool) {
	f, ok := fitMarks(lm, facing)
	if !ok || widthPX < 3 || heightPX < 3 {
		return g, false
	}
	g.Polygon, g.CornersSD = drawn.polygon(f.pose.scale(), f.place)
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
	_, a := known[timeline.WithersPt]
	_, b := known[timeline.TailSet]
	if !a && !b || len(known) < leastMarks {
		return nil, false
	}
	var best *fitted
	for _, mirrored := range []bool{facing == timeline.SideRight, facing != timeline.SideRight} {
		f, ok := drawn.fit(known, mirrored)
		// Upright, or something else was tapped.
		if ok && f.pose.a > 0 && math.Abs(f.pose.b) < f.pose.a && (best == nil || f.misfit < best.misfit-openMisfit) {
			best = f
		}
	}
	if best == nil || best.misfit > mostMisfit*float64(len(known)) || best.pose.scale() < 4 {
		return nil, false
	}
	apart := 0.0
	for _, p := range best.at {
		for _, q := range best.at {
			apart = max(apart, math.Hypot(p[0]-q[0], p[1]-q[1]))
		}
	}
	return best, apart > 0.5
}

func (t *template) mark(p timeline.Point) mark {
	for _, m := range t.marks {
		if m.point == p {
			return m
		}
	}
	return mark{}
}

// polygon joins the parts, placed in a photo at a scale, into one closed polygon, with how far each corner may be off as a share of its
// width, which is the length of the body that package outline counts in.
func (t *template) polygon(scale float64, place func(x, y float64) (XY, float64)) (polygon []XY, sd []float64) {
	type placed struct {
		XY
		sd float64
	}
	var parts [][]placed
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, part := range t.parts {
		var out []placed
		for _, c := range part {
			p, far := place(c.x, c.y)
			out = append(out, placed{p, math.Hypot(math.Hypot(c.sd, strangerSD+legSD*min(max((c.y-legFrom)/0.15, 0), 1)), doubtful*far)})
			x0, y0, x1, y1 = min(x0, p.X), min(y0, p.Y), max(x1, p.X), max(y1, p.Y)
		}
		parts = append(parts, out)
	}
	perPX := scale / drawnPX // pixels of the photo to one of the drawing
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
		sd = append(sd, min(of*scale/(right-left), 0.1))
	}
	return ring, sd
}
