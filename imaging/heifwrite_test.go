package imaging

import (
	"encoding/binary"
	"slices"
)

// testHEIF writes HEIF files, good and odd ones. Its pictures have no pixels: their bytes are a placeholder.
type testHEIF struct {
	brands  string // major, version, compatible; "": heic
	items   []testItem
	props   [][]byte
	primary uint32
	idat    []byte
	moov    bool // a film in front of the meta box
	extra   []byte
	extraIn []byte // inside meta

	metaLast, bareMeta       bool
	mdat64, mdatToEnd        bool
	ilocVersion              int
	offsetBytes, lengthBytes int // 0: 4
	baseBytes, indexBytes    int
	infeVersion              int // 0: 2
	wide                     bool
	handler                  string
}

type testItem struct {
	id                uint32
	kind, contentType string
	encoding          string
	data              []byte   // in mdat, cut into pieces
	pieces            int      // 0: 1
	inIDAT            *[2]int  // instead: where in idat
	method            int      // of construction, where it is neither
	props             []int    // 1-based
	dimg, cdsc, thmb  []uint32 // references
	auxl              []uint32
	protected         bool
	oldEntry          bool // listed by infe of version 0, which knows no kinds
}

var be = binary.BigEndian

func isoBox(kind string, parts ...[]byte) []byte {
	body := slices.Concat(parts...)
	return append(append(be.AppendUint32(nil, uint32(8+len(body))), kind...), body...)
}

func isoFull(kind string, version int, flags uint32, parts ...[]byte) []byte {
	return isoBox(kind, append([][]byte{be.AppendUint32(nil, uint32(version)<<24|flags)}, parts...)...)
}

// isoUint is v in n bytes.
func isoUint(n int, v uint64) []byte { return be.AppendUint64(nil, v)[8-n:] }

func propISPE(w, h uint32) []byte {
	return isoFull("ispe", 0, 0, isoUint(4, uint64(w)), isoUint(4, uint64(h)))
}
func propIROT(quarters byte) []byte { return isoBox("irot", []byte{quarters}) }
func propIMIR(mode byte) []byte     { return isoBox("imir", []byte{mode}) }
func propICC(profile []byte) []byte { return isoBox("colr", []byte("prof"), profile) }
func propNCLX(p, t, m uint16) []byte {
	return isoBox("colr", []byte("nclx"), isoUint(2, uint64(p)), isoUint(2, uint64(t)), isoUint(2, uint64(m)), []byte{0x80})
}
func propCLAP(v ...int32) []byte {
	var b []byte
	for _, n := range v {
		b = be.AppendUint32(b, uint32(n))
	}
	return isoBox("clap", b)
}

var propHVCC = isoBox("hvcC", make([]byte, 23))

func gridData(rows, cols, w, h int) []byte {
	return slices.Concat([]byte{0, 0, byte(rows - 1), byte(cols - 1)}, isoUint(2, uint64(w)), isoUint(2, uint64(h)))
}

func gridData32(rows, cols, w, h int) []byte {
	return slices.Concat([]byte{0, 1, byte(rows - 1), byte(cols - 1)}, isoUint(4, uint64(w)), isoUint(4, uint64(h)))
}

// exifItem is the body of an EXIF item: the offset, what it steps over, the stream.
func exifItem(tiff []byte) []byte { return slices.Concat(isoUint(4, 6), []byte("Exif\x00\x00"), tiff) }

// exifOf is a stream with one date and, unless it is 0, an orientation.
func exifOf(date string, orientation int) []byte {
	b := newEXIFBlock()
	b.exif[tagDateTimeOriginal] = exifValue{kind: kindASCII, text: date}
	if orientation > 0 {
		b.main[tagOrientation] = exifValue{kind: kindShort, n: uint16(orientation)}
	}
	return b.encode()
}

func orInt(n, otherwise int) int {
	if n == 0 {
		return otherwise
	}
	return n
}

// cutUp is where the pieces of an item of n bytes begin and end.
func cutUp(n, pieces int) (out [][2]int) {
	pieces = max(1, min(pieces, n))
	for i := range pieces {
		out = append(out, [2]int{n * i / pieces, n * (i + 1) / pieces})
	}
	return out
}

// gap lies between the pieces of items, so that reading on from one into the next goes wrong.
const gap = "\xaa\xbb\xcc"

func (h testHEIF) bytes() []byte {
	brands := h.brands
	if brands == "" {
		brands = "heic\x00\x00\x00\x00mif1heic"
	}
	ftyp := isoBox("ftyp", []byte(brands))
	front := ftyp
	if h.moov {
		front = slices.Concat(ftyp, isoBox("moov", isoBox("mvhd", make([]byte, 100))))
	}
	var data []byte
	var at [][]uint64 // of each item's pieces in data
	for _, i := range h.items {
		var pieces []uint64
		if i.inIDAT == nil && i.data != nil {
			for _, p := range cutUp(len(i.data), i.pieces) {
				data = append(data, gap...)
				pieces = append(pieces, uint64(len(data)))
				data = append(data, i.data[p[0]:p[1]]...)
			}
		}
		at = append(at, pieces)
	}
	mdat := isoBox("mdat", data)
	switch {
	case h.mdatToEnd:
		copy(mdat, []byte{0, 0, 0, 0})
	case h.mdat64:
		mdat = slices.Concat(isoUint(4, 1), []byte("mdat"), isoUint(8, uint64(len(data)+16)), data)
	}
	start := uint64(len(front) + len(mdat) - len(data))
	if h.metaLast {
		return slices.Concat(front, mdat, h.meta(at, start), h.extra)
	}
	start += uint64(len(h.meta(at, 0)))
	return slices.Concat(front, h.meta(at, start), mdat, h.extra)
}

func (h testHEIF) meta(at [][]uint64, start uint64) []byte {
	idBytes := 2
	if h.infeVersion == 3 {
		idBytes = 4
	}
	id := func(n uint32) []byte { return isoUint(idBytes, uint64(n)) }
	version := idBytes/2 - 1 // of pitm, iinf, iref, ipma: 1 where numbers are wide
	var infe, iref, iloc, ipma []byte
	for n, i := range h.items {
		body := slices.Concat(id(i.id), isoUint(2, 0))
		if i.protected {
			body[len(body)-1] = 1
		}
		if !i.oldEntry {
			body = append(body, i.kind...)
		}
		body = append(body, "name\x00"...)
		if i.kind == "mime" {
			body = slices.Concat(body, []byte(i.contentType), []byte{0}, []byte(i.encoding), []byte{0})
		}
		v := orInt(h.infeVersion, 2)
		if i.oldEntry {
			v = 0
		}
		infe = append(infe, isoFull("infe", v, 0, body)...)
		for _, r := range []struct {
			kind string
			to   []uint32
		}{{"thmb", i.thmb}, {"auxl", i.auxl}, {"dimg", i.dimg}, {"cdsc", i.cdsc}} {
			if len(r.to) > 0 {
				body := slices.Concat(id(i.id), isoUint(2, uint64(len(r.to))))
				for _, to := range r.to {
					body = append(body, id(to)...)
				}
				iref = append(iref, isoBox(r.kind, body)...)
			}
		}
		if len(i.props) > 0 {
			ipma = slices.Concat(ipma, id(i.id), []byte{byte(len(i.props))})
			for _, p := range i.props {
				if h.wide {
					ipma = be.AppendUint16(ipma, uint16(p)|0x8000)
				} else {
					ipma = append(ipma, byte(p)|0x80)
				}
			}
		}
		iloc = append(iloc, h.ilocEntry(i, at[n], start)...)
	}
	withProps := uint64(0)
	for _, i := range h.items {
		if len(i.props) > 0 {
			withProps++
		}
	}
	flags := uint32(0)
	if h.wide {
		flags = 1
	}
	offsetBytes, lengthBytes := orInt(h.offsetBytes, 4), orInt(h.lengthBytes, 4)
	sizes := []byte{byte(offsetBytes<<4 | lengthBytes), byte(h.baseBytes<<4 | h.indexBytes)}
	countBytes := 2
	if h.ilocVersion == 2 {
		countBytes = 4
	}
	count := 2 + 2*version
	handler := h.handler
	if handler == "" {
		handler = "pict"
	}
	parts := [][]byte{
		isoFull("hdlr", 0, 0, make([]byte, 4), []byte(handler), make([]byte, 13)),
		isoFull("pitm", version, 0, id(h.primary)),
		isoFull("iloc", h.ilocVersion, 0, sizes, isoUint(countBytes, uint64(len(h.items))), iloc),
		isoBox("iprp", isoBox("ipco", h.props...), isoFull("ipma", version, flags, isoUint(4, withProps), ipma)),
		isoFull("iinf", version, 0, isoUint(count, uint64(len(h.items))), infe),
	}
	if len(iref) > 0 {
		parts = append(parts, isoFull("iref", version, 0, iref))
	}
	if h.idat != nil {
		parts = append(parts, isoBox("idat", h.idat))
	}
	parts = append(parts, h.extraIn)
	if h.bareMeta {
		return isoBox("meta", parts...)
	}
	return isoFull("meta", 0, 0, parts...)
}

func (h testHEIF) ilocEntry(i testItem, at []uint64, start uint64) []byte {
	offsetBytes, lengthBytes := orInt(h.offsetBytes, 4), orInt(h.lengthBytes, 4)
	out := isoUint(2, uint64(i.id))
	if h.ilocVersion == 2 {
		out = isoUint(4, uint64(i.id))
	}
	if h.ilocVersion > 0 {
		method := i.method
		if i.inIDAT != nil {
			method = 1
		}
		out = append(out, isoUint(2, uint64(method))...)
	}
	out = append(out, 0, 0) // this file
	base := uint64(0)
	if h.baseBytes > 0 && len(at) > 0 {
		base = start + at[0]
	}
	out = append(out, isoUint(h.baseBytes, base)...)
	extent := func(at, length uint64) {
		out = slices.Concat(out, isoUint(h.indexBytes, 0), isoUint(offsetBytes, at), isoUint(lengthBytes, length))
	}
	if i.inIDAT != nil {
		out = append(out, isoUint(2, 1)...)
		extent(uint64(i.inIDAT[0]), uint64(i.inIDAT[1]))
		return out
	}
	out = append(out, isoUint(2, uint64(len(at)))...)
	for n, p := range cutUp(len(i.data), len(at)) {
		if n < len(at) {
			extent(start+at[n]-base, uint64(p[1]-p[0]))
		}
	}
	return out
}

// onePicture is the smallest photo: one coded picture of 40 × 30 px with an EXIF item.
func onePicture() testHEIF {
	return testHEIF{
		primary: 1,
		props:   [][]byte{propHVCC, propISPE(40, 30)},
		items: []testItem{
			{id: 1, kind: "hvc1", props: []int{1, 2}, data: []byte("pretend that this is a picture")},
			{id: 2, kind: "Exif", data: exifItem(exifOf(testDate, 0)), cdsc: []uint32{1}},
		},
	}
}

// phoneGrid is what a phone writes: 2 × 2 tiles, the grid in idat, a thumbnail, a gain map, EXIF, XMP, a wide profile.
func phoneGrid() testHEIF {
	h := testHEIF{
		brands:  "heic\x00\x00\x00\x00mif1MiHEMiPrmiafMiHBheictmap",
		primary: 5, ilocVersion: 1, idat: gridData(2, 2, 90, 60),
		props: [][]byte{propHVCC, propISPE(50, 32), propICC(testProfile(p3Primaries, 4)), propISPE(90, 60), propIROT(3), propISPE(30, 20), propISPE(45, 30)},
	}
	tile := []byte("a tile of hevc")
	for id := uint32(1); id <= 4; id++ {
		h.items = append(h.items, testItem{id: id, kind: "hvc1", data: tile, props: []int{1, 2, 3}})
	}
	h.items = append(h.items,
		testItem{id: 5, kind: "grid", inIDAT: &[2]int{0, 8}, props: []int{3, 4, 5}, dimg: []uint32{1, 2, 3, 4}},
		testItem{id: 6, kind: "hvc1", data: tile, props: []int{1, 6, 5}, thmb: []uint32{5}},
		testItem{id: 7, kind: "hvc1", data: tile, props: []int{1, 7, 5}, auxl: []uint32{5}},
		testItem{id: 8, kind: "Exif", data: exifItem(exifOf(testDate, 6)), cdsc: []uint32{5}},
		testItem{id: 9, kind: "mime", contentType: "application/rdf+xml", data: []byte(`<x xmlns:exif="http://ns.adobe.com/exif/1.0/"/>`), cdsc: []uint32{5}},
		testItem{id: 10, kind: "tmap", data: []byte("how bright"), dimg: []uint32{5, 7}, props: []int{4}},
	)
	return h
}
