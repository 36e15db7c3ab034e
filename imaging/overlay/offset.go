package overlay

import (
	"math"

	"thatch/timeline"
)

// Path is a set of polylines, px.
type Path [][]XY

// borderShare is how far a change of depth at a border of zones is spread to either side, of the stroke's length: coat
// is blended there by the hand, too.
const borderShare = 0.025

// Offset is the outline of a coat that stands depthMM(zone) off the skin, along the outward normals; at borders of
// zones the depth passes over smoothly, and where the line would cross itself the loop is taken out. A depth that is
// NaN, infinite or negative leaves that zone without a line, which then comes in pieces. mmPerPX must be finite and > 0,
// otherwise there is no line at all.
func Offset(c Curve, depthMM func(timeline.Zone) float64, mmPerPX float64) Path {
	if !(mmPerPX > 0) || math.IsInf(mmPerPX, 0) {
		return nil
	}
	known := map[timeline.Zone]float64{}
	for _, z := range c.Zones() {
		known[z] = depthMM(z) / mmPerPX
	}
	var out Path
	for _, st := range c.Strokes {
		if len(st) == 0 {
			continue
		}
		d := make([]float64, len(st))
		for i, s := range st {
			d[i] = known[s.Zone]
			if !(d[i] >= 0) || math.IsInf(d[i], 0) {
				d[i] = math.NaN()
			}
		}
		d = smooth(st, d, borderShare*st[len(st)-1].SPX)
		var run []XY
		end := func() {
			if len(run) > 1 {
				out = append(out, unloop(run))
			}
			run = nil
		}
		for i, s := range st {
			if math.IsNaN(d[i]) {
				end()
				continue
			}
			run = append(run, add(s.At, scale(s.Out, d[i])))
		}
		end()
	}
	return out
}

// smooth is the mean of the known depths within reach px along the stroke, weighted linearly; unknown stay unknown.
func smooth(st []Sample, d []float64, reach float64) []float64 {
	out := make([]float64, len(d))
	for i := range d {
		if math.IsNaN(d[i]) {
			out[i] = d[i]
			continue
		}
		sum, sw := 0.0, 0.0
		mean := func(j int) bool {
			w := 1 - math.Abs(st[j].SPX-st[i].SPX)/math.Max(reach, 1e-9)
			// A gap is a wall: depth does not pass over it.
			if w <= 0 && j != i || math.IsNaN(d[j]) {
				return false
			}
			sum, sw = sum+w*d[j], sw+w
			return true
		}
		for j := i; j >= 0 && mean(j); j-- {
		}
		for j := i + 1; j < len(d) && mean(j); j++ {
		}
		out[i] = sum / sw
	}
	return out
}

// unloop takes out of an open polyline what lies between a crossing with itself, first crossing first.
func unloop(p []XY) []XY {
	out := []XY{p[0]}
	at := p[0]
	for i := 0; i+1 < len(p); {
		next := i + 1
		to := p[next]
		// The furthest later segment that this one crosses ends the loop.
		for j := len(p) - 2; j > i+1; j-- {
			if x, ok := crossing(at, p[i+1], p[j], p[j+1]); ok {
				next, to = j, x
				break
			}
		}
		out = append(out, to)
		at = to
		if next == i+1 {
			i = next
			continue
		}
		i = next
	}
	return out
}

// crossing is where the segments ab and cd meet, ends of ab excluded so that a cut is not found again.
func crossing(a, b, c, d XY) (XY, bool) {
	r, s := sub(b, a), sub(d, c)
	den := r.X*s.Y - r.Y*s.X
	if den == 0 {
		return XY{}, false
	}
	ac := sub(c, a)
	t := (ac.X*s.Y - ac.Y*s.X) / den
	u := (ac.X*r.Y - ac.Y*r.X) / den
	if t <= 1e-9 || t >= 1 || u < 0 || u > 1 {
		return XY{}, false
	}
	return lerp(a, b, t), true
}
