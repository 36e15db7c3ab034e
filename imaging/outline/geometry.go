package outline

import (
	"math"
	"slices"
)

// Fill marks the pixels whose centres lie inside closed polygons (even-odd), by rows.
func Fill(polygons [][]XY, w, h int) []bool {
	out := make([]bool, w*h)
	var cross []float64
	for y := range h {
		cross = cross[:0]
		for _, polygon := range polygons {
			for i, a := range polygon {
				b := polygon[(i+1)%len(polygon)]
				if (a.Y <= float64(y)) != (b.Y <= float64(y)) {
					cross = append(cross, a.X+(float64(y)-a.Y)/(b.Y-a.Y)*(b.X-a.X))
				}
			}
		}
		slices.Sort(cross)
		for i := 0; i+1 < len(cross); i += 2 {
			for x := max(0, int(math.Ceil(cross[i]))); x <= min(w-1, int(math.Floor(cross[i+1]))); x++ {
				out[y*w+x] = true
			}
		}
	}
	return out
}

// largest keeps of a mask the largest piece that holds together over edges.
func largest(mask []bool, w, h int) []bool {
	label := make([]int32, len(mask))
	best, bestN, next := int32(0), 0, int32(0)
	var stack []int
	for i := range mask {
		if !mask[i] || label[i] != 0 {
			continue
		}
		next++
		n := 0
		label[i] = next
		stack = append(stack[:0], i)
		for len(stack) > 0 {
			p := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			n++
			x, y := p%w, p/w
			for _, q := range [4]int{p - 1, p + 1, p - w, p + w} {
				if q == p-1 && x == 0 || q == p+1 && x == w-1 || q == p-w && y == 0 || q == p+w && y == h-1 {
					continue
				}
				if mask[q] && label[q] == 0 {
					label[q] = next
					stack = append(stack, q)
				}
			}
		}
		if n > bestN {
			best, bestN = next, n
		}
	}
	out := make([]bool, len(mask))
	for i := range out {
		out[i] = best != 0 && label[i] == best
	}
	return out
}

// nearestEdge is how far each pixel is from the polygon, positive where rough is set, and how far from there the true edge
// may well be: corner(i) px at corner i, between two evenly from one to the other, and there more by how far a bent edge
// leaves the chord, sag·(way from the one corner)·(way to the other). What is far from the polygon is not worked out more closely than that
// it is far.
func nearestEdge(polygon []XY, rough []bool, w, h int, corner func(i int) float64, sag float64) (d, loose []float32) {
	d, loose = make([]float32, w*h), make([]float32, w*h)
	best := make([]float32, w*h)
	for i := range best {
		best[i] = math.MaxFloat32
	}
	longest, loosest := 0.0, 0.0
	for i, a := range polygon {
		b := polygon[(i+1)%len(polygon)]
		longest, loosest = max(longest, math.Hypot(b.X-a.X, b.Y-a.Y)), max(loosest, corner(i))
	}
	for i := range loose {
		loose[i] = float32(loosest)
	}
	reach := lookAt * math.Hypot(loosest, sag*longest*longest/4)
	for i, a := range polygon {
		b := polygon[(i+1)%len(polygon)]
		here, there := corner(i), corner((i+1)%len(polygon))
		ex, ey := b.X-a.X, b.Y-a.Y
		l2 := ex*ex + ey*ey
		beside(a, b, reach, w, h, func(p int, d2, t float64) {
			if q := float32(d2); q < best[p] {
				best[p], loose[p] = q, float32(math.Hypot(here+t*(there-here), sag*t*(1-t)*l2))
			}
		})
	}
	for p := range d {
		d[p] = float32(math.Sqrt(float64(best[p])))
		if !rough[p] {
			d[p] = -d[p]
		}
	}
	return d, loose
}

// beside visits the pixels within reach of the box round a stretch from a to b: p is the pixel, d2 the squared distance of its
// centre from the stretch, t where on it the nearest place lies, 0 at a and 1 at b.
func beside(a, b XY, reach float64, w, h int, visit func(p int, d2, t float64)) {
	ex, ey := b.X-a.X, b.Y-a.Y
	l2 := ex*ex + ey*ey
	for y := max(0, int(min(a.Y, b.Y)-reach)); y <= min(h-1, int(max(a.Y, b.Y)+reach)+1); y++ {
		for x := max(0, int(min(a.X, b.X)-reach)); x <= min(w-1, int(max(a.X, b.X)+reach)+1); x++ {
			px, py := float64(x)-a.X, float64(y)-a.Y
			t := 0.0
			if l2 > 0 {
				t = min(max((px*ex+py*ey)/l2, 0), 1)
			}
			dx, dy := px-t*ex, py-t*ey
			visit(y*w+x, dx*dx+dy*dy, t)
		}
	}
}
