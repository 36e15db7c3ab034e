package imaging

import (
	"bytes"
	"context"
	"errors"
	"io"
)

// A card that fails leaves zeros where bytes were, and a decoder for film paints over what it cannot read. But no coded
// picture has a run of zeros: emulation prevention keeps three zero bytes from following each other inside a NAL unit
// (ITU-T H.265, section 7.4.2), and the length in front of one has three at most.

// maxZeroRun is far beyond what can be, and below a card's sector of 512 bytes.
const maxZeroRun = 128

var errHole = errors.New("heif: a coded picture with a hole of zeros")

// fileRange is a piece of a file.
type fileRange struct{ at, length int64 }

// noteCoded remembers where a coded picture lies.
func (w *heifWalk) noteCoded(item *heifItem) {
	for _, e := range item.extents {
		if at, n, inside := w.piece(item, e); inside && item.method <= 1 {
			w.out.codedAt = append(w.out.codedAt, fileRange{at, n})
		}
	}
}

// holes refuses a file whose coded pictures have runs of zeros. It reads no more than the file has, however often a
// hostile one names the same piece.
func holes(ctx context.Context, r io.ReaderAt, size int64, pieces []fileRange) error {
	zeros := make([]byte, maxZeroRun)
	buf := make([]byte, 64<<10)
	left := size
	for _, p := range pieces {
		for at, end := p.at, p.at+min(p.length, left); at < end; {
			if err := ctx.Err(); err != nil {
				return err
			}
			b := buf[:min(end-at, int64(len(buf)))]
			if n, err := r.ReadAt(b, at); n < len(b) {
				return refuse(CodeUnreadable, err)
			}
			if bytes.Contains(b, zeros) {
				return refuse(CodeDamaged, errHole)
			}
			step := int64(len(b))
			if at+step < end {
				step -= maxZeroRun - 1 // a run may lie across
			}
			at, left = at+step, left-step
		}
	}
	return nil
}
