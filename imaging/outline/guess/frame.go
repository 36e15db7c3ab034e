package guess

import "image"

const (
	frameShare = 0.05 // of the short side that a frame takes at most
	frameLevel = 40   // levels of a channel by which a frame's pixels may differ from its corner
	frameOdd   = 0.05 // share of a line's pixels that may be otherwise
)

// inner is a picture without a frame of one colour, as scanned prints have: it would part all that reaches the border from it.
func inner(img *image.NRGBA) *image.NRGBA {
	r := img.Rect
	corner := img.Pix[img.PixOffset(r.Min.X, r.Min.Y):]
	same := func(line image.Rectangle) bool {
		odd := 0
		for y := line.Min.Y; y < line.Max.Y; y++ {
			for x := line.Min.X; x < line.Max.X; x++ {
				p := img.Pix[img.PixOffset(x, y):]
				for k := range 3 {
					if d := int(p[k]) - int(corner[k]); d > frameLevel || d < -frameLevel {
						odd++
						break
					}
				}
			}
		}
		return float64(odd) < frameOdd*float64(line.Dx()*line.Dy())
	}
	most := max(2, int(frameShare*float64(min(r.Dx(), r.Dy()))))
	wide := func(line func(k int) image.Rectangle) (k int) {
		for k < most && same(line(k)) {
			k++
		}
		return k
	}
	top := wide(func(k int) image.Rectangle { return image.Rect(r.Min.X, r.Min.Y+k, r.Max.X, r.Min.Y+k+1) })
	bottom := wide(func(k int) image.Rectangle { return image.Rect(r.Min.X, r.Max.Y-k-1, r.Max.X, r.Max.Y-k) })
	left := wide(func(k int) image.Rectangle { return image.Rect(r.Min.X+k, r.Min.Y, r.Min.X+k+1, r.Max.Y) })
	right := wide(func(k int) image.Rectangle { return image.Rect(r.Max.X-k-1, r.Min.Y, r.Max.X-k, r.Max.Y) })
	if min(top, bottom, left, right) == 0 || max(top, bottom, left, right) == most {
		return img // no frame, or a wall of one colour
	}
	// The line beside a frame is half of it.
	return img.SubImage(image.Rect(r.Min.X+left+1, r.Min.Y+top+1, r.Max.X-right-1, r.Max.Y-bottom-1)).(*image.NRGBA)
}
