//go:build plantedbugs

package store

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"time"
)

// planted says that this build may be made to lose data; a released one never is.
const planted = true

// The bugs, by their names in THATCH_PLANTED.
const (
	bugAnswerFirst = "answer-first" // acknowledged before it is durable: the commit comes after the answer
	bugRowFirst    = "row-first"    // the row is committed before its file is in its place
	bugInPlace     = "in-place"     // the file is written under its own name
)

// bug is the one that is planted now.
var bug = os.Getenv("THATCH_PLANTED")

// Plant plants a bug; "" takes it out.
func Plant(name string) { bug = name }

// disk is how long a slow disk takes for a step, so that a kill may fall between two.
const disk = 15 * time.Millisecond

func (s *Store) writeWrong(ctx context.Context, op string, f func(tx) error) (done bool, err error) {
	if bug != bugAnswerFirst {
		return false, nil
	}
	ctx = context.WithoutCancel(ctx)
	t, err := s.writer.BeginTx(ctx, nil)
	if err != nil {
		return true, fault(op, err)
	}
	v := tx{ctx: ctx, sql: t, remark: new(remark)}
	if err := f(v); err != nil {
		t.Rollback()
		return true, fault(op, err)
	}
	go func() {
		time.Sleep(disk)
		_ = t.Commit()
	}()
	return true, nil
}

func (s *Store) keepWrong(ctx context.Context, op string, in *Incoming, rows func(tx) error) (done bool, err error) {
	switch bug {
	case bugRowFirst:
		if err := s.write(ctx, op, rows); err != nil {
			return true, err
		}
		time.Sleep(disk)
		_, err := s.place(in, false)
		return true, fault(op, err)
	case bugInPlace:
		if err := s.writeInPlace(in); err != nil {
			return true, fault(op, err)
		}
		return true, s.write(ctx, op, rows)
	}
	return false, nil
}

type creating interface {
	Create(name string) (File, error)
}

func (osFS) Create(name string) (File, error) { return os.Create(name) }

func (s *Store) writeInPlace(in *Incoming) error {
	path := s.originalPath(in.SHA256)
	dir := filepath.Dir(path)
	if err := errors.Join(s.fs.MkdirAll(dir), s.fs.SyncDir(filepath.Dir(dir))); err != nil {
		return err
	}
	f, err := s.fs.(creating).Create(path)
	if err != nil {
		return err
	}
	for at := int64(0); at < in.Bytes && err == nil; at += in.Bytes/8 + 1 {
		_, err = io.Copy(f, io.NewSectionReader(in, at, in.Bytes/8+1))
		time.Sleep(disk / 8)
	}
	return errors.Join(err, f.Sync(), f.Close(), s.fs.SyncDir(dir))
}
