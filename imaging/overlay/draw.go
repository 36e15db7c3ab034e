package overlay

import (
	"image"
	"image/color"
	"image/draw"
	"math"

	"golang.org/x/image/vector"
)

// stroke kinds differ in dash and weight, not in colour alone: measured is solid and heavy, expected dashed, its band
// thin and finely dashed, target dotted with a veil between, skin thin with long dashes. The colours are those of
// M. Okabe, K. Ito, "Color Universal Design", 2008, told apart by people who see colours otherwise.
type pen struct {
	colour color.NRGBA
	weight float64 // of the unit
	dash   []float64
}

var (
	penSkin     = pen{color.NRGBA{0xf0, 0xf0, 0xf0, 0xff}, 0.7, []float64{9, 3, 1.5, 3}}
	penMeasured = pen{color.NRGBA{0xd5, 0x5e, 0x00, 0xff}, 1.9, nil}
	penExpected = pen{color.NRGBA{0x56, 0xb4, 0xe9, 0xff}, 1.4, []float64{7, 6}}
	penBand     = pen{color.NRGBA{0x56, 0xb4, 0xe9, 0xff}, 0.7, []float64{2.5, 2.5}}
	penTarget   = pen{color.NRGBA{0x00, 0x9e, 0x73, 0xff}, 1.5, []float64{0, 5.5}}
	veilTarget  = color.NRGBA{0x00, 0x9e, 0x73, 0x46}
	halo        = color.NRGBA{0x10, 0x10, 0x10, 0x9a}
)

// Draw is a copy of img, its bounds at the origin, with the lines burnt in, anti-aliased, each with a dark halo so that
// it shows on a pale coat and on a dark wall. Weights follow the picture's size.
func Draw(img *image.NRGBA, l Lines) *image.NRGBA {
	b := img.Bounds()
	out := image.NewNRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	draw.Draw(out, out.Bounds(), img, b.Min, draw.Src)
	unit := math.Max(1, float64(max(b.Dx(), b.Dy()))/700)
	veil(out, l.TargetMin, l.TargetMax, veilTarget)
	for _, s := range []struct {
		path Path
		pen  pen
	}{
		{l.Skin, penSkin}, {l.TargetMin, penTarget}, {l.TargetMax, penTarget},
		{l.ExpectedLow, penBand}, {l.ExpectedHigh, penBand}, {l.Expected, penExpected}, {l.Measured, penMeasured},
	} {
		under, over := newInk(out.Bounds()), newInk(out.Bounds())
		for _, line := range s.path {
			for _, part := range within(line, out.Bounds(), 8*unit) {
				for _, d := range dashes(part, s.pen.dash, unit) {
					under.line(d, (s.pen.weight/2+0.8)*unit)
					over.line(d, s.pen.weight/2*unit)
				}
			}
		}
		under.blend(out, halo)
		over.blend(out, s.pen.colour)
	}
	return out
}

// within is the parts of a polyline that run through r or within margin px of it (Y.-D. Liang, B. A. Barsky, ACM TOG 3,
// 1984); what lies far outside would be dashed for ever. Points that are not finite are left out.
func within(line []XY, r image.Rectangle, margin float64) [][]XY {
	var pts []XY
	for _, p := range line {
		if finite(p) {
			pts = append(pts, p)
		}
	}
	x0, x1 := float64(r.Min.X)-margin, float64(r.Max.X)+margin
	y0, y1 := float64(r.Min.Y)-margin, float64(r.Max.Y)+margin
	var out [][]XY
	open := false
	for i := range len(pts) - 1 {
		a, b := pts[i], pts[i+1]
		d := sub(b, a)
		t0, t1 := 0.0, 1.0
		for _, e := range [][2]float64{{-d.X, a.X - x0}, {d.X, x1 - a.X}, {-d.Y, a.Y - y0}, {d.Y, y1 - a.Y}} {
			switch {
			case e[0] == 0 && e[1] < 0:
				t1 = -1
			case e[0] < 0:
				t0 = math.Max(t0, e[1]/e[0])
			case e[0] > 0:
				t1 = math.Min(t1, e[1]/e[0])
			}
		}
		if t0 > t1 {
			open = false
			continue
		}
		if !open || t0 > 0 {
			out = append(out, []XY{lerp(a, b, t0)})
		}
		out[len(out)-1] = append(out[len(out)-1], lerp(a, b, t1))
		open = t1 == 1
	}
	return out
}

// dashes cuts a polyline into the pieces that are inked; a dash of 0 is a dot. nil dash inks all of it.
func dashes(pts []XY, dash []float64, unit float64) [][]XY {
	if len(pts) < 2 || len(dash) == 0 {
		return [][]XY{pts}
	}
	var out [][]XY
	k, left, on := 0, dash[0]*unit, true
	piece := []XY{pts[0]}
	for i := 1; i < len(pts); i++ {
		a, b := pts[i-1], pts[i]
		for {
			d := length(sub(b, a))
			if d <= left {
				left -= d
				piece = append(piece, b)
				break
			}
			a = lerp(a, b, left/d)
			if on {
				out = append(out, append(piece, a))
			}
			piece, on = []XY{a}, !on
			k = (k + 1) % len(dash)
			left = dash[k] * unit
		}
	}
	if on {
		out = append(out, piece)
	}
	return out
}

// ink is coverage, so that strokes which overlap do not darken twice.
type ink struct {
	r   image.Rectangle
	cov []float32
	hit image.Rectangle
}

func newInk(r image.Rectangle) *ink { return &ink{r: r} }

// line inks all within radius px of the polyline, with round ends.
func (k *ink) line(p []XY, radius float64) {
	if k.cov == nil {
		k.cov = make([]float32, k.r.Dx()*k.r.Dy())
	}
	for i := range p {
		a, b := p[i], p[min(i+1, len(p)-1)]
		box := image.Rect(
			floor(math.Min(a.X, b.X)-radius-1, k.r.Dx()), floor(math.Min(a.Y, b.Y)-radius-1, k.r.Dy()),
			floor(math.Max(a.X, b.X)+radius+2, k.r.Dx()), floor(math.Max(a.Y, b.Y)+radius+2, k.r.Dy())).Intersect(k.r)
		k.hit = k.hit.Union(box)
		ab := sub(b, a)
		ll := dot(ab, ab)
		for y := box.Min.Y; y < box.Max.Y; y++ {
			for x := box.Min.X; x < box.Max.X; x++ {
				q := XY{X: float64(x), Y: float64(y)}
				t := 0.0
				if ll > 0 {
					t = math.Min(1, math.Max(0, dot(sub(q, a), ab)/ll))
				}
				if c := float32(radius + 0.5 - length(sub(q, lerp(a, b, t)))); c > 0 {
					at := &k.cov[y*k.r.Dx()+x]
					*at = max(*at, min(c, 1))
				}
			}
		}
	}
}

// floor keeps lines that run far out of the picture from overflowing an int.
func floor(v float64, size int) int {
	return int(math.Floor(math.Min(math.Max(v, -1), float64(size)+1)))
}

func (k *ink) blend(out *image.NRGBA, c color.NRGBA) {
	if k.cov == nil {
		return
	}
	for y := k.hit.Min.Y; y < k.hit.Max.Y; y++ {
		for x := k.hit.Min.X; x < k.hit.Max.X; x++ {
			mix(out.Pix[y*out.Stride+4*x:], c, float64(k.cov[y*k.r.Dx()+x]))
		}
	}
}

func mix(px []uint8, c color.NRGBA, cover float64) {
	a := cover * float64(c.A) / 255
	if a <= 0 {
		return
	}
	for i, v := range []uint8{c.R, c.G, c.B, 0xff} {
		px[i] = uint8(float64(px[i])*(1-a) + float64(v)*a + 0.5)
	}
}

// veil tints what lies between two paths whose polylines come in pairs.
func veil(out *image.NRGBA, inner, outer Path, c color.NRGBA) {
	if len(inner) != len(outer) || out.Bounds().Empty() {
		return
	}
	for i := range inner {
		if len(inner[i]) < 2 || len(outer[i]) < 2 {
			continue
		}
		z := vector.NewRasterizer(out.Bounds().Dx(), out.Bounds().Dy())
		first := true
		to := func(p XY) {
			if !finite(p) {
				return
			}
			x, y := float32(p.X+0.5), float32(p.Y+0.5)
			if first {
				z.MoveTo(x, y)
			} else {
				z.LineTo(x, y)
			}
			first = false
		}
		for _, p := range inner[i] {
			to(p)
		}
		for j := len(outer[i]) - 1; j >= 0; j-- {
			to(outer[i][j])
		}
		z.ClosePath()
		z.Draw(out, out.Bounds(), image.NewUniform(c), image.Point{})
	}
}
