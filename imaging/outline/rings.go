package outline

import (
	"math"
	"slices"
)

// rings are the edges of a mask that holds together, between pixels and less jagged than these: the line at which the
// mask, softened by a pixel, is one half (marching squares; Lorensen, Cline 1987 in two dimensions). The outer edge comes
// first, then the holes, the largest before.
func rings(mask []bool, w, h int) [][]XY {
	out := allRings(mask, w, h)
	if len(out) > 1 {
		// Only holes lie inside; a piece that softening cut off is no part of it.
		sign := area(out[0])
		holes := out[:1]
		for _, r := range out[1:] {
			if area(r)*sign < 0 {
				holes = append(holes, r)
			}
		}
		out = holes
	}
	return out
}

// allRings are the edges of a mask of any number of pieces: those of pieces have positive area, those of holes negative.
func allRings(mask []bool, w, h int) [][]XY {
	// A border of background, so that every ring closes.
	bw, bh := w+4, h+4
	soft := make([]float32, bw*bh)
	for y := range h {
		for x := range w {
			if mask[y*w+x] {
				soft[(y+2)*bw+x+2] = 1
			}
		}
	}
	soft = soften(soft, bw, bh)
	in := func(x, y int) bool { return soft[y*bw+x] > 0.5 }
	// Each square of four pixels has its crossings on its top (0), right (1), bottom (2), left (3) side; walking keeps the
	// dog on the right hand.
	type at struct{ x, y, side int }
	seen := map[at]bool{}
	cross := func(p at) XY {
		x0, y0, x1, y1 := p.x, p.y, p.x+1, p.y
		switch p.side {
		case 1:
			x0, x1, y1 = p.x+1, p.x+1, p.y+1
		case 2:
			y0, y1 = p.y+1, p.y+1
		case 3:
			x1, y1 = p.x, p.y+1
		}
		a, b := float64(soft[y0*bw+x0]), float64(soft[y1*bw+x1])
		t := (0.5 - a) / (b - a)
		return XY{X: float64(x0) + t*float64(x1-x0) - 2, Y: float64(y0) + t*float64(y1-y0) - 2}
	}
	var out [][]XY
	for y := range bh - 1 {
		for x := range bw - 1 {
			start := at{x, y, 3}
			if in(x, y) == in(x, y+1) || !in(x, y+1) || seen[start] {
				continue // begin where the edge enters a square from the left with the dog below
			}
			var ring []XY
			for p := start; !seen[p]; {
				seen[p] = true
				ring = append(ring, cross(p))
				// Leave the square by the side, going on with the dog on the same hand.
				corners := [4]bool{in(p.x, p.y), in(p.x+1, p.y), in(p.x+1, p.y+1), in(p.x, p.y+1)}
				side := p.side
				for k := 1; k < 4; k++ {
					s := (p.side + 4 - k) % 4
					if corners[s] != corners[(s+1)%4] {
						side = s
						break
					}
				}
				switch side {
				case 0:
					p = at{p.x, p.y - 1, 2}
				case 1:
					p = at{p.x + 1, p.y, 3}
				case 2:
					p = at{p.x, p.y + 1, 0}
				default:
					p = at{p.x - 1, p.y, 1}
				}
			}
			if len(ring) >= 8 {
				out = append(out, ring)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b []XY) int {
		return int(math.Copysign(1, math.Abs(area(b))-math.Abs(area(a))))
	})
	return out
}

// area is positive for a ring walked clockwise as the picture is seen.
func area(ring []XY) float64 {
	sum := 0.0
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		sum += a.X*b.Y - b.X*a.Y
	}
	return sum / 2
}

// soften smooths by the binomial kernel 1 2 1, a standard deviation of 0.7 pixels: steps go, toes stay.
func soften(v []float32, w, h int) []float32 {
	kernel := [3]float32{0.25, 0.5, 0.25}
	tmp, out := make([]float32, len(v)), make([]float32, len(v))
	for y := range h {
		for x := range w {
			var sum float32
			for k, f := range kernel {
				if xx := x + k - 1; xx >= 0 && xx < w {
					sum += f * v[y*w+xx]
				}
			}
			tmp[y*w+x] = sum
		}
	}
	for y := range h {
		for x := range w {
			var sum float32
			for k, f := range kernel {
				if yy := y + k - 1; yy >= 0 && yy < h {
					sum += f * tmp[yy*w+x]
				}
			}
			out[y*w+x] = sum
		}
	}
	return out
}
