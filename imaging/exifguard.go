package imaging

import (
	"encoding/binary"
	"errors"
	"sort"
)

// The EXIF library is not guarded: two directories that point at each other loop it forever, one oversized count makes
// it ask for gigabytes, and recover stops neither. So the block is walked here first, with bounds, and what we want from
// it is written into a block of our own; only that copy is ever given to the library. Everything else in it, the
// thumbnail's directory and the maker notes included, does not exist in the copy.
// Structure and types: CIPA DC-008 (Exif 2.32), TIFF 6.0 section 2.

type tagID uint16

const (
	tagMake               tagID = 0x010f
	tagModel              tagID = 0x0110
	tagOrientation        tagID = 0x0112
	tagDateTime           tagID = 0x0132
	tagExifIFD            tagID = 0x8769
	tagGPSIFD             tagID = 0x8825
	tagDateTimeOriginal   tagID = 0x9003
	tagDateTimeDigitized  tagID = 0x9004
	tagOffsetTime         tagID = 0x9010
	tagOffsetTimeOriginal tagID = 0x9011
	tagOffsetTimeDigit    tagID = 0x9012
	tagFocal35            tagID = 0xa405

	tagGPSLatitude  tagID = 0x0002
	tagGPSLongitude tagID = 0x0004
	tagGPSTimeStamp tagID = 0x0007
	tagGPSDateStamp tagID = 0x001d
)

type valueKind int

const (
	kindASCII valueKind = iota
	kindShort
	kindRationals // exactly three: hours, minutes, seconds
	kindPresence  // that it is there is all we want to know
)

var (
	wantedMain = map[tagID]valueKind{
		tagMake: kindASCII, tagModel: kindASCII, tagOrientation: kindShort, tagDateTime: kindASCII,
		// Some writers put these into the first directory.
		tagDateTimeOriginal: kindASCII, tagDateTimeDigitized: kindASCII,
		tagOffsetTime: kindASCII, tagOffsetTimeOriginal: kindASCII, tagOffsetTimeDigit: kindASCII,
	}
	wantedExif = map[tagID]valueKind{
		tagDateTimeOriginal: kindASCII, tagDateTimeDigitized: kindASCII, tagFocal35: kindShort,
		tagOffsetTime: kindASCII, tagOffsetTimeOriginal: kindASCII, tagOffsetTimeDigit: kindASCII,
	}
	wantedGPS = map[tagID]valueKind{
		tagGPSTimeStamp: kindRationals, tagGPSDateStamp: kindASCII,
		tagGPSLatitude: kindPresence, tagGPSLongitude: kindPresence,
	}
)

// Bounds of the walk.
const (
	maxValueCount = 256
	maxIFDEntries = 8192 // of all directories together
)

// typeBytes are the sizes of TIFF's types 1 to 13.
var typeBytes = [14]uint64{0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8, 4}

// exifValue is one value of the copy.
type exifValue struct {
	kind valueKind
	text string    // kindASCII
	n    uint16    // kindShort
	rats [6]uint32 // kindRationals: numerator, denominator, three times
}

// exifBlock is what the walk lets through.
type exifBlock struct {
	main, exif, gps map[tagID]exifValue
}

func newEXIFBlock() exifBlock {
	return exifBlock{main: map[tagID]exifValue{}, exif: map[tagID]exifValue{}, gps: map[tagID]exifValue{}}
}

func (e exifBlock) empty() bool { return len(e.main)+len(e.exif)+len(e.gps) == 0 }

type exifWalk struct {
	b       []byte
	order   binary.ByteOrder
	visited map[uint64]bool
	entries int
}

// walkEXIF reads the wanted tags of a TIFF stream. A tag that is malformed is left out; the others stay.
func walkEXIF(b []byte) (exifBlock, error) {
	out := newEXIFBlock()
	w := exifWalk{b: b, visited: map[uint64]bool{}}
	if len(b) < 8 {
		return out, errors.New("exif: block too short")
	}
	switch string(b[:2]) {
	case "II":
		w.order = binary.LittleEndian
	case "MM":
		w.order = binary.BigEndian
	default:
		return out, errors.New("exif: no byte order")
	}
	if w.order.Uint16(b[2:]) != 42 {
		return out, errors.New("exif: not a TIFF stream")
	}
	exifAt, gpsAt := uint64(0), uint64(0)
	w.dir(uint64(w.order.Uint32(b[4:])), wantedMain, out.main, func(id tagID, at uint64) {
		if id == tagExifIFD && exifAt == 0 {
			exifAt = at
		}
		if id == tagGPSIFD && gpsAt == 0 {
			gpsAt = at
		}
	})
	if exifAt != 0 {
		w.dir(exifAt, wantedExif, out.exif, func(id tagID, at uint64) {
			if id == tagGPSIFD && gpsAt == 0 {
				gpsAt = at
			}
		})
	}
	if gpsAt != 0 {
		w.dir(gpsAt, wantedGPS, out.gps, nil)
	}
	for id, v := range out.main {
		if _, belongs := wantedExif[id]; belongs {
			if _, have := out.exif[id]; !have {
				out.exif[id] = v
			}
			delete(out.main, id)
		}
	}
	return out, nil
}

// dir reads one directory at offset at: each only once, never its successor, never beyond the block.
func (w *exifWalk) dir(at uint64, wanted map[tagID]valueKind, into map[tagID]exifValue, pointer func(tagID, uint64)) {
	size := uint64(len(w.b))
	if at < 8 || at+2 > size || w.visited[at] {
		return
	}
	w.visited[at] = true
	n := uint64(w.order.Uint16(w.b[at:]))
	for i := uint64(0); i < n; i++ {
		e := at + 2 + 12*i
		if e+12 > size || w.entries >= maxIFDEntries {
			return
		}
		w.entries++
		id := tagID(w.order.Uint16(w.b[e:]))
		kind, want := wanted[id]
		isPointer := pointer != nil && (id == tagExifIFD || id == tagGPSIFD)
		if !want && !isPointer {
			continue
		}
		typ, count := w.order.Uint16(w.b[e+2:]), uint64(w.order.Uint32(w.b[e+4:]))
		if typ == 0 || int(typ) >= len(typeBytes) || count == 0 {
			continue
		}
		if isPointer {
			// LONG, or the IFD type of TIFF technical note 1.
			if (typ == 4 || typ == 13 || typ == 9) && count == 1 {
				pointer(id, uint64(w.order.Uint32(w.b[e+8:])))
			}
			continue
		}
		if _, seen := into[id]; seen {
			continue
		}
		if v, ok := w.value(kind, typ, count, e+8); ok {
			into[id] = v
		}
	}
}

// value reads a value whose inline field lies at e.
func (w *exifWalk) value(kind valueKind, typ uint16, count, e uint64) (exifValue, bool) {
	v := exifValue{kind: kind}
	if kind == kindASCII && count > maxValueCount {
		count = maxValueCount // a name may be long; its beginning is enough
	}
	if count > maxValueCount {
		return v, false
	}
	at, bytes := e, typeBytes[typ]*count
	if bytes > 4 {
		at = uint64(w.order.Uint32(w.b[e:]))
	}
	if at+bytes > uint64(len(w.b)) {
		return v, false
	}
	b := w.b[at : at+bytes]
	switch kind {
	case kindPresence:
		return v, true
	case kindASCII:
		if typ != 2 && typ != 7 && typ != 1 {
			return v, false
		}
		v.text = plainText(b)
		return v, v.text != ""
	case kindShort:
		switch typ {
		case 1:
			v.n = uint16(b[0])
		case 3:
			v.n = w.order.Uint16(b)
		case 4:
			n := w.order.Uint32(b)
			if n > 0xffff {
				return v, false
			}
			v.n = uint16(n)
		default:
			return v, false
		}
		return v, true
	case kindRationals:
		if (typ != 5 && typ != 10) || count != 3 {
			return v, false
		}
		for i := range v.rats {
			v.rats[i] = w.order.Uint32(b[4*i:])
			if i%2 == 1 && v.rats[i] == 0 {
				return v, false
			}
		}
		return v, true
	}
	return v, false
}

// plainText is b up to its first NUL, printable ASCII kept, everything else a space, the ends trimmed.
func plainText(b []byte) string {
	out := make([]byte, 0, len(b))
	for _, c := range b {
		if c == 0 {
			break
		}
		if c < 0x20 || c > 0x7e {
			c = ' '
		}
		out = append(out, c)
	}
	for len(out) > 0 && out[len(out)-1] == ' ' {
		out = out[:len(out)-1]
	}
	for len(out) > 0 && out[0] == ' ' {
		out = out[1:]
	}
	return string(out)
}

// encode writes the block as a TIFF stream, little endian: first directory, Exif directory, GPS directory, no successor.
func (e exifBlock) encode() []byte {
	le := binary.LittleEndian
	out := append([]byte("II*\x00"), 8, 0, 0, 0)
	dirBytes := func(n int) int { return 2 + 12*n + 4 }
	nMain, exifDir, gpsDir := len(e.main), e.exif, e.gps
	if len(exifDir) > 0 {
		nMain++
	}
	if len(gpsDir) > 0 {
		nMain++
	}
	exifAt := 8 + dirBytes(nMain)
	gpsAt := exifAt
	if len(exifDir) > 0 {
		gpsAt += dirBytes(len(exifDir))
	}
	dataAt := gpsAt
	if len(gpsDir) > 0 {
		dataAt += dirBytes(len(gpsDir))
	}
	var data []byte
	write := func(dir map[tagID]exifValue, pointers map[tagID]int) {
		ids := make([]tagID, 0, len(dir)+len(pointers))
		for id := range dir {
			ids = append(ids, id)
		}
		for id := range pointers {
			ids = append(ids, id)
		}
		sort.Slice(ids, func(i, j int) bool { return ids[i] < ids[j] })
		out = le.AppendUint16(out, uint16(len(ids)))
		for _, id := range ids {
			typ, count, val := uint16(4), uint32(1), []byte(nil)
			if at, ok := pointers[id]; ok {
				val = le.AppendUint32(nil, uint32(at))
			} else {
				typ, count, val = dir[id].bytes()
			}
			out = le.AppendUint16(out, uint16(id))
			out = le.AppendUint16(out, typ)
			out = le.AppendUint32(out, count)
			if len(val) > 4 {
				out = le.AppendUint32(out, uint32(dataAt+len(data)))
				data = append(data, val...)
				if len(data)%2 == 1 {
					data = append(data, 0)
				}
			} else {
				out = append(out, val...)
				out = append(out, make([]byte, 4-len(val))...)
			}
		}
		out = le.AppendUint32(out, 0)
	}
	pointers := map[tagID]int{}
	if len(exifDir) > 0 {
		pointers[tagExifIFD] = exifAt
	}
	if len(gpsDir) > 0 {
		pointers[tagGPSIFD] = gpsAt
	}
	write(e.main, pointers)
	if len(exifDir) > 0 {
		write(exifDir, nil)
	}
	if len(gpsDir) > 0 {
		write(gpsDir, nil)
	}
	return append(out, data...)
}

// bytes is a value as TIFF writes it.
func (v exifValue) bytes() (typ uint16, count uint32, b []byte) {
	switch v.kind {
	case kindShort:
		return 3, 1, binary.LittleEndian.AppendUint16(nil, v.n)
	case kindRationals:
		for _, n := range v.rats {
			b = binary.LittleEndian.AppendUint32(b, n)
		}
		return 5, 3, b
	case kindPresence:
		return 1, 1, []byte{1}
	}
	b = append([]byte(v.text), 0)
	return 2, uint32(len(b)), b
}
