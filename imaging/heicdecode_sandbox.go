//go:build !noheic

package imaging

import (
	"context"
	"errors"
	"image"
	"io"

	"thatch/imaging/heicwasm"
)

// heicDecoder decodes in a sandbox, one picture at a time.
var heicDecoder stillDecoder = wasmDecoder{}

type wasmDecoder struct{}

func (wasmDecoder) decode(ctx context.Context, r io.ReaderAt, size, pixels int64) (image.Image, error) {
	img, err := heicwasm.Decode(ctx, r, size, pixels)
	switch {
	case err == nil:
		return img, nil
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case errors.Is(err, heicwasm.ErrKind):
		return nil, refuse(CodeFormatUnsupported, err, "format", "heif_rare")
	case errors.Is(err, heicwasm.ErrFile), errors.Is(err, heicwasm.ErrLimit):
		return nil, refuse(CodeDamaged, err)
	}
	// The file could not be read, or the decoder not be started.
	return nil, refuse(CodeUnreadable, err)
}

func (wasmDecoder) licences() string { return heicwasm.Licences() }
