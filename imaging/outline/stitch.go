package outline

import (
	"math"
	"slices"
)

// window is a part of the plane, in pixels of the photo.
type window struct{ x0, y0, x1, y1 float64 }

func (w window) has(p XY) bool { return p.X > w.x0 && p.X < w.x1 && p.Y > w.y0 && p.Y < w.y1 }

func (w window) grown(by float64) window { return window{w.x0 - by, w.y0 - by, w.x1 + by, w.y1 + by} }

func (w window) meets(o window) bool {
	return w.x0 < o.x1 && o.x0 < w.x1 && w.y0 < o.y1 && o.y0 < w.y1
}

func (w window) with(o window) window {
	return window{min(w.x0, o.x0), min(w.y0, o.y0), max(w.x1, o.x1), max(w.y1, o.y1)}
}

// around is how far along the border, clockwise from the top left corner, a place of it lies, and how long the border is.
func (w window) around(p XY) (at, all float64) {
	wide, high := w.x1-w.x0, w.y1-w.y0
	all = 2 * (wide + high)
	sides := [4]float64{math.Abs(p.Y - w.y0), math.Abs(p.X - w.x1), math.Abs(p.Y - w.y1), math.Abs(p.X - w.x0)}
	nearest := 0
	for i, d := range sides {
		if d < sides[nearest] {
			nearest = i
		}
	}
	switch nearest {
	case 0:
		at = p.X - w.x0
	case 1:
		at = wide + p.Y - w.y0
	case 2:
		at = wide + high + w.x1 - p.X
	default:
		at = 2*wide + high + w.y1 - p.Y
	}
	return at, all
}

// parts takes of closed rings what lies inside the window, or outside: rings that do so whole, and arcs that begin and end
// on the border.
func (w window) parts(rings [][]XY, inside bool) (whole, arcs [][]XY) {
	for _, ring := range rings {
		// The ring with a place added wherever it crosses the border.
		var path []XY
		var border []bool
		for i, a := range ring {
			b := ring[(i+1)%len(ring)]
			path, border = append(path, a), append(border, false)
			var ts []float64
			add := func(from, to, at float64) {
				if t := (at - from) / (to - from); (from < at) != (to < at) && t > 0 && t < 1 {
					ts = append(ts, t)
				}
			}
			add(a.X, b.X, w.x0)
			add(a.X, b.X, w.x1)
			add(a.Y, b.Y, w.y0)
			add(a.Y, b.Y, w.y1)
			slices.Sort(ts)
			for _, t := range ts {
				const hair = 1e-9
				p := XY{X: a.X + t*(b.X-a.X), Y: a.Y + t*(b.Y-a.Y)}
				if w.grown(hair).has(p) { // a crossing of the border itself, not of the line that a side lies on
					path, border = append(path, p), append(border, true)
				}
			}
		}
		start := slices.Index(border, true)
		if start < 0 {
			if w.has(ring[0]) == inside {
				whole = append(whole, ring)
			}
			continue
		}
		n := len(path)
		for k := 0; k < n; {
			// From one crossing to the next; the middle of the first step tells the side.
			arc := []XY{path[(start+k)%n]}
			for k++; ; k++ {
				arc = append(arc, path[(start+k)%n])
				if border[(start+k)%n] {
					break
				}
			}
			if w.has(XY{X: (arc[0].X + arc[1].X) / 2, Y: (arc[0].Y + arc[1].Y) / 2}) == inside {
				arcs = append(arcs, arc)
			}
		}
	}
	return whole, arcs
}

// stitch joins what of the old rings lies outside the window, which stays as it is, with what of the new ones lies inside.
// Both walk with the dog on the same hand and cross the border at nearly the same places: within slack. ok is false where
// they do not.
func (w window) stitch(old, fresh [][]XY, slack float64) (rings [][]XY, ok bool) {
	rings, outside := w.parts(old, false)
	whole, inside := w.parts(fresh, true)
	rings = append(rings[:len(rings):len(rings)], whole...)
	if len(outside) != len(inside) {
		return nil, false
	}
	first := func(arc []XY) XY { return arc[0] }
	last := func(arc []XY) XY { return arc[len(arc)-1] }
	// pair finds for each arc's end the beginning, of the other kind, that lies nearest along the border.
	pair := func(from, to [][]XY) ([]int, bool) {
		out, taken := make([]int, len(from)), make([]bool, len(to))
		for i, arc := range from {
			end, all := w.around(last(arc))
			best, at := math.Inf(1), -1
			for j, other := range to {
				begin, _ := w.around(first(other))
				d := math.Abs(begin - end)
				if d = min(d, all-d); d < best {
					best, at = d, j
				}
			}
			if best > slack || taken[at] {
				return nil, false
			}
			out[i], taken[at] = at, true
		}
		return out, true
	}
	into, ok1 := pair(outside, inside)
	outOf, ok2 := pair(inside, outside)
	if !ok1 || !ok2 {
		return nil, false
	}
	done := make([]bool, len(outside))
	for i := range outside {
		var ring []XY
		for j := i; !done[j]; {
			done[j] = true
			// The crossings themselves are no corners of the old edge: the new arc's are enough.
			ring = append(ring, outside[j][1:len(outside[j])-1]...)
			ring = append(ring, inside[into[j]]...)
			j = outOf[into[j]]
		}
		if len(ring) >= 3 {
			rings = append(rings, ring)
		}
	}
	return rings, true
}
