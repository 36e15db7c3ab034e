package imaging

import (
	"image"
	"image/color"
	"math"
	"testing"
)

// Against the colours' definition by the primaries of the standard, which the tests of profiles compute on their own (E:
// IEC 61966-2-1, CIE 15).
func TestLabOfAPictureIsThatOfItsColours(t *testing.T) {
	img := image.NewNRGBA(image.Rect(5, 7, 5+216, 8))
	n := 0
	for r := 0; r < 256; r += 51 {
		for g := 0; g < 256; g += 51 {
			for b := 0; b < 256; b += 51 {
				img.SetNRGBA(5+n, 7, color.NRGBA{uint8(r), uint8(g), uint8(b), 255})
				n++
			}
		}
	}
	got := Lab(img)
	if len(got) != 3*n {
		t.Fatalf("%d numbers of %d colours", len(got), n)
	}
	for i := range n {
		c := img.NRGBAAt(5+i, 7)
		for k, want := range labOf(c.R, c.G, c.B) {
			if math.Abs(float64(got[3*i+k])-want) > 0.05 {
				t.Errorf("%v: number %d is %.3f, by definition %.3f", c, k, got[3*i+k], want)
			}
		}
	}
}
