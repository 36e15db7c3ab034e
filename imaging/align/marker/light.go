package marker

import (
	"image"
	"image/color"
	"runtime"
	"sync"

	"thatch/imaging"
)

var lightest = color.Gray{Y: 255}

// grey is how light a photo is, 8 bits a sample; a sample stands for factor × factor px.
type grey struct {
	w, h, factor int
	pix          []uint8
}

// greyOf is img at full size, by the weights of Rec. 709 on the encoded values: for finding, that is light enough.
func greyOf(img *image.NRGBA) *grey {
	b := img.Bounds()
	g := &grey{w: b.Dx(), h: b.Dy(), factor: 1, pix: make([]uint8, b.Dx()*b.Dy())}
	bands(g.h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			in := img.Pix[img.PixOffset(b.Min.X, b.Min.Y+y):][:4*g.w]
			out := g.pix[y*g.w:][:g.w]
			for x := range out {
				p := in[4*x : 4*x+3 : 4*x+3]
				out[x] = uint8((54*uint32(p[0]) + 183*uint32(p[1]) + 19*uint32(p[2])) >> 8)
			}
		}
	})
	return g
}

// reduced averages squares of factor × factor px; what is left over at the right and below is dropped.
func (g *grey) reduced(factor int) *grey {
	if factor <= 1 {
		return g
	}
	out := &grey{w: g.w / factor, h: g.h / factor, factor: g.factor * factor}
	out.pix = make([]uint8, out.w*out.h)
	n := uint32(factor * factor)
	bands(out.h, func(y0, y1 int) {
		sum := make([]uint32, out.w)
		for y := y0; y < y1; y++ {
			clear(sum)
			for k := range factor {
				in := g.pix[(y*factor+k)*g.w:]
				for x := range sum {
					for _, v := range in[x*factor:][:factor] {
						sum[x] += uint32(v)
					}
				}
			}
			for x, s := range sum {
				out.pix[y*out.w+x] = uint8((s + n/2) / n)
			}
		}
	})
	return out
}

// full is a place in the plane as a place in the photo.
func (g *grey) full(p XY) XY {
	f := float64(g.factor)
	return XY{X: (p.X+0.5)*f - 0.5, Y: (p.Y+0.5)*f - 0.5}
}

// patch is a piece of the photo in linear light, 0–1: an edge blurred by a lens has its middle there, not in encoded values.
type patch struct {
	x0, y0, w, h int
	pix          []float32
}

// linear is the light of encoded values.
var linear = func() (t [256]float32) {
	for i, v := range imaging.LinearLight() {
		t[i] = float32(v)
	}
	return t
}()

// cut is the part of img inside r, both counted from the photo's own corner.
func cut(img *image.NRGBA, r image.Rectangle) *patch {
	b := img.Bounds()
	r = r.Intersect(image.Rect(0, 0, b.Dx(), b.Dy()))
	p := &patch{x0: r.Min.X, y0: r.Min.Y, w: r.Dx(), h: r.Dy(), pix: make([]float32, r.Dx()*r.Dy())}
	for y := range p.h {
		in := img.Pix[img.PixOffset(b.Min.X+p.x0, b.Min.Y+p.y0+y):]
		out := p.pix[y*p.w:][:p.w]
		for x := range out {
			out[x] = 0.2126*linear[in[4*x]] + 0.7152*linear[in[4*x+1]] + 0.0722*linear[in[4*x+2]]
		}
	}
	return p
}

// at is the light at a place of the photo; not ok outside the patch.
func (p *patch) at(q XY) (v float64, ok bool) {
	x, y := q.X-float64(p.x0), q.Y-float64(p.y0)
	if !(x >= 0 && y >= 0 && x < float64(p.w-1) && y < float64(p.h-1)) {
		return 0, false
	}
	i, j := int(x), int(y)
	fx, fy := float32(x-float64(i)), float32(y-float64(j))
	a, b := p.pix[j*p.w+i:], p.pix[(j+1)*p.w+i:]
	top, low := a[0]+fx*(a[1]-a[0]), b[0]+fx*(b[1]-b[0])
	return float64(top + fy*(low-top)), true
}

// bands calls f for bands of rows that together are all of them, on all cores.
func bands(h int, f func(y0, y1 int)) {
	n := min(runtime.GOMAXPROCS(0), max(1, h/64))
	var wg sync.WaitGroup
	for k := range n {
		wg.Go(func() { f(h*k/n, h*(k+1)/n) })
	}
	wg.Wait()
}
