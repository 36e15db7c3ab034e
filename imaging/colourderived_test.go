package imaging

import (
	"bytes"
	"image"
	"image/jpeg"
	"math"
	"testing"
)

// toSRGB is the published conversion of an 8-bit colour, 0–255 a channel to 0–1, through D65 and in double precision; what
// lies outside sRGB is clipped, channel by channel.
func (p primaries) toSRGB() func([3]float64) [3]float64 {
	back, _ := invert3(srgbPrimaries.toXYZ())
	direct := mul3(back, p.toXYZ())
	return func(c [3]float64) (out [3]float64) {
		for i, v := range c {
			out[i] = p.linear(v / 255)
		}
		for i, v := range apply3(direct, out) {
			out[i] = srgbGamma(min(max(v, 0), 1))
		}
		return out
	}
}

func toUnit(c [3]float64) [3]float64 { return [3]float64{c[0] / 255, c[1] / 255, c[2] / 255} }

// patchChart has the colours in six columns of patches of w × h px. Each colour swells and sinks about itself, slowly and in
// each channel at a pace of its own, as light does on a coat.
func patchChart(colours [][3]uint8, w, h int) *image.NRGBA {
	img := image.NewNRGBA(image.Rect(0, 0, 6*w, (len(colours)+5)/6*h))
	for y := range img.Rect.Dy() {
		for x := range img.Rect.Dx() {
			i := img.PixOffset(x, y)
			img.Pix[i+3] = 255
			for ch, v := range colours[min(y/h*6+x/w, len(colours)-1)] {
				turns := float64(x)/float64(w)*[]float64{6, -4, 2}[ch] + float64(y)/float64(h)*[]float64{2, 2, -4}[ch]
				img.Pix[i+ch] = uint8(math.Round(min(max(float64(v)+10*math.Sin(2*math.Pi*turns), 0), 255)))
			}
		}
	}
	return img
}

// patchMean is the mean over the middle of patch n of each pixel as seen through as.
func patchMean(img image.Image, n int, as func([3]float64) [3]float64) (sum [3]float64) {
	w, h := img.Bounds().Dx()/6, img.Bounds().Dy()/(len(coatPatches)/6)
	count := 0.0
	for y := n/6*h + h/4; y < n/6*h+h*3/4; y++ {
		for x := n%6*w + w/4; x < n%6*w+w*3/4; x++ {
			r, g, b, _ := img.At(x, y).RGBA()
			for i, v := range as([3]float64{float64(r >> 8), float64(g >> 8), float64(b >> 8)}) {
				sum[i] += v
			}
			count++
		}
	}
	for i := range sum {
		sum[i] /= count
	}
	return sum
}

func jpegWithProfile(t testing.TB, img image.Image, quality int, profile []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: quality}); err != nil {
		t.Fatal(err)
	}
	if profile == nil {
		return b.Bytes()
	}
	return insert(b.Bytes(), segment(0xe2, "ICC_PROFILE\x00\x01\x01"+string(profile)))
}

// Check 35, kind X, in the bytes that a screen is sent: 24 patches as a photo with a wide profile, its derivatives decoded
// again, against the published conversion of every pixel of the photo. The patches swell a little, because a JPEG holds
// whole levels of luma and chroma: of a flat patch the nearest that can be written is up to ΔE00 1.1 away, even with a
// perfect conversion before the encoder (measured). That is the format's, not the colours' doing, and coats are not flat.
func TestDerivativesOfWideGamutPhotosKeepTheirColours(t *testing.T) {
	for _, p := range []primaries{p3Primaries, adobePrimaries} {
		for how, photo := range map[string][]byte{
			"decoded whole":   jpegWithProfile(t, patchChart(coatPatches[:], 128, 128), 100, testProfile(p, 4)),
			"decoded at half": jpegWithProfile(t, patchChart(coatPatches[:], 2*ViewPX/6, 384), 100, testProfile(p, 2)),
		} {
			stored := decodeTestJPEG(t, photo)
			var want [len(coatPatches)][3]float64
			dropped := 0.0
			for n := range coatPatches {
				want[n] = lab(patchMean(stored, n, p.toSRGB()))
				dropped = max(dropped, deltaE00(lab(patchMean(stored, n, toUnit)), want[n]))
			}
			if dropped < 2 {
				t.Errorf("%s, %s: dropping the profile costs only ΔE00 %.2f", p.name, how, dropped)
			}
			for which, b := range derivativesOf(t, photo) {
				img := decodeTestJPEG(t, b)
				worst := 0.0
				for n, c := range coatPatches {
					d := deltaE00(lab(patchMean(img, n, toUnit)), want[n])
					worst = max(worst, d)
					if d > 0.5 {
						t.Errorf("%s, %s, %s, %v: ΔE00 %.2f", p.name, how, which, c, d)
					}
				}
				t.Logf("%s, %s, %s: ΔE00 at most %.2f", p.name, how, which, worst)
			}
		}
	}
}

// Kind X: a colour outside sRGB is clipped, channel by channel, to the nearest edge that its channels allow; its hue may
// turn a little. No coat has such a colour: they are those of neon leads and toys.
func TestColoursOutsideSRGBAreClipped(t *testing.T) {
	vivid := [][3]uint8{{255, 0, 0}, {0, 255, 0}, {0, 0, 255}, {255, 255, 0}, {0, 255, 255}, {255, 0, 255}, {255, 100, 20}, {20, 240, 60}}
	for _, p := range []primaries{p3Primaries, adobePrimaries} {
		m := colourMapOf(testProfile(p, 4))
		clipped := 0
		for _, c := range vivid {
			want := p.toSRGB()([3]float64{float64(c[0]), float64(c[1]), float64(c[2])})
			r, g, b := m.convert(c[0], c[1], c[2])
			for i, got := range []uint8{r, g, b} {
				if math.Abs(float64(got)-255*want[i]) > 1 {
					t.Errorf("%s, %v: channel %d is %d, want %.1f", p.name, c, i, got, 255*want[i])
				}
				if want[i] == 0 || want[i] == 1 {
					clipped++
				}
			}
		}
		if clipped < 6 {
			t.Errorf("%s: only %d channels had to be clipped", p.name, clipped)
		}
	}
}

func decodeTestJPEG(t testing.TB, b []byte) image.Image {
	t.Helper()
	img, err := jpeg.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	return img
}
