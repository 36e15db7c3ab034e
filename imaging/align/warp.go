package align

import "image"

// Warp draws img, mirrored first if so, through t into a picture of w × h px; neutral grey where img has nothing.
func Warp(img *image.NRGBA, t Similarity, mirrored bool, w, h int) *image.NRGBA {
	return image.NewNRGBA(image.Rect(0, 0, w, h))
}
