package imaging

import (
	"bytes"
	"context"
	"encoding/binary"
	"image"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/image/webp"

	"thatch/timeline/outside"
)

// Every fuzz target asks the same of any bytes: an answer, no panic, bounded memory. Sizes are capped so that a slow
// input is a finding and not merely a large one.
const maxFuzzBytes = 1 << 18

// fuzzContainer walks any bytes as one format.
func fuzzContainer(f *testing.F, format string) {
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > maxFuzzBytes {
			return
		}
		c := walk(format, bytes.NewReader(b), int64(len(b)))
		if c.trouble == nil && (c.widthPX < 1 || c.heightPX < 1) {
			t.Errorf("%d × %d px and no trouble", c.widthPX, c.heightPX)
		}
		if len(c.exif) > maxEXIFBlocks || len(c.icc) > maxICCBytes || len(c.xmp) > maxXMPBytes || len(c.iptc) > maxIPTCBytes {
			t.Errorf("a block over its ceiling")
		}
	})
}

func FuzzWalkJPEG(f *testing.F) {
	plain := encodeTestJPEG(f, testPicture(24, 16))
	f.Add(plain)
	withEXIF, err := InsertEXIF(plain, EXIFFields{TakenLocal: testNow, Orientation: 6})
	if err != nil {
		f.Fatal(err)
	}
	f.Add(withEXIF)
	f.Add(insert(plain, segment(0xe2, "ICC_PROFILE\x00\x01\x02aaaa"), segment(0xe2, "ICC_PROFILE\x00\x02\x02bbbb"), segment(0xed, "Photoshop 3.0\x008BIM\x04\x04\x00\x00\x00\x00\x00\x00")))
	addCorpus(f, "*.jpg")
	fuzzContainer(f, FormatJPEG)
}

func FuzzWalkPNG(f *testing.F) {
	plain := pngWithEXIF(f, testPicture(24, 16), EXIFFields{TakenLocal: testNow})
	f.Add(plain)
	f.Add(append(append([]byte(nil), plain[:33]...), append(pngChunk("iTXt", []byte("XML:com.adobe.xmp\x00\x00\x00\x00\x00<x/>")), pngChunk("zTXt", []byte("Raw profile type exif\x00\x00x"))...)...))
	addCorpus(f, "*.png")
	fuzzContainer(f, FormatPNG)
}

func FuzzWalkWebP(f *testing.F) {
	f.Add([]byte("RIFF\x2c\x00\x00\x00WEBPVP8X\x0a\x00\x00\x00\x00\x00\x00\x00\x09\x00\x00\x09\x00\x00VP8 \x0a\x00\x00\x00\x00\x00\x00\x9d\x01\x2a\x0a\x00\x0a\x00"))
	f.Add([]byte("RIFF\x12\x00\x00\x00WEBPVP8L\x05\x00\x00\x00\x2f\x00\x00\x00\x00\x00"))
	addCorpus(f, "*.webp")
	fuzzContainer(f, FormatWebP)
}

// Beyond what is asked of every container: the turn is one of the eight, a photo has pictures to be put together from and
// is never larger than what memory is granted by, and the headers cost no more than their ceilings.
func FuzzHEIFWalk(f *testing.F) {
	for _, change := range []func(*testHEIF){
		func(*testHEIF) {},
		func(h *testHEIF) { h.metaLast, h.mdat64 = true, true },
		func(h *testHEIF) { h.infeVersion, h.ilocVersion, h.wide, h.indexBytes = 3, 2, true, 4 },
		func(h *testHEIF) { h.offsetBytes, h.lengthBytes, h.baseBytes, h.mdatToEnd = 8, 8, 8, true },
		func(h *testHEIF) { h.bareMeta, h.moov = true, true },
		func(h *testHEIF) {
			h.props = append(h.props, propIMIR(1), propIROT(1), propCLAP(9, 1, 9, 1, 0, 1, 0, 1), propNCLX(12, 13, 6))
			h.items[0].props = append(h.items[0].props, len(h.props)-3, len(h.props)-2, len(h.props)-1, len(h.props))
		},
	} {
		for _, h := range []testHEIF{onePicture(), phoneGrid()} {
			change(&h)
			f.Add(h.bytes())
		}
	}
	derived := onePicture()
	derived.primary = 3
	derived.items = append(derived.items, testItem{id: 3, kind: "iden", props: []int{2}, dimg: []uint32{1}})
	f.Add(derived.bytes())
	addCorpus(f, "*.heic", "*.HEIC", "*.heif")
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > maxFuzzBytes {
			return
		}
		c := walk(FormatHEIC, bytes.NewReader(b), int64(len(b)))
		if c.orientation < 1 || c.orientation > 8 {
			t.Errorf("orientation %d", c.orientation)
		}
		if len(c.exif) > maxEXIFBlocks || len(c.icc) > maxICCBytes || len(c.xmp) > maxXMPBytes {
			t.Errorf("a block over its ceiling")
		}
		if c.trouble != nil {
			return
		}
		if c.widthPX < 1 || c.heightPX < 1 || c.tiles < 1 {
			t.Errorf("%d × %d px of %d tiles and no trouble", c.widthPX, c.heightPX, c.tiles)
		}
		if c.widthPX*c.heightPX > c.decodedWidthPX*c.decodedHeightPX || tooLargePX(c.decodedWidthPX, c.decodedHeightPX) != nil {
			t.Errorf("%d × %d px of %d × %d decoded ones", c.widthPX, c.heightPX, c.decodedWidthPX, c.decodedHeightPX)
		}
	})
}

// The guard with the library behind it; goexif must survive whatever the guard lets through.
func FuzzReadEXIF(f *testing.F) {
	f.Add(goodEXIF(binary.LittleEndian))
	f.Add(goodEXIF(binary.BigEndian))
	f.Add(rawEXIF(binary.LittleEndian, [][]rawTag{{{id: 0x8769, typ: 4, count: 1, at: dirAt(1)}}, {ascii(0x9003, testDate)}}, dirAt(1), 8))
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > 1<<16 {
			return
		}
		block, err := walkEXIF(b)
		if err != nil {
			return
		}
		once := block.encode()
		again, err := walkEXIF(once)
		if err != nil {
			t.Fatalf("the copy is not read: %v", err)
		}
		if !bytes.Equal(once, again.encode()) {
			t.Errorf("the copy of the copy differs")
		}
		if _, err := readEXIF(b); err != nil {
			t.Errorf("the library stumbled over the copy: %v", err)
		}
	})
}

func FuzzInspect(f *testing.F) {
	f.Add(encodeTestJPEG(f, testPicture(24, 16)), "IMG_20240506_070809.jpg")
	f.Add(pngWithEXIF(f, testPicture(8, 8), EXIFFields{TakenLocal: testNow, Offset: "+01:00"}), "x.png")
	f.Add([]byte("GIF89a"), "")
	f.Fuzz(func(t *testing.T, b []byte, name string) {
		if len(b) > maxFuzzBytes {
			return
		}
		got, err := Inspect(bytes.NewReader(b), int64(len(b)), name, InspectOptions{Now: testNow})
		if err == nil && (got.WidthPX < 1 || got.HeightPX < 1 || int64(got.WidthPX)*int64(got.HeightPX) > MaxPixels) {
			t.Errorf("taken at %d × %d px", got.WidthPX, got.HeightPX)
		}
		if err != nil && AsRefusal(err) == nil {
			t.Errorf("not a refusal: %v", err)
		}
		if (got.TakenSource == SourceNone) != (got.TakenLocal == "") || got.Flags == nil {
			t.Errorf("source %q with local time %q, flags %v", got.TakenSource, got.TakenLocal, got.Flags)
		}
		// Small pictures are decoded too, whatever they are.
		if err == nil && got.WidthPX*got.HeightPX <= 1<<18 {
			if err := Check(context.Background(), bytes.NewReader(b), int64(len(b)), got); err != nil && AsRefusal(err) == nil {
				t.Errorf("not a refusal: %v", err)
			}
		}
	})
}

func FuzzParseDate(f *testing.F) {
	for _, s := range []string{testDate, "2024-05-06T07:08:09.1+02:00", "2024:05:06 07:08:09 PM", "2024:05:06", "2024:10:27 24:00:00"} {
		f.Add(s, "+05:45")
	}
	zone := mustZone(f, "Australia/Lord_Howe")
	f.Fuzz(func(t *testing.T, s, offset string) {
		w, ok := parseDate(s)
		if !ok {
			return
		}
		if back, ok := parseDate(w.local()); !ok || !back.t.Equal(w.t) {
			t.Errorf("%q is read as %q, which is not read back", s, w.local())
		}
		// Whatever the clues, the instant shows the wall clock again, unless the clocks jumped over it.
		var facts Facts
		decideTaken(&facts, dateClues{exif: exifFacts{original: s, originalOffset: offset}}, InspectOptions{Zone: zone, Now: testNow})
		shown := facts.TakenAt.Add(time.Duration(facts.OffsetMinutes) * time.Minute).Format(localLayout)
		if facts.TakenLocal != w.local() || shown != facts.TakenLocal {
			t.Errorf("%q with %q: local %q, the instant shows %q", s, offset, facts.TakenLocal, shown)
		}
	})
}

func FuzzParseName(f *testing.F) {
	for _, s := range []string{"IMG_20240506_070809.jpg", "a/2024-05-06 07.08.09.png", `c:\x\20240506.jpg`, "20240506_070809123.MP~2.jpg"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		w, ok := parseName(s)
		if !ok {
			return
		}
		if y := w.t.Year(); y < 1900 || y > 2099 {
			t.Errorf("%q is read as %v", s, w.t)
		}
		// Every digit of the day stands in the name.
		for _, part := range strings.Split(w.t.Format("2006-01-02"), "-") {
			if !strings.Contains(s, part) {
				t.Errorf("%q is read as %v", s, w.t)
			}
		}
	})
}

func FuzzXMPDate(f *testing.F) {
	f.Add([]byte(`<x xmlns:exif="e" exif:DateTimeOriginal="2024-05-06T07:08:09"/>`))
	f.Add([]byte(`<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF><rdf:Description><xmp:CreateDate>2024-05-06T07:08:09Z</xmp:CreateDate></rdf:Description></rdf:RDF></x:xmpmeta>`))
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > 1<<16 {
			return
		}
		text, name := xmpDate(b)
		if _, ok := parseDate(text); ok != (name != "") {
			t.Errorf("%q of property %q", text, name)
		}
	})
}

func FuzzIPTCDate(f *testing.F) {
	f.Add([]byte("8BIM\x04\x04\x00\x00\x00\x00\x00\x0d\x1c\x02\x37\x00\x0820240506"))
	f.Add([]byte("8BIM\x04\x04\x03abc\x00\x00\x00\x1d\x1c\x02\x37\x00\x0820240506\x1c\x02\x3c\x00\x0b070809+0200"))
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > 1<<16 {
			return
		}
		if s := iptcDate(b); s != "" && len(s) < len("2024-05-06") || len(s) > len("2024-05-06 07:08:09+0200") {
			t.Errorf("%q", s)
		}
	})
}

func FuzzICC(f *testing.F) {
	f.Add(testProfile(p3Primaries, 4))
	f.Add(testProfile(adobePrimaries, 2))
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > 1<<16 {
			return
		}
		if name := iccName(b); len(name) > 1<<16 {
			t.Errorf("a name of %d bytes", len(name))
		}
		if m := colourMapOf(b); m != nil {
			m.apply(image.NewNRGBA(image.Rect(0, 0, 2, 2)))
			for v := range 256 {
				m.convert(uint8(v), 0, uint8(255-v))
			}
		}
	})
}

// The sizes that the walks read are what memory is granted by, so a decoder must never make a larger picture of the
// same bytes, whatever it thinks of the header itself.
func FuzzSizes(f *testing.F) {
	plain := encodeTestJPEG(f, testPicture(24, 16))
	f.Add(plain)
	f.Add(insert(plain, segment(0xc4, "\x00"), segment(0xe1, "Exif\x00\x00")))
	f.Add(pngWithEXIF(f, testPicture(24, 16), EXIFFields{}))
	f.Add([]byte("RIFF\x12\x00\x00\x00WEBPVP8L\x05\x00\x00\x00\x2f\x00\x00\x00\x00\x00"))
	addCorpus(f, "*.jpg", "*.png", "*.webp")
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > maxFuzzBytes {
			return
		}
		format := sniff(b[:min(len(b), sniffBytes)])
		config, decode := jpeg.DecodeConfig, jpeg.Decode
		switch format {
		case FormatJPEG:
		case FormatPNG:
			config, decode = png.DecodeConfig, png.Decode
		case FormatWebP:
			config, decode = webp.DecodeConfig, webp.Decode
		default:
			return
		}
		c := walk(format, bytes.NewReader(b), int64(len(b)))
		if c.trouble != nil {
			return // nothing is granted
		}
		conf, err := config(bytes.NewReader(b))
		if err != nil || conf.Width*conf.Height > 1<<18 {
			return // decodeStored holds it to the ceilings again; here decoding must stay quick
		}
		if format == FormatJPEG {
			if n, _ := scans(bytes.NewReader(b), int64(len(b))); n > maxJPEGScans {
				return
			}
		}
		img, err := decode(bytes.NewReader(b))
		if err != nil {
			return
		}
		if w, h := img.Bounds().Dx(), img.Bounds().Dy(); w > c.widthPX || h > c.heightPX {
			t.Errorf("%d × %d px were granted, %d × %d decoded", c.widthPX, c.heightPX, w, h)
		}
	})
}

// addCorpus seeds a target with the small files of the outside corpus where it is; elsewhere its own seeds are enough.
func addCorpus(f *testing.F, patterns ...string) {
	dir, ok := outside.Find(f, "exif")
	if !ok {
		return
	}
	for _, pattern := range patterns {
		for _, folder := range []string{"files", "hostile"} {
			files, err := filepath.Glob(filepath.Join(dir, folder, pattern))
			if err != nil {
				f.Fatal(err)
			}
			for _, name := range files {
				b, err := os.ReadFile(name)
				if err != nil {
					f.Fatal(err)
				}
				if len(b) <= 8<<10 {
					f.Add(b)
				}
			}
		}
	}
}
