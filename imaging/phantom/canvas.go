package phantom

import (
	"image"
	"image/draw"
	"math"

	"golang.org/x/image/vector"
)

// rgb is a colour, 0 to 255 a channel, not clamped.
type rgb struct{ r, g, b float32 }

func (c rgb) times(k float32) rgb { return rgb{c.r * k, c.g * k, c.b * k} }

func (c rgb) mix(o rgb, t float32) rgb {
	return rgb{c.r + (o.r-c.r)*t, c.g + (o.g-c.g)*t, c.b + (o.b-c.b)*t}
}

// canvas is the picture and, of the same size, the coverage that hair is clipped to (nil: not clipped).
type canvas struct {
	img  *image.NRGBA
	w, h int
	clip []uint8
}

func (c *canvas) blend(i int, col rgb, a float32) {
	p := c.img.Pix[i*4 : i*4+3 : i*4+3]
	k := int32(a * 256)
	p[0] = clamp8(int32(p[0])*256 + (int32(col.r)-int32(p[0]))*k)
	p[1] = clamp8(int32(p[1])*256 + (int32(col.g)-int32(p[1]))*k)
	p[2] = clamp8(int32(p[2])*256 + (int32(col.b)-int32(p[2]))*k)
}

func clamp8(v int32) uint8 {
	v >>= 8
	if v < 0 {
		return 0
	}
	if v > 255 {
		return 255
	}
	return uint8(v)
}

// stroke is one hair or clump: a quadratic curve in pixels, tapering and changing colour from root to tip.
type stroke struct {
	x0, y0, x1, y1, x2, y2 float32
	w0, w2                 float32 // widths, px
	root, tip              rgb
	alpha                  float32
}

func (c *canvas) hair(s stroke) {
	l := abs32(s.x1-s.x0) + abs32(s.y1-s.y0) + abs32(s.x2-s.x1) + abs32(s.y2-s.y1)
	n := 2 + int(l/14)
	if n > 6 {
		n = 6
	}
	x, y := s.x0, s.y0
	for i := 1; i <= n; i++ {
		t := float32(i) / float32(n)
		u := 1 - t
		nx := u*u*s.x0 + 2*u*t*s.x1 + t*t*s.x2
		ny := u*u*s.y0 + 2*u*t*s.y1 + t*t*s.y2
		c.bar(x, y, nx, ny, float32(i-1)/float32(n), t, &s)
		x, y = nx, ny
	}
}

// bar draws the part of s between t0 and t1 as a straight piece, column by column along its longer axis, so
// that pieces meet without covering a pixel twice.
func (c *canvas) bar(x0, y0, x1, y1, t0, t1 float32, s *stroke) {
	dx, dy := x1-x0, y1-y0
	steep := abs32(dy) > abs32(dx)
	if steep {
		x0, y0, x1, y1, dx, dy = y0, x0, y1, x1, dy, dx
	}
	if dx < 0 {
		x0, y0, x1, y1, t0, t1 = x1, y1, x0, y0, t1, t0
		dx, dy = -dx, -dy
	}
	if dx < 1e-3 {
		return
	}
	slope := dy / dx
	widen := 0.5 * float32(math.Sqrt(float64(1+slope*slope)))
	lim, olim := c.w, c.h
	if steep {
		lim, olim = c.h, c.w
	}
	from, to := max(0, ceil32(x0)), min(lim, ceil32(x1))
	for i := from; i < to; i++ {
		f := (float32(i) - x0) / dx
		t := t0 + (t1-t0)*f
		at := y0 + slope*(float32(i)-x0)
		h := (s.w0 + (s.w2-s.w0)*t) * widen
		a := s.alpha
		if h < 0.5 {
			a *= 2 * h
			h = 0.5
		}
		col := s.root.mix(s.tip, t)
		for j, end := max(0, ceil32(at-h-0.5)), min(olim-1, int(at+h+0.5)); j <= end; j++ {
			cov := h + 0.5 - abs32(float32(j)-at)
			if cov <= 0 {
				continue
			}
			if cov > 1 {
				cov = 1
			}
			cov *= a
			k := j*c.w + i
			if steep {
				k = i*c.w + j
			}
			if c.clip != nil {
				m := c.clip[k]
				if m == 0 {
					continue
				}
				if m != 255 {
					cov *= float32(m) * (1.0 / 255)
				}
			}
			c.blend(k, col, cov)
		}
	}
}

func abs32(v float32) float32 { return math.Float32frombits(math.Float32bits(v) &^ (1 << 31)) }

func ceil32(v float32) int {
	i := int(v)
	if float32(i) < v {
		i++
	}
	return i
}

// fill adds the coverage of closed curves (pixel coordinates, centres at integers) to cov, w × h.
func fill(cov []uint8, w, h int, xs, ys []float32) {
	lox, loy, hix, hiy := w, h, 0, 0
	for i := range xs {
		lox, loy = min(lox, int(xs[i])-2), min(loy, int(ys[i])-2)
		hix, hiy = max(hix, int(xs[i])+3), max(hiy, int(ys[i])+3)
	}
	lox, loy, hix, hiy = max(lox, 0), max(loy, 0), min(hix, w), min(hiy, h)
	if lox >= hix || loy >= hiy {
		return
	}
	r := vector.NewRasterizer(hix-lox, hiy-loy)
	r.DrawOp = draw.Src
	ox, oy := 0.5-float32(lox), 0.5-float32(loy)
	r.MoveTo(xs[0]+ox, ys[0]+oy)
	for i := 1; i < len(xs); i++ {
		r.LineTo(xs[i]+ox, ys[i]+oy)
	}
	r.ClosePath()
	a := image.NewAlpha(image.Rect(0, 0, hix-lox, hiy-loy))
	r.Draw(a, a.Bounds(), image.Opaque, image.Point{})
	for y := range hiy - loy {
		src := a.Pix[y*a.Stride:][:hix-lox]
		dst := cov[(y+loy)*w+lox:][:hix-lox]
		for x, v := range src {
			if v > dst[x] {
				dst[x] = v
			}
		}
	}
}
