package imaging

import (
	"image"
	"math"
	"testing"
)

// lit is what a camera sees of a neutral reflectance under a light, encoded by IEC 61966-2-1 (A).
func lit(reflectance float64, light [3]float64) *[3]float64 {
	var out [3]float64
	for c := range out {
		v := reflectance * light[c]
		if v <= 0.0031308 {
			out[c] = 255 * 12.92 * v
		} else {
			out[c] = 255 * (1.055*math.Pow(v, 1/2.4) - 0.055)
		}
	}
	return &out
}

func TestALampsColourIsTakenOutOfWhatItLights(t *testing.T) {
	for name, light := range map[string][3]float64{"daylight": {1, 1, 1}, "a warm lamp": {1, 0.72, 0.46}, "shade": {0.7, 0.82, 1}} {
		b, ok := BalanceOf(lit(0.216, light), lit(0.85, light))
		if !ok {
			t.Fatalf("%s: no balance", name)
		}
		// Anything lit by it, a coat too: reflectance of its own in every channel. Cut-off light is left out.
		for _, coat := range [][3]float64{{0.5, 0.5, 0.5}, {0.32, 0.2, 0.11}, {0.05, 0.05, 0.06}, {0.6, 0.55, 0.45}} {
			img := image.NewNRGBA(image.Rect(0, 0, 2, 1))
			for c := range 3 {
				one := [3]float64{}
				one[c] = light[c]
				img.Pix[c], img.Pix[4+c] = uint8(math.Round(lit(coat[c], one)[c])), uint8(math.Round(lit(coat[c], one)[c]))
			}
			img.Pix[3], img.Pix[7] = 255, 77
			b.Apply(img)
			// Neutral light of the same luminance (A): Y of the lamp in every channel.
			y := 0.2126*light[0] + 0.7152*light[1] + 0.0722*light[2]
			want := [3]float64{}
			for c := range want {
				want[c] = lit(coat[c]*y, [3]float64{1, 1, 1})[c]
			}
			for c := range 3 {
				if math.Abs(float64(img.Pix[c])-want[c]) > 1.6 { // one level before, half a level after
					t.Errorf("%s, coat %v: channel %d is %d, want %.1f", name, coat, c, img.Pix[c], want[c])
				}
			}
			if img.Pix[3] != 255 || img.Pix[7] != 77 {
				t.Error("opacity is balanced")
			}
		}
	}
}

func TestPatchesThatTellNoColourGiveNoBalance(t *testing.T) {
	warm, nan := lit(0.5, [3]float64{1, 0.7, 0.5}), &[3]float64{math.NaN(), 100, 100}
	for name, c := range map[string]struct {
		patches []*[3]float64
		ok      bool
	}{
		"none":                       {nil, false},
		"not seen":                   {[]*[3]float64{nil, nil}, false},
		"one of two":                 {[]*[3]float64{nil, warm}, true},
		"a white that is cut off":    {[]*[3]float64{warm, {255, 240, 200}}, true},
		"only that":                  {[]*[3]float64{{255, 240, 200}}, false},
		"too dark":                   {[]*[3]float64{{20, 18, 12}}, false},
		"one of them in other light": {[]*[3]float64{warm, lit(0.8, [3]float64{0.7, 0.8, 1})}, false},
		"a red cloth on it":          {[]*[3]float64{{220, 60, 50}}, false},
		"no number":                  {[]*[3]float64{nan}, false},
	} {
		if b, ok := BalanceOf(c.patches...); ok != c.ok || !ok && b != (Balance{}) {
			t.Errorf("%s: %v, %v", name, ok, b)
		}
	}
	// Luminance of the patch stays (A).
	b, _ := BalanceOf(warm)
	if y := 0.2126*b[0]*1 + 0.7152*b[1]*0.7 + 0.0722*b[2]*0.5; math.Abs(y-(0.2126+0.7152*0.7+0.0722*0.5)) > 1e-9 {
		t.Errorf("luminance %.6f", y)
	}
}

func TestAPartOfAPictureIsBalancedAlone(t *testing.T) {
	whole := image.NewNRGBA(image.Rect(0, 0, 6, 4))
	for i := range whole.Pix {
		whole.Pix[i] = 100
	}
	Balance{2, 1, 0.5}.Apply(whole.SubImage(image.Rect(2, 1, 4, 3)).(*image.NRGBA))
	for y := range 4 {
		for x := range 6 {
			in := x >= 2 && x < 4 && y >= 1 && y < 3
			if p := whole.NRGBAAt(x, y); (p.R > 100) != in || p.G != 100 || (p.B < 100) != in {
				t.Errorf("%d, %d: %v", x, y, p)
			}
		}
	}
}
