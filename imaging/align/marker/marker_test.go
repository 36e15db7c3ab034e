package marker

import (
	"image"
	"testing"
)

var empty12MP *image.NRGBA

// with12MP lends out an empty photo of 4032 × 3024 px, whole again every time.
func with12MP(t testing.TB, f func(img *image.NRGBA)) {
	t.Helper()
	if empty12MP == nil {
		empty12MP = room(4032, 3024, 1)
	}
	img := image.NewNRGBA(empty12MP.Rect)
	copy(img.Pix, empty12MP.Pix)
	f(img)
}
