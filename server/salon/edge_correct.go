package salon

import (
	"context"
	"image"
	"math"

	"thatch/imaging/outline"
	"thatch/timeline"
)

// EdgeStroke is one movement of a finger that corrects an edge.
type EdgeStroke struct {
	Do       string        `json:"do"`        // "in", "out": this is dog, this is not; "drag": the edge goes from the first place to the last
	Path     []timeline.XY `json:"path"`      // px of the upright original
	RadiusPX float64       `json:"radius_px"` // of the brush; of a drag, how far along the edge goes with it
}

// What a stroke does.
const (
	StrokeIn   = "in"
	StrokeOut  = "out"
	StrokeDrag = "drag"
)

// CorrectEdge takes up strokes into an edge that was found; it is found anew only near them. Zones whose edge moves are to be
// looked at again.
func (s *Salon) CorrectEdge(ctx context.Context, photo timeline.ID, rev timeline.Rev, strokes []EdgeStroke) (timeline.Edge, error) {
	return s.reworkEdge(ctx, photo, rev, func(p timeline.Photo, was timeline.Edge, view *image.NRGBA) (outline.Result, error) {
		var none outline.Result
		if was.Rev == 0 {
			return none, invalid("strokes", "fault.edge.no_edge")
		}
		if len(strokes) == 0 || len(strokes) > maxStrokes {
			return none, invalid("strokes", "fault.edge.strokes")
		}
		prev := resultOf(was, p, view)
		w := view.Bounds().Dx()
		k := float64(w) / float64(p.WidthPX)
		var in []outline.Stroke
		for _, st := range strokes {
			if len(st.Path) == 0 || !(st.RadiusPX > 0) || st.RadiusPX > float64(max(p.WidthPX, p.HeightPX))/4 {
				return none, invalid("strokes", "fault.edge.strokes")
			}
			if err := placesIn("strokes", p, st.Path, maxStrokePoints); err != nil {
				return none, err
			}
			path, radius := toWidth(st.Path, p.WidthPX, w), k*st.RadiusPX
			switch {
			case st.Do == StrokeIn || st.Do == StrokeOut:
				in = append(in, outline.Stroke{Kind: st.Do, Points: path, RadiusPX: radius})
			case st.Do == StrokeDrag && len(path) == 2:
				in = append(in, outline.Stroke{Kind: outline.Drag, Points: pulled(prev.Polygon, path[0], path[1], radius)})
			default:
				return none, invalid("strokes", "fault.edge.strokes")
			}
			// One after the other: what a finger pulls is the edge as the strokes before have left it.
			next, err := outline.Correct(view, prev, in[len(in)-1:])
			if err != nil {
				return none, err
			}
			if len(next.Polygon) < 8 {
				return none, invalid("strokes", "fault.edge.all_out")
			}
			prev = mended(view, prev, next, in[len(in)-1])
		}
		return prev, nil
	})
}

// pulled is the stretch of an edge within reach of a place of it, after that place was pulled from one place to another: what
// lies near goes with it, less and less as far as reach.
func pulled(ring []timeline.XY, from, to timeline.XY, reach float64) []timeline.XY {
	n, at, best := len(ring), 0, math.Inf(1)
	for i, q := range ring {
		if d := math.Hypot(q.X-from.X, q.Y-from.Y); d < best {
			at, best = i, d
		}
	}
	near := func(i int) float64 {
		q := ring[(i%n+n)%n]
		return math.Hypot(q.X-ring[at].X, q.Y-ring[at].Y) / reach
	}
	first, last := at, at
	for at-first < n/3 && near(first) < 1 {
		first--
	}
	for last-at < n/3 && near(last) < 1 {
		last++
	}
	line := make([]timeline.XY, 0, last-first+1)
	for i := first; i <= last; i++ {
		q := ring[(i%n+n)%n]
		if d := near(i); d < 1 {
			k := (1 - d*d) * (1 - d*d)
			q.X, q.Y = q.X+k*(to.X-from.X), q.Y+k*(to.Y-from.Y)
		}
		line = append(line, q)
	}
	return line
}

// resultOf is a kept edge in the pixels of the view.
func resultOf(e timeline.Edge, p timeline.Photo, view *image.NRGBA) outline.Result {
	w, h := view.Bounds().Dx(), view.Bounds().Dy()
	r := outline.Result{WidthPX: w, HeightPX: h, Polygon: toWidth(e.Polygon, p.WidthPX, w), Method: e.Method}
	for _, hole := range e.Holes {
		r.Holes = append(r.Holes, toWidth(hole, p.WidthPX, w))
	}
	return r
}

// mended is a corrected edge that is exactly as it was where it has not been corrected, so that what was found right there
// stays so; as it was drawn where a finger has been; and fine where it was found anew beside that.
func mended(view *image.NRGBA, prev, next outline.Result, stroke outline.Stroke) outline.Result {
	cell := math.Max(1, float64(max(next.WidthPX, next.HeightPX))/512) // of the picture that edges are first cut in
	fine := outline.Fine(view, next)
	was, coarse := newRingIndex(prev.Polygon, unchangedPX), newRingIndex(next.Polygon, 5*cell)
	drawn := newRingIndex(stroke.Points, stroke.RadiusPX+2*cell)
	out := next
	out.Polygon = make([]timeline.XY, 0, len(fine.Polygon))
	for _, q := range fine.Polygon {
		at, _, ok := coarse.nearest(q)
		if !ok {
			at = q
		}
		here, off, same := was.nearest(at)
		_, _, byHand := drawn.nearest(at)
		switch {
		case same && off < 0.05:
			q = here
		case byHand:
			q = at
		default:
			if back, _, same := was.nearest(q); same {
				q = back
			}
		}
		out.Polygon = append(out.Polygon, q)
	}
	return out
}
