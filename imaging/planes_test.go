package imaging

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"testing"
)

// softPicture has another colour in every corner, none of them outside sRGB, and no detail that a reduction by four
// loses.
func softPicture(w, h int) *image.NRGBA {
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			u, v := float64(x)/float64(w), float64(y)/float64(h)
			i := img.PixOffset(x, y)
			img.Pix[i] = uint8(90 + 120*u)
			img.Pix[i+1] = uint8(80 + 70*v + 30*math.Sin(6*u))
			img.Pix[i+2] = uint8(80 + 40*math.Sin(3*u+4*v))
			img.Pix[i+3] = 255
		}
	}
	return img
}

// apart is how far two pictures of one size are apart in a channel: on average, and at most in the mean of a tile of
// 16 × 16, in which the noise of coding goes out.
func apart(t *testing.T, a, b image.Image) (mean, tile float64) {
	t.Helper()
	x, y := turn(a, 1), turn(b, 1)
	if x.Rect != y.Rect {
		t.Fatalf("%v and %v", x.Rect, y.Rect)
	}
	w, h := x.Rect.Dx(), x.Rect.Dy()
	for i := range x.Pix {
		mean += math.Abs(float64(x.Pix[i]) - float64(y.Pix[i]))
	}
	for ty := 0; ty+16 <= h; ty += 16 {
		for tx := 0; tx+16 <= w; tx += 16 {
			var sum [3]int
			for yy := range 16 {
				for xx := range 16 {
					i := x.PixOffset(tx+xx, ty+yy)
					for c := range sum {
						sum[c] += int(x.Pix[i+c]) - int(y.Pix[i+c])
					}
				}
			}
			tile = max(tile, math.Abs(float64(sum[0]))/256, math.Abs(float64(sum[1]))/256, math.Abs(float64(sum[2]))/256)
		}
	}
	return mean / float64(3*w*h), tile
}

// The derivatives made without leaving the planes are those of the plain way: full size, upright, to sRGB, resampled by
// the library.
func TestDerivativesAreThoseOfTheFullPictureReduced(t *testing.T) {
	p3 := string(testProfile(p3Primaries, 4))
	for _, c := range []struct {
		w, h int
	}{
		{4032, 624},  // a half
		{4100, 711},  // a half of odd height, then resized
		{711, 2301},  // the general decoder, odd both ways
		{411, 603},   // not reduced
		{8064, 2001}, // a quarter
	} {
		soft := softPicture(c.w, c.h)
		var b bytes.Buffer
		if err := jpeg.Encode(&b, opaque(soft), &jpeg.Options{Quality: 95}); err != nil {
			t.Fatal(err)
		}
		for o := 1; o <= 8; o++ {
			if c.w > 4*ViewPX && o%3 != 0 {
				continue // the turning is the same
			}
			t.Run(fmt.Sprintf("%dx%d stored as %d", c.w, c.h, o), func(t *testing.T) {
				file, err := InsertEXIF(b.Bytes(), EXIFFields{Orientation: o})
				if err != nil {
					t.Fatal(err)
				}
				file = insert(file, segment(0xe2, "ICC_PROFILE\x00\x01\x01"+p3))
				d, err := Make(t.Context(), bytes.NewReader(file), int64(len(file)), Facts{})
				if err != nil {
					t.Fatal(err)
				}
				view := Resize(decodeBytes(t, file), ViewPX)
				for _, one := range []struct {
					name string
					jpeg []byte
					want *image.NRGBA
				}{{"view", d.View, view}, {"thumb", d.Thumb, Resize(view, ThumbPX)}} {
					got, err := jpeg.Decode(bytes.NewReader(one.jpeg))
					if err != nil {
						t.Fatal(err)
					}
					mean, tile := apart(t, got, one.want)
					t.Logf("%s: %.2f on average, %.2f in a tile", one.name, mean, tile)
					// The coding at quality 85; a picture turned wrongly is apart by tens.
					if mean > 1.2 || tile > 3 {
						t.Errorf("%s differs by %.2f on average, %.2f in a tile", one.name, mean, tile)
					}
				}
			})
		}
	}
}

func TestAPlaneOfOneLevelKeepsItAtEverySize(t *testing.T) {
	p := newPlane(97, 61)
	for i := range p.pix {
		p.pix[i] = 201
	}
	for _, size := range [][2]int{{96, 60}, {50, 31}, {7, 61}, {97, 3}, {1, 1}} {
		q := p.resize(size[0], size[1], float64(p.w), float64(p.h))
		if q.w != size[0] || q.h != size[1] {
			t.Fatalf("%v: %d × %d", size, q.w, q.h)
		}
		for i, v := range q.pix {
			if v != 201 {
				t.Fatalf("%v: %d at %d", size, v, i)
			}
		}
	}
}

// A reduced ramp is the ramp again: nothing is shifted by a fraction of a pixel, at odd sizes neither.
func TestAReducedRampStaysWhereItIs(t *testing.T) {
	p := newPlane(200, 200)
	for y := range 200 {
		for x := range 200 {
			p.pix[y*200+x] = uint8(20 + x)
		}
	}
	for _, w := range []int{150, 101, 67, 33} {
		q := p.resize(w, w, 200, 200)
		for x := 3; x < w-3; x++ {
			want := 20 + (float64(x)+0.5)*200/float64(w) - 0.5
			if got := float64(q.pix[w/2*q.stride+x]); math.Abs(got-want) > 0.76 {
				t.Errorf("%d of %d px: %.0f, want %.2f", x, w, got, want)
			}
		}
	}
}

func labOf(r, g, b uint8) [3]float64 {
	return lab(toUnit([3]float64{float64(r), float64(g), float64(b)}))
}

func TestTheColourGridIsTheColourMap(t *testing.T) {
	for name, p := range map[string]primaries{"Display P3": p3Primaries, "Adobe RGB": adobePrimaries} {
		m := colourMapOf(testProfile(p, 4))
		g := m.grid()
		sum, n, worst, bytesSum, bytesWorst := 0.0, 0, 0.0, 0.0, 0.0
		for r := 0; r < 256; r += 15 {
			for gg := 0; gg < 256; gg += 15 {
				for b := 0; b < 256; b += 15 {
					// A flat picture of this colour, in planes.
					src := image.NewNRGBA(image.Rect(0, 0, 2, 2))
					for i := 0; i < 16; i += 4 {
						src.Pix[i], src.Pix[i+1], src.Pix[i+2], src.Pix[i+3] = uint8(r), uint8(gg), uint8(b), 255
					}
					y, cb, cr := color.RGBToYCbCr(uint8(r), uint8(gg), uint8(b))
					img := image.NewYCbCr(src.Rect, image.YCbCrSubsampleRatio420)
					for i := range img.Y {
						img.Y[i] = y
					}
					img.Cb[0], img.Cr[0] = cb, cr
					back := turn(img, 1) // what the planes' rounding makes of the colour
					g.apply(img)
					got := turn(img, 1)
					wr, wg, wb := m.convert(back.Pix[0], back.Pix[1], back.Pix[2])
					want := labOf(wr, wg, wb)
					d := deltaE00(want, labOf(got.Pix[0], got.Pix[1], got.Pix[2]))
					sum, n, worst = sum+d, n+1, max(worst, d)
					// What any conversion costs whose answer is rounded to planes of bytes.
					cy, ccb, ccr := color.RGBToYCbCr(wr, wg, wb)
					d = deltaE00(want, labOf(color.YCbCrToRGB(cy, ccb, ccr)))
					bytesSum, bytesWorst = bytesSum+d, max(bytesWorst, d)
				}
			}
		}
		mean, bytesMean := sum/float64(n), bytesSum/float64(n)
		t.Logf("%s: ΔE00 mean %.3f, worst %.2f; of the bytes alone %.3f, %.2f", name, mean, worst, bytesMean, bytesWorst)
		// The table is believed up to one level, which is up to ΔE00 0.7 in the deepest shade.
		if mean > bytesMean+0.1 || worst > bytesWorst+0.7 {
			t.Errorf("%s: ΔE00 mean %.3f, worst %.2f; of the bytes alone %.3f, %.2f", name, mean, worst, bytesMean, bytesWorst)
		}
	}
}
