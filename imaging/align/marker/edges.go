package marker

import (
	"image"
	"math"
)

// shade is what is known of a module.
type shade int8

const (
	unknown shade = iota
	light
	dark
)

// pattern is a symbol of n × n modules as far as it is known.
type pattern struct {
	n   int
	all []shade
}

func newPattern(n int) *pattern { return &pattern{n: n, all: make([]shade, n*n)} }

// get is the module at x, y; the quiet zone around the symbol is light.
func (p *pattern) get(x, y int) shade {
	if x < 0 || y < 0 || x >= p.n || y >= p.n {
		return light
	}
	return p.all[y*p.n+x]
}

func (p *pattern) set(x, y int, isDark bool) {
	if x >= 0 && y >= 0 && x < p.n && y < p.n {
		p.all[y*p.n+x] = light
		if isDark {
			p.all[y*p.n+x] = dark
		}
	}
}

// finders adds the three finder patterns with their separators (ISO/IEC 18004, 6.3.3 and 6.3.4).
func (p *pattern) finders() *pattern {
	for _, c := range finderCorners(p.n) {
		p.finder(c)
	}
	return p
}

// finderCorners are the first modules of the finder patterns: top left, top right, bottom left.
func finderCorners(n int) [3]image.Point {
	return [3]image.Point{{X: 0, Y: 0}, {X: n - 7, Y: 0}, {X: 0, Y: n - 7}}
}

func (p *pattern) finder(c image.Point) {
	for y := -1; y <= 7; y++ {
		for x := -1; x <= 7; x++ {
			ring := max(abs(x-3), abs(y-3))
			p.set(c.X+x, c.Y+y, ring != 2 && ring != 4)
		}
	}
}

// timing adds the timing patterns and, for our size, the one alignment pattern (6.3.5 and 6.3.6).
func (p *pattern) timing() *pattern {
	for i := 8; i < p.n-8; i++ {
		p.set(i, 6, i%2 == 0)
		p.set(6, i, i%2 == 0)
	}
	if p.n == dim {
		p.alignment()
	}
	return p
}

func (p *pattern) alignment() {
	for y := -2; y <= 2; y++ {
		for x := -2; x <= 2; x++ {
			p.set(p.n-7+x, p.n-7+y, max(abs(x), abs(y)) != 1)
		}
	}
}

func (p *pattern) grid(g grid) *pattern {
	for y := range g {
		for x, d := range g[y] {
			p.set(x, y, d)
		}
	}
	return p
}

func abs(v int) int { return max(v, -v) }

// edge is the border between two neighbouring modules of different shade.
type edge struct {
	u, v   float64 // its middle on the symbol's plane
	across bool    // it is met while going along u; otherwise along v
	sign   float64 // +1: dark comes before light
}

// edges are all borders between known modules.
func (p *pattern) edges() []edge {
	var out []edge
	side := float64(p.n)
	add := func(a, b shade, u, v float64, across bool) {
		if a == unknown || b == unknown || a == b {
			return
		}
		e := edge{u: u/side - 0.5, v: v/side - 0.5, across: across, sign: 1}
		if b == dark {
			e.sign = -1
		}
		out = append(out, e)
	}
	for y := range p.n {
		for x := 0; x <= p.n; x++ {
			add(p.get(x-1, y), p.get(x, y), float64(x), float64(y)+0.5, true)
			add(p.get(y, x-1), p.get(y, x), float64(y)+0.5, float64(x), false)
		}
	}
	return out
}

// sighting is an edge as the photo shows it.
type sighting struct {
	edge
	at     XY      // where the view has it
	normal XY      // unit, in the photo, the way the edge is met
	off    float64 // how far along the normal the photo has it, px
}

// see looks for an edge near where the view has it, at most reach px and half a module away.
func (p *patch) see(w *view, n int, e edge, reach float64) (s sighting, ok bool) {
	ju, jv := w.jacobian(e.u, e.v)
	along, meet := jv, ju
	if !e.across {
		along, meet = ju, jv
	}
	length := math.Hypot(along.X, along.Y)
	s = sighting{edge: e, at: w.at(e.u, e.v), normal: XY{X: along.Y / length, Y: -along.X / length}}
	wide := (meet.X*s.normal.X + meet.Y*s.normal.Y) / float64(n)
	if wide < 0 {
		wide, s.normal = -wide, XY{X: -s.normal.X, Y: -s.normal.Y}
	}
	if !(wide > 1) {
		return s, false
	}
	profile := func(d float64) (float64, bool) {
		sum := 0.0
		// Three places along the edge: noise is shared out, corners stay out.
		for _, t := range [3]float64{-0.25, 0, 0.25} {
			t /= float64(n)
			v, ok := p.at(XY{X: s.at.X + d*s.normal.X + t*along.X, Y: s.at.Y + d*s.normal.Y + t*along.Y})
			if !ok {
				return 0, false
			}
			sum += v
		}
		return sum / 3, true
	}
	before, ok1 := profile(-wide / 2)
	after, ok2 := profile(wide / 2)
	rise := (after - before) * e.sign
	// Less than this is noise, or something lies on it.
	if !ok1 || !ok2 || rise < 0.1*(before+after) || rise < 0.004 {
		return s, false
	}
	half, found := (before+after)/2, false
	reach = min(reach, wide/2)
	steps := int(math.Ceil(2 * reach / 0.4))
	last, lastV := 0.0, 0.0
	for i := 0; i <= steps; i++ {
		d := reach * (2*float64(i)/float64(steps) - 1)
		v, ok := profile(d)
		if !ok {
			return s, false
		}
		if i > 0 && (lastV-half)*e.sign < 0 && (v-half)*e.sign >= 0 {
			x := last + (d-last)*(half-lastV)/(v-lastV)
			if !found || math.Abs(x) < math.Abs(s.off) {
				s.off, found = x, true
			}
		}
		last, lastV = d, v
	}
	return s, found
}
