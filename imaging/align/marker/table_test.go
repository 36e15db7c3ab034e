package marker

import (
	"image"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"thatch/timeline/outside"
)

// Scale and dog, over widths and tilts, in photos of 12 MP: E of the geometry (a pinhole camera). The bound of 0.5 % from
// 200 px on, tilted to 30°, is the project's own. Seeds are not used anywhere else.
func TestScaleIsReadWithinHalfAPerCentHoweverTheMarkerIsTilted(t *testing.T) {
	n := outside.Many(t, 2)
	honest, all := 0, 0
	var z []float64
	for _, known := range []bool{true, false} {
		for _, width := range []float64{120, 200, 320, 640} {
			for _, tilt := range []float64{0, 15, 30} {
				var errs []float64
				lost := 0
				for i := range n {
					seed := uint64(100000 + 1000*int(width) + 100*int(tilt) + i)
					rng := rand.New(rand.NewPCG(seed, 3))
					// About any axis in the card's plane.
					sin, cos := math.Sincos(rng.Float64() * 2 * math.Pi)
					s := typical(width, tilt*cos, tilt*sin, seed)
					with12MP(t, func(img *image.NRGBA) {
						truth, at := s.shoot(t, img)
						opt := Options{}
						if known { // as EXIF has it: whole mm
							opt.FocalPX = FocalPX(math.Round(s.focal/FocalPX(1, 4032, 3024)), 4032, 3024)
						}
						got := Find(img, opt)
						m := got.Marker
						if m == nil {
							lost++
							t.Logf("width %v, tilt %v, seed %d: not read, told %v", width, tilt, seed, got.Told)
							return
						}
						if m.Text != s.text {
							t.Errorf("width %v, tilt %v, seed %d: the dog of %v", width, tilt, seed, m.Text)
						}
						for k, c := range m.CornersPX {
							if d := math.Hypot(c.X-at[k].X, c.Y-at[k].Y); d > 0.005*width {
								t.Errorf("width %v, tilt %v, seed %d: corner %d is off by %.2f px", width, tilt, seed, k, d)
							}
						}
						e := m.MMPerPX/truth - 1
						errs = append(errs, math.Abs(e))
						z = append(z, e/(m.SDMMPerPX/m.MMPerPX))
						all++
						if math.Abs(e) < 2*m.SDMMPerPX/m.MMPerPX {
							honest++
						}
						if width >= 200 && math.Abs(e) > 0.005 {
							t.Errorf("width %v, tilt %v, seed %d: off by %.2f %% (%+v)", width, tilt, seed, 100*e, s)
						}
					})
				}
				slices.Sort(errs)
				if lost > 0 && width >= 200 {
					t.Errorf("width %v, tilt %v: %d of %d not read", width, tilt, lost, n)
				}
				if len(errs) > 0 {
					t.Logf("focal length known %-5v width %3.0f px, tilt %2.0f°: error median %.3f %%, p95 %.3f %%, worst %.3f %%; not read %d of %d",
						known, width, tilt, 100*quantile(errs, 0.5), 100*quantile(errs, 0.95), 100*errs[len(errs)-1], lost, n)
				}
			}
		}
	}
	// About 95 % if the errors were normal and the standard error exact; a bound that small numbers do not break.
	if float64(honest) < 0.88*float64(all) {
		t.Errorf("the standard error promises too much: %d of %d within two of it", honest, all)
	}
	slices.Sort(z)
	t.Logf("within two standard errors: %d of %d (%.1f %%); error over standard error p2.5 %.2f, median %.2f, p97.5 %.2f", honest, all, 100*float64(honest)/float64(all),
		quantile(z, 0.025), quantile(z, 0.5), quantile(z, 0.975))
}

func quantile(sorted []float64, q float64) float64 {
	return sorted[min(len(sorted)-1, int(q*float64(len(sorted))))]
}
