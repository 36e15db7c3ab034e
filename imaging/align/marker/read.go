package marker

import (
	"image"
	"math"
)

// symbol is a symbol that was read, or at least seen to be one.
type symbol struct {
	n       int
	fit     *fitted
	patch   *patch
	text    string // "" where it could not be read
	mask    int
	sampled grid
}

// read reads the symbol of n modules whose finder patterns are these; nil: there is none.
func read(img *image.NRGBA, c corner, n int, l lens) *symbol {
	span := float64(n) / float64(n-7)
	mid := XY{X: (c.tr.mid.X + c.bl.mid.X) / 2, Y: (c.tr.mid.Y + c.bl.mid.Y) / 2}
	ju := XY{X: (c.tr.mid.X - c.tl.mid.X) * span, Y: (c.tr.mid.Y - c.tl.mid.Y) * span}
	jv := XY{X: (c.bl.mid.X - c.tl.mid.X) * span, Y: (c.bl.mid.Y - c.tl.mid.Y) * span}
	reach := 0.9*(math.Hypot(ju.X, ju.Y)+math.Hypot(jv.X, jv.Y)) + 8
	p := cut(img, image.Rect(int(mid.X-reach), int(mid.Y-reach), int(mid.X+reach), int(mid.Y+reach)))

	// Which lens it was is not known well before the symbol is read. One that is held fast carries the three patterns' places
	// best to the corner opposite; one that is not as was said leads astray, and then looser, wider and longer ones are tried.
	var seen *symbol
	for _, near := range [4]lens{l.held(), l.loose(0.15), l.loose(0.15).longer(-0.5), l.loose(0.15).longer(0.5)} {
		s := readBy(p, c, n, near, viewsOf(mid, ju, jv, near.axis, near.logF))
		if s == nil {
			continue
		}
		if s.text != "" {
			return s
		}
		// Three patterns at the corners of a square are not yet a symbol; the line of dots between them is.
		if seen == nil && timingAgrees(p, &s.fit.view, n) >= 0.85 {
			seen = s
		}
	}
	return seen
}

// readBy is read with a lens; text is "" where the modules make none.
func readBy(p *patch, c corner, n int, near lens, starts [2]view) *symbol {
	finders := newPattern(n).finders()
	var f *fitted
	for _, start := range starts {
		start = start.through(n, [3]XY{c.tl.mid, c.tr.mid, c.bl.mid})
		if agree(p, &start, finders) < 0.75 { // chance agrees in half of them
			continue
		}
		if g := fit(p, start, near, finders, 8); g != nil && (f == nil || g.cost < f.cost) && agree(p, &g.view, finders) >= 0.93 {
			f = g
		}
	}
	if f == nil {
		return nil
	}
	known := newPattern(n).finders().timing()
	if g := fit(p, f.view, near, known, 4); g != nil && g.rmsPX < 2*f.rmsPX+0.3 {
		f = g
	}
	s := &symbol{n: n, fit: f, patch: p, sampled: sample(p, &f.view, n)}
	for y := range n {
		for x := range n {
			// What every symbol has is not left to the light.
			if k := known.get(x, y); k != unknown && !(n == dim && x > n-10 && y > n-10) {
				s.sampled[y][x] = k == dark
			}
		}
	}
	if text, mask, err := decode(s.sampled); err == nil {
		s.text, s.mask = text, mask
	}
	return s
}

// again is the best of fits from this view and from those that look alike. Where another one explains the photo nearly as
// well, what they differ by is in the error.
func (f *fitted) again(p *patch, l lens, known *pattern, rounds int) *fitted {
	ju, jv := f.jacobian(0, 0)
	alike := viewsOf(f.mid, ju, jv, l.axis, l.logF)
	var all []*fitted
	var out *fitted
	for _, start := range []view{f.view, alike[0], alike[1]} {
		if g := fit(p, start, l, known, rounds); g != nil {
			all = append(all, g)
			// A fit that is still moving is not the one; on a bent card, where none comes to rest, the best will do.
			if out == nil || g.still && !out.still || g.still == out.still && g.cost < out.cost {
				out = g
			}
		}
	}
	if out == nil {
		return nil
	}
	for _, g := range all {
		if g.still != out.still {
			continue
		}
		weight := 1 / (1 + math.Exp((g.cost-out.cost)/2))
		out.logSSD = math.Hypot(out.logSSD, math.Sqrt(weight)*(g.logS-out.logS))
	}
	return out
}

// moduleLight is the mean light of the inner part of a module.
func moduleLight(p *patch, w *view, x, y, n int) (float64, bool) {
	sum := 0.0
	for _, d := range [5]XY{{}, {X: 0.22}, {X: -0.22}, {Y: 0.22}, {Y: -0.22}} {
		v, ok := p.at(w.at((float64(x)+0.5+d.X)/float64(n)-0.5, (float64(y)+0.5+d.Y)/float64(n)-0.5))
		if !ok {
			return 0, false
		}
		sum += v
	}
	return sum / 5, true
}

// lights are all modules of a symbol with the quiet zone's first ring; what is outside the photo is 0.
func lights(p *patch, w *view, n int) (out [][]float64) {
	for y := -1; y <= n; y++ {
		row := make([]float64, n+2)
		for x := -1; x <= n; x++ {
			row[x+1], _ = moduleLight(p, w, x, y, n)
		}
		out = append(out, row)
	}
	return out
}

// limits are what divides dark from light at every module: the middle between the darkest and the lightest of the finder
// pattern's width around it. Any such square of a symbol has both.
func limits(l [][]float64) (out [][]float64) {
	const half = 3
	for y := range l {
		row := make([]float64, len(l))
		for x := range l {
			lo, hi := math.Inf(1), math.Inf(-1)
			for j := max(0, y-half); j <= min(len(l)-1, y+half); j++ {
				for i := max(0, x-half); i <= min(len(l)-1, x+half); i++ {
					lo, hi = min(lo, l[j][i]), max(hi, l[j][i])
				}
			}
			row[x] = (lo + hi) / 2
		}
		out = append(out, row)
	}
	return out
}

// sample is every module as the photo shows it.
func sample(p *patch, w *view, n int) grid {
	l := lights(p, w, n)
	lim := limits(l)
	g := newGrid(n)
	for y := range n {
		for x := range n {
			g[y][x] = l[y+1][x+1] < lim[y+1][x+1]
		}
	}
	return g
}

// agree is the share of the known modules that the photo shows as they should be.
func agree(p *patch, w *view, known *pattern) float64 {
	g := sample(p, w, known.n)
	same, all := 0, 0
	for y := range g {
		for x, d := range g[y] {
			if k := known.get(x, y); k != unknown {
				all++
				if d == (k == dark) {
					same++
				}
			}
		}
	}
	return float64(same) / float64(max(1, all))
}

// timingAgrees is the share of the dots between the finder patterns that are right, on the better of the two lines.
func timingAgrees(p *patch, w *view, n int) float64 {
	g := sample(p, w, n)
	var right [2]int
	for i := 8; i < n-8; i++ {
		for k, d := range [2]bool{g[6][i], g[i][6]} {
			if d == (i%2 == 0) {
				right[k]++
			}
		}
	}
	return float64(max(right[0], right[1])) / float64(n-16)
}
