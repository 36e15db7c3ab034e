package imaging

import (
	"bytes"
	"context"
	"image"
	"image/jpeg"
	"io"
)

// Long sides of the derivatives, px.
const (
	ViewPX    = 2016 // half of the usual 4032
	WorkingPX = 1600 // for measuring
	ThumbPX   = 512
)

// JPEG qualities of the derivatives. The working one is measured on, so it keeps more.
const (
	viewQuality    = 85
	workingQuality = 92
	thumbQuality   = 80
)

// Derivatives are JPEGs that carry pixels and nothing else.
type Derivatives struct{ View, Thumb, Working []byte }

// Make decodes a photo and makes its derivatives, holding the pixel budget all the while: the way for a server.
// Arguments and errors as Decode.
func Make(ctx context.Context, r io.ReaderAt, size int64, f Facts) (Derivatives, error) {
	var d Derivatives
	err := withPixels(ctx, r, size, f, func(p picture) (err error) {
		d, err = derive(shrink(p))
		return err
	})
	return d, err
}

// Derive makes the derivatives of an upright picture. None is larger than the picture.
func Derive(img *image.NRGBA) (Derivatives, error) { return derive(img) }

func derive(img *image.NRGBA) (d Derivatives, err error) {
	view := Resize(img, ViewPX)
	working := Resize(img, WorkingPX)
	thumb := Resize(view, ThumbPX)
	for _, one := range []struct {
		img     *image.NRGBA
		quality int
		into    *[]byte
	}{{view, viewQuality, &d.View}, {working, workingQuality, &d.Working}, {thumb, thumbQuality, &d.Thumb}} {
		var b bytes.Buffer
		if err := EncodeJPEG(&b, one.img, one.quality); err != nil {
			return Derivatives{}, err
		}
		*one.into = b.Bytes()
	}
	return d, nil
}

// shrink is the picture upright and in sRGB; for now at full size.
func shrink(p picture) *image.NRGBA { return p.upright() }

// EncodeJPEG writes img as a JPEG without metadata; quality 1 to 100. Transparency is not kept: an NRGBA is taken as
// opaque, as everything that comes out of Decode is.
func EncodeJPEG(w io.Writer, img *image.NRGBA, quality int) error {
	// The encoder is quick on RGBA only; of opaque pixels both say the same.
	return jpeg.Encode(w, &image.RGBA{Pix: img.Pix, Stride: img.Stride, Rect: img.Rect}, &jpeg.Options{Quality: quality})
}
