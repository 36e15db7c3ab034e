package imaging

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/jpeg"
	"io"
)

// Long sides of the derivatives, px.
const (
	ViewPX  = 2016 // half of the usual 4032; measured on, too
	ThumbPX = 512
)

// derivedQuality is the JPEG quality of the derivatives.
const derivedQuality = 85

// Derivatives are JPEGs that carry pixels and nothing else.
type Derivatives struct{ View, Thumb []byte }

// Make decodes a photo and makes its derivatives, holding the pixel budget all the while: the way for a server. None is
// larger than the photo. Arguments and errors as Decode.
func Make(ctx context.Context, r io.ReaderAt, size int64, f Facts) (Derivatives, error) {
	var d Derivatives
	s, err := sourceOf(r, size, f)
	if err != nil {
		return d, err
	}
	err = s.reduced(ctx, func(img *image.YCbCr) (err error) {
		d, err = derivePlanes(img, s)
		return err
	})
	if !errors.Is(err, errOtherJPEG) {
		return d, err
	}
	err = s.decoded(ctx, func(img image.Image) (err error) {
		if y, ok := planar(img); ok {
			d, err = derivePlanes(y, s)
			return err
		}
		d, err = deriveUpright(s.upright(img))
		return err
	})
	return d, err
}

// MakeShown is Make for a photo whose pixels are wanted too and would be dear to decode a second time, as those of HEIC are:
// show is given what Decode would return, and must not keep it.
func MakeShown(ctx context.Context, r io.ReaderAt, size int64, f Facts, show func(*image.NRGBA)) (Derivatives, error) {
	var d Derivatives
	s, err := sourceOf(r, size, f)
	if err != nil {
		return d, err
	}
	err = s.decoded(ctx, func(img image.Image) (err error) {
		full := s.upright(img)
		if y, ok := planar(img); ok {
			d, err = derivePlanes(y, s)
		} else {
			d, err = deriveUpright(full)
		}
		if err == nil {
			show(full)
		}
		return err
	})
	return d, err
}

func deriveUpright(full *image.NRGBA) (Derivatives, error) {
	view := Resize(full, ViewPX)
	return encodeBoth(opaque(view), opaque(Resize(view, ThumbPX)))
}

// reduced calls f with a JPEG's picture as stored, at the smaller of a half or a quarter that still makes a view, while
// the budget for it is held. Where there is none, the error is errOtherJPEG.
func (s *source) reduced(ctx context.Context, f func(*image.YCbCr) error) error {
	long := max(s.box.widthPX, s.box.heightPX)
	if s.format != FormatJPEG || long < 2*ViewPX {
		return errOtherJPEG
	}
	shift := uint(1)
	if long >= 4*ViewPX {
		shift = 2
	}
	return holdingPixels(ctx, int64(s.box.widthPX)*int64(s.box.heightPX)>>(2*shift), func() error {
		img, err := scaledJPEG(ctx, s.r, s.size, shift)
		if err != nil {
			return err
		}
		return f(img)
	})
}

// derivePlanes makes the derivatives without leaving the colours that JPEG keeps. Everything that costs by the pixel
// comes after shrinking: turning, colour.
func derivePlanes(img *image.YCbCr, s *source) (Derivatives, error) {
	w, h := s.box.widthPX, s.box.heightPX
	if max(w, h) > ViewPX {
		w, h = fit(w, h, ViewPX)
	}
	view := resizeYCbCr(img, w, h)
	if !turnable(w, h, s.orientation) {
		full := turn(view, s.orientation)
		s.colour.apply(full)
		return encodeBoth(opaque(full), opaque(Resize(full, ThumbPX)))
	}
	view = turnYCbCr(view, s.orientation)
	if s.colour != nil {
		s.colour.grid().apply(view)
	}
	thumb := view
	if w, h := view.Rect.Dx(), view.Rect.Dy(); max(w, h) > ThumbPX {
		w, h = fit(w, h, ThumbPX)
		thumb = resizeYCbCr(view, w, h)
	}
	return encodeBoth(view, thumb)
}

func encodeBoth(view, thumb image.Image) (d Derivatives, err error) {
	for _, one := range []struct {
		img  image.Image
		into *[]byte
	}{{view, &d.View}, {thumb, &d.Thumb}} {
		var b bytes.Buffer
		if err := jpeg.Encode(&b, one.img, &jpeg.Options{Quality: derivedQuality}); err != nil {
			return Derivatives{}, err
		}
		*one.into = b.Bytes()
	}
	return d, nil
}

// EncodeJPEG writes img as a JPEG without metadata; quality 1 to 100. Transparency is not kept: an NRGBA is taken as
// opaque, as everything that comes out of Decode is.
func EncodeJPEG(w io.Writer, img *image.NRGBA, quality int) error {
	return jpeg.Encode(w, opaque(img), &jpeg.Options{Quality: quality})
}

// opaque is img for the encoder, which is quick on RGBA only; of opaque pixels both say the same.
func opaque(img *image.NRGBA) *image.RGBA {
	return &image.RGBA{Pix: img.Pix, Stride: img.Stride, Rect: img.Rect}
}
