package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"regexp"
	"strconv"

	tl "thatch/timeline"
)

var (
	shaShape  = regexp.MustCompile(`^[0-9a-f]{64}$`)
	kindShape = regexp.MustCompile(`^[a-z0-9][a-z0-9_-]{0,99}$`)
)

type blob struct {
	File
	size int64
}

func (b blob) Size() int64 { return b.size }

func (s *Store) open(op, path, what string) (Blob, error) {
	f, err := s.fs.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, notFound(what).At(op).Because(err)
	}
	if err != nil {
		return nil, fault(op, err)
	}
	info, err := f.Stat()
	if err != nil {
		f.Close()
		return nil, fault(op, err)
	}
	return blob{f, info.Size()}, nil
}

// OpenOriginal opens the photo file as it came; the caller closes it.
func (s *Store) OpenOriginal(ctx context.Context, sha string) (Blob, error) {
	op := "open original " + sha
	if !shaShape.MatchString(sha) {
		return nil, notFound("photo").At(op)
	}
	return s.open(op, s.originalPath(sha), "photo")
}

// derivedPath refuses anything that could name a file elsewhere.
func (s *Store) derivedPath(sha, kind string, makerVersion int) (string, error) {
	if !shaShape.MatchString(sha) || !kindShape.MatchString(kind) || makerVersion < 0 {
		return "", fmt.Errorf("no derivative is named %q %q %d", sha, kind, makerVersion)
	}
	return filepath.Join(s.dir, derivedDir, strconv.Itoa(makerVersion), sha[:2], sha+"-"+kind+".jpg"), nil
}

// PutDerived keeps a derivative; kind is lower-case letters, digits, "-" and "_". Readers see the old one or the new one,
// never half of one.
func (s *Store) PutDerived(ctx context.Context, sha, kind string, makerVersion int, b []byte) error {
	op := "put derived " + sha + " " + kind
	path, err := s.derivedPath(sha, kind, makerVersion)
	if err != nil {
		return fault(op, err)
	}
	if err := s.room(op, halfFloor); err != nil {
		return err
	}
	if err := s.fs.MkdirAll(filepath.Dir(path)); err != nil {
		return fault(op, err)
	}
	f, err := s.fs.CreateTemp(filepath.Join(s.dir, incomingDir))
	if err != nil {
		return fault(op, err)
	}
	_, err = f.Write(b)
	if err == nil {
		err = f.Sync() // else a power cut may leave the name with nothing behind it, and nobody would make it again
	}
	if err = errors.Join(err, f.Close()); err == nil {
		err = s.fs.Rename(f.Name(), path)
	}
	if err != nil {
		_ = s.fs.Remove(f.Name())
	}
	return fault(op, err)
}

// OpenDerived is NotFound where the derivative was not made yet by this version of its maker; the caller closes it.
func (s *Store) OpenDerived(ctx context.Context, sha, kind string, makerVersion int) (Blob, error) {
	op := "open derived " + sha + " " + kind
	path, err := s.derivedPath(sha, kind, makerVersion)
	if err != nil {
		return nil, tl.NewFault(tl.NotFound, "fault.store.not_found.photo").At(op).Because(err)
	}
	return s.open(op, path, "photo")
}
