package phantom

import (
	"image/color"
	"math"
)

func of(c color.NRGBA) rgb { return rgb{float32(c.R), float32(c.G), float32(c.B)} }

// room draws wall and table. Heights are mm above the line the near paws stand on; the table's top shows as a
// narrow band because the camera looks a little down on it.
type room struct {
	scene Scene
	v     view
	h     float64 // withers, mm
}

const (
	tableBackMM  = 24.0  // far edge of the table's top, as seen
	tableFrontMM = -15.0 // near edge
	tableRimMM   = -34.0 // lower edge of the trim
)

// profile is the colour at each height, before light; entries perMM apart.
func (r room) profile(lo, hi, stepMM float64) []rgb {
	wall, trim, table := of(r.scene.Wall), of(r.scene.Trim), of(r.scene.Table)
	out := make([]rgb, int((hi-lo)/stepMM)+2)
	for i := range out {
		y := lo + float64(i)*stepMM
		c := wall
		// Rail on the wall, out of focus.
		c = c.mix(trim.times(0.92), float32(bump(y, 0.60*r.h, 0.70*r.h, 7)*0.75))
		c = c.mix(wall.times(0.72), float32(bump(y, 0.592*r.h, 0.602*r.h, 6)*0.7))
		// Below the rail the panelling is a tone lighter.
		c = c.mix(trim.mix(wall, 0.55).times(0.95), float32(smooth(0.6*r.h+6, 0.6*r.h-6, y)*0.6))
		if y < tableBackMM+3 {
			top := table.mix(rgb{150, 152, 156}, float32(0.10+0.16*smooth(tableFrontMM, tableBackMM, y)))
			if r.scene.ChalkLine {
				top = top.mix(rgb{222, 220, 210}, float32(0.82*bump(y, -3.4, -1.0, 0.5)))
			}
			c = c.mix(top, float32(smooth(tableBackMM+1, tableBackMM-0.6, y)))
		}
		if y < tableFrontMM+2 {
			k := (y - tableRimMM) / (tableFrontMM - tableRimMM)
			rim := rgb{172, 176, 180}.times(float32(0.55 + 0.5*bump(k, 0.45, 0.8, 0.3)))
			c = c.mix(rim, float32(smooth(tableFrontMM+0.5, tableFrontMM-0.5, y)))
		}
		if y < tableRimMM+2 {
			under := wall.mix(rgb{46, 44, 46}, 0.62).times(float32(0.75 + 0.25*smooth(tableRimMM, tableRimMM-80, y)))
			c = c.mix(under, float32(smooth(tableRimMM+0.5, tableRimMM-1.5, y)))
		}
		out[i] = c
	}
	return out
}

func bump(v, lo, hi, soft float64) float64 {
	return smooth(lo-soft, lo+soft, v) * smooth(hi+soft, hi-soft, v)
}

// light on the wall at a place: the window's soft panes, the corners darker, the dog's soft shadow.
func (r room) light(x, y float64, half float64, cx, cy float64) float32 {
	u, w := (x-cx)/half, (y-cy)/half
	if r.v.mirror {
		u = -u
	}
	l := 0.98 - 0.10*u*u - 0.08*w*w
	lx := (r.scene.LightX*2 - 1) * 0.9
	// Two slanting panes of window light.
	s := u - lx + 0.32*(w-0.35)
	pane := bump(s, -0.34, -0.03, 0.035) + bump(s, 0.03, 0.34, 0.035)
	pane *= bump(w+0.05*u, 0.12, 0.50, 0.035) + bump(w+0.05*u, 0.55, 0.98, 0.035)
	l += 0.15 * pane
	l += 0.10 * math.Exp(-((u-lx)*(u-lx)+(w-0.5)*(w-0.5))/0.8)
	// Shadow on the wall behind the dog, away from the light.
	d := math.Hypot((x-0.30*r.h)/(0.62*r.h), (y-0.62*r.h)/(0.52*r.h))
	l -= 0.13 * smooth(1.35, 0.45, d)
	return float32(l)
}

func (r room) draw(c *canvas, cam Camera) {
	corners := [][2]float64{{0, 0}, {float64(c.w), 0}, {0, float64(c.h)}, {float64(c.w), float64(c.h)}}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, q := range corners {
		_, y := r.v.mm(q[0], q[1])
		lo, hi = min(lo, y), max(hi, y)
	}
	const step = 0.25
	lo -= 2
	prof := r.profile(lo, hi+2, step)
	// Light on a coarse grid, interpolated along each row.
	const cell = 16
	gw, gh := c.w/cell+2, c.h/cell+2
	grid := make([]float32, gw*gh)
	half := float64(c.w) / 2 * cam.MMPerPX
	for j := range gh {
		for i := range gw {
			x, y := r.v.mm(float64(i*cell), float64(j*cell))
			grid[j*gw+i] = r.light(x, y, half, cam.CenterXMM, cam.CenterYMM)
		}
	}
	det := r.v.ax*r.v.by - r.v.bx*r.v.ay
	dydx := -r.v.ay / det / step // change of profile index for one pixel to the right
	for py := range c.h {
		_, y := r.v.mm(0, float64(py))
		idx := (y - lo) / step
		j := py / cell
		v := float32(py%cell) / cell
		row := c.img.Pix[py*c.img.Stride:]
		for px := 0; px < c.w; px++ {
			i := px / cell
			u := float32(px%cell) / cell
			g := (grid[j*gw+i]*(1-u)+grid[j*gw+i+1]*u)*(1-v) + (grid[(j+1)*gw+i]*(1-u)+grid[(j+1)*gw+i+1]*u)*v
			k := int(idx)
			k = max(0, min(len(prof)-1, k))
			p := prof[k]
			// An ordered dither keeps the soft wall free of bands.
			d := dither[(py&3)<<2|px&3]
			o := row[px*4 : px*4+4 : px*4+4]
			o[0], o[1], o[2], o[3] = uint8(min(255, p.r*g+d)), uint8(min(255, p.g*g+d)), uint8(min(255, p.b*g+d)), 255
			idx += dydx
		}
	}
}

var dither = func() (d [16]float32) {
	for i, v := range [16]float32{0, 8, 2, 10, 12, 4, 14, 6, 3, 11, 1, 9, 15, 7, 13, 5} {
		d[i] = v/16 + 1.0/32
	}
	return d
}()

// shadows darkens the table under paws and body.
func (r room) shadows(c *canvas, spots [][4]float64) {
	for _, s := range spots {
		x, y, rx, ry := s[0], s[1], s[2], s[3]
		px, py := r.v.px(x, y)
		k := r.v.perMM
		reach := int(max(rx, ry)*k) + 2
		for b := max(0, int(py)-reach); b < min(c.h, int(py)+reach); b++ {
			for a := max(0, int(px)-reach); a < min(c.w, int(px)+reach); a++ {
				mx, my := r.v.mm(float64(a), float64(b))
				if my > tableBackMM || my < tableFrontMM {
					continue
				}
				u, w := (mx-x)/rx, (my-y)/ry
				if q := u*u + w*w; q < 1 {
					c.blend(b*c.w+a, rgb{14, 14, 17}, float32(0.62*(1-q)*(1-q)+0.0))
				}
			}
		}
	}
}
