package phantom

import (
	"math"
	"math/rand/v2"
	"slices"
)

// brush draws the coat of one dog onto a canvas.
type brush struct {
	c     *canvas
	v     view
	g     *sight
	far   bool    // the far legs are being drawn
	cov   []uint8 // the outline filled
	f     *form
	p     *paint
	s     stance
	rng   *rand.Rand
	salt  uint64  // of the locks
	shade float32 // of the whole layer; far legs are darker
}

// ground is the place of the dog, mm of its sagittal plane, whose surface is seen at (sx, sy).
func (b *brush) ground(sx, sy float64) (float64, float64) {
	g := b.g
	if g.plain {
		return sx, sy
	}
	x, y, z := sx, sy, 0.0
	for range 4 {
		// Toward the camera by Z after the turn.
		Z := (x-g.mx)*g.sin + z*g.cos
		X := sx
		if g.distance > 0 {
			k := (g.distance - Z) / g.distance
			X, y = g.cx+(sx-g.cx)*k, g.cy+(sy-g.cy)*k
		}
		x = g.mx + (X-g.mx+z*g.sin)/g.cos
		z = b.bulge(x, y)
	}
	return x, y
}

// bulge is how far toward the camera the surface that is being drawn lies, mm.
func (b *brush) bulge(x, y float64) float64 {
	if b.far {
		return -10 * b.s.mm
	}
	return b.f.bulge(x, y)
}

// shorten is how long a millimetre of hair along x and along y is seen.
func (b *brush) shorten(x, y float64) (kx, ky float64) {
	if b.g.plain {
		return 1, 1
	}
	_, _, k := b.g.at(x, y, b.bulge(x, y))
	return k * b.g.cos, k
}

// spot is where a place of the standard dog, z toward the camera, is seen.
func (b *brush) spot(x, y, z float64) (float64, float64) {
	x, y = b.s.place(x, y)
	x, y, _ = b.g.at(x, y, z*b.s.mm)
	return x, y
}

// lit is a hair's colour under the light, shadows a little cooler than the hair.
func lit(c rgb, light float32) rgb {
	if light >= 1 {
		return c.times(light)
	}
	k := light
	return rgb{c.r * k, c.g * (k*0.97 + 0.03*k*k), c.b * (k*0.955 + 0.04)}
}

// jittered varies a colour as hairs vary.
func (b *brush) jittered(c rgb) rgb {
	k := 1 + float32(b.rng.Float64()+b.rng.Float64()-1)*0.21
	w := float32(b.rng.Float64()-0.5) * 0.05
	return rgb{c.r * k * (1 + w), c.g * k, c.b * k * (1 - w)}
}

// lock is a smooth noise, −1 to 1, whose cells are sizeMM: neighbouring hairs fall together.
func (b *brush) lock(x, y, sizeMM float64) float64 {
	x, y = x/sizeMM+512, y/sizeMM+512
	i, j := math.Floor(x), math.Floor(y)
	u, v := x-i, y-j
	u, v = u*u*(3-2*u), v*v*(3-2*v)
	at := func(a, c float64) float64 {
		h := (uint64(int64(a))*0x9e3779b97f4a7c15 ^ uint64(int64(c))*0xc2b2ae3d27d4eb4f) + b.salt
		h ^= h >> 29
		h *= 0xbf58476d1ce4e5b9
		h ^= h >> 32
		return float64(h&0xffff)/32767.5 - 1
	}
	return (at(i, j)*(1-u)+at(i+1, j)*u)*(1-v) + (at(i, j+1)*(1-u)+at(i+1, j+1)*u)*v
}

// loose is how freely locks swing: little on legs, whose hair hangs straight.
func (b *brush) loose(x, y float64, over layer) float64 {
	if over == layFore || over == layHind {
		return 0.25 + 0.75*smooth(35*b.s.mm, 75*b.s.mm, y)
	}
	return 1
}

// tuft is one stroke to be drawn, in mm.
type tuft struct {
	key            float64 // drawn in rising order
	x0, y0, x1, y1 float64
	x2, y2         float64
	w0, w2         float64
	root, tip      rgb
	alpha          float32
	free           bool // not clipped to the coat
}

func (b *brush) draw(ts []tuft) {
	slices.SortFunc(ts, func(a, c tuft) int {
		switch {
		case a.key < c.key:
			return -1
		case a.key > c.key:
			return 1
		}
		return 0
	})
	clip := b.c.clip
	k := b.v.perMM
	for i := range ts {
		t := &ts[i]
		x0, y0 := b.v.px(t.x0, t.y0)
		x1, y1 := b.v.px(t.x1, t.y1)
		x2, y2 := b.v.px(t.x2, t.y2)
		thick, thin := 0.7, 0.35
		if t.free {
			// Coverage at the edge is to be the same in pictures of every scale: no strand is drawn wider than it is.
			thick, thin = 0.3, 0.15
			b.c.clip = nil
		}
		b.c.hair(stroke{float32(x0), float32(y0), float32(x1), float32(y1), float32(x2), float32(y2),
			float32(max(t.w0*k, thick)), float32(max(t.w2*k, thin)), t.root, t.tip, t.alpha})
		b.c.clip = clip
	}
}

// showing is the length of a hair that shows: what lies over the hair below it.
func showing(lengthMM float64) float64 { return 3.5 + 0.62*lengthMM }

// flank strews hair over the area that inside accepts, roots spaced about spacing mm apart; free hair ends about the
// outline, other hair where the canvas is clipped.
func (b *brush) flank(x0, y0, x1, y1, spacing, widthMM, lengthen float64, alpha float32, dark float32, free bool, inside func(x, y float64) bool) []tuft {
	var ts []tuft
	for y := y0; y < y1; y += spacing {
		for x := x0; x < x1; x += spacing {
			rx, ry := x+(b.rng.Float64()-0.5)*spacing*1.7, y+(b.rng.Float64()-0.5)*spacing*1.7
			if !inside(rx, ry) {
				continue
			}
			n := len(ts)
			ts = b.one(ts, rx, ry, widthMM, lengthen, alpha, dark)
			if free && len(ts) > n {
				b.trim(&ts[n])
			}
		}
	}
	return ts
}

// one adds the hair whose root is seen at (sx, sy).
func (b *brush) one(ts []tuft, sx, sy float64, widthMM, lengthen float64, alpha, dark float32) []tuft {
	x, y := b.ground(sx, sy)
	kx, ky := b.shorten(x, y)
	_, over := b.f.height(x, y)
	at := b.f.at(x, y)
	if at.cover < 1 && b.rng.Float32() > at.cover {
		return ts
	}
	l := showing(float64(at.length)) * (0.55 + 0.75*b.rng.Float64()) * lengthen
	// Longer hair falls less tidily.
	mess := 0.16 + 0.0075*min(40, float64(at.length))
	lock := b.lock(x, y, 5+0.28*float64(at.length))
	turn := (b.rng.Float64()+b.rng.Float64()-1)*mess + lock*b.loose(x, y, over)*(0.15+0.012*min(45, float64(at.length)))
	sin, cos := math.Sincos(turn)
	dx, dy := float64(at.dx), float64(at.dy)
	dx, dy = dx*cos-dy*sin, dx*sin+dy*cos
	bend := (b.rng.Float64()-0.5)*0.34*l - 0.03*l
	col := b.jittered(b.p.root(x, y, over, b.rng))
	light := at.under(over) * b.shade * dark * float32(1+lock*(0.05+0.003*min(45, float64(at.length))))
	w := widthMM * (0.75 + 0.5*b.rng.Float64())
	key := float64(over)*1e5 - y + 0.35*x + (b.rng.Float64()-0.5)*(10+0.5*l)
	return append(ts, tuft{
		key: key,
		x0:  sx, y0: sy, x1: sx + dx*l*0.5*kx - dy*bend*kx, y1: sy + dy*l*0.5*ky + dx*bend*ky, x2: sx + dx*l*kx, y2: sy + dy*l*ky,
		w0: w, w2: w * 0.3,
		root: lit(col, light*0.74), tip: lit(col, light*1.10), alpha: alpha,
	})
}

// undercoat fills the coverage with the shaded colour that shows between the hairs.
func (b *brush) undercoat(cov []uint8, dark float32) {
	w, h := b.c.w, b.c.h
	const cell = 6
	for by := 0; by < h; by += cell {
		for bx := 0; bx < w; bx += cell {
			any := false
			ex, ey := min(w, bx+cell), min(h, by+cell)
			for y := by; y < ey && !any; y++ {
				for x := bx; x < ex; x++ {
					if cov[y*w+x] != 0 {
						any = true
						break
					}
				}
			}
			if !any {
				continue
			}
			mx, my := b.ground(b.v.mm(float64(bx)+cell/2, float64(by)+cell/2))
			_, over := b.f.height(mx, my)
			at := b.f.at(mx, my)
			col := b.p.root(mx, my, over, b.rng)
			col = b.p.skin.mix(col, min(1, 0.15+0.85*at.cover))
			col = lit(col, at.under(over)*b.shade*dark)
			for y := by; y < ey; y++ {
				for x := bx; x < ex; x++ {
					if a := cov[y*w+x]; a != 0 {
						b.c.blend(y*w+x, col, float32(a)/255)
					}
				}
			}
		}
	}
}
