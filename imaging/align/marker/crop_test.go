package marker

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"thatch/timeline/outside"
)

// cropOf is a part of a photo of 4032 × 3024 px, as a groomer crops in the phone: of any shape or one that the phone
// offers, with the whole card in it.
func cropOf(s scene, rng *rand.Rand) image.Rectangle {
	const w, h = 4032, 3024
	reach := int(1.1*s.widthPX) + 10
	shape := []float64{0, 4.0 / 3, 1, 16.0 / 9}[rng.IntN(4)]
	for {
		cw := int(w * (0.4 + 0.55*rng.Float64()))
		ch := int(h * (0.4 + 0.55*rng.Float64()))
		if shape > 0 {
			ch = int(math.Round(float64(cw) / shape))
		}
		if ch > h || cw < 2*reach || ch < 2*reach {
			continue
		}
		r := image.Rect(0, 0, cw, ch).Add(image.Pt(rng.IntN(w-cw+1), rng.IntN(h-ch+1)))
		if image.Pt(int(s.mid.X), int(s.mid.Y)).In(r.Inset(reach)) {
			return r
		}
	}
}

// A cropped photo's middle is not where the camera looked, and what EXIF says of the whole is not its focal length. The
// scale's standard error says what that costs.
func TestACroppedPhotoDoesNotSpoilTheScale(t *testing.T) {
	n := outside.Many(t, 2)
	var together misses
	for _, known := range []bool{true, false} {
		for _, tilt := range []float64{0, 10, 20, 30} {
			var cell misses
			for i := range n {
				seed := uint64(500000 + 1000*int(tilt) + i)
				rng := rand.New(rand.NewPCG(seed, 6))
				s := drawn12MP(200*math.Pow(4, rng.Float64()), tilt, seed)
				r := cropOf(s, rng)
				with12MP(t, func(img *image.NRGBA) {
					truth, _ := s.shoot(t, img)
					delete(sheets, s.text)
					opt := Options{}
					if known {
						opt.FocalPX = FocalPX(math.Round(s.focal/FocalPX(1, 4032, 3024)), r.Dx(), r.Dy())
					}
					got := Find(img.SubImage(r).(*image.NRGBA), opt)
					if got.Marker == nil {
						t.Logf("tilt %v, seed %d: not read, told %v", tilt, seed, troubles(got))
					}
					e := cell.add(got.Marker, truth, s.text)
					if got.Marker != nil && math.Abs(e) > 0.005 {
						t.Errorf("tilt %v, seed %d, width %.0f, %v: off by %.2f %%, standard error %.2f %%", tilt, seed, s.widthPX, r, 100*e, 100*got.Marker.SDMMPerPX/truth)
					}
				})
			}
			t.Logf("cropped, EXIF of the whole left %-5v tilt %2.0f°: %v", known, tilt, &cell)
			together.join(cell)
		}
	}
	t.Logf("cropped: %v", &together)
	if together.wrongDog > 0 || 50*together.notRead > together.all {
		t.Errorf("not read %d, wrong dog %d of %d", together.notRead, together.wrongDog, together.all)
	}
	together.calibrated(t)
}
