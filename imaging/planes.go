package imaging

import (
	"image"
	"math"
)

// plane is one channel of a picture, 8 bits a sample.
type plane struct {
	pix          []byte
	stride, w, h int
}

func newPlane(w, h int) plane { return plane{make([]byte, w*h), w, w, h} }

// planesOf are the channels of an opaque picture whose first pixel is at the origin; chroma of odd sizes is rounded up.
func planesOf(img *image.YCbCr) [3]plane {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	cw, ch := w, h
	switch img.SubsampleRatio {
	case image.YCbCrSubsampleRatio420:
		cw, ch = (w+1)/2, (h+1)/2
	case image.YCbCrSubsampleRatio422:
		cw = (w + 1) / 2
	case image.YCbCrSubsampleRatio440:
		ch = (h + 1) / 2
	}
	return [3]plane{{img.Y, img.YStride, w, h}, {img.Cb, img.CStride, cw, ch}, {img.Cr, img.CStride, cw, ch}}
}

// planar reports whether the planes of img can be worked on as they are.
func planar(img image.Image) (*image.YCbCr, bool) {
	y, ok := img.(*image.YCbCr)
	if !ok || y.Rect.Min != (image.Point{}) {
		return nil, false
	}
	switch y.SubsampleRatio {
	case image.YCbCrSubsampleRatio444, image.YCbCrSubsampleRatio422, image.YCbCrSubsampleRatio420, image.YCbCrSubsampleRatio440:
		return y, true
	}
	return nil, false
}

// as420 is a picture of 4:2:0 from planes whose chroma has half the size of luma, rounded up.
func as420(p [3]plane) *image.YCbCr {
	return &image.YCbCr{
		Y: p[0].pix, Cb: p[1].pix, Cr: p[2].pix, YStride: p[0].stride, CStride: p[1].stride,
		SubsampleRatio: image.YCbCrSubsampleRatio420, Rect: image.Rect(0, 0, p[0].w, p[0].h),
	}
}

// resizeYCbCr is img at w × h, 4:2:0; it never enlarges. Chroma samples stand for the middle of the pixels they cover
// (JFIF 1.02), so that a plane is resized like any other picture; a last sample that covers only one pixel is given half
// its weight by where the picture ends.
func resizeYCbCr(img *image.YCbCr, w, h int) *image.YCbCr {
	in := planesOf(img)
	fullW, fullH := float64(img.Rect.Dx()), float64(img.Rect.Dy())
	var out [3]plane
	out[0] = in[0].resize(w, h, fullW, fullH)
	cw, ch := (w+1)/2, (h+1)/2
	for i := 1; i < 3; i++ {
		// How many of its own samples the picture spans: half a sample less than it has, where a size is odd. What is made
		// spans so, too.
		spanX, spanY := float64(in[i].w), float64(in[i].h)
		if in[i].w != in[0].w {
			spanX = fullW / 2
		}
		if in[i].h != in[0].h {
			spanY = fullH / 2
		}
		out[i] = in[i].resize(cw, ch, spanX*float64(cw)/(float64(w)/2), spanY*float64(ch)/(float64(h)/2))
	}
	return as420(out)
}

// resize is the plane at w × h, made from spanX × spanY of its own samples.
func (p plane) resize(w, h int, spanX, spanY float64) plane {
	if w == p.w && h == p.h {
		return p
	}
	// Averaging pairs first costs little and halves the work of the filter; 1.5 keeps what it can still show.
	for spanX >= 3*float64(w) && spanY >= 3*float64(h) && p.w > 1 && p.h > 1 {
		p = p.halve()
		spanX, spanY = spanX/2, spanY/2
	}
	return p.resizeY(h, spanY).resizeX(w, spanX)
}

// halve averages 2 × 2 samples; a last odd row or column stands for two.
func (p plane) halve() plane {
	out := newPlane((p.w+1)/2, (p.h+1)/2)
	rows(out.h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			a := p.pix[2*y*p.stride:][:p.w]
			b := a
			if 2*y+1 < p.h {
				b = p.pix[(2*y+1)*p.stride:][:p.w]
			}
			dst := out.pix[y*out.stride:][:out.w]
			n := p.w / 2
			a2, b2 := a[:2*n], b[:2*n]
			for x := range dst[:n] {
				i := 2 * x
				if i+1 < len(a2) && i+1 < len(b2) {
					// Half levels go down and up by turns, or every halving would brighten.
					dst[x] = uint8((uint32(a2[i]) + uint32(a2[i+1]) + uint32(b2[i]) + uint32(b2[i+1]) + 1 + uint32(x&1)) >> 2)
				}
			}
			if n < len(dst) {
				dst[n] = uint8((uint32(a[p.w-1]) + uint32(b[p.w-1]) + 1) >> 1)
			}
		}
	})
	return out
}

// taps are the samples from first on that make up one sample, and their weights, which add up to 1<<tapBits.
type taps struct {
	first   int
	weights []int32
}

const tapBits = 14

// cubic is the kernel of Catmull and Rom (1974), as Keys gives it (IEEE TASSP 29(6), 1981) with a = −1/2.
func cubic(x float64) float64 {
	switch x = math.Abs(x); {
	case x < 1:
		return (1.5*x-2.5)*x*x + 1
	case x < 2:
		return ((-0.5*x+2.5)*x-4)*x + 2
	}
	return 0
}

// tapsFor are the weights that make n samples of the first span of m.
func tapsFor(n, m int, span float64) []taps {
	out := make([]taps, n)
	scale := span / float64(n)
	wide := max(scale, 1)
	for i := range out {
		centre := (float64(i)+0.5)*scale - 0.5
		first, last := max(int(math.Ceil(centre-2*wide)), 0), min(int(math.Floor(centre+2*wide)), m-1)
		first, last = min(first, m-1), max(last, 0)
		w := make([]float64, last-first+1)
		sum := 0.0
		for k := range w {
			w[k] = cubic((float64(first+k) - centre) / wide)
			sum += w[k]
		}
		t := taps{first, make([]int32, len(w))}
		left, most := int32(1)<<tapBits, 0
		for k := range w {
			t.weights[k] = int32(math.Round(w[k] / sum * (1 << tapBits)))
			left -= t.weights[k]
			if t.weights[k] > t.weights[most] {
				most = k
			}
		}
		t.weights[most] += left
		out[i] = t
	}
	return out
}

func (p plane) resizeY(h int, span float64) plane {
	if h == p.h && span == float64(p.h) {
		return p
	}
	out := newPlane(p.w, h)
	all := tapsFor(h, p.h, span)
	rows(h, func(y0, y1 int) {
		acc := make([]int32, p.w)
		for y := y0; y < y1; y++ {
			t := all[y]
			for x := range acc {
				acc[x] = 1 << (tapBits - 1)
			}
			for k, w := range t.weights {
				src := p.pix[(t.first+k)*p.stride:][:len(acc)]
				for x := range acc {
					acc[x] += w * int32(src[x])
				}
			}
			dst := out.pix[y*out.stride:][:len(acc)]
			for x := range acc {
				dst[x] = clampByte(acc[x] >> tapBits)
			}
		}
	})
	return out
}

func (p plane) resizeX(w int, span float64) plane {
	if w == p.w && span == float64(p.w) {
		return p
	}
	out := newPlane(w, p.h)
	all := tapsFor(w, p.w, span)
	rows(p.h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			src := p.pix[y*p.stride:][:p.w]
			dst := out.pix[y*out.stride:][:w]
			for x := range dst {
				t := &all[x]
				s := src[t.first:][:len(t.weights)]
				acc := int32(1 << (tapBits - 1))
				for k, wt := range t.weights {
					acc += wt * int32(s[k])
				}
				dst[x] = clampByte(acc >> tapBits)
			}
		}
	})
	return out
}

// turnable reports whether a 4:2:0 picture can be turned plane by plane: along an axis that is turned round and has an
// odd size, the chroma samples would stand for other pairs of pixels than before.
func turnable(w, h, orientation int) bool {
	x0, y0, rightX, rightY, downX, downY := upright(orientation, w, h)
	_, _ = x0, y0
	return (rightX+rightY > 0 || w%2 == 0) && (downX+downY > 0 || h%2 == 0)
}

// turnYCbCr is a turnable 4:2:0 picture upright.
func turnYCbCr(img *image.YCbCr, orientation int) *image.YCbCr {
	if orientation < 2 || orientation > 8 {
		return img
	}
	p := planesOf(img)
	for i := range p {
		p[i] = p[i].turn(orientation)
	}
	return as420(p)
}

func (p plane) turn(orientation int) plane {
	out := newPlane(p.w, p.h)
	if turned(orientation) {
		out = newPlane(p.h, p.w)
	}
	x0, y0, rightX, rightY, downX, downY := upright(orientation, p.w, p.h)
	origin := y0*out.stride + x0
	right, down := rightY*out.stride+rightX, downY*out.stride+downX
	// Squares that stay in the cache while one side is walked along its columns.
	const side = 32
	rows((p.h+side-1)/side, func(s0, s1 int) {
		for s := s0; s < s1; s++ {
			for left := 0; left < p.w; left += side {
				for y := s * side; y < min(p.h, (s+1)*side); y++ {
					src := p.pix[y*p.stride:][left:min(p.w, left+side)]
					at := origin + y*down + left*right
					for _, v := range src {
						out.pix[at] = v
						at += right
					}
				}
			}
		}
	})
	return out
}
