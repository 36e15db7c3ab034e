package imaging

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"
)

// EXIFFields are what InsertEXIF writes.
type EXIFFields struct {
	TakenLocal  time.Time // wall clock; its zone is ignored; zero: no date
	Offset      string    // "+01:00"; "": not written
	Make, Model string
	Orientation int // 1–8; 0: not written
	Focal35MM   int // focal length of a 35 mm camera that sees as much, 1 to 65535; 0: not written
}

const exifLayout = "2006:01:02 15:04:05"

// block is the fields as a guarded block.
func (e EXIFFields) block() (exifBlock, error) {
	b := newEXIFBlock()
	text := func(dir map[tagID]exifValue, id tagID, s string) {
		if s = plainText([]byte(s)); s != "" {
			dir[id] = exifValue{kind: kindASCII, text: s[:min(len(s), maxValueCount-1)]}
		}
	}
	text(b.main, tagMake, e.Make)
	text(b.main, tagModel, e.Model)
	if e.Orientation < 0 || e.Orientation > 8 {
		return b, fmt.Errorf("imaging: orientation %d is not 1 to 8", e.Orientation)
	}
	if e.Orientation != 0 {
		b.main[tagOrientation] = exifValue{kind: kindShort, n: uint16(e.Orientation)}
	}
	if e.Focal35MM < 0 || e.Focal35MM > math.MaxUint16 {
		return b, fmt.Errorf("imaging: a focal length of %d mm", e.Focal35MM)
	}
	if e.Focal35MM > 0 {
		b.exif[tagFocal35] = exifValue{kind: kindShort, n: uint16(e.Focal35MM)}
	}
	if e.Offset != "" {
		if _, ok := parseOffset(e.Offset); !ok {
			return b, fmt.Errorf("imaging: %q is not an offset like +01:00", e.Offset)
		}
	}
	if !e.TakenLocal.IsZero() {
		s := e.TakenLocal.Format(exifLayout)
		text(b.main, tagDateTime, s)
		text(b.exif, tagDateTimeOriginal, s)
		text(b.exif, tagDateTimeDigitized, s)
		text(b.exif, tagOffsetTime, e.Offset)
		text(b.exif, tagOffsetTimeOriginal, e.Offset)
		text(b.exif, tagOffsetTimeDigit, e.Offset)
	}
	return b, nil
}

// InsertEXIF returns the JPEG with an EXIF block put in front of its other segments, as Exif 2.32 section 4.5.4 wants
// it. The JPEG is not checked beyond its first two bytes, and an EXIF block it already has is left in it.
func InsertEXIF(jpeg []byte, e EXIFFields) ([]byte, error) {
	if len(jpeg) < 4 || !strings.HasPrefix(string(jpeg[:2]), "\xff\xd8") {
		return nil, errors.New("imaging: not a JPEG")
	}
	b, err := e.block()
	if err != nil {
		return nil, err
	}
	body := append([]byte("Exif\x00\x00"), b.encode()...)
	if len(body)+2 > 0xffff {
		return nil, errors.New("imaging: the EXIF block does not fit a segment")
	}
	out := make([]byte, 0, len(jpeg)+len(body)+4)
	out = append(out, 0xff, 0xd8, 0xff, 0xe1)
	out = binary.BigEndian.AppendUint16(out, uint16(len(body)+2))
	out = append(out, body...)
	return append(out, jpeg[2:]...), nil
}
