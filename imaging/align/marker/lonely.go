package marker

import (
	"image"
	"math"
)

// lonely is the symbol that one finder pattern is the rest of, where the others are covered or out of the photo: told, so
// that the groomer can take away what covers it. A finder pattern alone is not enough, squares in squares are found on
// many things; the dots beside it or our alignment pattern opposite are. Nil: no such symbol.
func lonely(img *image.NRGBA, s spot, l lens) *symbol {
	if s.module < 2 {
		return nil
	}
	const n = 7
	sin, cos := math.Sincos(s.angle)
	side := n * s.module
	far := int(24*s.module) + 4 // to the other end of a symbol of ours, tilted or not
	p := cut(img, image.Rect(int(s.mid.X)-far, int(s.mid.Y)-far, int(s.mid.X)+far, int(s.mid.Y)+far))
	known := newPattern(n)
	known.finder(image.Point{})
	// As a symbol of its own it has no quiet zone but its separator, which is one module wide as well.
	start := viewsOf(s.mid, XY{X: side * cos, Y: side * sin}, XY{X: -side * sin, Y: side * cos}, l.axis, l.logF)[0]
	f := fit(p, start, l, known, 5)
	if f == nil || agree(p, &f.view, known) < 0.95 {
		return nil
	}
	for turn := range 4 {
		// A place counted in modules from the pattern's middle, in each of the four ways that a square can lie.
		at := func(x, y float64) (float64, bool) {
			for range turn {
				x, y = -y, x
			}
			return p.at(f.at(x/n, y/n))
		}
		if dots(at, 3) || dots(at, -3) || aligned(at, 15, -3) || aligned(at, -3, 15) {
			return &symbol{n: n, fit: f, patch: p}
		}
	}
	return nil
}

// dots: the line of dark and light from a finder pattern to its neighbour (6.3.5), three modules beside its middle.
func dots(at func(x, y float64) (float64, bool), beside float64) bool {
	var v []float64
	for i := 4; i <= 12; i++ { // light first; of the smallest symbol there are no more
		x, ok := at(float64(i), beside)
		if !ok {
			return false
		}
		v = append(v, x)
	}
	return divided(v, func(i int) bool { return i%2 == 1 })
}

// aligned: the alignment pattern of our size of symbol at that place, or within a module of it.
func aligned(at func(x, y float64) (float64, bool), x, y float64) bool {
	for dy := -1.0; dy <= 1; dy += 0.5 {
	place:
		for dx := -1.0; dx <= 1; dx += 0.5 {
			var v []float64
			for j := -2; j <= 2; j++ {
				for i := -2; i <= 2; i++ {
					l, ok := at(x+dx+float64(i), y+dy+float64(j))
					if !ok {
						continue place
					}
					v = append(v, l)
				}
			}
			if divided(v, func(i int) bool { return max(abs(i%5-2), abs(i/5-2)) != 1 }) {
				return true
			}
		}
	}
	return false
}

// divided: everything dark is clearly darker than everything light.
func divided(v []float64, isDark func(i int) bool) bool {
	darkest, lightest := 0.0, math.Inf(1)
	for i, x := range v {
		if isDark(i) {
			darkest = max(darkest, x)
		} else {
			lightest = min(lightest, x)
		}
	}
	return darkest < 0.7*lightest
}
