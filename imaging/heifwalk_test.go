package imaging

import (
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// Kind A: files of our own box writer, after ISO/IEC 14496-12 and 23008-12; what is expected was put in.
func TestHEICFilesOfAllMakesSayWhatTheyHold(t *testing.T) {
	one := func(change func(*testHEIF)) testHEIF { h := onePicture(); change(&h); return h }
	grid := func(change func(*testHEIF)) testHEIF { h := phoneGrid(); change(&h); return h }
	xmp := []byte(`<x xmlns:exif="http://ns.adobe.com/exif/1.0/" exif:DateTimeOriginal="2021-02-03T04:05:06"/>`)
	const may, other = "2024-05-06T07:08:09", "2020:01:02 03:04:05"
	for _, c := range []struct {
		case_       string
		file        testHEIF
		w, h        int // upright
		orientation int
		taken       string
		tiles       int
	}{
		{"one coded picture", onePicture(), 40, 30, 1, may, 1},
		{"a phone's grid with thumbnail, gain map and tone map", phoneGrid(), 60, 90, 6, may, 4},
		{"a grid with its size in 32 bits", grid(func(h *testHEIF) {
			h.idat = gridData32(2, 2, 90, 60)
			h.items[4].inIDAT = &[2]int{0, 12}
		}), 60, 90, 6, may, 4},
		{"a grid described in mdat", grid(func(h *testHEIF) { h.items[4].data, h.items[4].inIDAT = h.idat, nil }), 60, 90, 6, may, 4},
		{"a grid of the same tile four times", grid(func(h *testHEIF) { h.items[4].dimg = []uint32{1, 1, 1, 1} }), 60, 90, 6, may, 1},
		{"a grid without a size property has its own", grid(func(h *testHEIF) { h.items[4].props = []int{5} }), 60, 90, 6, may, 4},
		{"the general brand", one(func(h *testHEIF) { h.brands = "mif1\x00\x00\x00\x00mif1heic" }), 40, 30, 1, may, 1},
		{"the general brand alone", one(func(h *testHEIF) { h.brands = "mif1\x00\x00\x00\x00mif1" }), 40, 30, 1, may, 1},
		{"a system camera's ten bits", one(func(h *testHEIF) { h.brands = "heix\x00\x00\x00\x00mif1heixMiHE" }), 40, 30, 1, may, 1},
		{"a burst with a still picture first", one(func(h *testHEIF) { h.brands, h.moov = "msf1\x00\x00\x00\x00msf1mif1hevcheic", true }), 40, 30, 1, may, 1},
		{"a damaged brand", one(func(h *testHEIF) { h.brands = "????\x00\x00\x00\x00????heic" }), 40, 30, 1, may, 1},
		{"coded with parameters between", one(func(h *testHEIF) { h.items[0].kind = "hev1" }), 40, 30, 1, may, 1},
		{"the headers behind the data", one(func(h *testHEIF) { h.metaLast = true }), 40, 30, 1, may, 1},
		{"data with a 64-bit size", one(func(h *testHEIF) { h.mdat64 = true }), 40, 30, 1, may, 1},
		{"data up to the end of the file", one(func(h *testHEIF) { h.mdatToEnd = true }), 40, 30, 1, may, 1},
		{"places of version 1 with an index", one(func(h *testHEIF) { h.ilocVersion, h.indexBytes = 1, 4 }), 40, 30, 1, may, 1},
		{"places of version 2", one(func(h *testHEIF) { h.ilocVersion = 2 }), 40, 30, 1, may, 1},
		{"places of 64 bits from a base", one(func(h *testHEIF) { h.offsetBytes, h.lengthBytes, h.baseBytes = 8, 8, 8 }), 40, 30, 1, may, 1},
		{"item numbers of 32 bits", one(func(h *testHEIF) { h.infeVersion, h.ilocVersion = 3, 2 }), 40, 30, 1, may, 1},
		{"properties of 16-bit numbers", one(func(h *testHEIF) { h.wide = true }), 40, 30, 1, may, 1},
		{"a meta box without its version", one(func(h *testHEIF) { h.bareMeta = true }), 40, 30, 1, may, 1},
		{"boxes and bytes that nobody knows", one(func(h *testHEIF) {
			h.extraIn = slices.Concat(isoBox("free", []byte("x")), isoBox("uuid", make([]byte, 16)))
			h.extra = slices.Concat(isoBox("mpvd", []byte("a film")), []byte("SEFT"))
		}), 40, 30, 1, may, 1},
		{"EXIF in many pieces", one(func(h *testHEIF) { h.items[1].pieces = 7 }), 40, 30, 1, may, 1},
		{"EXIF in idat", one(func(h *testHEIF) {
			h.ilocVersion, h.idat = 1, append([]byte("1234"), h.items[1].data...)
			h.items[1].inIDAT = &[2]int{4, len(h.items[1].data)}
		}), 40, 30, 1, may, 1},
		{"EXIF right behind its offset", one(func(h *testHEIF) { h.items[1].data = append(isoUint(4, 0), exifOf(testDate, 0)...) }), 40, 30, 1, may, 1},
		{"EXIF without the offset", one(func(h *testHEIF) { h.items[1].data = exifOf(testDate, 0) }), 40, 30, 1, may, 1},
		{"EXIF with a header instead of the offset", one(func(h *testHEIF) { h.items[1].data = exifItem(exifOf(testDate, 0))[4:] }), 40, 30, 1, may, 1},
		{"EXIF with an offset beyond it", one(func(h *testHEIF) { h.items[1].data[0] = 0xff }), 40, 30, 1, "", 1},
		{"EXIF beyond idat, in a file that is whole", one(func(h *testHEIF) {
			h.ilocVersion, h.idat, h.items[1].inIDAT = 1, []byte("1234"), &[2]int{90, 9}
		}), 40, 30, 1, "", 1},
		{"EXIF that describes nothing in particular", one(func(h *testHEIF) { h.items[1].cdsc = nil }), 40, 30, 1, may, 1},
		{"two EXIF items, the one of another picture first", one(func(h *testHEIF) {
			h.items = append(h.items, testItem{id: 9, kind: "hvc1", props: []int{1, 2}, data: []byte("another")})
			h.items = slices.Insert(h.items, 0, testItem{id: 8, kind: "Exif", data: exifItem(exifOf(other, 6)), cdsc: []uint32{9}})
		}), 40, 30, 1, may, 1},
		{"two EXIF items, the first of them empty", one(func(h *testHEIF) {
			h.items = slices.Insert(h.items, 0, testItem{id: 8, kind: "Exif", data: []byte{0, 0, 0, 0}, cdsc: []uint32{1}})
		}), 40, 30, 1, may, 1},
		{"EXIF contradicts the turn", one(func(h *testHEIF) {
			h.props = append(h.props, propIROT(1))
			h.items[0].props, h.items[1].data = []int{1, 2, 3}, exifItem(exifOf(testDate, 3))
		}), 30, 40, 8, may, 1},
		{"EXIF says a turn that the file does not", one(func(h *testHEIF) { h.items[1].data = exifItem(exifOf(testDate, 6)) }), 40, 30, 1, may, 1},
		{"the date in XMP", one(func(h *testHEIF) {
			h.items[1] = testItem{id: 2, kind: "mime", contentType: "application/rdf+xml", data: xmp, cdsc: []uint32{1}}
		}), 40, 30, 1, "2021-02-03T04:05:06", 1},
		{"the date in XMP, listed the old way", one(func(h *testHEIF) {
			h.items[1] = testItem{id: 2, kind: "mime", contentType: "application/rdf+xml", data: xmp, oldEntry: true}
		}), 40, 30, 1, "2021-02-03T04:05:06", 1},
		{"packed XMP is left alone", one(func(h *testHEIF) {
			h.items[1] = testItem{id: 2, kind: "mime", contentType: "application/rdf+xml", encoding: "deflate", data: xmp}
		}), 40, 30, 1, "", 1},
		{"cropped", one(func(h *testHEIF) {
			h.props = append(h.props, propCLAP(39, 1, 29, 1, -1, 2, -1, 2))
			h.items[0].props = []int{1, 2, 3}
		}), 39, 29, 1, may, 1},
		{"cropped, then turned", one(func(h *testHEIF) {
			h.props = append(h.props, propCLAP(20, 1, 10, 1, 0, 1, 0, 1), propIROT(1))
			h.items[0].props = []int{1, 2, 3, 4}
		}), 10, 20, 8, may, 1},
		{"turned, then cropped", one(func(h *testHEIF) {
			h.props = append(h.props, propCLAP(20, 1, 10, 1, 0, 1, 0, 1), propIROT(1))
			h.items[0].props = []int{1, 2, 4, 3}
		}), 20, 10, 8, may, 1},
		{"the same picture as another, turned once more", one(func(h *testHEIF) {
			h.props = append(h.props, propIROT(1))
			h.items[0].props, h.primary = []int{1, 2, 3}, 3
			h.items = append(h.items, testItem{id: 3, kind: "iden", props: []int{3}, dimg: []uint32{1}})
		}), 40, 30, 3, may, 1},
		{"pictures laid over each other", one(func(h *testHEIF) {
			h.props, h.primary = append(h.props, propISPE(80, 70)), 3
			h.items = append(h.items, testItem{id: 3, kind: "iovl", data: make([]byte, 20), props: []int{3}, dimg: []uint32{1, 1}})
		}), 80, 70, 1, may, 1},
	} {
		t.Run(c.case_, func(t *testing.T) {
			b := c.file.bytes()
			f := inspectBytes(t, b, "")
			if f.Format != FormatHEIC || f.WidthPX != c.w || f.HeightPX != c.h || f.Orientation != c.orientation || f.TakenLocal != c.taken {
				t.Errorf("%s, %d × %d px, orientation %d, taken %q\nwant %d × %d px, %d, %q", f.Format, f.WidthPX, f.HeightPX, f.Orientation, f.TakenLocal,
					c.w, c.h, c.orientation, c.taken)
			}
			if got := walk(FormatHEIC, bytes.NewReader(b), int64(len(b))); got.tiles != c.tiles {
				t.Errorf("%d tiles, want %d", got.tiles, c.tiles)
			}
		})
	}
}

func TestHEICFilesThatHoldNoPhotoOfOursAreRefusedByName(t *testing.T) {
	one := func(change func(*testHEIF)) testHEIF { h := onePicture(); change(&h); return h }
	grid := func(change func(*testHEIF)) testHEIF { h := phoneGrid(); change(&h); return h }
	for _, c := range []struct {
		case_, code, arg string
		file             testHEIF
	}{
		{"an AVIF by its brand", CodeFormatUnsupported, "avif", one(func(h *testHEIF) { h.brands = "avif\x00\x00\x00\x00mif1avif" })},
		{"an AVIF by its coding", CodeFormatUnsupported, "avif", one(func(h *testHEIF) { h.items[0].kind = "av01" })},
		{"an AVIF grid of the general brand", CodeFormatUnsupported, "avif", grid(func(h *testHEIF) { h.items[0].kind = "av01" })},
		{"a JPEG in a HEIF", CodeFormatUnsupported, "heif_rare", one(func(h *testHEIF) { h.items[0].kind = "jpeg" })},
		{"an uncoded picture", CodeFormatUnsupported, "heif_rare", one(func(h *testHEIF) { h.items[0].kind = "unci" })},
		{"a tone map as the photo itself", CodeFormatUnsupported, "heif_rare", grid(func(h *testHEIF) { h.primary = 10 })},
		{"a locked picture", CodeFormatUnsupported, "heif_rare", one(func(h *testHEIF) { h.items[0].protected = true })},
		{"a picture made of pieces of another", CodeFormatUnsupported, "heif_rare", one(func(h *testHEIF) { h.items[0].method, h.ilocVersion = 2, 1 })},
		{"a film that calls itself HEIC", CodeFormatUnsupported, "video", one(func(h *testHEIF) { h.moov, h.handler = true, "soun" })},
		{"a meta box of something else", CodeDamaged, "", one(func(h *testHEIF) { h.handler, h.extra = "soun", make([]byte, 9) })},
		{"no primary item", CodeDamaged, "", one(func(h *testHEIF) { h.primary = 77 })},
		{"no size", CodeDamaged, "", one(func(h *testHEIF) { h.items[0].props = []int{1} })},
		{"no width", CodeDamaged, "", one(func(h *testHEIF) { h.props[1] = propISPE(0, 30) })},
		{"a property that is not there", CodeDamaged, "", one(func(h *testHEIF) { h.items[0].props = []int{1, 99} })},
		{"a picture without bytes", CodeDamaged, "", one(func(h *testHEIF) { h.items[0].data = nil })},
		{"a grid without tiles", CodeDamaged, "", grid(func(h *testHEIF) { h.items[4].dimg = nil })},
		{"a grid with a tile too few", CodeDamaged, "", grid(func(h *testHEIF) { h.items[4].dimg = []uint32{1, 2, 3} })},
		{"a grid with a tile that is not there", CodeDamaged, "", grid(func(h *testHEIF) { h.items[4].dimg[2] = 99 })},
		{"a grid larger than it says", CodeDamaged, "", grid(func(h *testHEIF) { h.idat = gridData(2, 2, 9000, 60) })},
		{"a grid described beyond idat", CodeTruncated, "", grid(func(h *testHEIF) { h.items[4].inIDAT = &[2]int{1, 8} })},
		{"a grid made of itself", CodeDamaged, "", grid(func(h *testHEIF) { h.items[4].dimg[3] = 5 })},
		{"the same picture as itself", CodeDamaged, "", one(func(h *testHEIF) {
			h.primary = 3
			h.items = append(h.items, testItem{id: 3, kind: "iden", props: []int{2}, dimg: []uint32{3}})
		})},
		{"two grids made of each other", CodeDamaged, "", grid(func(h *testHEIF) {
			h.items = append(h.items, testItem{id: 20, kind: "grid", inIDAT: &[2]int{0, 8}, props: []int{4}, dimg: []uint32{5, 5, 5, 5}})
			h.items[4].dimg[0] = 20
		})},
		{"pictures derived a hundred times over", CodeDamaged, "", one(func(h *testHEIF) {
			for id := uint32(100); id < 200; id++ {
				h.items = append(h.items, testItem{id: id, kind: "iden", props: []int{2}, dimg: []uint32{id - 1}})
			}
			h.items[2].dimg[0], h.primary = 1, 199
		})},
		{"cropped away", CodeDamaged, "", one(func(h *testHEIF) {
			h.props, h.items[0].props = append(h.props, propCLAP(10, 1, 10, 1, 900, 1, 0, 1)), []int{1, 2, 3}
		})},
		{"cropped by a fraction of nothing", CodeDamaged, "", one(func(h *testHEIF) {
			h.props, h.items[0].props = append(h.props, propCLAP(10, 0, 10, 1, 0, 1, 0, 1)), []int{1, 2, 3}
		})},
		{"60,000 px wide", CodeTooLargePX, "60000", one(func(h *testHEIF) { h.props[1] = propISPE(60000, 30) })},
		{"4,294,967,295 px a side", CodeTooLargePX, "2147483647", one(func(h *testHEIF) { h.props[1] = propISPE(1<<32-1, 1<<32-1) })},
		{"a small grid of huge tiles", CodeTooLargePX, "13000", grid(func(h *testHEIF) { h.props[1] = propISPE(13000, 13000) })},
		{"60,000 px wide, cropped to 10", CodeTooLargePX, "60000", one(func(h *testHEIF) {
			h.props[1] = propISPE(60000, 30)
			h.props, h.items[0].props = append(h.props, propCLAP(10, 1, 10, 1, 0, 1, 0, 1)), []int{1, 2, 3}
		})},
	} {
		t.Run(c.case_, func(t *testing.T) {
			b := c.file.bytes()
			var f Facts
			var err error
			if n := allocated(func() { f, err = Inspect(bytes.NewReader(b), int64(len(b)), "", InspectOptions{Now: testNow}) }); n > maxInspectAlloc {
				t.Errorf("allocated %d bytes", n)
			}
			r := AsRefusal(err)
			if r == nil || r.Code != c.code || !strings.Contains(err.Error(), c.arg) {
				t.Errorf("got %v, want %s %s", err, c.code, c.arg)
			}
			if want := map[string]string{"avif": "avif", "video": "video"}[c.arg]; want != "" && f.Format != want || want == "" && f.Format != FormatHEIC {
				t.Errorf("format %q", f.Format)
			}
		})
	}
}

// turnTable does with a table of numbers what the properties ask, step by step, as the standard describes it.
func turnTable(table [][]int, prop string, v int) [][]int {
	h, w := len(table), len(table[0])
	switch prop {
	case "irot":
		for range v {
			out := make([][]int, w)
			for x := range w { // the last column becomes the first row
				for y := range h {
					out[x] = append(out[x], table[y][w-1-x])
				}
			}
			table, h, w = out, w, h
		}
	case "imir":
		out := make([][]int, h)
		for y := range h {
			out[y] = slices.Clone(table[y])
			if v == 1 {
				slices.Reverse(out[y])
			}
		}
		if v == 0 {
			slices.Reverse(out)
		}
		table = out
	}
	return table
}

// Kind A, check 36: every chain of up to three turns and mirrors, done step by step to a table of 2 × 3 numbers, against
// the one orientation that is reported for it.
func TestEveryChainOfTurnsAndMirrorsIsOneOrientation(t *testing.T) {
	type step struct {
		prop string
		v    int
	}
	steps := []step{{"irot", 0}, {"irot", 1}, {"irot", 2}, {"irot", 3}, {"imir", 0}, {"imir", 1}}
	chains := [][]step{{}}
	for _, a := range steps {
		chains = append(chains, []step{a})
		for _, b := range steps {
			chains = append(chains, []step{a, b})
			for _, c := range steps {
				chains = append(chains, []step{a, b, c})
			}
		}
	}
	seen := map[int]bool{}
	for _, chain := range chains {
		h := onePicture()
		h.props[1] = propISPE(3, 2)
		want := [][]int{{1, 2, 3}, {4, 5, 6}}
		for _, s := range chain {
			prop := propIROT(byte(s.v))
			if s.prop == "imir" {
				prop = propIMIR(byte(s.v))
			}
			h.props = append(h.props, prop)
			h.items[0].props = append(h.items[0].props, len(h.props))
			want = turnTable(want, s.prop, s.v)
		}
		f := inspectBytes(t, h.bytes(), "")
		seen[f.Orientation] = true
		if f.WidthPX != len(want[0]) || f.HeightPX != len(want) {
			t.Errorf("%v: %d × %d px, want %d × %d", chain, f.WidthPX, f.HeightPX, len(want[0]), len(want))
			continue
		}
		x0, y0, rightX, rightY, downX, downY := upright(f.Orientation, 3, 2)
		for n := range 6 {
			x, y := n%3, n/3
			if got := want[y0+x*rightY+y*downY][x0+x*rightX+y*downX]; got != n+1 {
				t.Errorf("%v: orientation %d puts %d where %d is", chain, f.Orientation, n+1, got)
			}
		}
	}
	if len(seen) != 8 {
		t.Errorf("orientations %v, want all eight", seen)
	}
}

func TestColoursOfHEIC(t *testing.T) {
	p3 := testProfile(p3Primaries, 4)
	for _, c := range []struct {
		case_ string
		props [][]byte
		name  string
		nclx  *nclxColour
	}{
		{"none", nil, "", nil},
		{"a profile", [][]byte{propICC(p3)}, "Display P3", nil},
		{"a restricted profile", [][]byte{isoBox("colr", []byte("rICC"), p3)}, "Display P3", nil},
		{"code points of Display P3", [][]byte{propNCLX(12, 13, 6)}, "", &nclxColour{12, 13, 6, true}},
		{"both", [][]byte{propNCLX(1, 13, 6), propICC(p3)}, "Display P3", &nclxColour{1, 13, 6, true}},
		{"an empty profile", [][]byte{propICC(nil)}, "", nil},
		{"code points cut off", [][]byte{isoBox("colr", []byte("nclx\x00\x01"))}, "", nil},
	} {
		h := onePicture()
		for n, p := range c.props {
			h.props = append(h.props, p)
			h.items[0].props = append(h.items[0].props, 3+n)
		}
		b := h.bytes()
		got := walk(FormatHEIC, bytes.NewReader(b), int64(len(b)))
		if f := inspectBytes(t, b, ""); f.ICC != c.name {
			t.Errorf("%s: profile %q, want %q", c.case_, f.ICC, c.name)
		}
		if (got.nclx == nil) != (c.nclx == nil) || got.nclx != nil && *got.nclx != *c.nclx {
			t.Errorf("%s: %+v, want %+v", c.case_, got.nclx, c.nclx)
		}
	}
	h := phoneGrid()
	h.items[4].props = []int{4}
	if f := inspectBytes(t, h.bytes(), ""); f.ICC != "Display P3" {
		t.Errorf("a grid without colours: profile %q, want that of its tiles", f.ICC)
	}
}

// The picture or the EXIF item lies last, so that every cut takes something of the photo.
func TestAHEICCutAnywhereIsTruncatedAndKeepsWhatWasRead(t *testing.T) {
	sealed := phoneGrid()
	sealed.items = slices.DeleteFunc(sealed.items, func(i testItem) bool { return i.kind == "tmap" || i.thmb != nil || i.auxl != nil })
	last := onePicture()
	last.metaLast = true
	open := onePicture()
	open.mdatToEnd = true
	for _, c := range []struct {
		case_ string
		file  testHEIF
	}{{"a grid", sealed}, {"one picture", onePicture()}, {"headers last", last}, {"data up to the end", open}} {
		b := c.file.bytes()
		whole := inspectBytes(t, b, "")
		for n := range b {
			f, err := Inspect(bytes.NewReader(b[:n]), int64(n), "", InspectOptions{Now: testNow})
			r := AsRefusal(err)
			switch {
			case n == 0 && r != nil && r.Code == CodeEmpty, n < 12 && r != nil && r.Code == CodeNotAPhoto:
			case r == nil || r.Code != CodeTruncated:
				t.Errorf("%s cut to %d bytes of %d: %v, want truncated", c.case_, n, len(b), err)
			case n == len(b)-1 && c.case_ != "headers last" && (f.WidthPX != whole.WidthPX || f.ICC != whole.ICC || f.Orientation != whole.Orientation):
				t.Errorf("%s without its last byte: %+v", c.case_, f)
			}
		}
	}
}

func TestAHEICWithoutItsTrailerIsWhole(t *testing.T) {
	h := onePicture()
	h.extra = isoBox("mpvd", make([]byte, 500))
	b := h.bytes()
	inspectBytes(t, b[:len(b)-100], "")
}

// Counts, sizes and offsets of the standard's tables, as large as their fields allow.
func TestAbsurdNumbersInAHEICHurtNothing(t *testing.T) {
	good := phoneGrid().bytes()
	field := func(kind string, at int, v []byte) []byte {
		b := slices.Clone(good)
		i := bytes.Index(b, []byte(kind))
		if i < 0 {
			t.Fatalf("no %s", kind)
		}
		copy(b[i+4+at:], v)
		return b
	}
	ones := bytes.Repeat([]byte{0xff}, 8)
	cases := map[string][]byte{
		"items": field("iinf", 4, ones[:2]), "places": field("iloc", 6, ones[:2]), "place sizes": field("iloc", 4, ones[:2]),
		"places of no size": field("iloc", 4, []byte{0, 0, 0xff, 0xff}), "associations": field("ipma", 4, ones[:4]),
		"references": field("dimg", 2, ones[:2]), "size of ipco": field("ipco", -8, ones[:4]), "size of iinf": field("iinf", -8, []byte{0x7f, 0xff, 0xff, 0xff}),
		"size of meta": field("meta", -8, ones[:4]), "size of ftyp": field("ftyp", -8, ones[:4]), "a box of size 2": field("iref", -8, []byte{0, 0, 0, 2}),
		"size of a profile": field("colr", -8, ones[:4]),
	}
	many := onePicture()
	for range 30_000 {
		many.extraIn = append(many.extraIn, isoBox("free")...)
	}
	cases["30,000 empty boxes"] = many.bytes()
	var infe, ipco []byte
	for n := range 30_000 {
		infe = append(infe, isoFull("infe", 2, 0, isoUint(2, uint64(n+1)), isoUint(2, 0), []byte("hvc1\x00"))...)
		ipco = append(ipco, propIROT(1)...)
	}
	ftyp := isoBox("ftyp", []byte("heic\x00\x00\x00\x00mif1heic"))
	cases["30,000 items"] = append(slices.Clone(ftyp), isoFull("meta", 0, 0, isoFull("pitm", 0, 0, isoUint(2, 1)), isoFull("iinf", 0, 0, isoUint(2, 30000), infe))...)
	three := isoFull("iinf", 0, 0, isoUint(2, 3), infe[:3*21])
	cases["30,000 properties"] = append(slices.Clone(ftyp), isoFull("meta", 0, 0, isoFull("pitm", 0, 0, isoUint(2, 1)), three, isoBox("iprp", isoBox("ipco", ipco)))...)
	var places []byte
	for id := uint64(1); id <= 3; id++ {
		places = slices.Concat(places, isoUint(2, id), isoUint(2, 0), isoUint(2, 0xffff)) // each extent of no bytes at all
	}
	cases["extents without end"] = append(slices.Clone(ftyp), isoFull("meta", 0, 0, isoFull("pitm", 0, 0, isoUint(2, 1)), three,
		isoFull("iloc", 0, 0, []byte{0, 0}, isoUint(2, 3), places))...)
	big := onePicture()
	big.items[1].data = append(exifItem(exifOf(testDate, 0)), make([]byte, 2*maxEXIFBytes)...)
	cases["an EXIF item of 2 MB"] = big.bytes()
	profile := onePicture()
	for range 18 {
		profile.props = append(profile.props, propICC(make([]byte, maxICCBytes-4)))
		profile.items[0].props = append(profile.items[0].props, len(profile.props))
	}
	cases["18 profiles of 2 MB"] = profile.bytes()
	wants := map[string]error{
		"30,000 empty boxes": errHEIFMany, "30,000 items": errHEIFMany, "30,000 properties": errHEIFMany, "extents without end": errHEIFMany,
	}
	for name, b := range cases {
		var err error
		if n := allocated(func() {
			_, err = Inspect(bytes.NewReader(b), int64(len(b)), "", InspectOptions{Now: testNow})
		}); n > maxInspectAlloc {
			t.Errorf("%s: allocated %d bytes", name, n)
		}
		// How many items it says there are is not asked, and what is too large is left where it is; the rest is refused.
		sound := name == "items" || name == "an EXIF item of 2 MB" || name == "18 profiles of 2 MB"
		if r := AsRefusal(err); sound && err != nil || !sound && (r == nil || r.Code != CodeDamaged && r.Code != CodeTruncated) {
			t.Errorf("%s: %v", name, err)
		}
		if want := wants[name]; want != nil && !errors.Is(err, want) {
			t.Errorf("%s: %v, want %v", name, err, want)
		}
	}
}

// Any one byte of a good file may be any other.
func TestAHEICWithOneWrongByteIsAnsweredCalmly(t *testing.T) {
	good := phoneGrid().bytes()
	rnd := rand.New(rand.NewPCG(1, 2))
	for at := range good {
		b := slices.Clone(good)
		b[at] ^= byte(1 + rnd.IntN(255))
		f, err := Inspect(bytes.NewReader(b), int64(len(b)), "", InspectOptions{Now: testNow})
		if r := AsRefusal(err); err != nil && r == nil {
			t.Errorf("byte %d: %v", at, err)
		}
		if err == nil && (f.WidthPX < 1 || f.HeightPX < 1) {
			t.Errorf("byte %d: %d × %d px", at, f.WidthPX, f.HeightPX)
		}
	}
}

func BenchmarkInspectHEIC(b *testing.B) {
	h := phoneGrid()
	h.items, h.items[4].dimg = h.items[:5], nil
	for id := uint32(100); id < 292; id++ { // 8064 × 6048 px in tiles of 512
		h.items = append(h.items, testItem{id: id, kind: "hvc1", data: []byte("a tile"), props: []int{1, 2, 3}})
		h.items[4].dimg = append(h.items[4].dimg, id)
	}
	h.props[3], h.idat = propISPE(8064, 6048), gridData(12, 16, 8064, 6048)
	file := h.bytes()
	b.ReportAllocs()
	for b.Loop() {
		f, err := Inspect(bytes.NewReader(file), int64(len(file)), "", InspectOptions{Now: testNow})
		if err != nil || f.WidthPX != 6048 {
			b.Fatal(fmt.Sprint(f, err))
		}
	}
}
