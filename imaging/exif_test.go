package imaging

import (
	"bytes"
	"encoding/binary"
	"strings"
	"testing"
	"time"
)

// rawTag and rawEXIF write EXIF blocks byte by byte, right or wrong, apart from the code under test.
type rawTag struct {
	id, typ uint16
	count   uint32
	value   []byte // over 4 bytes: put behind the directories, its offset inline
	at      uint32 // where not 0: the inline field, whatever the value
}

func ascii(id uint16, s string) rawTag {
	return rawTag{id: id, typ: 2, count: uint32(len(s) + 1), value: append([]byte(s), 0)}
}

// rawEXIF lays the directories one behind the other from offset 8; next are their successor fields.
func rawEXIF(order binary.AppendByteOrder, dirs [][]rawTag, next ...uint32) []byte {
	out := []byte("II")
	if order.String() == "BigEndian" {
		out = []byte("MM")
	}
	out = order.AppendUint16(out, 42)
	out = order.AppendUint32(out, 8)
	dataAt := 8
	for _, d := range dirs {
		dataAt += 2 + 12*len(d) + 4
	}
	var data []byte
	for i, d := range dirs {
		out = order.AppendUint16(out, uint16(len(d)))
		for _, t := range d {
			out = order.AppendUint16(out, t.id)
			out = order.AppendUint16(out, t.typ)
			out = order.AppendUint32(out, t.count)
			switch {
			case t.at != 0:
				out = order.AppendUint32(out, t.at)
			case len(t.value) > 4:
				out = order.AppendUint32(out, uint32(dataAt+len(data)))
				data = append(data, t.value...)
			default:
				out = append(out, append(append([]byte(nil), t.value...), make([]byte, 4-len(t.value))...)...)
			}
		}
		n := uint32(0)
		if i < len(next) {
			n = next[i]
		}
		out = order.AppendUint32(out, n)
	}
	return append(out, data...)
}

// dirAt is the offset of directory i of rawEXIF when the directories before it have these lengths.
func dirAt(lengths ...int) uint32 {
	at := 8
	for _, n := range lengths {
		at += 2 + 12*n + 4
	}
	return uint32(at)
}

const testDate = "2024:05:06 07:08:09"

func rationals(order binary.AppendByteOrder, v ...uint32) (out []byte) {
	for _, n := range v {
		out = order.AppendUint32(out, n)
	}
	return out
}

// goodEXIF is a whole block as a phone writes it.
func goodEXIF(order binary.AppendByteOrder) []byte {
	exifAt, gpsAt := dirAt(6), dirAt(6, 3)
	return rawEXIF(order, [][]rawTag{
		{ascii(0x010f, "Maker"), ascii(0x0110, "Model 5"), {id: 0x0112, typ: 3, count: 1, value: order.AppendUint16(nil, 6)},
			ascii(0x0132, "2025:01:01 10:00:00"), {id: 0x8769, typ: 4, count: 1, at: exifAt}, {id: 0x8825, typ: 4, count: 1, at: gpsAt}},
		{ascii(0x9003, testDate), ascii(0x9004, "2024:05:06 07:08:10"), ascii(0x9011, "+02:00")},
		{{id: 2, typ: 5, count: 3, value: rationals(order, 52, 1, 0, 1, 0, 1)},
			{id: 7, typ: 5, count: 3, value: rationals(order, 5, 1, 8, 1, 900, 100)}, ascii(0x1d, "2024:05:06")},
	})
}

func TestAWholeEXIFBlockIsReadInBothByteOrders(t *testing.T) {
	want := exifFacts{make: "Maker", model: "Model 5", orientation: 6, original: testDate, digitized: "2024:05:06 07:08:10",
		modified: "2025:01:01 10:00:00", originalOffset: "+02:00", gpsDate: "2024:05:06", gpsTime: 5*time.Hour + 8*time.Minute + 9*time.Second,
		hasGPSTime: true, hasGPS: true}
	for _, order := range []binary.AppendByteOrder{binary.LittleEndian, binary.BigEndian} {
		got, err := readEXIF(goodEXIF(order))
		if err != nil || got != want {
			t.Errorf("%v: %+v, %v\nwant %+v", order, got, err, want)
		}
	}
}

func TestTheGuardLetsTheDateThroughAndTheTrapsNot(t *testing.T) {
	le := binary.LittleEndian
	pointer := rawTag{id: 0x8769, typ: 4, count: 1, at: dirAt(2)}
	date := []rawTag{ascii(0x9003, testDate)}
	for _, c := range []struct {
		case_ string
		block []byte
		want  string // DateTimeOriginal
	}{
		{"a directory that is its own successor", rawEXIF(le, [][]rawTag{{pointer, ascii(0x0110, "m")}, date}, 8), testDate},
		{"two directories that are each other's successor", rawEXIF(le, [][]rawTag{{pointer, ascii(0x0110, "m")}, date}, dirAt(2), 8), testDate},
		{"an Exif pointer at the first directory", rawEXIF(le, [][]rawTag{{{id: 0x8769, typ: 4, count: 1, at: 8}, ascii(0x9003, testDate)}}), testDate},
		{"an Exif pointer out of the block", rawEXIF(le, [][]rawTag{{{id: 0x8769, typ: 4, count: 1, at: 0xfffffff0}, ascii(0x0110, "m")}}), ""},
		{"an Exif pointer that is text", rawEXIF(le, [][]rawTag{{{id: 0x8769, typ: 2, count: 1, at: dirAt(2)}, ascii(0x0110, "m")}, date}), ""},
		{"a count whose size overflows 32 bits", rawEXIF(le, [][]rawTag{{pointer, {id: 0x0112, typ: 5, count: 0x20000001, at: 8}}, date}), testDate},
		{"a count of 2³²−1", rawEXIF(le, [][]rawTag{{pointer, {id: 0x010f, typ: 2, count: 0xffffffff, at: 8}}, date}), testDate},
		{"a count of zero", rawEXIF(le, [][]rawTag{{pointer, {id: 0x010e, typ: 2}}, date}), testDate},
		{"an unknown type", rawEXIF(le, [][]rawTag{{pointer, {id: 0x010f, typ: 99, count: 1}}, date}), testDate},
		{"a date out of the block", rawEXIF(le, [][]rawTag{{pointer, ascii(0x0110, "m")}, {{id: 0x9003, typ: 2, count: 20, at: 0xfff0}}}), ""},
		{"a date of the undefined type", rawEXIF(le, [][]rawTag{{pointer, ascii(0x0110, "m")}, {{id: 0x9003, typ: 7, count: 19, value: []byte(testDate)}}}), testDate},
		{"a date that is a number", rawEXIF(le, [][]rawTag{{pointer, ascii(0x0110, "m")}, {{id: 0x9003, typ: 4, count: 1, at: 7}}}), ""},
		{"a date in the first directory", rawEXIF(le, [][]rawTag{{ascii(0x9003, testDate)}}), testDate},
		{"a maker note longer than the block", rawEXIF(le, [][]rawTag{{pointer, ascii(0x0110, "m")}, append([]rawTag{{id: 0x927c, typ: 7, count: 100000, at: 38}}, date...)}), testDate},
		{"a directory that promises more tags than there are", func() []byte {
			b := rawEXIF(le, [][]rawTag{{pointer, ascii(0x0110, "m")}, date})
			le.PutUint16(b[8:], 0xffff)
			return b
		}(), testDate},
	} {
		t.Run(c.case_, func(t *testing.T) {
			var got exifFacts
			n := allocated(func() { got, _ = readEXIF(c.block) })
			if got.original != c.want {
				t.Errorf("DateTimeOriginal %q, want %q", got.original, c.want)
			}
			if n > 1<<20 {
				t.Errorf("allocated %d bytes", n)
			}
		})
	}
}

// Property: what the guard writes, the guard reads as the same, and nothing else is in it.
func TestTheGuardsCopyIsAFixedPoint(t *testing.T) {
	first, err := walkEXIF(goodEXIF(binary.BigEndian))
	if err != nil {
		t.Fatal(err)
	}
	copy1 := first.encode()
	second, err := walkEXIF(copy1)
	if err != nil {
		t.Fatal(err)
	}
	if copy2 := second.encode(); !bytes.Equal(copy1, copy2) {
		t.Errorf("the copy of the copy differs")
	}
	// The place itself does not even reach the library: only that there is one.
	if bytes.Contains(copy1, rationals(binary.LittleEndian, 52, 1)) {
		t.Errorf("the latitude is in the copy")
	}
}

func TestWrittenEXIFIsReadBack(t *testing.T) {
	plain := encodeTestJPEG(t, testPicture(40, 30))
	taken := time.Date(2026, 3, 14, 9, 26, 53, 0, time.FixedZone("anything", 7200))
	b, err := InsertEXIF(plain, EXIFFields{TakenLocal: taken, Offset: "+01:00", Make: "Acme", Model: "Acme One", Orientation: 8, Focal35MM: 52})
	if err != nil {
		t.Fatal(err)
	}
	f := inspectBytes(t, b, "")
	if f.TakenLocal != "2026-03-14T09:26:53" || f.TakenSource != SourceExifOffset || f.OffsetMinutes != 60 ||
		!f.TakenAt.Equal(time.Date(2026, 3, 14, 8, 26, 53, 0, time.UTC)) || f.Camera != "Acme One" || f.Orientation != 8 ||
		f.WidthPX != 30 || f.HeightPX != 40 || f.Focal35MM != 52 || f.ModifyLocal != f.TakenLocal || f.HasGPS {
		t.Errorf("%+v", f)
	}
	if f.RawDates["DateTimeOriginal"] != "2026:03:14 09:26:53" || f.RawDates["OffsetTimeOriginal"] != "+01:00" {
		t.Errorf("raw dates %v", f.RawDates)
	}
	for _, wrong := range []EXIFFields{{Orientation: 9}, {Focal35MM: -1}, {Focal35MM: 70000}, {Offset: "one hour", TakenLocal: taken}} {
		if _, err := InsertEXIF(plain, wrong); err == nil {
			t.Errorf("%+v was written", wrong)
		}
	}
	if _, err := InsertEXIF([]byte("GIF89a"), EXIFFields{}); err == nil {
		t.Error("written into a file that is no JPEG")
	}
	long, err := InsertEXIF(plain, EXIFFields{Model: strings.Repeat("x", 5000)})
	if err != nil || len(inspectBytes(t, long, "").Camera) != maxValueCount-1 {
		t.Errorf("a long model: %v", err)
	}
}
