package outline

import (
	"math"
	"slices"

	"thatch/timeline"
)

// Topline is the shape of the back: the upper edge from withers to tail set beside a straight line through it.
type Topline struct {
	From, To            XY      // of the edge above withers and tail set, px
	MaxLowPX, MaxHighPX float64 // how far the edge lies below and above the line at most, 0 or more
}

// minToplinePX is the least run of edge that a shape is told of.
const minToplinePX = 10

// Topline is the topline between two points of the dog, which stands upright in the photo; ok is false where a point is
// missing or the edge above them is. The line is RobustLine.
func (r Result) Topline(marks timeline.Landmarks) (t Topline, ok bool) {
	withers, hasWithers := marks[timeline.WithersPt]
	tail, hasTail := marks[timeline.TailSet]
	if !hasWithers || !hasTail || math.Abs(withers.X-tail.X) < minToplinePX {
		return t, false
	}
	step := math.Copysign(max(1, math.Abs(tail.X-withers.X)/200), tail.X-withers.X)
	var edge []XY
	for x := withers.X; math.Abs(x-withers.X) <= math.Abs(tail.X-withers.X); x += step {
		if y, ok := r.top(x); ok {
			edge = append(edge, XY{X: x, Y: y})
		}
	}
	if len(edge) < minToplinePX {
		return t, false
	}
	xs, ys := make([]float64, len(edge)), make([]float64, len(edge))
	for i, p := range edge {
		xs[i], ys[i] = p.X, p.Y
	}
	slope, height := RobustLine(xs, ys)
	across := math.Hypot(1, slope)
	t.From, t.To = edge[0], edge[len(edge)-1]
	for _, p := range edge {
		off := (p.Y - slope*p.X - height) / across // downwards
		t.MaxLowPX, t.MaxHighPX = max(t.MaxLowPX, off), max(t.MaxHighPX, -off)
	}
	return t, true
}

// top is the height of the outer edge's highest crossing of a column.
func (r Result) top(x float64) (y float64, ok bool) {
	y = math.Inf(1)
	for i, a := range r.Polygon {
		b := r.Polygon[(i+1)%len(r.Polygon)]
		if (a.X <= x) != (b.X <= x) {
			y = min(y, a.Y+(x-a.X)/(b.X-a.X)*(b.Y-a.Y))
		}
	}
	return y, !math.IsInf(y, 1)
}

// RobustLine is the line y = slope·x + height of Theil and Sen (Sen 1968, J. Am. Stat. Assoc. 63:1379–1389): the median slope
// between pairs and the median height, which a lock of hair or a hand does not move. Two places or more, no two above each
// other.
func RobustLine(xs, ys []float64) (slope, height float64) {
	slopes := make([]float64, 0, len(xs)*(len(xs)-1)/2)
	for i := range xs {
		for j := i + 1; j < len(xs); j++ {
			slopes = append(slopes, (ys[j]-ys[i])/(xs[j]-xs[i]))
		}
	}
	slope = median(slopes)
	heights := make([]float64, len(xs))
	for i := range xs {
		heights[i] = ys[i] - slope*xs[i]
	}
	return slope, median(heights)
}

func median(v []float64) float64 {
	slices.Sort(v)
	if n := len(v); n%2 == 0 {
		return (v[n/2-1] + v[n/2]) / 2
	}
	return v[len(v)/2]
}
