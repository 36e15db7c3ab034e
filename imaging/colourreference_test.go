package imaging

import (
	"bytes"
	"errors"
	"image"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"thatch/timeline/outside"
)

// coatPhoto is a picture as a phone might take it: a red and a golden coat of fine hair with light and shade on it, before
// a pale wall. Its colours are Display P3's.
func coatPhoto(w, h int) *image.NRGBA {
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	coats := [][3]float64{{0.66, 0.33, 0.17}, {0.80, 0.62, 0.36}}
	noise := func(x, y int, salt uint32) float64 { // −1 to 1, the same everywhere
		n := uint32(x)*374761393 + uint32(y)*668265263 + salt*2246822519
		n = (n ^ n>>13) * 1274126177
		return float64(n^n>>16)/float64(1<<31) - 1
	}
	for y := range h {
		for x := range w {
			u, v := float64(x)/float64(w), float64(y)/float64(h)
			c := [3]float64{0.83, 0.81, 0.78}
			light := 1.02 - 0.1*v + 0.006*noise(x, y, 1)
			if body := math.Hypot((u-0.5)/0.42, (v-0.55)/0.36); body < 1 {
				c = coats[0]
				if u > 0.5 {
					c = coats[1]
				}
				// Hairs lie slantwise, two pixels wide and some thirty long.
				lie := x/2 + int(8*math.Sin(4*v+3*u)) + y/3
				hair := noise(lie, y/30, 2)
				light = (1.15 - 0.75*v) * (1 - 0.35*math.Pow(body, 6)) * (1 + 0.16*hair + 0.03*noise(x, y, 3))
			}
			i := img.PixOffset(x, y)
			for ch := range 3 {
				img.Pix[i+ch] = uint8(math.Round(255 * min(max(c[ch]*light, 0), 1)))
			}
			img.Pix[i+3] = 255
		}
	}
	return img
}

// littleCMS renders a JPEG of a wide profile to sRGB: jpgicc of Debian's liblcms2-utils (2.14 where this was written),
// relative colorimetric, which for matrix profiles is all there is.
func littleCMS(t testing.TB, photo, profile []byte) image.Image {
	t.Helper()
	jpgicc, dir := outside.Tool(t, "jpgicc", "liblcms2-utils"), t.TempDir()
	in, icc, out := filepath.Join(dir, "in.jpg"), filepath.Join(dir, "in.icc"), filepath.Join(dir, "out.jpg")
	if err := errors.Join(os.WriteFile(in, photo, 0o644), os.WriteFile(icc, profile, 0o644)); err != nil {
		t.Fatal(err)
	}
	if b, err := exec.Command(jpgicc, "-t1", "-q100", "-i"+icc, "-o*sRGB", in, out).CombinedOutput(); err != nil {
		t.Fatalf("jpgicc: %v\n%s", err, b)
	}
	b, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	return decodeTestJPEG(t, b)
}

// Check 35, kind E: a photo with a wide profile and its rendering to sRGB by Little CMS differ by ΔE00 1.0 at most on
// average: the decoded picture pixel by pixel, the view in the means of 8 × 8 px, the blocks that a JPEG works in. Single
// pixels of the view also differ by what its encoding at quality 85 loses: not more than when the reference's own rendering
// is encoded so.
func TestAWideGamutPhotoLooksAsTheReferenceRendersIt(t *testing.T) {
	for _, p := range []primaries{p3Primaries, adobePrimaries} {
		profile := testProfile(p, 2)
		for how, size := range map[string][2]int{"decoded whole": {1200, 900}, "decoded at half": {2 * ViewPX, 896}} {
			photo := jpegWithProfile(t, coatPhoto(size[0], size[1]), 95, profile)
			reference := littleCMS(t, photo, profile)
			whole, err := Decode(t.Context(), bytes.NewReader(photo), int64(len(photo)), Facts{})
			if err != nil {
				t.Fatal(err)
			}
			decoded, dropped := meanDifference(whole, reference, 1), meanDifference(decodeTestJPEG(t, photo), reference, 1)
			if decoded > 1 || dropped < 1.5 {
				t.Errorf("%s, %s: decoded, ΔE00 %.2f on average; without the profile it would be %.2f", p.name, how, decoded, dropped)
			}
			view := decodeTestJPEG(t, derivativesOf(t, photo)["View"])
			small := reduced(reference, view.Bounds().Dx())
			blocks, pixels := meanDifference(view, small, 8), meanDifference(view, small, 1)
			loss := meanDifference(decodeTestJPEG(t, jpegWithProfile(t, small, 85, nil)), small, 1)
			if blocks > 1 || pixels > loss+0.3 {
				t.Errorf("%s, %s: the view, ΔE00 %.2f in blocks, %.2f in pixels, of which encoding costs %.2f", p.name, how, blocks, pixels, loss)
			}
			t.Logf("%s, %s: decoded %.2f, view %.2f in blocks and %.2f in pixels, of which encoding costs %.2f; without the profile %.2f",
				p.name, how, decoded, blocks, pixels, loss, dropped)
		}
	}
}

// The same with the photos of the outside corpus, given a phone's profile: their coats are real.
func TestRealCoatsInAWideProfileLookAsTheReferenceRendersThem(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(outside.Dir(t, "photos"), "*.jpg"))
	if err != nil {
		t.Fatal(err)
	}
	profile := testProfile(p3Primaries, 2)
	n, blocks, pixels, loss := 0, 0.0, 0.0, 0.0
	for _, file := range files {
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		photo := insert(b, segment(0xe2, "ICC_PROFILE\x00\x01\x01"+string(profile)))
		f := inspectBytes(t, photo, "")
		if f.ICC != p3Primaries.name || f.Orientation != 1 || max(f.WidthPX, f.HeightPX) > ViewPX {
			continue // another profile in front, turned, or not at its own size in the view
		}
		reference := littleCMS(t, photo, profile)
		view := decodeTestJPEG(t, derivativesOf(t, photo)["View"])
		one := meanDifference(view, reference, 8)
		if one > 1 {
			t.Errorf("%s: ΔE00 %.2f", filepath.Base(file), one)
		}
		n, blocks = n+1, blocks+one
		pixels += meanDifference(view, reference, 1)
		loss += meanDifference(decodeTestJPEG(t, jpegWithProfile(t, reference, 85, nil)), reference, 1)
	}
	if n < 15 {
		t.Errorf("only %d photos", n)
	}
	if pixels > loss+0.3*float64(n) {
		t.Errorf("pixels differ by %.2f, encoding costs %.2f", pixels/float64(n), loss/float64(n))
	}
	t.Logf("%d photos: ΔE00 %.2f in blocks, %.2f in pixels, of which encoding costs %.2f", n, blocks/float64(n), pixels/float64(n), loss/float64(n))
}

// reduced is img at a whole fraction of its size, each pixel the mean of the ones it stands for.
func reduced(img image.Image, w int) *image.NRGBA {
	by := img.Bounds().Dx() / w
	out := image.NewNRGBA(image.Rect(0, 0, w, img.Bounds().Dy()/by))
	for y := range out.Rect.Dy() {
		for x := range w {
			c, i := meanOf(img, x*by, y*by, by), out.PixOffset(x, y)
			for ch := range c {
				out.Pix[i+ch] = uint8(math.Round(255 * c[ch]))
			}
			out.Pix[i+3] = 255
		}
	}
	return out
}

// meanDifference is the mean ΔE00 between the means of squares of n × n px; every seventh square a row, to be done
// sooner.
func meanDifference(a, b image.Image, n int) float64 {
	sum, count := 0.0, 0
	for y := 0; y+n <= a.Bounds().Dy(); y += n {
		for x := y / n % 7 * n; x+n <= a.Bounds().Dx(); x += 7 * n {
			sum, count = sum+deltaE00(lab(meanOf(a, x, y, n)), lab(meanOf(b, x, y, n))), count+1
		}
	}
	return sum / float64(count)
}

// meanOf is the mean colour, 0–1 a channel, of n × n px from x, y on.
func meanOf(img image.Image, x, y, n int) (c [3]float64) {
	for dy := range n {
		for dx := range n {
			r, g, b, _ := img.At(x+dx, y+dy).RGBA()
			for i, v := range []uint32{r, g, b} {
				c[i] += float64(v) / 65535 / float64(n*n)
			}
		}
	}
	return c
}
