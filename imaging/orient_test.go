package imaging

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"testing"
)

// testPicture is a picture with no symmetry, w × h.
func testPicture(w, h int) *image.NRGBA {
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			img.SetNRGBA(x, y, color.NRGBA{uint8(40 + 170*x/w), uint8(30 + 190*y/h), uint8(60 + (x*7+y*13)%97), 255})
		}
	}
	if w > 4 && h > 4 {
		for y := range h / 4 {
			for x := range w / 3 {
				img.SetNRGBA(x, y, color.NRGBA{230, 40, 40, 255})
			}
		}
	}
	return img
}

// stored is how a camera held as the orientation says would have stored img. It is written from the words of the
// standard (Exif 2.32, section 4.6.4: "the 0th row is at the visual …, the 0th column at the visual …"), apart from the
// code under test.
func stored(img *image.NRGBA, orientation int) *image.NRGBA {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	sw, sh := w, h
	if orientation >= 5 {
		sw, sh = h, w
	}
	out := image.NewNRGBA(image.Rect(0, 0, sw, sh))
	for row := range sh {
		for col := range sw {
			var x, y int
			switch orientation {
			case 1: // row top, column left
				x, y = col, row
			case 2: // row top, column right
				x, y = w-1-col, row
			case 3: // row bottom, column right
				x, y = w-1-col, h-1-row
			case 4: // row bottom, column left
				x, y = col, h-1-row
			case 5: // row left, column top
				x, y = row, col
			case 6: // row right, column top
				x, y = w-1-row, col
			case 7: // row right, column bottom
				x, y = w-1-row, h-1-col
			case 8: // row left, column bottom
				x, y = row, h-1-col
			}
			out.SetNRGBA(col, row, img.NRGBAAt(x, y))
		}
	}
	return out
}

// pngWithEXIF writes img with an eXIf chunk.
func pngWithEXIF(t testing.TB, img image.Image, e EXIFFields) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	block, err := e.block()
	if err != nil {
		t.Fatal(err)
	}
	const afterIHDR = 8 + 8 + 13 + 4
	out := append([]byte(nil), b.Bytes()[:afterIHDR]...)
	out = append(out, pngChunk("eXIf", block.encode())...)
	return append(out, b.Bytes()[afterIHDR:]...)
}

func pngChunk(kind string, body []byte) []byte {
	out := binary.BigEndian.AppendUint32(nil, uint32(len(body)))
	out = append(out, kind...)
	out = append(out, body...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[4:]))
}

func encodeTestJPEG(t testing.TB, img *image.NRGBA) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := EncodeJPEG(&b, img, 90); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func inspectBytes(t testing.TB, b []byte, name string) Facts {
	t.Helper()
	f, err := Inspect(bytes.NewReader(b), int64(len(b)), name, InspectOptions{Now: testNow})
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func decodeBytes(t testing.TB, b []byte) *image.NRGBA {
	t.Helper()
	img, err := Decode(context.Background(), bytes.NewReader(b), int64(len(b)), Facts{})
	if err != nil {
		t.Fatal(err)
	}
	return img
}

// Kind A: all eight orientations of one picture come out as that picture, pixel by pixel.
func TestEightOrientationsAreOneUprightPicture(t *testing.T) {
	for _, size := range [][2]int{{37, 53}, {64, 48}, {1, 5}, {5, 1}, {1, 1}, {130, 300}} {
		want := testPicture(size[0], size[1])
		for o := 1; o <= 8; o++ {
			t.Run(fmt.Sprintf("%dx%d stored as %d", size[0], size[1], o), func(t *testing.T) {
				b := pngWithEXIF(t, stored(want, o), EXIFFields{Orientation: o})
				f := inspectBytes(t, b, "")
				if f.Orientation != o || f.WidthPX != size[0] || f.HeightPX != size[1] {
					t.Errorf("orientation %d, %d × %d", f.Orientation, f.WidthPX, f.HeightPX)
				}
				if got := decodeBytes(t, b); got.Rect != want.Rect || !bytes.Equal(got.Pix, want.Pix) {
					t.Errorf("the upright picture differs")
				}
			})
		}
	}
}

// The same through JPEG, whose pixels arrive another way: turning what was decoded must equal decoding what is turned.
func TestEightOrientationsOfAJPEGAreItsStoredPixelsTurned(t *testing.T) {
	plain := encodeTestJPEG(t, testPicture(83, 59))
	asStored := decodeBytes(t, plain)
	for o := 1; o <= 8; o++ {
		b, err := InsertEXIF(plain, EXIFFields{Orientation: o})
		if err != nil {
			t.Fatal(err)
		}
		got := decodeBytes(t, b)
		if back := stored(got, o); back.Rect != asStored.Rect || !bytes.Equal(back.Pix, asStored.Pix) {
			t.Errorf("orientation %d: stored again, the upright picture is not what was stored", o)
		}
	}
}

// A picture with holes is laid on white; a paletted one, on which the resampling library panics, passes.
func TestTransparentAndPalettedPicturesAreFlattenedOnWhite(t *testing.T) {
	pal := image.NewPaletted(image.Rect(0, 0, 900, 40), color.Palette{color.NRGBA{200, 0, 0, 255}, color.NRGBA{0, 0, 0, 0}})
	for x := 450; x < 900; x++ {
		for y := range 40 {
			pal.SetColorIndex(x, y, 1)
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, pal); err != nil {
		t.Fatal(err)
	}
	img := decodeBytes(t, b.Bytes())
	if got := img.NRGBAAt(10, 10); got != (color.NRGBA{200, 0, 0, 255}) {
		t.Errorf("opaque pixel %v", got)
	}
	if got := img.NRGBAAt(890, 10); got != (color.NRGBA{255, 255, 255, 255}) {
		t.Errorf("transparent pixel %v, want white", got)
	}
	if _, err := Make(t.Context(), bytes.NewReader(b.Bytes()), int64(b.Len()), Facts{}); err != nil {
		t.Error(err)
	}
}
