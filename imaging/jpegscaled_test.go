package imaging

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"testing"

	"thatch/timeline/outside"
)

func scaledBytes(b []byte, shift uint) (*image.YCbCr, error) {
	return scaledJPEG(context.Background(), bytes.NewReader(b), int64(len(b)), shift)
}

// reducedPlane is what the definition gives: the forward DCT of each 8 × 8 block of decoded pixels, its lowest n × n, and
// the inverse DCT of n × n points (T.81, A.3.3). Kind A.
func reducedPlane(pix []byte, stride, bx, by, n int) [][]float64 {
	norm := func(k, n int) float64 {
		if k == 0 {
			return math.Sqrt(1 / float64(n))
		}
		return math.Sqrt(2 / float64(n))
	}
	basis := func(k, x, n int) float64 {
		return norm(k, n) * math.Cos(float64(2*x+1)*float64(k)*math.Pi/float64(2*n))
	}
	coef := make([][]float64, n)
	for v := range n {
		coef[v] = make([]float64, n)
		for u := range n {
			for y := range 8 {
				for x := range 8 {
					coef[v][u] += basis(u, x, 8) * basis(v, y, 8) * float64(pix[(8*by+y)*stride+8*bx+x])
				}
			}
		}
	}
	out := make([][]float64, n)
	for y := range n {
		out[y] = make([]float64, n)
		for x := range n {
			for v := range n {
				for u := range n {
					out[y][x] += basis(u, x, n) * basis(v, y, n) * coef[v][u] * float64(n) / 8
				}
			}
		}
	}
	return out
}

func TestAReducedJPEGIsTheReducedTransformOfItsBlocks(t *testing.T) {
	// A soft picture, so that no pixel of the full size was clipped before the check transforms it again.
	src := image.NewYCbCr(image.Rect(0, 0, 96, 64), image.YCbCrSubsampleRatio420)
	for i := range src.Y {
		x, y := float64(i%src.YStride), float64(i/src.YStride)
		src.Y[i] = uint8(128 + 50*math.Sin(x/5+y/9) + 30*math.Cos(y/4-x/13))
	}
	for i := range src.Cb {
		x, y := float64(i%src.CStride), float64(i/src.CStride)
		src.Cb[i], src.Cr[i] = uint8(128+40*math.Sin(x/6)), uint8(128+40*math.Cos(y/7+x/8))
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, src, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	full, err := jpeg.Decode(bytes.NewReader(b.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	want := full.(*image.YCbCr)
	for shift, n := range map[uint]int{1: 4, 2: 2} {
		got, err := scaledBytes(b.Bytes(), shift)
		if err != nil {
			t.Fatal(err)
		}
		if got.Rect.Dx() != 96>>shift || got.Rect.Dy() != 64>>shift || got.SubsampleRatio != want.SubsampleRatio {
			t.Fatalf("shift %d: %v %v", shift, got.Rect, got.SubsampleRatio)
		}
		for _, p := range []struct {
			name                        string
			got, want                   []byte
			gotStride, wantStride, w, h int
		}{
			{"luma", got.Y, want.Y, got.YStride, want.YStride, 96, 64},
			{"Cb", got.Cb, want.Cb, got.CStride, want.CStride, 48, 32},
			{"Cr", got.Cr, want.Cr, got.CStride, want.CStride, 48, 32},
		} {
			worst := 0.0
			for by := range p.h / 8 {
				for bx := range p.w / 8 {
					block := reducedPlane(p.want, p.wantStride, bx, by, n)
					for y := range n {
						for x := range n {
							worst = max(worst, math.Abs(block[y][x]-float64(p.got[(n*by+y)*p.gotStride+n*bx+x])))
						}
					}
				}
			}
			// Both roundings of the full size and ours.
			if worst > 1.6 {
				t.Errorf("shift %d, %s: off by %.2f", shift, p.name, worst)
			}
		}
	}
}

func TestJPEGsOfOtherKindsAreLeftToTheGeneralDecoder(t *testing.T) {
	good := encodeTestJPEG(t, testPicture(70, 50))
	sofAt := bytes.Index(good, []byte{0xff, 0xc0})
	changed := func(at int, v byte) []byte {
		b := append([]byte(nil), good...)
		b[at] = v
		return b
	}
	for _, c := range []struct {
		name string
		b    []byte
	}{
		{"progressive", changed(sofAt+1, 0xc2)},
		{"arithmetic", changed(sofAt+1, 0xc9)},
		{"twelve bits", changed(sofAt+4, 12)},
		{"two planes", changed(sofAt+9, 2)},
		{"a subsampling of three", changed(sofAt+11, 0x31)},
		{"RGB by an Adobe segment", insert(good, segment(0xee, "Adobe\x00\x64\x00\x00\x00\x00\x00"))},
		{"cut in its scan", good[:len(good)-40]},
		{"cut in its headers", good[:sofAt+6]},
		{"nothing", nil},
		{"a restart marker that is not announced", append(append(append([]byte(nil), good[:len(good)-30]...), 0xff, 0xd0), good[len(good)-30:]...)},
	} {
		for _, shift := range []uint{0, 1, 2} {
			if img, err := scaledBytes(c.b, shift); !errors.Is(err, errOtherJPEG) || img != nil {
				t.Errorf("%s, shift %d: %v", c.name, shift, err)
			}
		}
	}
	if img, err := scaledBytes(good[:len(good)-2], 1); err != nil || img == nil {
		t.Errorf("a lost end marker: %v", err)
	}
}

// Cameras' own files, of every subsampling and with restart markers: the half that is read is the full picture halved.
func TestCamerasFilesReadAtHalfSizeAreTheirPicturesHalved(t *testing.T) {
	kinds := map[image.YCbCrSubsampleRatio]int{}
	for _, corpus := range []string{"exif", "photos"} {
		files, err := filepath.Glob(filepath.Join(outside.Dir(t, corpus), "*", "*.jpg"))
		more, _ := filepath.Glob(filepath.Join(outside.Dir(t, corpus), "*.jpg"))
		if files = append(files, more...); err != nil || len(files) == 0 {
			t.Fatalf("no files: %v", err)
		}
		for _, file := range files {
			b, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if conf, err := jpeg.DecodeConfig(bytes.NewReader(b)); err != nil || conf.Width*conf.Height > MaxPixels {
				continue
			}
			img, full := jpeg.Decode(bytes.NewReader(b))
			half, err := scaledBytes(b, 1)
			if err != nil {
				continue // progressive and other kinds
			}
			if full != nil {
				t.Errorf("%s: taken, but the general decoder says: %v", filepath.Base(file), full)
				continue
			}
			y, ok := planar(img)
			if !ok {
				if g, grey := img.(*image.Gray); grey {
					y, ok = &image.YCbCr{Y: g.Pix, YStride: g.Stride, Rect: g.Rect, SubsampleRatio: image.YCbCrSubsampleRatio420}, true
				}
			}
			if !ok {
				t.Errorf("%s: taken as planes, but is %T", filepath.Base(file), img)
				continue
			}
			kinds[half.SubsampleRatio]++
			want, got := planesOf(y), planesOf(half)
			for i := range 3 {
				if len(want[i].pix) == 0 {
					continue // grey
				}
				w := want[i].halve()
				if w.w != got[i].w || w.h != got[i].h {
					t.Fatalf("%s: plane %d is %d × %d, want %d × %d", filepath.Base(file), i, got[i].w, got[i].h, w.w, w.h)
				}
				// A block's mean is its first coefficient, in both. The mean of their differences leaves room for pixels that were
				// clipped at the full size; planes that are exchanged or shifted by a block are apart by tens.
				sum, tiles := 0.0, 0
				for ty := 0; ty+4 <= w.h; ty += 4 {
					for tx := 0; tx+4 <= w.w; tx += 4 {
						diff := 0
						for y := ty; y < ty+4; y++ {
							for x := tx; x < tx+4; x++ {
								diff += int(w.pix[y*w.stride+x]) - int(got[i].pix[y*got[i].stride+x])
							}
						}
						sum += math.Abs(float64(diff)) / 16
						tiles++
					}
				}
				if mean := sum / float64(tiles); mean > 0.75 {
					t.Errorf("%s: plane %d differs by %.2f a block", filepath.Base(file), i, mean)
				}
			}
		}
	}
	t.Logf("files by subsampling: %v", kinds)
	if kinds[image.YCbCrSubsampleRatio420] == 0 || kinds[image.YCbCrSubsampleRatio422] == 0 || kinds[image.YCbCrSubsampleRatio444] == 0 {
		t.Errorf("a subsampling was not met: %v", kinds)
	}
}

func FuzzScaledJPEG(f *testing.F) {
	for _, size := range [][2]int{{16, 16}, {33, 17}, {70, 50}} {
		f.Add(encodeTestJPEG(f, testPicture(size[0], size[1])))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > maxFuzzBytes {
			return
		}
		conf, err := jpeg.DecodeConfig(bytes.NewReader(b))
		if err == nil && conf.Width*conf.Height > 1<<20 {
			return
		}
		half, err := scaledBytes(b, 1)
		if _, all := scaledBytes(b, 0); (all == nil) != (err == nil) {
			t.Fatalf("kept: %v, not kept: %v", err, all)
		}
		if err != nil {
			return
		}
		// What it takes as sound, the general decoder reads too, to the same size; its only further demand is the end
		// marker, and that nothing strange comes before it.
		full, err := jpeg.Decode(bytes.NewReader(b))
		if err != nil {
			return
		}
		if w, h := (full.Bounds().Dx()+1)/2, (full.Bounds().Dy()+1)/2; half.Rect.Dx() != w || half.Rect.Dy() != h {
			t.Fatalf("%v of %v", half.Rect, full.Bounds())
		}
	})
}

func BenchmarkScaledJPEG12MP(b *testing.B) {
	photo := benchPhoto(b)
	for shift, name := range []string{"walked", "half", "quarter"} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := scaledBytes(photo, uint(shift)); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
