package phantom

import (
	"math"
	"math/rand/v2"
)

// block blends a soft-edged rectangle of the wall's plane, mm, with a colour that may vary over it, as far as the table
// leaves it in sight.
func (r room) block(c *canvas, x0, y0, x1, y1, softMM float64, col func(u, v float64) rgb, alpha float64) {
	lox, loy, hix, hiy := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, q := range [][2]float64{{x0, y0}, {x1, y0}, {x0, y1}, {x1, y1}} {
		px, py := r.v.px(q[0], q[1])
		lox, loy, hix, hiy = min(lox, px), min(loy, py), max(hix, px), max(hiy, py)
	}
	reach := softMM*r.v.perMM + 2
	for py := max(0, int(loy-reach)); py < min(c.h, int(hiy+reach)+1); py++ {
		for px := max(0, int(lox-reach)); px < min(c.w, int(hix+reach)+1); px++ {
			x, y := r.v.mm(float64(px), float64(py))
			a := bump(x, x0, x1, softMM) * bump(y, y0, y1, softMM) * smooth(tableBackMM, tableBackMM+1.5, y) * alpha
			if a > 0 {
				c.blend(py*c.w+px, col((x-x0)/(x1-x0), (y-y0)/(y1-y0)), float32(a))
			}
		}
	}
}

func plain(c rgb) func(u, v float64) rgb { return func(_, _ float64) rgb { return c } }

// round is the shading of an upright cylinder.
func round(c rgb) func(u, v float64) rgb {
	return func(u, _ float64) rgb {
		t := float32(0.62 + 0.48*math.Sin(math.Pi*max(0, min(1, u))))
		if u > 0.24 && u < 0.32 {
			t += 0.22
		}
		return c.times(t)
	}
}

var things = []rgb{{196, 62, 52}, {52, 92, 142}, {232, 226, 214}, {70, 122, 84}, {214, 164, 60}, {58, 54, 60}, {150, 108, 160}, {222, 188, 160}}

// stand draws what stands and hangs about: behind the dog, a little out of focus; then towel and end of the table.
func (r room) stand(c *canvas, body float64) {
	if r.scene.Clutter != 0 {
		r.clutter(c, rand.New(rand.NewPCG(uint64(r.scene.Clutter), 0xc1)))
	}
	if r.scene.TableEnd {
		r.tableEnd(c, (1.02+0.9*(body-1))*r.h+45)
	}
	if r.scene.Towel {
		r.towel(c, -0.36*r.h, (0.98+0.85*(body-1))*r.h)
	}
}

func (r room) clutter(c *canvas, rng *rand.Rand) {
	h, wall := r.h, of(r.scene.Wall)
	u := rng.Float64
	pick := func() rgb { return things[rng.IntN(len(things))] }
	// The second door, ajar, behind the tail or before the head.
	x, w := 0.86*h+0.2*h*u(), 0.5*h
	if rng.IntN(3) == 0 {
		x = -1.25*h + 0.15*h*u()
	}
	door := wall.mix(rgb{232, 226, 216}, 0.55)
	r.block(c, x-0.05*h, -0.2*h, x+w+0.05*h, 1.72*h, 2.5, plain(door.times(0.86)), 1)
	r.block(c, x, -0.2*h, x+w, 1.66*h, 2.5, func(a, _ float64) rgb {
		if a < 0.16 {
			return rgb{44, 42, 44}
		}
		return door.times(float32(0.94 + 0.08*a))
	}, 1)
	for _, y := range []float64{0.25, 0.95} {
		r.block(c, x+0.26*w, y*h, x+0.86*w, (y+0.52)*h, 3, plain(door.times(0.84)), 0.8)
		r.block(c, x+0.29*w, (y+0.03)*h, x+0.83*w, (y+0.49)*h, 3, plain(door.times(0.97)), 0.9)
	}
	r.block(c, x+0.2*w, 0.86*h, x+0.25*w, 0.93*h, 2, plain(rgb{190, 180, 150}), 1)
	// Pictures in frames.
	for range 2 + rng.IntN(2) {
		x, y := -1.0*h+1.5*h*u(), (1.12+0.3*u())*h
		w, t := (0.22+0.14*u())*h, (0.2+0.12*u())*h
		frame, sky, land := pick().times(0.6), pick(), pick()
		r.block(c, x+4, y-6, x+w+5, y+t-6, 5, plain(wall.times(0.6)), 0.5)
		r.block(c, x, y, x+w, y+t, 1.6, plain(frame), 1)
		r.block(c, x+0.03*h, y+0.03*h, x+w-0.03*h, y+t-0.03*h, 1.4, func(a, b float64) rgb {
			if b < 0.42+0.12*math.Sin(5*a+x) {
				return land.times(0.8)
			}
			return sky.mix(rgb{240, 240, 236}, float32(0.5*b))
		}, 1)
	}
	// A shelf with bottles, and bottles on the rail behind the back.
	bottle := func(x, y float64) float64 {
		w, t := (0.055+0.05*u())*h, (0.16+0.2*u())*h
		col := pick()
		r.block(c, x, y, x+w, y+t*0.78, 2, round(col), 1)
		r.block(c, x+0.3*w, y+t*0.74, x+0.7*w, y+t, 2, round(pick().times(0.9)), 1)
		if rng.IntN(3) > 0 {
			r.block(c, x+0.06*w, y+t*0.2, x+0.94*w, y+t*0.52, 1.6, round(rgb{236, 232, 222}), 0.95)
			r.block(c, x+0.16*w, y+t*0.34, x+0.8*w, y+t*0.42, 1.4, plain(col.times(0.7)), 0.9)
		}
		return w
	}
	y := (1.38 + 0.1*u()) * h
	left := -0.1*h + 0.2*h*u()
	r.block(c, left, y-0.05*h, left+0.85*h, y-0.01*h, 5, plain(wall.times(0.55)), 0.6)
	r.block(c, left, y-0.03*h, left+0.85*h, y, 1.8, plain(rgb{150, 112, 78}), 1)
	for x := left + 0.03*h; x < left+0.72*h; {
		x += bottle(x, y) + (0.01+0.08*u())*h
	}
	for x := -1.0*h + 0.3*h*u(); x < 1.1*h; {
		x += bottle(x, 0.7*h) + (0.1+0.5*u())*h
	}
}

// towel lies on the table and hangs over its front edge, terry with a stripe.
func (r room) towel(c *canvas, x0, x1 float64) {
	base, stripe := rgb{206, 198, 186}, rgb{96, 124, 150}
	hang := func(x float64) float64 { return tableRimMM - 16 - 5*math.Sin(x/31) - 3*math.Sin(x/11) }
	for py := range c.h {
		for px := range c.w {
			x, y := r.v.mm(float64(px), float64(py))
			if y > 13 || y < tableRimMM-30 || x < x0-4 || x > x1+4 {
				continue
			}
			edge := 2.2 * math.Sin(y/7)
			a := bump(x+edge, x0, x1, 1.2) * smooth(hang(x)-0.6, hang(x)+0.6, y) * smooth(12+0.8*math.Sin(x/17), 10+0.8*math.Sin(x/17), y)
			if a <= 0 {
				continue
			}
			k := 1 + 0.05*math.Sin(x*2.1)*math.Sin(y*2.6) + 0.04*math.Sin(x/9+y/5)
			if y < tableFrontMM { // it hangs: folds, less light
				k *= 0.74 + 0.09*math.Sin(x/13+0.6*math.Sin(x/29))
			}
			col := base
			if t := y - hang(x); t > 7 && t < 12 {
				col = stripe
			}
			c.blend(py*c.w+px, col.times(float32(k)), float32(a))
		}
	}
}

// tableEnd takes the table away behind x: wall and floor show.
func (r room) tableEnd(c *canvas, x float64) {
	wall := of(r.scene.Wall)
	for py := range c.h {
		for px := range c.w {
			mx, my := r.v.mm(float64(px), float64(py))
			if mx < x-30 || my > tableBackMM+2 {
				continue
			}
			// The end runs away from the camera, toward the middle of the picture.
			end := x - 0.35*(my-tableFrontMM)*smooth(tableFrontMM, tableFrontMM+1, my)
			a := smooth(end-0.6, end+0.6, mx) * smooth(tableBackMM+1, tableBackMM-0.6, my)
			if a <= 0 {
				continue
			}
			col := wall.mix(of(r.scene.Trim), 0.3).times(0.86)
			if my < -0.12*r.h { // the floor
				col = rgb{104, 92, 80}.times(float32(0.9 + 0.1*math.Sin(mx/23)))
			}
			c.blend(py*c.w+px, col, float32(a))
		}
	}
}

// cast lays the dog's own soft shadow over the table, away from the light.
func (r room) cast(c *canvas, bodyX, mm float64) {
	if r.scene.Shadow <= 0 {
		return
	}
	away := (0.5 - r.scene.LightX) * 60 * mm
	if r.v.mirror {
		away = -away
	}
	for py := range c.h {
		for px := range c.w {
			x, y := r.v.mm(float64(px), float64(py))
			if y > tableBackMM || y < tableFrontMM-2 {
				continue
			}
			d := math.Hypot((x-bodyX-away*(y-tableFrontMM)/40)/(92*mm), (y-6)/(26*mm))
			a := min(1, r.scene.Shadow) * 0.55 * smooth(1.15, 0.25, d) * smooth(tableFrontMM-2, tableFrontMM+2, y)
			if a > 0 {
				c.blend(py*c.w+px, rgb{16, 15, 17}, float32(a))
			}
		}
	}
}
