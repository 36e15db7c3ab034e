package imaging

import (
	"image"
	"image/color"
	"image/draw"
)

// upright turns, converts and flattens the picture into pixels of our own.
func (s *source) upright(img image.Image) *image.NRGBA {
	out := turn(img, s.orientation)
	s.colour.apply(out)
	return out
}

// stripRows is the height of the strips that turn works in; a multiple of every chroma subsampling.
const stripRows = 16

// turn is img upright, opaque on white. It works strip by strip, so that no second full-size copy is ever held.
func turn(img image.Image, orientation int) *image.NRGBA {
	b := img.Bounds()
	w, h := b.Dx(), b.Dy()
	outW, outH := w, h
	if turned(orientation) {
		outW, outH = h, w
	}
	out := image.NewNRGBA(image.Rect(0, 0, outW, outH))
	x0, y0, rightX, rightY, downX, downY := upright(orientation, w, h)
	origin := y0*out.Stride + 4*x0
	right, down := rightY*out.Stride+4*rightX, downY*out.Stride+4*downX
	opaque := isOpaque(img)
	rows((h+stripRows-1)/stripRows, func(s0, s1 int) {
		strip := image.NewRGBA(image.Rect(0, 0, w, stripRows))
		for s := s0; s < s1; s++ {
			top := s * stripRows
			n := min(stripRows, h-top)
			dst := image.Rect(0, 0, w, n)
			if opaque {
				draw.Draw(strip, dst, img, image.Pt(b.Min.X, b.Min.Y+top), draw.Src)
			} else {
				draw.Draw(strip, dst, image.White, image.Point{}, draw.Src)
				draw.Draw(strip, dst, img, image.Pt(b.Min.X, b.Min.Y+top), draw.Over)
			}
			for y := range n {
				row := strip.Pix[y*strip.Stride : y*strip.Stride+4*w]
				at := origin + (top+y)*down
				if right == 4 {
					copy(out.Pix[at:], row)
					continue
				}
				for i := 0; i < len(row); i += 4 {
					copy(out.Pix[at:at+4:at+4], row[i:i+4])
					at += right
				}
			}
		}
	})
	return out
}

func isOpaque(img image.Image) bool {
	switch img.(type) {
	case *image.YCbCr, *image.Gray, *image.Gray16, *image.CMYK:
		return true
	}
	if o, ok := img.(interface{ Opaque() bool }); ok {
		return o.Opaque()
	}
	return img.ColorModel() == color.GrayModel
}
