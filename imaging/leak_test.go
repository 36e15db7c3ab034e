package imaging

import (
	"bytes"
	"compress/zlib"
	"context"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"image"
	"image/draw"
	"image/jpeg"
	"reflect"
	"strings"
	"testing"
	"unicode/utf16"
)

// canary is in every block of the stuffed files below, followed by the block's name.
const canary = "CANARY"

// derivativesOf makes the derivatives of a file, by name.
func derivativesOf(t testing.TB, b []byte) map[string][]byte {
	t.Helper()
	d, err := Make(context.Background(), bytes.NewReader(b), int64(len(b)), Facts{})
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]byte{}
	v := reflect.ValueOf(d)
	for i := range v.NumField() {
		out[v.Type().Field(i).Name] = v.Field(i).Bytes()
	}
	if len(out) < 2 {
		t.Fatalf("only %d derivatives", len(out))
	}
	return out
}

// stuffedEXIF has a canary in its texts, in the place, in the maker's note and in the thumbnail of the second directory.
func stuffedEXIF(order binary.AppendByteOrder) []byte {
	thumb := "\xff\xd8" + string(segment(0xfe, canary+" thumbnail")) + "\xff\xd9"
	exifAt, gpsAt := dirAt(9), dirAt(9, 5)
	nextAt := dirAt(9, 5, 5)
	texts := func(id uint16, name string) rawTag { return ascii(id, canary+" "+name) }
	dirs := [][]rawTag{
		{texts(0x010e, "description"), texts(0x010f, "make"), texts(0x0110, "model"), {id: 0x0112, typ: 3, count: 1, value: order.AppendUint16(nil, 1)},
			texts(0x0131, "software"), texts(0x013b, "artist"), texts(0x8298, "copyright"),
			{id: 0x8769, typ: 4, count: 1, at: exifAt}, {id: 0x8825, typ: 4, count: 1, at: gpsAt}},
		{ascii(0x9003, testDate), texts(0x9286, "comment"), texts(0x927c, "maker note"), texts(0xa430, "owner"), texts(0xa431, "serial")},
		{{id: 1, typ: 2, count: 2, value: []byte("N\x00")}, {id: 2, typ: 5, count: 3, value: []byte("CANARY latitude, 24 byte")},
			{id: 3, typ: 2, count: 2, value: []byte("E\x00")}, {id: 4, typ: 5, count: 3, value: []byte("CANARY longitude 24 byte")}, texts(0x1b, "gps method")},
		{texts(0x010f, "thumbnail's make"), {id: 0x0201, typ: 4, count: 1, at: 1}, {id: 0x0202, typ: 4, count: 1, at: uint32(len(thumb))}},
	}
	b := rawEXIF(order, dirs, nextAt)
	copy(b[nextAt+2+12+8:], order.AppendUint32(nil, uint32(len(b)))) // where the thumbnail lies
	return append(b, thumb...)
}

func stuffedXMP() string {
	return `<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description dc:creator="` +
		canary + ` xmp" exif:GPSLatitude="52,0.0N" exif:DateTimeOriginal="2024-05-06T07:08:09"/></rdf:RDF></x:xmpmeta>`
}

func stuffedIRB() string {
	iim := "\x1c\x02\x37\x00\x0820240506" + "\x1c\x02\x50" + string(binary.BigEndian.AppendUint16(nil, uint16(len(canary)+5))) + canary + " iptc"
	if len(iim)%2 == 1 {
		iim += "\x00"
	}
	return "Photoshop 3.0\x008BIM\x04\x04\x00\x00" + string(binary.BigEndian.AppendUint32(nil, uint32(len(iim)))) + iim +
		"8BIM\x04\x0c\x00\x00\x00\x00\x00\x0c" + canary + " thumb"
}

// stuffedProfile is a wide profile whose name is a canary, in ASCII or in UTF-16.
func stuffedProfile(version byte) string {
	p := p3Primaries
	p.name = canary + " profile"
	return string(testProfile(p, version))
}

// filmTrailer is what a phone puts behind a moving photo, and a second picture with EXIF of its own.
func filmTrailer(t testing.TB) []byte {
	second := insert(encodeTestJPEG(t, testPicture(16, 16)), segment(0xe1, "Exif\x00\x00"+string(stuffedEXIF(binary.BigEndian))))
	return append(second, "\x00\x00\x00\x18ftypmp42\x00\x00\x00\x00mp42isom"+canary+" film"...)
}

// stuffedJPEG has every kind of segment that a camera, a phone or an editor writes.
func stuffedJPEG(t testing.TB, w, h int) []byte {
	long := strings.Repeat(canary+" extended ", 100)
	segments := [][]byte{
		segment(0xe0, "JFIF\x00\x01\x02\x00\x00\x48\x00\x48\x02\x02"+"CANARY thumb"),
		segment(0xe0, "JFXX\x00\x13\x02\x02"+"CANARY thumb"),
		segment(0xe1, "Exif\x00\x00"+string(stuffedEXIF(binary.LittleEndian))),
		segment(0xe1, "http://ns.adobe.com/xap/1.0/\x00"+stuffedXMP()),
		segment(0xe1, "http://ns.adobe.com/xmp/extension/\x00"+strings.Repeat("0", 32)+"\x00\x00\x04\x00\x00\x00\x00\x00"+long),
		segment(0xe2, "ICC_PROFILE\x00\x01\x01"+stuffedProfile(4)),
		segment(0xe2, "MPF\x00MM\x00\x2a\x00\x00\x00\x08"+canary+" mpf"),
		segment(0xe2, "FPXR\x00"+canary),
		segment(0xed, stuffedIRB()),
		segment(0xee, "Adobe\x00\x64\x00\x00\x00\x00\x01"),
		segment(0xfe, canary+" comment"),
	}
	for m := byte(0xe3); m <= 0xef; m++ {
		if m != 0xed && m != 0xee {
			segments = append(segments, segment(m, fmt.Sprintf("%s app%d", canary, m-0xe0)))
		}
	}
	b := insert(encodeTestJPEG(t, testPicture(w, h)), segments...)
	return append(append(b, filmTrailer(t)...), canary+" trailer"...)
}

func zipped(s string) []byte {
	var b bytes.Buffer
	z := zlib.NewWriter(&b)
	_, _ = z.Write([]byte(s))
	_ = z.Close()
	return b.Bytes()
}

func stuffedPNG(t testing.TB) []byte {
	b := pngWithEXIF(t, testPicture(600, 400), EXIFFields{})
	const afterIHDR = 8 + 8 + 13 + 4
	out := append([]byte(nil), b[:afterIHDR]...)
	for _, c := range []struct{ kind, body string }{
		{"iCCP", canary + "\x00\x00" + string(zipped(stuffedProfile(2)))},
		{"eXIf", string(stuffedEXIF(binary.BigEndian))},
		{"tEXt", "Author\x00" + canary + " text"},
		{"zTXt", "Comment\x00\x00" + string(zipped(canary+" packed text"))},
		{"iTXt", "XML:com.adobe.xmp\x00\x00\x00\x00\x00" + stuffedXMP()},
		{"tIME", "\x07\xe8\x05\x06\x07\x08\x09"},
		{"puBl", canary + " private"},
	} {
		out = append(out, pngChunk(c.kind, []byte(c.body))...)
	}
	out = append(out, b[afterIHDR:]...)
	return append(out, canary+" trailer"...)
}

// stuffedWebP is the smallest lossless picture, one pixel, with every block of RFC 9649 around it.
func stuffedWebP(t testing.TB) []byte {
	one, err := base64.StdEncoding.DecodeString("LwAAABAHEBERiIj+BwA=")
	if err != nil {
		t.Fatal(err)
	}
	var chunks []byte
	for _, c := range []struct{ kind, body string }{
		{"VP8X", "\x2c\x00\x00\x00\x00\x00\x00\x00\x00\x00"},
		{"ICCP", stuffedProfile(4)},
		{"VP8L", string(one)},
		{"EXIF", "Exif\x00\x00" + string(stuffedEXIF(binary.LittleEndian))},
		{"XMP ", stuffedXMP()},
		{"OWNE", canary + " unknown"},
	} {
		chunks = append(chunks, c.kind...)
		chunks = binary.LittleEndian.AppendUint32(chunks, uint32(len(c.body)))
		chunks = append(chunks, c.body...)
		if len(c.body)%2 == 1 {
			chunks = append(chunks, 0)
		}
	}
	out := binary.LittleEndian.AppendUint32([]byte("RIFF"), uint32(len(chunks)+4))
	out = append(append(out, "WEBP"...), chunks...)
	return append(out, canary+" trailer"...)
}

func TestDerivativesLeakNothingOfWhatTheFileCarried(t *testing.T) {
	for name, stuffed := range map[string][]byte{
		"a JPEG":                              stuffedJPEG(t, 600, 400),
		"a JPEG that is decoded at a half":    stuffedJPEG(t, 2*ViewPX, 64),
		"a JPEG that is decoded at a quarter": stuffedJPEG(t, 4*ViewPX, 64),
		"a JPEG smaller than its derivatives": stuffedJPEG(t, 40, 30),
		"a grey JPEG":                         greyStuffed(t),
		"a PNG":                               stuffedPNG(t),
		"a WebP":                              stuffedWebP(t),
	} {
		t.Run(name, func(t *testing.T) {
			// The blocks are where readers find them; otherwise a canary would stay out by being lost.
			f := inspectBytes(t, stuffed, "")
			if !strings.Contains(f.Camera, canary) || !f.HasGPS || !strings.Contains(f.ICC, canary) || f.RawDates["xmp:DateTimeOriginal"] == "" {
				t.Errorf("the stuffed file is not read: %+v", f)
			}
			if f.Format == FormatJPEG && f.RawDates["iptc"] == "" {
				t.Errorf("the stuffed file is not read: %v", f.RawDates)
			}
			for which, b := range derivativesOf(t, stuffed) {
				for _, s := range leaks(b) {
					t.Errorf("%s: %s", which, s)
				}
			}
		})
	}
}

func greyJPEG(t testing.TB, w, h int) []byte {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, w, h))
	draw.Draw(img, img.Rect, testPicture(w, h), image.Point{}, draw.Src)
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// greyStuffed is a stuffed JPEG of one component.
func greyStuffed(t testing.TB) []byte {
	full := stuffedJPEG(t, 40, 30)
	picture := encodeTestJPEG(t, testPicture(40, 30))
	i := bytes.Index(full, picture[2:])
	out := append(append([]byte(nil), full[:i]...), greyJPEG(t, 600, 400)[2:]...)
	return append(out, full[i+len(picture)-2:]...)
}

// leaks lists what a JPEG carries beside its pixels: a canary, a segment that pixels do not need, bytes after the end.
// The markers are of ISO/IEC 10918-1, table B.1.
func leaks(b []byte) (out []string) {
	wide := []byte{}
	for _, u := range utf16.Encode([]rune(canary)) {
		wide = binary.BigEndian.AppendUint16(wide, u)
	}
	for _, c := range [][]byte{[]byte(canary), wide, wide[1:]} {
		if i := bytes.Index(b, c); i >= 0 {
			out = append(out, fmt.Sprintf("%q at byte %d", b[i:min(len(b), i+24)], i))
		}
	}
	if !bytes.HasPrefix(b, []byte{0xff, 0xd8}) {
		return append(out, "not a JPEG")
	}
	seen := map[byte]int{}
	i := 2
	for i+4 <= len(b) {
		if b[i] != 0xff {
			return append(out, fmt.Sprintf("byte %#x at %d between the segments", b[i], i))
		}
		m := b[i+1]
		if m == 0xd9 {
			break
		}
		body := b[i+4 : min(len(b), i+2+int(binary.BigEndian.Uint16(b[i+2:])))]
		seen[m]++
		switch m {
		case 0xdb, 0xc0, 0xc2, 0xc4, 0xdd, 0xda: // DQT, SOF0, SOF2, DHT, DRI, SOS
		case 0xe0:
			// JFIF 1.02: name, version, units, density, and a thumbnail of no size.
			if seen[m] > 1 || len(body) != 14 || string(body[:5]) != "JFIF\x00" || body[12] != 0 || body[13] != 0 {
				out = append(out, fmt.Sprintf("APP0 %q", body))
			}
		default:
			out = append(out, fmt.Sprintf("segment %#x: %q", m, body[:min(len(body), 40)]))
		}
		i += 4 + len(body)
		if m == 0xda { // the scan goes on to the next marker that is neither a stuffed FF nor a restart
			for i+1 < len(b) && !(b[i] == 0xff && b[i+1] != 0 && (b[i+1] < 0xd0 || b[i+1] > 0xd7)) {
				i++
			}
		}
	}
	if seen[0xda] == 0 || seen[0xc0]+seen[0xc2] != 1 {
		out = append(out, "no whole picture")
	}
	if i+2 != len(b) || !bytes.HasSuffix(b, []byte{0xff, 0xd9}) {
		out = append(out, fmt.Sprintf("%d bytes from the end marker on", len(b)-i))
	}
	return out
}

func TestALeakIsSeen(t *testing.T) {
	clean := encodeTestJPEG(t, testPicture(40, 30))
	if got := leaks(clean); len(got) > 0 {
		t.Fatalf("a clean file: %v", got)
	}
	for name, b := range map[string][]byte{
		"EXIF":             insert(clean, segment(0xe1, "Exif\x00\x00")),
		"a profile":        insert(clean, segment(0xe2, "ICC_PROFILE\x00\x01\x01")),
		"a comment":        insert(clean, segment(0xfe, "hello")),
		"a thumbnail":      insert(clean, segment(0xe0, "JFIF\x00\x01\x02\x00\x00\x48\x00\x48\x01\x01abc")),
		"two APP0":         insert(clean, segment(0xe0, "JFIF\x00\x01\x02\x00\x00\x48\x00\x48\x00\x00"), segment(0xe0, "JFIF\x00\x01\x02\x00\x00\x48\x00\x48\x00\x00")),
		"a trailer":        append(append([]byte(nil), clean...), 'x'),
		"a second picture": append(append([]byte(nil), clean...), clean...),
		"no end":           clean[:len(clean)-2],
		"a hidden canary":  append(append(append([]byte(nil), clean[:len(clean)-2]...), canary...), 0xff, 0xd9),
		"a wide canary":    append(append(append([]byte(nil), clean[:len(clean)-2]...), "C\x00A\x00N\x00A\x00R\x00Y\x00"...), 0xff, 0xd9),
		"a PNG":            stuffedPNG(t),
	} {
		if len(leaks(b)) == 0 {
			t.Errorf("%s is not seen", name)
		}
	}
}
