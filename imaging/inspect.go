package imaging

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"math"
	"strings"
)

// Inspect reads the headers of a file and says what they say. name is the file's name, asked for a date only if nothing
// in the file has one. The error is a *Refusal; facts that were read before it stay beside it.
func Inspect(r io.ReaderAt, size int64, name string, opt InspectOptions) (Facts, error) {
	f := Facts{Bytes: size, Orientation: 1, TakenSource: SourceNone, Flags: []string{}, RawDates: map[string]string{}}
	if size <= 0 {
		return f, refuse(CodeEmpty, nil)
	}
	h, err := head(r, size, sniffBytes)
	if err != nil {
		return f, refuse(CodeUnreadable, err)
	}
	f.Format = sniff(h)
	if f.Format == "" {
		return f, refuse(CodeNotAPhoto, nil)
	}
	if size > MaxBytes {
		mb := math.Ceil(float64(size) / (1 << 20))
		return f, refuse(CodeTooLargeBytes, nil, "mb", int(mb), "max_mb", MaxBytes>>20)
	}
	switch f.Format {
	case FormatJPEG, FormatPNG, FormatWebP, FormatHEIC:
	default:
		return f, refuse(CodeFormatUnsupported, nil, "format", f.Format)
	}
	c := walk(f.Format, r, size)
	clues := dateClues{name: name}
	for _, b := range c.exif {
		e, err := readEXIF(b)
		if err != nil || e == (exifFacts{}) {
			continue
		}
		clues.exif = e
		break
	}
	clues.xmp, clues.xmpName = xmpDate(c.xmp)
	clues.iptc = iptcDate(c.iptc)
	if c.format != "" {
		f.Format = c.format
	}
	o := clues.exif.orientation
	if f.Format == FormatHEIC {
		o = c.orientation // phones say it in EXIF once more: both together would turn twice
	}
	if o >= 1 && o <= 8 {
		f.Orientation = o
	}
	f.WidthPX, f.HeightPX = c.widthPX, c.heightPX
	if turned(f.Orientation) {
		f.WidthPX, f.HeightPX = f.HeightPX, f.WidthPX
	}
	f.Camera = camera(clues.exif.make, clues.exif.model)
	f.HasGPS = clues.exif.hasGPS
	f.Focal35MM = clues.exif.focal35
	f.ICC = iccName(c.icc)
	decideTaken(&f, clues, opt)
	if c.trouble != nil {
		return f, c.trouble
	}
	if r := tooLargePX(f.WidthPX, f.HeightPX); r != nil {
		return f, r
	}
	return f, nil
}

// camera is make and model without saying the make twice.
func camera(make, model string) string {
	switch {
	case model == "":
		return make
	case make == "" || strings.HasPrefix(strings.ToLower(model), strings.ToLower(make)):
		return model
	}
	return make + " " + model
}

// Hash is the SHA-256 of everything r has left, 64 hex digits, and its length in bytes.
func Hash(r io.Reader) (sha256Hex string, n int64, err error) {
	h := sha256.New()
	n, err = io.Copy(h, r)
	if err != nil {
		return "", n, err
	}
	return hex.EncodeToString(h.Sum(nil)), n, nil
}
