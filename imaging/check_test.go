package imaging

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"image"
	"image/jpeg"
	"io"
	"strings"
	"testing"
)

func checkBytes(b []byte) error {
	return Check(context.Background(), bytes.NewReader(b), int64(len(b)), Facts{})
}

func segment(marker byte, body string) []byte {
	out := []byte{0xff, marker}
	out = binary.BigEndian.AppendUint16(out, uint16(len(body)+2))
	return append(out, body...)
}

// insert puts segments behind the first two bytes of a JPEG.
func insert(jpeg []byte, segments ...[]byte) []byte {
	out := append([]byte(nil), jpeg[:2]...)
	for _, s := range segments {
		out = append(out, s...)
	}
	return append(out, jpeg[2:]...)
}

func TestWhatIsTakenAndWhatIsRefusedAndWhy(t *testing.T) {
	good := encodeTestJPEG(t, testPicture(320, 240))
	goodPNG := pngWithEXIF(t, testPicture(64, 48), EXIFFields{})
	bigPNG := func(w, h uint32) []byte {
		ihdr := binary.BigEndian.AppendUint32(nil, w)
		ihdr = binary.BigEndian.AppendUint32(ihdr, h)
		return append([]byte("\x89PNG\r\n\x1a\n"), pngChunk("IHDR", append(ihdr, 1, 0, 0, 0, 0))...)
	}
	sof := func(marker byte, w, h int) []byte {
		return append([]byte("\xff\xd8"), segment(marker, string([]byte{8, byte(h >> 8), byte(h), byte(w >> 8), byte(w), 1, 1, 0x11, 0}))...)
	}
	manyScans := func() []byte {
		i := bytes.Index(good, []byte{0xff, 0xda})
		out := append([]byte(nil), good[:len(good)-2]...)
		for range maxJPEGScans + 1 {
			out = append(out, good[i:len(good)-2]...)
		}
		return append(out, 0xff, 0xd9)
	}
	for _, c := range []struct {
		case_ string
		bytes []byte
		code  string // "" taken
		arg   string // of the refusal's args, somewhere
	}{
		{"a JPEG", good, "", ""},
		{"a JPEG without its end marker", good[:len(good)-2], "", ""},
		{"a JPEG with a film behind it", append(append([]byte(nil), good...), strings.Repeat("\x00\x00\x00\x18ftypmp42", 50)...), "", ""},
		{"a JPEG with junk between its segments", insert(good, segment(0xe5, "x"), []byte("junk"), segment(0xe5, "x"), []byte{0, 0}), "", ""},
		{"a JPEG with a marker inside a segment", insert(good, segment(0xe2, "x\xff\xc0\x00\x11\x08\xff\xff\xff\xff\xff\xda")), "", ""},
		{"a JPEG with filled markers", insert(good, []byte{0xff, 0xff, 0xff}, segment(0xe5, "x")), "", ""},
		{"a JPEG cut in the middle", good[:len(good)/2], CodeTruncated, ""},
		{"a JPEG cut near its end", good[:len(good)-60], CodeTruncated, ""},
		{"a JPEG cut in its header", good[:100], CodeTruncated, ""},
		{"a JPEG whose second half reads as zeros", append(append([]byte(nil), good[:len(good)/2]...), make([]byte, len(good)/2)...), CodeTruncated, ""},
		{"a JPEG of more scans than any camera writes", manyScans(), CodeDamaged, ""},
		{"a JPEG without a picture", []byte("\xff\xd8\xff\xdb\x00\x04\x00\x00\xff\xd9"), CodeDamaged, ""},
		{"a JPEG of no height", append(sof(0xc0, 100, 0), segment(0xda, "\x01\x01\x00\x00\x3f\x00")...), CodeDamaged, ""},
		{"a lossless JPEG", append(sof(0xc3, 10, 10), segment(0xda, "\x01\x01\x00\x00\x3f\x00")...), CodeFormatUnsupported, "jpeg"},
		{"a JPEG of 60,000 × 60,000", append(sof(0xc2, 60000, 60000), segment(0xda, "\x01\x01\x00\x00\x3f\x00")...), CodeTooLargePX, "60000"},
		{"a JPEG of 12,001 px a side", append(sof(0xc0, 12001, 10), segment(0xda, "\x01\x01\x00\x00\x3f\x00")...), CodeTooLargePX, "12001"},
		{"a PNG", goodPNG, "", ""},
		{"a PNG cut in the middle", goodPNG[:len(goodPNG)/2], CodeTruncated, ""},
		{"a PNG of 60,000 × 60,000", bigPNG(60000, 60000), CodeTooLargePX, "60000"},
		{"a PNG of 2³¹−1 a side", bigPNG(1<<31-1, 1<<31-1), CodeTooLargePX, "2147483647"},
		{"a PNG of no width", bigPNG(0, 5), CodeDamaged, ""},
		{"a PNG of its header alone", bigPNG(50, 50), CodeTruncated, ""},
		{"nothing", nil, CodeEmpty, ""},
		{"a text", []byte("Dear Sir or Madam, please find attached"), CodeNotAPhoto, ""},
		{"one byte", []byte{0xff}, CodeNotAPhoto, ""},
		{"a HEIC of its brands alone", []byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"), CodeTruncated, ""},
		{"a HEIC of the general brand alone", []byte("\x00\x00\x00\x18ftypmif1\x00\x00\x00\x00mif1heic"), CodeTruncated, ""},
		{"an AVIF of the general brand", []byte("\x00\x00\x00\x18ftypmif1\x00\x00\x00\x00mif1avif"), CodeFormatUnsupported, "avif"},
		{"a film", []byte("\x00\x00\x00\x18ftypmp42\x00\x00\x00\x00mp42isom"), CodeFormatUnsupported, "video"},
		{"a GIF", []byte("GIF89a\x01\x00\x01\x00\x00\x00\x00"), CodeFormatUnsupported, "gif"},
		{"a TIFF", []byte("II*\x00\x08\x00\x00\x00\x00\x00"), CodeFormatUnsupported, "tiff"},
		{"a WebP animation", []byte("RIFF\x16\x00\x00\x00WEBPVP8X\x0a\x00\x00\x00\x02\x00\x00\x00\x09\x00\x00\x09\x00\x00"), CodeFormatUnsupported, "webp_animation"},
		{"a WebP of a small canvas and a huge frame", []byte("RIFF\x2c\x00\x00\x00WEBPVP8X\x0a\x00\x00\x00\x00\x00\x00\x00\x09\x00\x00\x09\x00\x00VP8 \x0a\x00\x00\x00\x00\x00\x00\x9d\x01\x2a\xff\x3f\xff\x3f"), CodeTooLargePX, "16383"},
	} {
		t.Run(c.case_, func(t *testing.T) {
			var err error
			if n := allocated(func() { err = checkBytes(c.bytes) }); n > maxInspectAlloc {
				t.Errorf("allocated %d bytes", n)
			}
			if c.code == "" {
				if err != nil {
					t.Errorf("refused: %v", err)
				}
				return
			}
			r := AsRefusal(err)
			if r == nil || r.Code != c.code || !strings.Contains(err.Error(), c.arg) {
				t.Errorf("got %v, want %s %s", err, c.code, c.arg)
			}
		})
	}
}

// sparse is a file of zeros behind its head, without the memory for it.
type sparse struct{ head string }

func (s sparse) ReadAt(b []byte, off int64) (int, error) {
	clear(b)
	if off < int64(len(s.head)) {
		copy(b, s.head[off:])
	}
	return len(b), nil
}

func TestAFileOverTheLimitIsRefusedUnread(t *testing.T) {
	f, err := Inspect(sparse{"\xff\xd8\xff\xe0"}, MaxBytes+1, "", InspectOptions{})
	if r := AsRefusal(err); r == nil || r.Code != CodeTooLargeBytes || r.Args["mb"] != 41 || r.Args["max_mb"] != 40 {
		t.Errorf("%v", err)
	}
	if f.Format != FormatJPEG || f.Bytes != MaxBytes+1 {
		t.Errorf("%+v", f)
	}
}

type failing struct{}

func (failing) ReadAt([]byte, int64) (int, error) { return 0, errors.New("bad sector") }

func TestTroubleOfTheReaderIsNotBlamedOnThePhoto(t *testing.T) {
	_, err := Inspect(failing{}, 1000, "", InspectOptions{})
	if r := AsRefusal(err); r == nil || r.Code != CodeUnreadable {
		t.Errorf("%v", err)
	}
}

func TestACancelledDecodeSaysSo(t *testing.T) {
	good := encodeTestJPEG(t, testPicture(320, 240))
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if err := Check(ctx, bytes.NewReader(good), int64(len(good)), Facts{}); !errors.Is(err, context.Canceled) || AsRefusal(err) != nil {
		t.Errorf("%v", err)
	}
}

func TestBytesThatAreNotTheInspectedOnesAreRefused(t *testing.T) {
	one, two := encodeTestJPEG(t, testPicture(320, 240)), encodeTestJPEG(t, testPicture(240, 320))
	err := Check(context.Background(), bytes.NewReader(two), int64(len(two)), inspectBytes(t, one, ""))
	if r := AsRefusal(err); r == nil || r.Code != CodeDamaged {
		t.Errorf("%v", err)
	}
}

func TestDerivativesHaveTheirSizesAndNothingButPixels(t *testing.T) {
	for _, c := range []struct{ w, h, viewW, viewH, thumbW, thumbH int }{
		{4032, 3024, 2016, 1512, 512, 384},
		{4000, 3000, 2016, 1512, 512, 384},
		{8064, 6048, 2016, 1512, 512, 384},
		{5711, 4283, 2016, 1512, 512, 384},
		{1500, 3000, 1008, 2016, 256, 512},
		{1700, 10, 1700, 10, 512, 3},
		{300, 200, 300, 200, 300, 200},
		{1, 1, 1, 1, 1, 1},
	} {
		b, err := InsertEXIF(encodeTestJPEG(t, testPicture(c.w, c.h)), EXIFFields{Make: "Secretmaker", Orientation: 1})
		if err != nil {
			t.Fatal(err)
		}
		b = insert(b, segment(0xe1, "http://ns.adobe.com/xap/1.0/\x00<x>Secretmaker</x>"), segment(0xed, "Photoshop 3.0\x00Secretmaker"))
		b = append(b, "Secretmaker"...)
		d, err := Make(context.Background(), bytes.NewReader(b), int64(len(b)), Facts{})
		if err != nil {
			t.Fatal(err)
		}
		for _, one := range []struct {
			name string
			jpeg []byte
			w, h int
		}{{"view", d.View, c.viewW, c.viewH}, {"thumb", d.Thumb, c.thumbW, c.thumbH}} {
			conf, err := jpeg.DecodeConfig(bytes.NewReader(one.jpeg))
			if err != nil || conf.Width != one.w || conf.Height != one.h {
				t.Errorf("%s of %d × %d is %d × %d, want %d × %d (%v)", one.name, c.w, c.h, conf.Width, conf.Height, one.w, one.h, err)
			}
			if bytes.Contains(one.jpeg, []byte("Secretmaker")) || bytes.Contains(one.jpeg, []byte("Exif")) {
				t.Errorf("%s carries metadata", one.name)
			}
			for i := 2; i+4 <= len(one.jpeg) && one.jpeg[i+1] != 0xda; {
				if m := one.jpeg[i+1]; m >= 0xe1 && m <= 0xef || m == 0xfe {
					t.Errorf("%s carries segment %#x", one.name, m)
				}
				i += 2 + int(binary.BigEndian.Uint16(one.jpeg[i+2:]))
			}
			if !bytes.HasSuffix(one.jpeg, []byte{0xff, 0xd9}) {
				t.Errorf("%s has a trailer", one.name)
			}
		}
	}
}

func TestHashIsTheHashOfTheWholeFile(t *testing.T) {
	// FIPS 180-4, the example of one block ("abc"). Kind E.
	h, n, err := Hash(strings.NewReader("abc"))
	if err != nil || n != 3 || h != "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad" {
		t.Errorf("%s %d %v", h, n, err)
	}
	if _, _, err := Hash(io.MultiReader(strings.NewReader("a"), failingReader{})); err == nil {
		t.Error("half a file was hashed")
	}
}

type failingReader struct{}

func (failingReader) Read([]byte) (int, error) { return 0, errors.New("bad sector") }

func TestMirrorExchangesLeftAndRight(t *testing.T) {
	img := testPicture(7, 5)
	m := Mirror(img)
	for y := range 5 {
		for x := range 7 {
			if m.NRGBAAt(6-x, y) != img.NRGBAAt(x, y) {
				t.Fatalf("pixel %d, %d", x, y)
			}
		}
	}
	if got := Resize(img, 100); got.Rect != image.Rect(0, 0, 7, 5) {
		t.Errorf("enlarged to %v", got.Rect)
	}
}
