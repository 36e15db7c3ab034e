package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"path/filepath"

	tl "thatch/timeline"
)

// Incoming is a file that was received whole and is safe on disk, but is not kept yet: nobody sees it.
type Incoming struct {
	SHA256 string
	Bytes  int64

	fs   FS
	file File
	name string
	gone bool // moved to its place, or removed
}

// ReadAt reads the bytes received. An Incoming is an io.ReaderAt until it is kept or discarded.
func (in *Incoming) ReadAt(p []byte, off int64) (int, error) { return in.file.ReadAt(p, off) }

// Discard throws the file away; after KeepPhoto, and a second time, it does nothing.
func (in *Incoming) Discard() error {
	if in.gone {
		return nil
	}
	in.gone = true
	err := in.file.Close()
	if errors.Is(err, fs.ErrClosed) {
		err = nil
	}
	return fault("discard file", errors.Join(err, in.fs.Remove(in.name)))
}

// ReceiveFile reads r to its end into a temporary file, hashing as it goes, and makes the bytes durable. More than
// limitBytes is a Fault TooLarge; a disk that is nearly full is a Fault NoSpace before a byte is read. The caller discards
// or keeps what it got.
func (s *Store) ReceiveFile(ctx context.Context, r io.Reader, limitBytes int64) (*Incoming, error) {
	const op = "receive file"
	if err := s.room(op, wholeFloor); err != nil {
		return nil, err
	}
	f, err := s.fs.CreateTemp(filepath.Join(s.dir, incomingDir))
	if err != nil {
		return nil, fault(op, err)
	}
	in := &Incoming{fs: s.fs, file: f, name: f.Name()}
	h := sha256.New()
	w := &faultyWriter{w: f}
	in.Bytes, err = io.Copy(io.MultiWriter(h, w), io.LimitReader(&ctxReader{ctx, r}, limitBytes+1))
	switch {
	case w.err != nil:
		err = fault(op, w.err)
	case err != nil && ctx.Err() != nil:
		err = fault(op, ctx.Err())
	case err != nil:
		err = tl.NewFault(tl.Invalid, "fault.store.receive").At(op).Because(err) // the sender stopped; our disk is well
	case in.Bytes > limitBytes:
		err = tl.NewFault(tl.TooLarge, "fault.store.too_large", "mb", int(limitBytes>>20)).At(op)
	default:
		err = fault(op, f.Sync())
	}
	if err != nil {
		_ = in.Discard() // the first trouble is the one to tell; what is left is swept later
		return nil, err
	}
	in.SHA256 = hex.EncodeToString(h.Sum(nil))
	return in, nil
}

// faultyWriter remembers that it was the writing side that failed.
type faultyWriter struct {
	w   io.Writer
	err error
}

func (f *faultyWriter) Write(p []byte) (int, error) {
	n, err := f.w.Write(p)
	if err != nil {
		f.err = err
	}
	return n, err
}

type ctxReader struct {
	ctx context.Context
	r   io.Reader
}

func (c *ctxReader) Read(p []byte) (int, error) {
	if err := c.ctx.Err(); err != nil {
		return 0, err
	}
	return c.r.Read(p)
}
