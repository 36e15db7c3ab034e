package align

import (
	"image"
	"image/color"
	"math"
	"testing"
)

func checker(w, h int) *image.NRGBA {
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			img.SetNRGBA(x, y, color.NRGBA{R: uint8(40 + 13*x%200), G: uint8(30 + 7*y%200), B: uint8(20 + (x*y)%180), A: 255})
		}
	}
	return img
}

// ramp is linear in x and y, so that bilinear sampling of it is exact.
func ramp(w, h int) *image.NRGBA {
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			img.SetNRGBA(x, y, color.NRGBA{R: uint8(x), G: uint8(y), B: uint8((x + y) / 2), A: 255})
		}
	}
	return img
}

func same(a, b *image.NRGBA) bool {
	if a.Bounds().Size() != b.Bounds().Size() {
		return false
	}
	for y := range a.Bounds().Dy() {
		for x := range a.Bounds().Dx() {
			if a.NRGBAAt(a.Rect.Min.X+x, a.Rect.Min.Y+y) != b.NRGBAAt(b.Rect.Min.X+x, b.Rect.Min.Y+y) {
				return false
			}
		}
	}
	return true
}

func TestWarpByTheIdentityChangesNothing(t *testing.T) {
	img := checker(61, 47)
	if !same(Warp(img, Identity(), false, 61, 47), img) {
		t.Error("a pixel changed")
	}
	cut := img.SubImage(image.Rect(10, 5, 50, 40)).(*image.NRGBA)
	if !same(Warp(cut, Identity(), false, 40, 35), cut) {
		t.Error("a picture whose bounds do not start at the origin changed")
	}
	if !same(Warp(Mirror(img), Identity(), true, 61, 47), img) || !same(Mirror(Mirror(img)), img) {
		t.Error("mirrored twice is not the picture itself")
	}
}

func TestWarpByQuarterTurnsMovesPixelsExactly(t *testing.T) {
	img := checker(40, 30)
	out := Warp(img, Similarity{B: 1, TX: 29}, false, 30, 40) // (x, y) → (29 − y, x)
	for y := range 30 {
		for x := range 40 {
			if out.NRGBAAt(29-y, x) != img.NRGBAAt(x, y) {
				t.Fatalf("pixel %d, %d went astray", x, y)
			}
		}
	}
}

// A (analytic): on a linear ramp the value at t(p) is the value at p, to the rounding of 8 bits; outside it is grey.
func TestWarpPutsEveryPixelWhereTheTransformSays(t *testing.T) {
	img := ramp(200, 200)
	for _, s := range []Similarity{Turn(1.3, 7, XY{X: 90, Y: 110}), Turn(0.8, -20, XY{X: 10, Y: 10}), Turn(0.37, 5, XY{X: 100, Y: 100}), Turn(0.2, 0, XY{})} {
		out := Warp(img, s, false, 220, 210)
		inv := s.Inverse()
		greys := 0
		for y := range 210 {
			for x := range 220 {
				p := inv.Apply(XY{X: float64(x), Y: float64(y)})
				c := out.NRGBAAt(x, y)
				margin := 1.5 / s.Scale()
				switch {
				case p.X > margin && p.Y > margin && p.X < 199-margin && p.Y < 199-margin:
					if math.Abs(float64(c.R)-p.X) > 1.6 || math.Abs(float64(c.G)-p.Y) > 1.6 || c.A != 255 {
						t.Fatalf("scale %.2f: pixel %d, %d is %v, want about %.1f, %.1f", s.Scale(), x, y, c, p.X, p.Y)
					}
				case p.X < -margin || p.Y < -margin || p.X > 199+margin || p.Y > 199+margin:
					greys++
					if c != (color.NRGBA{Grey, Grey, Grey, 255}) {
						t.Fatalf("outside at %d, %d: %v", x, y, c)
					}
				}
			}
		}
		if s.Scale() < 1 && greys == 0 {
			t.Error("nothing outside was looked at")
		}
	}
}

func TestWarpWithoutAPictureOrATransformIsGrey(t *testing.T) {
	for _, out := range []*image.NRGBA{
		Warp(image.NewNRGBA(image.Rectangle{}), Identity(), true, 4, 3),
		Warp(checker(9, 9), Similarity{}, false, 4, 3),
		Warp(checker(9, 9), Similarity{A: math.NaN()}, false, 4, 3),
	} {
		if out.Bounds() != image.Rect(0, 0, 4, 3) || out.NRGBAAt(2, 1) != (color.NRGBA{Grey, Grey, Grey, 255}) {
			t.Errorf("%v, %v", out.Bounds(), out.NRGBAAt(2, 1))
		}
	}
	if out := Warp(checker(9, 9), Identity(), false, -1, 0); !out.Bounds().Empty() {
		t.Error(out.Bounds())
	}
}

func BenchmarkWarp1600(b *testing.B) {
	img := checker(1600, 1200)
	for b.Loop() {
		Warp(img, Turn(0.9, 3, XY{X: 800, Y: 600}), true, 1600, 1200)
	}
}
