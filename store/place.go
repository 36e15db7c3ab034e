package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"path/filepath"
)

// fresh is a file that was written under a temporary name, hashed on its way, and made durable.
type fresh struct {
	fs   FS
	name string
	ManifestFile
}

// readTrouble marks an error of the reading side of a copy.
type readTrouble struct{ error }

func (r readTrouble) Unwrap() error { return r.error }

type markedReader struct{ r io.Reader }

func (m markedReader) Read(p []byte) (int, error) {
	n, err := m.r.Read(p)
	if err != nil && err != io.EOF {
		err = readTrouble{err}
	}
	return n, err
}

// writeFresh writes r to a new file in tmp. On an error nothing is left; one of the reading side is a readTrouble.
func writeFresh(ctx context.Context, fsys FS, tmp string, r io.Reader) (w fresh, err error) {
	f, err := fsys.CreateTemp(tmp)
	if err != nil {
		return w, err
	}
	w = fresh{fs: fsys, name: f.Name()}
	h := sha256.New()
	w.Bytes, err = io.Copy(io.MultiWriter(h, f), &ctxReader{ctx, markedReader{r}})
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		w.drop()
		return w, err
	}
	w.SHA256 = hex.EncodeToString(h.Sum(nil))
	return w, nil
}

func (w fresh) drop() { _ = w.fs.Remove(w.name) }

// moveTo gives it its name; the folder's names are the caller's to make durable.
func (w fresh) moveTo(path string) error {
	if err := w.fs.Rename(w.name, path); err != nil {
		w.drop()
		return err
	}
	return nil
}

// hashFile hashes a file from its beginning to its end.
func hashFile(ctx context.Context, fsys FS, name string) (ManifestFile, error) {
	f, err := fsys.Open(name)
	if err != nil {
		return ManifestFile{}, err
	}
	defer f.Close()
	return hashAll(ctx, io.Discard, f)
}

// hashAll hashes r on its way to w.
func hashAll(ctx context.Context, w io.Writer, r io.Reader) (ManifestFile, error) {
	h := sha256.New()
	n, err := io.Copy(io.MultiWriter(h, w), &ctxReader{ctx, r})
	return ManifestFile{hex.EncodeToString(h.Sum(nil)), n}, err
}

// removeAll takes a folder away with all that is in it; one that is not there is no error.
func removeAll(fsys FS, dir string) error {
	entries, err := fsys.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	for _, e := range entries {
		name := filepath.Join(dir, e.Name())
		if e.IsDir() {
			err = removeAll(fsys, name)
		} else {
			err = fsys.Remove(name)
		}
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return fsys.Remove(dir)
}
