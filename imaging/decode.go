package imaging

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"sync"

	"golang.org/x/image/webp"
	"golang.org/x/sync/semaphore"
)

// pixelBudget bounds the memory of decoding: every picture weighs the pixels that are held of it, a progressive one twice,
// because it holds its coefficients too. The largest picture that is taken fills it alone.
var pixelBudget = semaphore.NewWeighted(MaxPixels)

// holdingPixels calls f while n pixels of the budget are held.
func holdingPixels(ctx context.Context, n int64, f func() error) error {
	n = min(n, MaxPixels)
	if err := pixelBudget.Acquire(ctx, n); err != nil {
		return err
	}
	defer pixelBudget.Release(n)
	return f()
}

// Decode returns the picture upright, in sRGB, opaque (transparency on white) and at full size. f is what Inspect said
// of the same bytes, the zero Facts if it was not asked; bytes that no longer agree with it are refused. The pixel
// budget is held while decoding, no longer: whoever keeps many full-size pictures must bound them, or use Make.
// Errors: *Refusal, or the context's.
func Decode(ctx context.Context, r io.ReaderAt, size int64, f Facts) (*image.NRGBA, error) {
	s, err := sourceOf(r, size, f)
	if err != nil {
		return nil, err
	}
	var out *image.NRGBA
	err = s.decoded(ctx, func(img image.Image) error {
		out = s.upright(img)
		return nil
	})
	return out, err
}

// Check decodes the whole picture and throws it away, so that a photo is refused at the door and not by the work behind
// it: the headers of a photo cut off on its way are in order, and so is a card's file whose tail reads as zeros.
// A file that merely lacks its end marker, or has bytes after it, passes. Errors as Decode.
func Check(ctx context.Context, r io.ReaderAt, size int64, f Facts) error {
	s, err := sourceOf(r, size, f)
	if err != nil {
		return err
	}
	if s.format == FormatJPEG {
		if _, err := scaledJPEG(ctx, r, size, 0); !errors.Is(err, errOtherJPEG) {
			return err
		}
	}
	return s.decoded(ctx, func(image.Image) error { return nil })
}

// source is a file whose headers are in order, and what they ask to be done with its picture.
type source struct {
	r           io.ReaderAt
	size        int64
	format      string
	box         *container
	orientation int
	colour      *colourMap
}

// sourceOf inspects a file; said is what was said of it before.
func sourceOf(r io.ReaderAt, size int64, said Facts) (*source, error) {
	found, err := Inspect(r, size, "", InspectOptions{})
	if err != nil {
		return nil, err
	}
	if said.Format != "" && (said.Format != found.Format || said.WidthPX != found.WidthPX || said.HeightPX != found.HeightPX) {
		return nil, refuse(CodeDamaged, errors.New("the bytes are not the ones that were inspected"))
	}
	c := walk(found.Format, r, size)
	if found.Format == FormatWebP && !c.complete {
		// The picture may be whole, but what follows it, the date among it, is not.
		return nil, refuse(CodeTruncated, errors.New("the file is shorter than it says"))
	}
	s := &source{r: r, size: size, format: found.Format, box: c, orientation: found.Orientation, colour: c.colourMap()}
	if s.format == FormatHEIC {
		// Its decoder crops and turns.
		s.orientation, c.widthPX, c.heightPX = 1, found.WidthPX, found.HeightPX
	}
	return s, nil
}

// decoded decodes the picture as stored, under the budget, and calls f while holding it.
func (s *source) decoded(ctx context.Context, f func(image.Image) error) error {
	weight := int64(s.box.widthPX) * int64(s.box.heightPX)
	if s.box.progressive {
		weight *= 2
	}
	done := func() {}
	if s.format == FormatHEIC {
		// In front of the budget, or photos that wait for their turn would keep others from theirs.
		if err := heicTurn.Acquire(ctx, 1); err != nil {
			return err
		}
		done = sync.OnceFunc(func() { heicTurn.Release(1) })
	}
	defer done()
	return holdingPixels(ctx, weight, func() error {
		img, err := s.stored(ctx)
		done()
		if err != nil {
			return err
		}
		return f(img)
	})
}

// stored decodes with the decoder of the file's format.
func (s *source) stored(ctx context.Context) (image.Image, error) {
	if s.format == FormatHEIC {
		return heicPixels(ctx, s.r, s.size, s.box)
	}
	return decodeStored(ctx, s.format, s.r, s.size, s.box.complete)
}

// decodeStored decodes with the decoder of the named format, of those that Go has.
func decodeStored(ctx context.Context, format string, r io.ReaderAt, size int64, complete bool) (img image.Image, err error) {
	in := &tracked{ctx: ctx, r: io.NewSectionReader(r, 0, size), complete: complete}
	defer func() {
		if p := recover(); p != nil {
			img, err = nil, refuse(CodeDamaged, fmt.Errorf("decoder: %v", p))
		}
	}()
	config, decode := jpeg.DecodeConfig, jpeg.Decode
	switch format {
	case FormatPNG:
		config, decode = png.DecodeConfig, png.Decode
	case FormatWebP:
		config, decode = webp.DecodeConfig, webp.Decode
	}
	// The decoder reads the size its own way; it is held to the ceilings on its own reading too.
	conf, err := config(bufio.NewReader(in))
	if err != nil {
		return nil, in.refusal(err)
	}
	if r := tooLargePX(conf.Width, conf.Height); r != nil {
		return nil, r
	}
	_, _ = in.r.Seek(0, io.SeekStart)
	var src io.Reader = bufio.NewReaderSize(in, 64<<10)
	if format == FormatJPEG {
		var n int
		if n, in.complete = scans(r, size); n > maxJPEGScans {
			return nil, refuse(CodeDamaged, errors.New("too many scans"))
		}
		// A missing end marker costs nothing: one more at the end is never reached otherwise.
		src = io.MultiReader(in, &endMarker{})
	}
	img, err = decode(src)
	if err != nil {
		return nil, in.refusal(err)
	}
	if img.Bounds().Dx() != conf.Width && format != FormatWebP || img.Bounds().Empty() {
		return nil, refuse(CodeDamaged, errors.New("the picture is not of its header's size"))
	}
	return img, nil
}

// endMarker reads as FF D9, the end-of-image marker.
type endMarker struct{ at int }

func (e *endMarker) Read(b []byte) (int, error) {
	n := copy(b, "\xff\xd9"[e.at:])
	e.at += n
	if n == 0 {
		return 0, io.EOF
	}
	return n, nil
}

// tracked reads for a decoder and stops when the context does.
type tracked struct {
	ctx      context.Context
	r        *io.SectionReader
	complete bool  // the container reaches its end inside the file
	err      error // the context's, or the reader's own
}

func (t *tracked) Read(b []byte) (int, error) {
	if err := t.ctx.Err(); err != nil {
		t.err = err
		return 0, err
	}
	n, err := t.r.Read(b)
	if err != nil && err != io.EOF {
		t.err = refuse(CodeUnreadable, err)
	}
	return n, err
}

// refusal says why decoding failed.
func (t *tracked) refusal(err error) error {
	var unsupported jpeg.UnsupportedError
	var unsupportedPNG png.UnsupportedError
	switch {
	case t.err != nil:
		return t.err
	case errors.As(err, &unsupported):
		return refuse(CodeFormatUnsupported, err, "format", "jpeg_rare")
	case errors.As(err, &unsupportedPNG):
		return refuse(CodeFormatUnsupported, err, "format", "png_rare")
	case !t.complete:
		return refuse(CodeTruncated, err)
	}
	return refuse(CodeDamaged, err)
}
