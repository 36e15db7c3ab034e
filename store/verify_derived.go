package store

import (
	"bufio"
	"context"
	"errors"
	"image/jpeg"
	"io"
	"io/fs"
	"path/filepath"
)

// derivatives reads every picture that was made from an original. There is no hash to hold it against: it was written as a
// whole, so it is damaged where it cannot be read or is not a JPEG from its first mark to its last.
func (v *verifier) derivatives(ctx context.Context) error {
	var files []string
	if err := v.walk(derivedDir, func(name string) { files = append(files, name) }); err != nil {
		return err
	}
	for i, name := range files {
		if err := ctx.Err(); err != nil {
			return err
		}
		v.Progress(i, len(files), name)
		err := wholeJPEG(v.FS, filepath.Join(v.dir, filepath.FromSlash(name)))
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		v.Derived++
		if err != nil {
			v.wrong(name, "verify.derived.damaged")
		}
	}
	v.Progress(len(files), len(files), "")
	return nil
}

func wholeJPEG(fsys FS, name string) error {
	f, err := fsys.Open(name)
	if err != nil {
		return err
	}
	defer f.Close()
	size, err := f.Seek(0, io.SeekEnd)
	if err != nil {
		return err
	}
	mark := make([]byte, 2)
	if size < 4 {
		return io.ErrUnexpectedEOF
	}
	if _, err := f.ReadAt(mark, size-2); err != nil {
		return err
	}
	if mark[0] != 0xff || mark[1] != 0xd9 { // EOI, ITU-T T.81 table B.1
		return io.ErrUnexpectedEOF
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return err
	}
	r := bufio.NewReader(f)
	if _, err := jpeg.DecodeConfig(r); err != nil {
		return err
	}
	_, err = io.Copy(io.Discard, r) // a sector that cannot be read is damage too
	return err
}
