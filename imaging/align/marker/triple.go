package marker

import (
	"cmp"
	"math"
	"slices"
)

// corner is three finder patterns as those of one symbol: places in px of the photo.
type corner struct {
	tl, tr, bl spot
	modules    float64 // along a side, as far as the patterns' own size tells
	badness    float64 // 0: a square seen straight
	used       [3]int  // which spots
}

// triples are all sets of three spots that may be one symbol's, the likeliest first.
func triples(all []spot) []corner {
	var out []corner
	for i := range all {
		for j := i + 1; j < len(all); j++ {
			for k := j + 1; k < len(all); k++ {
				if c, ok := cornerOf(all, [3]int{i, j, k}); ok {
					out = append(out, c)
				}
			}
		}
	}
	slices.SortStableFunc(out, func(a, b corner) int { return cmp.Compare(a.badness, b.badness) })
	return out
}

func cornerOf(all []spot, at [3]int) (corner, bool) {
	s := [3]spot{all[at[0]], all[at[1]], all[at[2]]}
	lo, hi := math.Inf(1), 0.0
	for _, x := range s {
		lo, hi = min(lo, x.module), max(hi, x.module)
	}
	if hi > 1.5*lo {
		return corner{}, false
	}
	// The corner lies opposite the longest side, up to a tilt of 45°.
	long, top := 0.0, 0
	for i := range 3 {
		a, b := s[(i+1)%3].mid, s[(i+2)%3].mid
		if d := math.Hypot(a.X-b.X, a.Y-b.Y); d > long {
			long, top = d, i
		}
	}
	c := corner{tl: s[top], tr: s[(top+1)%3], bl: s[(top+2)%3], used: at}
	a := XY{X: c.tr.mid.X - c.tl.mid.X, Y: c.tr.mid.Y - c.tl.mid.Y}
	b := XY{X: c.bl.mid.X - c.tl.mid.X, Y: c.bl.mid.Y - c.tl.mid.Y}
	area := a.X*b.Y - a.Y*b.X
	if area < 0 {
		c.tr, c.bl, a, b, area = c.bl, c.tr, b, a, -area
	}
	la, lb := math.Hypot(a.X, a.Y), math.Hypot(b.X, b.Y)
	if la == 0 || lb == 0 {
		return corner{}, false
	}
	cos := math.Abs(a.X*b.X+a.Y*b.Y) / (la * lb)
	uneven := math.Abs(math.Log(la / lb))
	// The modules' mean side goes with the root of an area, and so does this.
	c.modules = math.Sqrt(area)/((s[0].module+s[1].module+s[2].module)/3) + 7
	// Version 1 has 21 modules, version 15 has 77; nobody prints more to be seen from afar.
	if cos > 0.55 || uneven > 0.7 || c.modules < 17 || c.modules > 84 {
		return corner{}, false
	}
	c.badness = cos + uneven + math.Log(hi/lo)
	return c, true
}

// sizes are the numbers of modules to try, ours first where it may be.
func (c corner) sizes() []int {
	near := 17 + 4*int(math.Round((c.modules-17)/4))
	var out []int
	if math.Abs(c.modules-dim) < 5 {
		out = append(out, dim)
	}
	for _, n := range []int{near, near + 4, near - 4} {
		if n >= 21 && n != dim && math.Abs(c.modules-float64(n)) < 0.14*c.modules {
			out = append(out, n)
		}
	}
	return out
}
