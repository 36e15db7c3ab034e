package marker

import (
	"strconv"
	"strings"

	"thatch/timeline"
)

// Text is what a symbol says: THATCH1, the dog's ID in capitals or "-" for none, the side of the symbol in whole mm, with
// one space between: "THATCH1 7H2K9M4QX0ABCDEF 80". All of it is in the alphanumeric set of ISO/IEC 18004, table 5, so
// that the symbol stays at 25 × 25 modules. The digit is the version of this scheme.
type Text struct {
	Dog    timeline.ID // "": of the salon, no dog in particular
	SizeMM int         // side of the symbol, without its quiet zone
}

// Bounds of the symbol's side. Below, a module is under a millimetre and few phones show it; above, it would not fit on a sheet.
const (
	MinSizeMM     = 25
	MaxSizeMM     = 120
	DefaultSizeMM = 80
)

const (
	prefix  = "THATCH"
	version = "1"
	noDog   = "-"
	// maxIDBytes leaves room in the symbol: 29 characters (version 2, level Q) less prefix, spaces and size.
	maxIDBytes = 17
)

// Check reports a Text that cannot be drawn; the error is a Fault of kind Invalid.
func (t Text) Check() error {
	if t.SizeMM < MinSizeMM || t.SizeMM > MaxSizeMM {
		return timeline.NewFault(timeline.Invalid, "fault.marker.size", "min", MinSizeMM, "max", MaxSizeMM).In("size_mm")
	}
	if t.Dog != "" && (!plainID(string(t.Dog)) || len(t.Dog) > maxIDBytes) {
		return timeline.NewFault(timeline.Invalid, "fault.marker.dog").In("dog")
	}
	return nil
}

// plainID: lower case letters and digits, as the salon names its rows.
func plainID(s string) bool {
	return s != "" && strings.Trim(s, "0123456789abcdefghijklmnopqrstuvwxyz") == ""
}

// String is the text of the symbol. It is of use only where Check finds nothing.
func (t Text) String() string {
	id := noDog
	if t.Dog != "" {
		id = strings.ToUpper(string(t.Dog))
	}
	return prefix + version + " " + id + " " + strconv.Itoa(t.SizeMM)
}

// Kinship says how near a text is to ours.
type Kinship int

const (
	Foreign Kinship = iota // not ours
	Newer                  // ours, of a version that this program does not know
	Ours
)

// ParseText reads the text of a symbol. It is strict: what String would not write is Foreign.
func ParseText(s string) (Text, Kinship) {
	rest, ok := strings.CutPrefix(s, prefix)
	if !ok {
		return Text{}, Foreign
	}
	v, rest, ok := strings.Cut(rest, " ")
	if n, err := strconv.Atoi(v); !ok || err != nil || n < 1 || strconv.Itoa(n) != v {
		return Text{}, Foreign
	}
	if v != version {
		return Text{}, Newer
	}
	id, size, ok := strings.Cut(rest, " ")
	n, err := strconv.Atoi(size)
	if !ok || err != nil {
		return Text{}, Foreign
	}
	t := Text{SizeMM: n}
	if id != noDog {
		t.Dog = timeline.ID(strings.ToLower(id))
	}
	if t.Check() != nil || t.String() != s {
		return Text{}, Foreign
	}
	return t, Ours
}
