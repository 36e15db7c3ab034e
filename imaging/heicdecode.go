package imaging

import (
	"context"
	"errors"
	"image"
	"io"

	"golang.org/x/sync/semaphore"
)

var (
	errNoHEIC   = errors.New("this build has no decoder for HEIC (noheic)")
	errHEICSize = errors.New("the picture is not of its header's size")
)

// heicTurn lets one HEIC photo at a time be decoded: each takes ten times the memory of a JPEG's.
var heicTurn = semaphore.NewWeighted(1)

// stillDecoder decodes files whose pictures Go has no decoder for. It returns the primary picture turned as the file
// asks, 8 bits a sample, its colours as coded, of at most so many pixels. Errors: *Refusal, or the context's.
type stillDecoder interface {
	decode(ctx context.Context, r io.ReaderAt, size, pixels int64) (image.Image, error)
	licences() string
}

// Licences is what must be handed on with the parts of the program that decode HEIC and are not our own: where they come
// from, how to replace them, their licences. It is empty in a build without them.
func Licences() string {
	if heicDecoder == nil {
		return ""
	}
	return heicDecoder.licences()
}

// heicPixels is the photo of a HEIC file upright, in the colours of JPEG where it is *image.YCbCr or *image.Gray;
// c says its size upright.
func heicPixels(ctx context.Context, r io.ReaderAt, size int64, c *container) (image.Image, error) {
	if heicDecoder == nil {
		return nil, refuse(CodeFormatUnsupported, errNoHEIC, "format", FormatHEIC)
	}
	if err := holes(ctx, r, size, c.codedAt); err != nil {
		return nil, err
	}
	held := max(int64(c.decodedWidthPX)*int64(c.decodedHeightPX), int64(c.widthPX)*int64(c.heightPX))
	img, err := heicDecoder.decode(ctx, r, size, held)
	if err != nil {
		return nil, err
	}
	if img.Bounds() != image.Rect(0, 0, c.widthPX, c.heightPX) {
		return nil, refuse(CodeDamaged, errHEICSize)
	}
	if !c.assembled {
		toJFIF(img, c.coding())
	}
	return img, nil
}

// coding are the code points that the samples of a HEIC file obey: those of its colr box, before those of its coded
// pictures (ISO/IEC 23008-12, section 6.5.5).
func (c *container) coding() nclxColour {
	switch {
	case c.nclx != nil:
		return *c.nclx
	case c.codedColour != nil:
		return *c.codedColour
	}
	return nclxColour{unspecified, unspecified, unspecified, false}
}

// colourMap is the conversion to sRGB that a container asks for; nil where there is none.
func (c *container) colourMap() *colourMap {
	if c.icc != nil || c.orientation == 0 {
		return colourMapOf(c.icc)
	}
	return colourMapOfNCLX(c.coding())
}
