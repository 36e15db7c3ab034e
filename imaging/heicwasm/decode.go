package heicwasm

import (
	"context"
	"encoding/binary"
	"fmt"
	"image"
	"io"
)

// libheif's numbers (libheif/heif_image.h: heif_colorspace, heif_chroma).
const (
	spaceYCbCr = 0
	spaceRGB   = 1
	spaceGrey  = 2

	chromaNone = 0
	chroma420  = 1
	chroma422  = 2
	chroma444  = 3
)

// Decode decodes the primary picture of a HEIC file of size bytes, whose headers say that it has so many pixels. It
// comes turned as irot and imir ask. Samples are brought to 8 bits and are otherwise as coded: *image.YCbCr
// (4:2:0, 4:2:2, 4:4:4) or *image.Gray, in whatever matrix and range the file says; *image.NRGBA where it is coded as RGB.
// A picture of fewer pixels than said is returned, of more is not. Opacity is left out, except of RGB.
//
// Errors: ErrModule, ErrFile, ErrKind, ErrLimit, wrapped; what r returns; the context's. Calls wait for each other.
func Decode(ctx context.Context, r io.ReaderAt, size, pixels int64) (image.Image, error) {
	return shared.Decode(ctx, r, size, pixels)
}

// Decode is the package's.
func (e *engine) Decode(ctx context.Context, r io.ReaderAt, size, pixels int64) (image.Image, error) {
	if err := e.turn.Acquire(ctx, 1); err != nil {
		return nil, err
	}
	defer e.turn.Release(1)
	if err := e.start(); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrModule, err)
	}
	img, err := e.decode(ctx, r, size, pixels)
	if cause := ctx.Err(); cause != nil {
		return nil, cause
	}
	return img, err
}

func (e *engine) decode(ctx context.Context, r io.ReaderAt, size, pixels int64) (image.Image, error) {
	in, err := e.instantiate(ctx, limitsOf(pixels, size))
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrModule, err)
	}
	defer in.close()
	return in.decode(r, size, pixels)
}

// decode decodes one file; an instance is good for one.
func (in *instance) decode(r io.ReaderAt, size, pixels int64) (image.Image, error) {
	if size < minFileBytes || size >= maxMemoryPages<<16 {
		return nil, ErrFile
	}
	file, view, err := in.alloc(uint64(size))
	if err != nil {
		return nil, err
	}
	if n, err := r.ReadAt(view, 0); n < len(view) {
		return nil, fmt.Errorf("heicwasm: reading the file: %w", err)
	}
	rebrand(view)
	said, _, err := in.alloc(4 * 5)
	if err != nil {
		return nil, err
	}
	decode := func(headersOnly uint64, into uint32) error {
		at := func(i uint32) uint64 { return uint64(said + 4*i) }
		ok, err := in.call("decode", uint64(file), uint64(size), headersOnly, at(0), at(1), at(2), at(3), at(4), uint64(into))
		if err == nil && ok != 1 {
			err = ErrFile
		}
		return err
	}
	if err := decode(1, 0); err != nil {
		return nil, err
	}
	b, ok := in.mod.Memory().Read(said, 4*5)
	if !ok {
		return nil, ErrModule
	}
	var words [5]uint32
	for i := range words {
		words[i] = binary.LittleEndian.Uint32(b[4*i:])
	}
	shape, err := shapeOf(words, pixels)
	if err != nil {
		return nil, err
	}
	into, _, err := in.alloc(uint64(shape.bytes()))
	if err != nil {
		return nil, err
	}
	if err := decode(0, into); err != nil {
		return nil, err
	}
	if b, ok = in.mod.Memory().Read(into, uint32(shape.bytes())); !ok {
		return nil, ErrModule
	}
	return shape.image(append([]byte(nil), b...)), nil
}

// shape is a picture as the module writes it: one plane after the other, rows padded.
type shape struct {
	w, h     int
	space    uint32
	ratio    image.YCbCrSubsampleRatio
	stride   int // of the first plane
	cStride  int // of the other two
	cRows    int
	premulti bool
}

// shapeOf reads what the module says of the picture.
func shapeOf(said [5]uint32, pixels int64) (s shape, err error) {
	const maxSide = 1 << 16
	if said[0] == 0 || said[1] == 0 || said[0] > maxSide || said[1] > maxSide || int64(said[0])*int64(said[1]) > pixels {
		return s, fmt.Errorf("%w: it is %d × %d pixels, and not the %d of its headers", ErrFile, said[0], said[1], pixels)
	}
	s = shape{w: int(said[0]), h: int(said[1]), space: said[2], premulti: said[4] == 1}
	s.stride = stride(s.w, 1)
	switch {
	case s.space == spaceRGB:
		s.stride = stride(s.w, 4)
	case s.space == spaceGrey:
	case s.space == spaceYCbCr && said[3] == chroma420:
		s.ratio, s.cStride, s.cRows = image.YCbCrSubsampleRatio420, stride((s.w+1)/2, 1), (s.h+1)/2
	case s.space == spaceYCbCr && said[3] == chroma422:
		s.ratio, s.cStride, s.cRows = image.YCbCrSubsampleRatio422, stride((s.w+1)/2, 1), s.h
	case s.space == spaceYCbCr && said[3] == chroma444:
		s.ratio, s.cStride, s.cRows = image.YCbCrSubsampleRatio444, stride(s.w, 1), s.h
	default:
		// Grey pictures that do not say their depth (pixi) are among them: the module asks libheif for what it cannot do.
		return s, fmt.Errorf("%w: colours of kind %d, %d", ErrKind, said[2], said[3])
	}
	return s, nil
}

// stride is libheif's: an even number of samples, at least 64, rounded up to 16 bytes (libheif/pixelimage.cc, 1.18.2).
func stride(samples, bytesEach int) int {
	return (max(64, samples+samples&1)*bytesEach + 15) &^ 15
}

func (s shape) bytes() int { return s.stride*s.h + 2*s.cStride*s.cRows }

func (s shape) image(b []byte) image.Image {
	rect := image.Rect(0, 0, s.w, s.h)
	switch {
	case s.space == spaceGrey:
		return &image.Gray{Pix: b, Stride: s.stride, Rect: rect}
	case s.space == spaceRGB && s.premulti:
		return &image.RGBA{Pix: b, Stride: s.stride, Rect: rect}
	case s.space == spaceRGB:
		return &image.NRGBA{Pix: b, Stride: s.stride, Rect: rect}
	}
	cb, cr := s.stride*s.h, s.stride*s.h+s.cStride*s.cRows
	return &image.YCbCr{
		Y: b[:cb:cb], Cb: b[cb:cr:cr], Cr: b[cr:], YStride: s.stride, CStride: s.cStride, SubsampleRatio: s.ratio, Rect: rect,
	}
}
