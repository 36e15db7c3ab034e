package imaging

import (
	"context"
	"errors"
	"image"
	"io"
	"time"
)

var errNotYet = errors.New("imaging: under construction")

// Inspect reads the headers of a file.
func Inspect(r io.ReaderAt, size int64, name string, opt InspectOptions) (Facts, error) {
	return Facts{}, errNotYet
}

// Hash is the SHA-256 of everything r has left, in hex, and its length.
func Hash(r io.Reader) (sha256Hex string, n int64, err error) { return "", 0, errNotYet }

// Check reads the whole file and refuses it if its picture cannot be decoded to the end.
func Check(ctx context.Context, r io.ReaderAt, size int64, f Facts) error { return errNotYet }

// Decode returns the picture upright, in sRGB, at full size.
func Decode(ctx context.Context, r io.ReaderAt, size int64, f Facts) (*image.NRGBA, error) {
	return nil, errNotYet
}

// Derive makes the three derivatives of an upright picture.
func Derive(img *image.NRGBA) (Derivatives, error) { return Derivatives{}, errNotYet }

// Derivatives are JPEGs without metadata.
type Derivatives struct{ View, Thumb, Working []byte }

// EncodeJPEG writes img as a JPEG without metadata; quality 1–100.
func EncodeJPEG(w io.Writer, img image.Image, quality int) error { return errNotYet }

// Resize returns img with its long side at longSidePX, never enlarged.
func Resize(img *image.NRGBA, longSidePX int) *image.NRGBA { return nil }

// EXIFFields are what InsertEXIF writes.
type EXIFFields struct {
	TakenLocal  time.Time // wall clock; its zone is ignored; zero: no date
	Offset      string    // "+01:00"; "": not written
	Make, Model string
	Orientation int // 1–8; 0: not written
}

// InsertEXIF returns the JPEG with an EXIF block put after SOI.
func InsertEXIF(jpeg []byte, e EXIFFields) ([]byte, error) { return nil, errNotYet }
