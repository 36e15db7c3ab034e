package phantom

import (
	"image"
	"image/color"
	"math"

	"thatch/timeline"
)

// Board is a flat picture that stands upright on the table, such as a printed marker in its block. It does not turn
// with the dog.
type Board struct {
	Image             image.Image
	WidthMM, HeightMM float64
	XMM               float64 // of its middle, behind the point below the withers; 0: just behind the hind feet
	YMM               float64 // of its lower edge above the table
	ZMM               float64 // toward the camera from the line the dog stands on
	YawDeg            float64 // turn about the vertical through its middle, + its end away from the dog nearer the camera
}

// corners of the board in the picture, top left first, clockwise as the image shows them.
func (m *figure) corners(b Board) []timeline.XY {
	x := b.XMM
	if x == 0 {
		paw, _ := m.s.place(90, 1)
		x = paw + 25 + b.WidthMM/2
	}
	still := m.sight
	still.sin, still.cos, still.plain = 0, 1, still.distance == 0
	right := 1.0
	if m.v.mirror {
		right = -1
	}
	sin, cos := math.Sincos(b.YawDeg * math.Pi / 180)
	at := func(side, y float64) timeline.XY {
		dx := side * right * b.WidthMM / 2
		px, py, _ := still.at(x+dx*cos, y, b.ZMM+dx*sin)
		return m.v.xy(px, py)
	}
	return []timeline.XY{at(-1, b.YMM+b.HeightMM), at(1, b.YMM+b.HeightMM), at(1, b.YMM), at(-1, b.YMM)}
}

// board draws the image between its corners. Each pixel is the mean of as many samples as it covers pixels of the image.
func (m *figure) board(c *canvas, r room, b Board) {
	if b.Image == nil || b.WidthMM <= 0 || b.HeightMM <= 0 {
		return
	}
	q := m.corners(b)
	to, ok := squareFrom(q)
	if !ok {
		return
	}
	lox, loy, hix, hiy := q[0].X, q[0].Y, q[0].X, q[0].Y
	for _, p := range q {
		lox, loy, hix, hiy = min(lox, p.X), min(loy, p.Y), max(hix, p.X), max(hiy, p.Y)
	}
	size := b.Image.Bounds()
	n := max(3, min(8, int(math.Ceil(float64(size.Dx())/max(1, hix-lox)))+1))
	half := float64(c.w) / 2 * m.cam.MMPerPX
	for y := max(0, int(loy)-1); y < min(c.h, int(hiy)+2); y++ {
		for x := max(0, int(lox)-1); x < min(c.w, int(hix)+2); x++ {
			var col rgb
			hits := 0
			for k := range n * n {
				u, v := to(float64(x)+(float64(k%n)+0.5)/float64(n)-0.5, float64(y)+(float64(k/n)+0.5)/float64(n)-0.5)
				if u < 0 || v < 0 || u >= 1 || v >= 1 {
					continue
				}
				p := color.NRGBAModel.Convert(b.Image.At(size.Min.X+int(u*float64(size.Dx())), size.Min.Y+int(v*float64(size.Dy())))).(color.NRGBA)
				col.r, col.g, col.b = col.r+float32(p.R), col.g+float32(p.G), col.b+float32(p.B)
				hits++
			}
			if hits == 0 {
				continue
			}
			mx, my := r.v.mm(float64(x), float64(y))
			light := 0.9 * r.light(mx, my, half, m.cam.CenterXMM, m.cam.CenterYMM)
			c.blend(y*c.w+x, col.times(light/float32(hits)), float32(hits)/float32(n*n))
		}
	}
}

// squareFrom maps the quadrilateral's inside onto the unit square (Heckbert 1989, Fundamentals of texture mapping
// and image warping, 2.2.3: the projective map of a square to a quadrilateral, inverted by its adjugate).
func squareFrom(q []timeline.XY) (func(x, y float64) (u, v float64), bool) {
	sx, sy := q[0].X-q[1].X+q[2].X-q[3].X, q[0].Y-q[1].Y+q[2].Y-q[3].Y
	dx1, dx2, dy1, dy2 := q[1].X-q[2].X, q[3].X-q[2].X, q[1].Y-q[2].Y, q[3].Y-q[2].Y
	den := dx1*dy2 - dx2*dy1
	if math.Abs(den) < 1e-9 {
		return nil, false
	}
	g, h := (sx*dy2-dx2*sy)/den, (dx1*sy-sx*dy1)/den
	a, b, c := q[1].X-q[0].X+g*q[1].X, q[3].X-q[0].X+h*q[3].X, q[0].X
	d, e, f := q[1].Y-q[0].Y+g*q[1].Y, q[3].Y-q[0].Y+h*q[3].Y, q[0].Y
	return func(x, y float64) (float64, float64) {
		w := (d*h-e*g)*x + (b*g-a*h)*y + (a*e - b*d)
		return ((e-f*h)*x + (c*h-b)*y + (b*f - c*e)) / w, ((f*g-d)*x + (a-c*g)*y + (c*d - a*f)) / w
	}, true
}
