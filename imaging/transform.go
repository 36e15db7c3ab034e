package imaging

import (
	"image"

	resample "github.com/disintegration/imaging"
)

// This is the one file that knows the resampling library. It is given *image.NRGBA only: on some paletted pictures it
// panics in a goroutine of its own, where no recover reaches.

// Resize returns img with its long side at longSidePX pixels; a picture that is not larger comes back as it is.
func Resize(img *image.NRGBA, longSidePX int) *image.NRGBA {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	if longSidePX < 1 || max(w, h) <= longSidePX {
		return img
	}
	outW, outH := fit(w, h, longSidePX)
	return resample.Resize(img, outW, outH, resample.Lanczos)
}

// Mirror returns img with left and right exchanged: x becomes width − 1 − x.
func Mirror(img *image.NRGBA) *image.NRGBA { return resample.FlipH(img) }

// fit is w × h with the long side at long, the short side rounded, at least 1.
func fit(w, h, long int) (int, int) {
	if w >= h {
		return long, max(1, (h*long+w/2)/w)
	}
	return max(1, (w*long+h/2)/h), long
}
