//go:build !race

package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	tl "thatch/timeline"
)

// One goroutine and a database opened hundreds of times: the race detector finds nothing here and takes minutes.

// stumbling is a file system whose n-th operation fails, before it takes effect or after.
type stumbling struct {
	FS
	n, count int
	after    bool
	err      error
	last     string
}

func (f *stumbling) do(what string, op func() error) error {
	f.count++
	hit := f.count == f.n
	if hit {
		f.last = what
	}
	if hit && !f.after {
		return &fs.PathError{Op: what, Err: f.err}
	}
	if err := op(); err != nil || !hit {
		return err
	}
	return &fs.PathError{Op: what, Err: f.err}
}

func (f *stumbling) MkdirAll(d string) error {
	return f.do("mkdir", func() error { return f.FS.MkdirAll(d) })
}
func (f *stumbling) Rename(a, b string) error {
	return f.do("rename", func() error { return f.FS.Rename(a, b) })
}
func (f *stumbling) Remove(n string) error {
	return f.do("remove", func() error { return f.FS.Remove(n) })
}
func (f *stumbling) SyncDir(d string) error {
	return f.do("sync folder", func() error { return f.FS.SyncDir(d) })
}
func (f *stumbling) ReadDir(d string) (v []fs.DirEntry, err error) {
	err = f.do("read folder", func() error { v, err = f.FS.ReadDir(d); return err })
	return
}
func (f *stumbling) CreateTemp(d string) (v File, err error) {
	if err = f.do("create", func() error { v, err = f.FS.CreateTemp(d); return err }); err != nil {
		if v != nil {
			v.Close()
		}
		return nil, err
	}
	return &stumblingFile{v, f}, nil
}

type stumblingFile struct {
	File
	fs *stumbling
}

func (f *stumblingFile) Write(p []byte) (n int, err error) {
	err = f.fs.do("write", func() error { n, err = f.File.Write(p); return err })
	return
}
func (f *stumblingFile) Sync() error  { return f.fs.do("sync", f.File.Sync) }
func (f *stumblingFile) Close() error { return f.fs.do("close", f.File.Close) }

// One fault at every file operation of a second backup that also prunes: either it is told, and what is whole is whole, or it
// did no harm. The next backup succeeds.
func TestAFaultAtAnyFileOperationOfABackupLeavesNothingThatPassesForOne(t *testing.T) {
	ctx := context.Background()
	s, _ := salonOf(t, 2)
	at := noon
	now := func() time.Time { return at }
	base := filepath.Join(t.TempDir(), "base")
	backUp(t, s, base, BackupOptions{Now: now})
	addPhotos(t, s, 2)
	told := 0
	for _, file := range []bool{false, true} {
		for _, after := range []bool{false, true} {
			for n := 1; ; n++ {
				at = noon.Add(time.Hour)
				dest := filepath.Join(t.TempDir(), "backup")
				if file {
					dest += ".tar"
				} else if err := os.CopyFS(dest, os.DirFS(base)); err != nil {
					t.Fatal(err)
				}
				cause := []error{syscall.ENOSPC, syscall.EIO}[n%2]
				f := &stumbling{FS: osFS{}, n: n, after: after, err: cause}
				_, err := Backup(ctx, s.Dir(), dest, BackupOptions{FS: f, Now: now, Prune: true})
				name := fmt.Sprintf("file %v, %v at operation %d (%s), after %v", file, cause, n, f.last, after)
				if f.count < n {
					if err != nil {
						t.Fatal(err)
					}
					break
				}
				if err != nil {
					told++
					if errors.Is(cause, syscall.ENOSPC) {
						wantKind(t, err, tl.NoSpace, "fault.backup.no_space")
					} else {
						wantKind(t, err, tl.Internal, "fault.backup.trouble")
					}
				}
				if _, gone := os.Stat(dest); gone == nil {
					for _, d := range must(Verify(ctx, dest, VerifyOptions{}))(t).Damage {
						t.Errorf("%s: %s: %s", name, d.File, d.Say)
					}
				}
				if file {
					_ = os.Remove(dest) // a whole one is never replaced
				}
				at = at.Add(time.Hour)
				rep, err := Backup(ctx, s.Dir(), dest, BackupOptions{Now: now, Prune: true})
				if err != nil || rep.Photos != 4 {
					t.Fatalf("%s: the next one: %v", name, err)
				}
				wantWhole(t, dest)
				if left := filesIn(t, filepath.Join(s.Dir(), incomingDir)); len(left) > 0 {
					t.Fatalf("%s: left in the salon: %v", name, left)
				}
			}
		}
	}
	if told < 40 {
		t.Errorf("only %d faults were felt: is the seam in use?", told)
	}
}

// One fault at every file operation of a restore: the folder is not there, or whole.
func TestAFaultAtAnyFileOperationOfARestoreLeavesNoHalfSalon(t *testing.T) {
	ctx := context.Background()
	s, _ := salonOf(t, 2)
	told := 0
	for _, dest := range []string{filepath.Join(t.TempDir(), "backup"), filepath.Join(t.TempDir(), "backup.tar")} {
		backUp(t, s, dest, BackupOptions{})
		for _, after := range []bool{false, true} {
			for n := 1; ; n++ {
				dir := filepath.Join(t.TempDir(), "new")
				f := &stumbling{FS: osFS{}, n: n, after: after, err: []error{syscall.ENOSPC, syscall.EIO}[n%2]}
				_, err := Restore(ctx, dest, dir, RestoreOptions{FS: f})
				if f.count < n {
					if err != nil {
						t.Fatal(err)
					}
					break
				}
				if err != nil {
					told++
				}
				if _, gone := os.Stat(dir); gone == nil {
					wantWhole(t, dir)
				} else if err == nil {
					t.Errorf("operation %d (%s): done, and nothing is there", n, f.last)
				}
			}
		}
	}
	if told < 40 {
		t.Errorf("only %d faults were felt: is the seam in use?", told)
	}
}
