package faultfs_test

import (
	"errors"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"thatch/store"
	"thatch/store/faultfs"
	"thatch/timeline"
)

// oneFault lets the n-th operation of work fail in a copy of the salon, and says what is wrong then. Not hit: work has fewer.
func oneFault(t testing.TB, salon string, n int, fault error, kind timeline.Kind, work func(s *store.Store, ack func(string)) error) (op faultfs.Op, wrong []string, hit bool) {
	t.Helper()
	root := copyTree(t, salon)
	disk := newDisk(t, root)
	s := open(t, root, disk)
	defer s.Close()
	disk.Before(func(o faultfs.Op) error {
		if o.N != n {
			return nil
		}
		op, hit = o, true
		return fault
	})
	acked := map[string]bool{}
	ack := func(sha string) { acked[sha] = true }
	err := work(s, ack)
	disk.Before(nil)
	var half faultfs.Half
	if errors.As(fault, &half) {
		fault = half.Err
	}
	var f *timeline.Fault
	switch {
	case err == nil: // what was tidied away, or looked at for speed only
	case !errors.As(err, &f) || f.Say.IsZero():
		wrong = append(wrong, "no sentence: "+err.Error())
	case f.Kind != kind || !errors.Is(err, fault):
		wrong = append(wrong, "told as another trouble: "+err.Error())
	}
	db := filepath.Join(root, dataDir, "thatch.db")
	wrong = append(wrong, broken(root, readRows(t, db), acked)...)
	if err := work(s, ack); err != nil {
		wrong = append(wrong, "a second try fails: "+err.Error())
	}
	return op, append(wrong, broken(root, readRows(t, db), acked)...), hit
}

var faults = []struct {
	name string
	err  error
	kind timeline.Kind
}{
	{"a disk that fails", syscall.EIO, timeline.Internal},
	{"a full disk", syscall.ENOSPC, timeline.NoSpace},
	{"a disk full in the middle of a write", faultfs.Half{Err: syscall.ENOSPC}, timeline.NoSpace},
}

func TestAFaultAtAnyOperationOfAnUploadLosesNothing(t *testing.T) {
	salon := oldSalon(t)
	for _, f := range faults {
		t.Run(f.name, func(t *testing.T) {
			for n := 1; ; n += step {
				op, wrong, hit := oneFault(t, salon, n, f.err, f.kind, uploads)
				if !hit {
					if n < 20 {
						t.Errorf("only %d operations", n-1)
					}
					t.Logf("%d operations", n-1)
					return
				}
				if len(wrong) > 0 {
					t.Errorf("at %s:\n%s", op, strings.Join(wrong, "\n"))
				}
			}
		})
	}
}
