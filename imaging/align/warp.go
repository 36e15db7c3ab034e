package align

import (
	"image"
	"math"
	"runtime"
	"sync"
)

// Grey is what Warp paints where the picture has nothing: neutral, so that it neither glares nor reads as coat.
const Grey = 0x80

// Warp draws img, mirrored first if so (x → width − 1 − x), through t into a picture of w × h px, w and h ≥ 0; neutral
// grey where img has nothing, and everywhere if t is not Valid. Bilinear; a picture that shrinks below a half is halved
// by means of four first, so that fine coat does not turn into moiré. t maps full pixels of img, whatever its Bounds.
func Warp(img *image.NRGBA, t Similarity, mirrored bool, w, h int) *image.NRGBA {
	out := image.NewNRGBA(image.Rect(0, 0, max(w, 0), max(h, 0)))
	for i := range out.Pix {
		out.Pix[i] = Grey
		if i%4 == 3 {
			out.Pix[i] = 0xff
		}
	}
	if !t.Valid() || img.Bounds().Empty() {
		return out
	}
	if mirrored {
		img = Mirror(img)
	}
	for t.Scale() < 0.5 && img.Bounds().Dx() >= 2 && img.Bounds().Dy() >= 2 {
		img = halve(img)
		// Pixel i of the half covers 2i and 2i+1, its centre is at 2i + 0.5.
		t = t.Compose(Similarity{A: 2, TX: 0.5, TY: 0.5})
	}
	inv := t.Inverse()
	b := img.Bounds()
	sw, sh := b.Dx(), b.Dy()
	base := img.PixOffset(b.Min.X, b.Min.Y)
	rows(h, func(y int) {
		o := out.Pix[y*out.Stride:]
		for x := range w {
			p := inv.Apply(XY{X: float64(x), Y: float64(y)})
			if p.X < -0.5 || p.Y < -0.5 || p.X > float64(sw)-0.5 || p.Y > float64(sh)-0.5 {
				continue
			}
			px := math.Min(math.Max(p.X, 0), float64(sw-1))
			py := math.Min(math.Max(p.Y, 0), float64(sh-1))
			x0, y0 := int(px), int(py)
			fx, fy := int(256*(px-float64(x0))+0.5), int(256*(py-float64(y0))+0.5)
			i := base + y0*img.Stride + 4*x0
			dx, dy := 4, img.Stride
			if x0+1 >= sw {
				dx = 0
			}
			if y0+1 >= sh {
				dy = 0
			}
			w00, w10, w01, w11 := (256-fx)*(256-fy), fx*(256-fy), (256-fx)*fy, fx*fy
			for c := range 4 {
				v := w00*int(img.Pix[i+c]) + w10*int(img.Pix[i+dx+c]) + w01*int(img.Pix[i+dy+c]) + w11*int(img.Pix[i+dx+dy+c])
				o[4*x+c] = uint8((v + 1<<15) >> 16)
			}
		}
	})
	return out
}

// Mirror is img with left and right exchanged, its bounds at the origin.
func Mirror(img *image.NRGBA) *image.NRGBA {
	b := img.Bounds()
	out := image.NewNRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	rows(b.Dy(), func(y int) {
		in := img.Pix[img.PixOffset(b.Min.X, b.Min.Y+y):]
		o := out.Pix[y*out.Stride:]
		for x := range b.Dx() {
			copy(o[4*x:4*x+4], in[4*(b.Dx()-1-x):])
		}
	})
	return out
}

func halve(img *image.NRGBA) *image.NRGBA {
	b := img.Bounds()
	w, h := b.Dx()/2, b.Dy()/2
	out := image.NewNRGBA(image.Rect(0, 0, w, h))
	rows(h, func(y int) {
		i := img.PixOffset(b.Min.X, b.Min.Y+2*y)
		j := i + img.Stride
		o := out.Pix[y*out.Stride:]
		for x := range w {
			for c := range 4 {
				v := int(img.Pix[i+c]) + int(img.Pix[i+4+c]) + int(img.Pix[j+c]) + int(img.Pix[j+4+c])
				o[4*x+c] = uint8((v + 2) / 4)
			}
			i, j = i+8, j+8
		}
	})
	return out
}

// rows runs f for every row, in bands over the processors.
func rows(h int, f func(y int)) {
	n := min(runtime.GOMAXPROCS(0), max(1, h/64))
	if n <= 1 {
		for y := range h {
			f(y)
		}
		return
	}
	var wg sync.WaitGroup
	for k := range n {
		wg.Go(func() {
			for y := h * k / n; y < h*(k+1)/n; y++ {
				f(y)
			}
		})
	}
	wg.Wait()
}
