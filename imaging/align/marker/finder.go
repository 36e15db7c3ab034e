package marker

import (
	"math"
	"slices"
)

// A finder pattern is met by any line through its middle as dark, light, dark, light, dark in the ratio 1 : 1 : 3 : 1 : 1
// (ISO/IEC 18004, 6.3.3 and 13). Rows are walked for it; what is met is then asked from its middle in all directions.

// blockPX is the side of the squares whose means, with those around them, say what is dark there.
const blockPX = 16

// levels are the limits of light and dark in every block.
type levels struct {
	w      int
	lo, hi []uint8
}

func (g *grey) levels() *levels {
	w, h := (g.w+blockPX-1)/blockPX, (g.h+blockPX-1)/blockPX
	mean := make([]int, w*h)
	bands(h, func(y0, y1 int) {
		for by := y0; by < y1; by++ {
			for bx := range w {
				sum, n := 0, 0
				right := min(g.w, (bx+1)*blockPX)
				for y := by * blockPX; y < min(g.h, (by+1)*blockPX); y++ {
					for _, v := range g.pix[y*g.w+bx*blockPX : y*g.w+right] {
						sum += int(v)
					}
					n += right - bx*blockPX
				}
				mean[by*w+bx] = sum / n
			}
		}
	})
	l := &levels{w: w, lo: make([]uint8, w*h), hi: make([]uint8, w*h)}
	for by := range h {
		for bx := range w {
			sum, n := 0, 0
			for y := max(0, by-1); y <= min(h-1, by+1); y++ {
				for x := max(0, bx-1); x <= min(w-1, bx+1); x++ {
					sum += mean[y*w+x]
					n++
				}
			}
			m := sum / n
			// Between the limits a pixel is what the one before it was: a flat place does not flicker.
			c := max(3, m/14)
			l.lo[by*w+bx], l.hi[by*w+bx] = uint8(max(0, m-c)), uint8(min(255, m+c))
		}
	}
	return l
}

// spot is where a finder pattern may be. Places and sizes in px of the plane.
type spot struct {
	mid    XY
	module float64 // side of a module
	angle  float64 // of its sides to the photo's, radians, 0 to π/2
	hits   int     // rows that met it
}

// spots walks every step-th row.
func (g *grey) spots(l *levels, step int) []spot {
	n := (g.h + step - 1) / step
	met := make([][]spot, n)
	bands(n, func(y0, y1 int) {
		for i := y0; i < y1; i++ {
			met[i] = g.row(l, i*step)
		}
	})
	var out []spot
	for _, row := range met {
	next:
		for _, s := range row {
			for i := range out {
				o := &out[i]
				if math.Hypot(o.mid.X-s.mid.X, o.mid.Y-s.mid.Y) < 1.5*max(o.module, s.module) && o.module < 1.6*s.module && s.module < 1.6*o.module {
					k := float64(o.hits)
					o.mid = XY{X: (o.mid.X*k + s.mid.X) / (k + 1), Y: (o.mid.Y*k + s.mid.Y) / (k + 1)}
					o.module = (o.module*k + s.module) / (k + 1)
					o.hits++
					continue next
				}
			}
			out = append(out, s)
		}
	}
	// The busiest photo must not cost minutes: what most rows met is kept.
	const most = 60
	slices.SortStableFunc(out, func(a, b spot) int { return b.hits - a.hits })
	return out[:min(len(out), most)]
}

// row is what one row meets.
func (g *grey) row(l *levels, y int) []spot {
	var out []spot
	in := g.pix[y*g.w:][:g.w]
	block := (y / blockPX) * l.w
	var runs [5]int
	run, isDark := 0, false
	for bx := 0; bx*blockPX < g.w; bx++ {
		lo, hi := l.lo[block+bx], l.hi[block+bx]
		for x, v := range in[bx*blockPX : min(g.w, (bx+1)*blockPX)] {
			if isDark && v <= hi || !isDark && v >= lo {
				run++
				continue
			}
			runs[0], runs[1], runs[2], runs[3], runs[4] = runs[1], runs[2], runs[3], runs[4], run
			if isDark && finderRatio(runs) {
				end := bx*blockPX + x
				total := runs[0] + runs[1] + runs[2] + runs[3] + runs[4]
				mid := XY{X: float64(end-runs[4]-runs[3]) - float64(runs[2])/2 - 0.5, Y: float64(y)}
				if s, ok := g.stands(l, mid, float64(total)/7); ok {
					out = append(out, s)
				}
			}
			isDark, run = !isDark, 1
		}
	}
	return out
}

// finderRatio: 1 : 1 : 3 : 1 : 1, each within six tenths of a module and a pixel of rounding.
func finderRatio(r [5]int) bool {
	total := r[0] + r[1] + r[2] + r[3] + r[4]
	if total < 7 || r[0] == 0 || r[1] == 0 || r[3] == 0 {
		return false
	}
	m := float64(total) / 7
	off := 0.6*m + 0.4
	for i, want := range [5]float64{1, 1, 3, 1, 1} {
		if math.Abs(float64(r[i])-want*m) > off*min(want, 2) {
			return false
		}
	}
	return true
}

// reach walks from a dark middle along a unit direction through dark, light and dark, and says how far from the middle the
// ends of the three lie; not ok where they do not come within limit px.
func (g *grey) reach(l *levels, from, dir XY, limit float64) (ends [3]float64, ok bool) {
	isDark, n := true, 0
	for d := 0.0; d <= limit; d += 0.5 {
		x, y := int(math.Round(from.X+d*dir.X)), int(math.Round(from.Y+d*dir.Y))
		if x < 0 || y < 0 || x >= g.w || y >= g.h {
			return ends, false
		}
		b := (y/blockPX)*l.w + x/blockPX
		v := g.pix[y*g.w+x]
		if isDark && v > l.hi[b] || !isDark && v < l.lo[b] {
			ends[n] = d - 0.25
			if n++; n == 3 {
				return ends, true
			}
			isDark = !isDark
		}
	}
	return ends, false
}

// around are sixteen directions, a half circle first and then their opposites.
var around = func() (d [16]XY) {
	for i := range d {
		s, c := math.Sincos(float64(i) * math.Pi / 8)
		d[i] = XY{X: c, Y: s}
	}
	return d
}()

// stands asks a middle in all directions, and moves it to where opposite ways are equally long.
func (g *grey) stands(l *levels, mid XY, module float64) (spot, bool) {
	if !(mid.X >= 0 && mid.Y >= 0) {
		return spot{}, false
	}
	var ends [16][3]float64
	angle := 0.0
	for round := range 2 {
		good := 0
		var seen [16]bool
		for i, d := range around {
			// From the middle 3.5 modules, 5 along the diagonal; half as much again where the middle is not yet the middle or
			// the row met it aslant.
			if ends[i], seen[i] = g.reach(l, mid, d, 8*module+3); seen[i] && inRatio(ends[i]) {
				good++
			} else {
				seen[i] = false
			}
		}
		if good < 13 || round == 0 && !seen[0] && !seen[8] {
			return spot{}, false
		}
		var dx, dy, n float64
		for i := range 8 {
			if seen[i] && seen[i+8] {
				// The core is the surest: it is the widest.
				k := (ends[i][0]+ends[i][2])/2 - (ends[i+8][0]+ends[i+8][2])/2
				dx, dy, n = dx+k/2*around[i].X, dy+k/2*around[i].Y, n+1
			}
		}
		if n < 4 {
			return spot{}, false
		}
		// The mean of a projection on all directions is half the vector.
		mid = XY{X: mid.X + 2*dx/n, Y: mid.Y + 2*dy/n}
		if round == 1 {
			// The area of a square of 7 modules, from its radii.
			area, c4, s4 := 0.0, 0.0, 0.0
			for i, e := range ends {
				r := e[2]
				if !seen[i] {
					r = ends[(i+8)%16][2]
				}
				area += r * r
				// Its corners lie half way between its sides: the fourth harmonic of the radius says where.
				sin, cos := math.Sincos(4 * float64(i) * math.Pi / 8)
				c4, s4 = c4-r*cos, s4-r*sin
			}
			module = math.Sqrt(area*math.Pi/16) / 7
			angle = math.Mod(math.Atan2(s4, c4)/4+math.Pi/2, math.Pi/2)
		}
	}
	if module < 0.9 {
		return spot{}, false
	}
	return spot{mid: mid, module: module, angle: angle, hits: 1}, true
}

// inRatio: the ends lie at 1.5, 2.5 and 3.5 modules of some size.
func inRatio(e [3]float64) bool {
	m := e[2] / 3.5
	off := 0.5*m + 0.6
	return m > 0 && math.Abs(e[0]-1.5*m) < off && math.Abs(e[1]-2.5*m) < off
}
