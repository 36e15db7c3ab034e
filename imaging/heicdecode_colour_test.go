package imaging

import (
	"encoding/hex"
	"image"
	"image/color"
	"math"
	"testing"
)

// Kind A: a colour, coded by the formulas of ITU-T H.273 (07/2021), equations 11 to 76, in exact arithmetic and brought
// to JPEG's samples, is the same colour within rounding.
func TestCodedSamplesBecomeJPEGs(t *testing.T) {
	weights := map[int][2]float64{1: {0.2126, 0.0722}, 2: {0.299, 0.114}, 4: {0.30, 0.11}, 5: {0.299, 0.114}, 6: {0.299, 0.114}, 7: {0.212, 0.087}, 9: {0.2627, 0.0593}}
	code := func(c nclxColour, r, g, b float64) (y, u, v float64) {
		switch c.matrix {
		case 0:
			y, u, v = g, b, r
		case 8:
			y, u, v = 0.5*g+0.25*(r+b), 0.5*g-0.25*(r+b), 0.5*(r-b)
		default:
			kr, kb := weights[c.matrix][0], weights[c.matrix][1]
			y = kr*r + (1-kr-kb)*g + kb*b
			u, v = 0.5*(b-y)/(1-kb), 0.5*(r-y)/(1-kr)
		}
		luma, chroma, foot := 219.0, 224.0, 16.0
		if c.fullRange {
			luma, chroma, foot = 255, 255, 0
		}
		if c.matrix == 0 {
			return foot + luma*y, foot + luma*u, foot + luma*v
		}
		return foot + luma*y, 128 + chroma*u, 128 + chroma*v
	}
	byteOf := func(v float64) uint8 { return uint8(math.Round(min(max(v, 0), 255))) }
	for _, matrix := range []int{0, 1, 2, 4, 5, 6, 7, 8, 9} {
		for _, full := range []bool{true, false} {
			c := nclxColour{matrix: matrix, fullRange: full}
			img := image.NewYCbCr(image.Rect(0, 0, 125, 1), image.YCbCrSubsampleRatio444)
			want := make([]color.RGBA, 125)
			for i := range want {
				r, g, b := float64(i%5)/4, float64(i/5%5)/4, float64(i/25)/4
				y, u, v := code(c, r, g, b)
				img.Y[i], img.Cb[i], img.Cr[i] = byteOf(y), byteOf(u), byteOf(v)
				want[i] = color.RGBA{byteOf(255 * r), byteOf(255 * g), byteOf(255 * b), 255}
			}
			toJFIF(img, c)
			for i, w := range want {
				got := color.RGBAModel.Convert(img.At(i, 0)).(color.RGBA)
				if d := max(abs(int(got.R)-int(w.R)), abs(int(got.G)-int(w.G)), abs(int(got.B)-int(w.B))); d > 4 {
					t.Errorf("matrix %d, full range %v: %v, want %v", matrix, full, got, w)
				}
			}
		}
	}
}

func TestSamplesThatAreJPEGsAlreadyAreLeftAlone(t *testing.T) {
	img := image.NewYCbCr(image.Rect(0, 0, 64, 4), image.YCbCrSubsampleRatio420)
	for i := range img.Y {
		img.Y[i] = uint8(i)
	}
	for i := range img.Cb {
		img.Cb[i], img.Cr[i] = uint8(3*i), uint8(5*i)
	}
	was := append(append(append([]byte(nil), img.Y...), img.Cb...), img.Cr...)
	for _, matrix := range []int{2, 5, 6} {
		toJFIF(img, nclxColour{matrix: matrix, fullRange: true})
		for i, v := range append(append(append([]byte(nil), img.Y...), img.Cb...), img.Cr...) {
			if v != was[i] {
				t.Fatalf("matrix %d: sample %d became %d from %d", matrix, i, v, was[i])
			}
		}
	}
}

func TestSubsampledChromaOfAnotherMatrixIsConverted(t *testing.T) {
	for _, ratio := range []image.YCbCrSubsampleRatio{image.YCbCrSubsampleRatio420, image.YCbCrSubsampleRatio422, image.YCbCrSubsampleRatio444} {
		img := image.NewYCbCr(image.Rect(0, 0, 5, 3), ratio)
		// A red of BT.709, video range: R 200, G 60, B 40.
		for i := range img.Y {
			img.Y[i] = 92
		}
		for i := range img.Cb {
			img.Cb[i], img.Cr[i] = 105, 190
		}
		toJFIF(img, nclxColour{matrix: 1})
		for y := range 3 {
			for x := range 5 {
				c := color.RGBAModel.Convert(img.At(x, y)).(color.RGBA)
				if max(abs(int(c.R)-200), abs(int(c.G)-60), abs(int(c.B)-40)) > 3 {
					t.Errorf("%v (%d, %d): %v", ratio, x, y, c)
				}
			}
		}
	}
	grey := image.NewGray(image.Rect(0, 0, 3, 1))
	copy(grey.Pix, []uint8{16, 126, 235})
	toJFIF(grey, nclxColour{matrix: 1})
	if grey.Pix[0] != 0 || grey.Pix[1] != 128 || grey.Pix[2] != 255 {
		t.Errorf("grey of video range: %v", grey.Pix)
	}
}

// Check 35, kind A: Display P3 by code points is Display P3 by profile.
func TestCodePointsConvertAsTheProfileDoes(t *testing.T) {
	profile := colourMapOf(testProfile(p3Primaries, 4))
	for _, transfer := range []int{13, 1, unspecified} {
		points := colourMapOfNCLX(nclxColour{primaries: 12, transfer: transfer, matrix: 6, fullRange: true})
		if profile == nil || points == nil {
			t.Fatal("no conversion")
		}
		for r := 0; r < 256; r += 15 {
			for g := 0; g < 256; g += 15 {
				for b := 0; b < 256; b += 15 {
					a1, a2, a3 := profile.convert(uint8(r), uint8(g), uint8(b))
					b1, b2, b3 := points.convert(uint8(r), uint8(g), uint8(b))
					if max(abs(int(a1)-int(b1)), abs(int(a2)-int(b2)), abs(int(a3)-int(b3))) > 2 {
						t.Fatalf("%d %d %d: %d %d %d by profile, %d %d %d by code points", r, g, b, a1, a2, a3, b1, b2, b3)
					}
				}
			}
		}
	}
	for _, c := range []nclxColour{{primaries: 1, transfer: 13}, {primaries: 2, transfer: 2}, {primaries: 1, transfer: 1}, {primaries: 99, transfer: 99}} {
		if colourMapOfNCLX(c) != nil {
			t.Errorf("%v is converted", c)
		}
	}
}

// Kind X: ITU-R BT.2408-7, table 1: a white surface is 58 % of PQ and 75 % of HLG. Kind X: ITU-R BT.2087-0, section 4: a
// saturated colour of BT.709 in BT.2020's linear light is 0.6274, 0.0691, 0.0164 for red.
func TestHighDynamicRangeAndWidePrimaries(t *testing.T) {
	for _, c := range []struct{ transfer, level, tolerance int }{{16, 148, 4}, {18, 191, 4}} {
		m := colourMapOfNCLX(nclxColour{primaries: 9, transfer: c.transfer})
		r, g, b := m.convert(uint8(c.level), uint8(c.level), uint8(c.level))
		if min(r, g, b) < uint8(255-c.tolerance) {
			t.Errorf("transfer %d: white is %d %d %d", c.transfer, r, g, b)
		}
		r, g, b = m.convert(uint8(c.level*3/4), uint8(c.level*3/4), uint8(c.level*3/4))
		if max(r, g, b) > 210 || min(r, g, b) < 90 {
			t.Errorf("transfer %d: grey is %d %d %d", c.transfer, r, g, b)
		}
	}
	m := colourMapOfNCLX(nclxColour{primaries: 9, transfer: 8})
	r, g, b := m.convert(160, 18, 4) // 0.6275, 0.0706, 0.0157 linear
	if abs(int(r)-255) > 2 || g > 20 || b > 20 {
		t.Errorf("red is %d %d %d", r, g, b)
	}
}

// Kind X: SPS units as phones write them into their decoder configurations, with the code points that their files'
// makers document (Display P3 with the matrix of BT.601, full range) or that x265's log gives.
func TestColoursInsideTheCodedPictureAreRead(t *testing.T) {
	for _, c := range []struct {
		name, sps string
		want      nclxColour
	}{
		{"a phone, Display P3", "420101037000000300b0000003000003005aa0040200805887b91655370c01060080", nclxColour{12, 1, 6, true}},
		{"a phone, primaries unspecified", "420101037000000300b0000003000003005aa0040200805887b91655370202060080", nclxColour{2, 2, 6, true}},
		{"a phone, video range", "420101031000000300b0000003000003005aa004020080597ee4c96a520a0c0c05da1425", nclxColour{5, 6, 6, false}},
	} {
		b, err := hex.DecodeString(c.sps)
		if err != nil {
			t.Fatal(err)
		}
		got, err := spsColour(append(b, 0x80, 0x80))
		if err != nil || got != c.want {
			t.Errorf("%s: %v, %v, want %v", c.name, got, err, c.want)
		}
		for n := range len(b) - 8 {
			if got, err := spsColour(b[:n]); err == nil {
				t.Errorf("%s, cut to %d bytes: %v", c.name, n, got)
			}
		}
	}
}

// bitWriter writes an SPS for tests.
type bitWriter struct{ bits []byte }

func (w *bitWriter) u(n int, v uint32) {
	for i := n - 1; i >= 0; i-- {
		w.bits = append(w.bits, byte(v>>i)&1)
	}
}

func (w *bitWriter) ue(vs ...uint32) {
	for _, v := range vs {
		n := 0
		for (v+1)>>(n+1) > 0 {
			n++
		}
		w.u(n, 0)
		w.u(n+1, v+1)
	}
}

// nal packs the bits, with emulation prevention.
func (w *bitWriter) nal() (out []byte) {
	zeros := 0
	for i := 0; i < len(w.bits); i += 8 {
		v := byte(0)
		for k := range 8 {
			v <<= 1
			if i+k < len(w.bits) {
				v |= w.bits[i+k]
			}
		}
		if zeros >= 2 && v <= 3 {
			out, zeros = append(out, 3), 0
		}
		if zeros++; v != 0 {
			zeros = 0
		}
		out = append(out, v)
	}
	return out
}

// Everything that may stand in front of the VUI, written by the syntax of ITU-T H.265, section 7.3.2.2.1.
func TestAnSPSWithEverythingIsReadOver(t *testing.T) {
	w := &bitWriter{}
	w.u(16, 0x4201)
	w.u(4, 0)
	w.u(3, 2) // three temporal layers
	w.u(1, 1)
	w.u(32, 0x01600000)
	w.u(32, 0)
	w.u(32, 93)
	w.u(16, 0b11_01_0000_0000_0000) // the first with profile and level, the second with level
	w.u(32, 0)
	w.u(32, 0)
	w.u(32, 0)
	w.u(8, 60)
	w.ue(0, 3) // 4:4:4
	w.u(1, 0)
	w.ue(640, 480)
	w.u(1, 1)
	w.ue(1, 2, 3, 4) // conformance window
	w.ue(2, 2, 4)    // 10 bits; POC of 8
	w.u(1, 1)
	w.ue(1, 1, 1, 2, 2, 2, 3, 3, 3)
	w.ue(0, 3, 0, 3, 1, 1)
	w.u(2, 3) // scaling lists, here
	for size := range 4 {
		for matrix := 0; matrix < 6; matrix += 1 + 2*(size/3) {
			if matrix == 0 {
				w.u(1, 0)
				w.ue(0)
				continue
			}
			w.u(1, 1)
			if size > 1 {
				w.ue(8)
			}
			for range min(64, 1<<(4+2*size)) {
				w.ue(5)
			}
		}
	}
	w.u(2, 3)
	w.u(1, 1) // PCM
	w.u(8, 0x77)
	w.ue(0, 2)
	w.u(1, 1)
	w.ue(2) // two reference picture sets, the second predicted
	w.ue(2, 1)
	for range 3 {
		w.ue(0)
		w.u(1, 1)
	}
	w.u(2, 2)
	w.ue(0)
	w.u(6, 0b1_01_00_1) // used; for later; not; used
	w.u(1, 1)           // long-term pictures
	w.ue(2)
	w.u(9, 0x1ab)
	w.u(9, 0x0ab)
	w.u(2, 3)
	w.u(1, 1) // VUI
	w.u(1, 1)
	w.u(8, 255)
	w.u(32, 0x00010001)
	w.u(2, 3)
	w.u(1, 1)
	w.u(3, 5)
	w.u(1, 1)
	w.u(1, 1)
	w.u(24, 0x09100a)
	w.u(8, 0x80)
	got, err := spsColour(w.nal())
	if want := (nclxColour{9, 16, 10, true}); err != nil || got != want {
		t.Errorf("%v, %v, want %v", got, err, want)
	}
}

func FuzzCodedColour(f *testing.F) {
	sps, _ := hex.DecodeString("420101037000000300b0000003000003005aa0040200805887b91655370c01060080")
	f.Add(append(append(make([]byte, 22), 1, 33, 0, 1, 0, byte(len(sps))), sps...))
	f.Fuzz(func(t *testing.T, b []byte) {
		if c := codedColourOf(b); c != nil && (c.primaries > 255 || c.transfer > 255 || c.matrix > 255) {
			t.Errorf("%v", c)
		}
	})
}
