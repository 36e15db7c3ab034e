package drawing

import "math"

// canvas answers which zone is seen where.
type canvas struct {
	bodies map[string][]XY
	areas  [][]XY
	boxes  [][4]float64
}

func newCanvas() *canvas {
	c := &canvas{bodies: map[string][]XY{}}
	for _, b := range outlines {
		c.bodies[b.name] = spline(b.points, true, 6)
	}
	for _, z := range figure {
		pts := spline(z.points, true, 6)
		box := [4]float64{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
		for _, p := range pts {
			box = [4]float64{min(box[0], p.X), min(box[1], p.Y), max(box[2], p.X), max(box[3], p.Y)}
		}
		c.areas, c.boxes = append(c.areas, pts), append(c.boxes, box)
	}
	return c
}

// top is the index in figure of what is seen at p, or -1.
func (c *canvas) top(p XY) int {
	for i := len(figure) - 1; i >= 0; i-- {
		b := c.boxes[i]
		if p.X < b[0] || p.Y < b[1] || p.X > b[2] || p.Y > b[3] {
			continue
		}
		if inside(c.areas[i], p) && inside(c.bodies[figure[i].clip], p) {
			return i
		}
	}
	return -1
}

// deepest is the place farthest from the edge of what is seen of a zone, by growing the not-seen inwards.
func (c *canvas) deepest(i int) XY {
	const step = 6.0
	b := c.boxes[i]
	w, h := int((b[2]-b[0])/step)+3, int((b[3]-b[1])/step)+3
	at := func(x, y int) XY { return XY{X: b[0] + float64(x-1)*step, Y: b[1] + float64(y-1)*step} }
	seen := make([]bool, w*h)
	for y := 1; y < h-1; y++ {
		for x := 1; x < w-1; x++ {
			seen[y*w+x] = c.top(at(x, y)) == i
		}
	}
	best := at(w/2, h/2)
	for {
		next := make([]bool, w*h)
		any, sx, sy, n := false, 0.0, 0.0, 0.0
		for y := 1; y < h-1; y++ {
			for x := 1; x < w-1; x++ {
				k := y*w + x
				if !seen[k] {
					continue
				}
				p := at(x, y)
				sx, sy, n = sx+p.X, sy+p.Y, n+1
				next[k] = seen[k-1] && seen[k+1] && seen[k-w] && seen[k+w]
				any = any || next[k]
			}
		}
		if n > 0 {
			best = XY{X: math.Round(sx / n), Y: math.Round(sy / n)}
		}
		if !any {
			return best
		}
		seen = next
	}
}
