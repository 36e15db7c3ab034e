package imaging

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"time"

	"github.com/rwcarlsen/goexif/exif"
	"github.com/rwcarlsen/goexif/tiff"
)

// exifFacts are the plain values of one EXIF block.
type exifFacts struct {
	make, model                               string
	orientation                               int // 0: not said
	focal35                                   int // mm; 0: not said
	original, digitized, modified             string
	originalOffset, digitizedOffset, modifOff string
	gpsDate                                   string
	gpsTime                                   time.Duration // since midnight UTC
	hasGPSTime, hasGPS                        bool
}

// The library's table of names is older than these tags.
var offsetNames = map[uint16]exif.FieldName{
	uint16(tagOffsetTime): "OffsetTime", uint16(tagOffsetTimeOriginal): "OffsetTimeOriginal", uint16(tagOffsetTimeDigit): "OffsetTimeDigitized",
}

// readEXIF takes one untrusted block through the guard and then through the EXIF library.
func readEXIF(untrusted []byte) (f exifFacts, err error) {
	// The guard's copy holds nothing the library stumbles over; this is the second lock on the same door.
	defer func() {
		if p := recover(); p != nil {
			f, err = exifFacts{}, fmt.Errorf("exif: %v", p)
		}
	}()
	block, err := walkEXIF(untrusted)
	if err != nil {
		return f, err
	}
	if block.empty() {
		return f, nil
	}
	clean := block.encode()
	x, err := exif.Decode(bytes.NewReader(clean))
	if err != nil {
		return f, err
	}
	if p, err := x.Get(exif.ExifIFDPointer); err == nil {
		if at, err := p.Int64(0); err == nil {
			r := bytes.NewReader(clean)
			_, _ = r.Seek(at, 0)
			if d, _, err := tiff.DecodeDir(r, binary.LittleEndian); err == nil {
				x.LoadTags(d, offsetNames, false)
			}
		}
	}
	text := func(name exif.FieldName) string {
		t, err := x.Get(name)
		if err != nil {
			return ""
		}
		s, _ := t.StringVal()
		return s
	}
	f.make, f.model = text(exif.Make), text(exif.Model)
	f.original, f.digitized, f.modified = text(exif.DateTimeOriginal), text(exif.DateTimeDigitized), text(exif.DateTime)
	f.originalOffset, f.digitizedOffset, f.modifOff = text("OffsetTimeOriginal"), text("OffsetTimeDigitized"), text("OffsetTime")
	f.gpsDate = text(exif.GPSDateStamp)
	if t, err := x.Get(exif.Orientation); err == nil {
		f.orientation, _ = t.Int(0)
	}
	if t, err := x.Get(exif.FocalLengthIn35mmFilm); err == nil {
		f.focal35, _ = t.Int(0)
	}
	if t, err := x.Get(exif.GPSTimeStamp); err == nil && t.Count == 3 {
		f.hasGPSTime = true
		for i, unit := range []time.Duration{time.Hour, time.Minute, time.Second} {
			below := []float64{24, 60, 61}[i] // a leap second counts
			num, den, err := t.Rat2(i)
			if err != nil || den == 0 || num < 0 {
				f.hasGPSTime = false
				break
			}
			v := float64(num) / float64(den)
			if v >= below {
				f.hasGPSTime = false
				break
			}
			f.gpsTime += time.Duration(v * float64(unit))
		}
	}
	_, lat := x.Get(exif.GPSLatitude)
	_, lon := x.Get(exif.GPSLongitude)
	f.hasGPS = lat == nil || lon == nil
	return f, nil
}
