package outline

import (
	"math"

	"thatch/timeline"
)

// Ways to correct an edge.
const (
	PaintIn  = "in"   // this is dog
	PaintOut = "out"  // this is background
	Drag     = "drag" // here is the edge
)

// Stroke is one correction by hand, in pixels of the photo.
type Stroke struct {
	Kind string `json:"kind"`
	// Points are the way of the finger; one point is a dot. A drag needs two or more: it begins and ends beside the edge, and
	// replaces the shorter stretch of it between these places.
	Points []XY `json:"points"`
	// RadiusPX is half the width of what is painted; a drag has none.
	RadiusPX float64 `json:"radius_px,omitempty"`
}

// box is what a stroke covers.
func (s Stroke) box() window {
	w := window{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, p := range s.Points {
		w = w.with(window{p.X, p.Y, p.X, p.Y}.grown(s.RadiusPX))
	}
	return w
}

// Limits of one correction: a hand makes fewer.
const (
	maxStrokes      = 256
	maxStrokePoints = 8192 // of all of them
)

// check reports what of the strokes cannot be.
func check(strokes []Stroke, widthPX, heightPX int) error {
	bad := func(key string, i int, args ...any) error {
		return timeline.NewFault(timeline.Invalid, key, append([]any{"n", i + 1}, args...)...).At("correct outline").In("strokes")
	}
	if len(strokes) > maxStrokes {
		return timeline.NewFault(timeline.Invalid, "fault.outline.many_strokes", "max", maxStrokes).At("correct outline").In("strokes")
	}
	all := 0
	for i, s := range strokes {
		if all += len(s.Points); all > maxStrokePoints {
			return timeline.NewFault(timeline.Invalid, "fault.outline.many_strokes", "max", i).At("correct outline").In("strokes")
		}
		least := 1
		switch s.Kind {
		case PaintIn, PaintOut:
			if !(s.RadiusPX > 0) || s.RadiusPX > float64(max(widthPX, heightPX))/4 {
				return bad("fault.outline.stroke_radius", i)
			}
		case Drag:
			least = 2
		default:
			return bad("fault.outline.stroke_kind", i)
		}
		if len(s.Points) < least || len(s.Points) > maxPoints {
			return bad("fault.outline.stroke_points", i, "max", maxPoints)
		}
		for _, p := range s.Points {
			if math.IsNaN(p.X+p.Y) || math.Abs(p.X) > 1e6 || math.Abs(p.Y) > 1e6 {
				return bad("fault.outline.stroke_points", i, "max", maxPoints)
			}
		}
	}
	return nil
}

// distancesFrom is the distance of each pixel's centre from a line of one point or more, as far as reach.
func distancesFrom(line []XY, reach float64, w, h int) []float32 {
	out := make([]float32, w*h)
	for i := range out {
		out[i] = math.MaxFloat32
	}
	for i, a := range line {
		b := line[min(i+1, len(line)-1)]
		if i > 0 && i == len(line)-1 {
			break // the last point ends the last stretch
		}
		beside(a, b, reach, w, h, func(p int, d2, _ float64) { out[p] = min(out[p], float32(d2)) })
	}
	for i, d := range out {
		if d < math.MaxFloat32 {
			out[i] = float32(math.Sqrt(float64(d)))
		}
	}
	return out
}
