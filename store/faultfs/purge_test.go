package faultfs_test

import (
	"path/filepath"
	"strings"
	"testing"
	"time"

	"thatch/store"
	"thatch/store/faultfs"
	"thatch/timeline"
)

// salonWithOldTrash has a photo that was put aside forty days ago, and others that live. gone is its hash.
func salonWithOldTrash(t testing.TB) (root, gone string) {
	t.Helper()
	root = filledSalon(t, false)
	at := time.Now().Add(-40 * 24 * time.Hour)
	s, err := store.Open(ctx, filepath.Join(root, dataDir), store.Options{FloorBytes: -1, Now: func() time.Time { return at }})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	d, err := s.DogByName(ctx, "Burdock")
	if err != nil {
		t.Fatal(err)
	}
	gone = shaOf(bytesOf("the first"))
	p, err := s.PhotoBySHA(ctx, d.ID, gone)
	if err == nil {
		err = s.TrashPhoto(ctx, p.ID)
	}
	if err == nil {
		err = s.PutDerived(ctx, gone, "view", 1, bytesOf("the view of it"))
	}
	if err != nil {
		t.Fatal(err)
	}
	return root, gone
}

// tidy empties the trash; what lives is acknowledged all along.
func tidy(s *store.Store, _ func(string)) error {
	_, err := s.Tidy(ctx)
	return err
}

func TestThePowerMayGoAtAnyOperationOfEmptyingTheTrash(t *testing.T) {
	salon, gone := salonWithOldTrash(t)
	live := readRows(t, filepath.Join(salon, dataDir, "thatch.db")).named
	delete(live, gone)
	for n := 1; ; n += step {
		c, more := crashed(t, salon, n, "", tidy)
		c.acked = live
		if wrong := c.look(t); len(wrong) > 0 {
			t.Errorf("%s", strings.Join(wrong[:min(len(wrong), 5)], "\n"))
		}
		// Unattended, the next emptying ends what this one began.
		eachLoss(t, c.disk, n, func(left string) {
			writeDatabase(t, left, c.db)
			s := open(t, left, nil)
			defer s.Close()
			if err := tidy(s, nil); err != nil {
				t.Errorf("power gone at %s, and again: %v", c.op, err)
			}
			if files, _ := filepath.Glob(filepath.Join(left, dataDir, "*", "*", gone)); len(files) > 0 {
				t.Errorf("power gone at %s: the photo is still there", c.op)
			}
			if wrong := broken(left, readRows(t, filepath.Join(left, dataDir, "thatch.db")), live); len(wrong) > 0 {
				t.Errorf("power gone at %s, and emptied again: %v", c.op, wrong)
			}
		})
		if !more {
			if n < 8 {
				t.Errorf("only %d operations", n-1)
			}
			return
		}
	}
}

func TestAFaultAtAnyOperationOfEmptyingTheTrashLosesNothing(t *testing.T) {
	salon, gone := salonWithOldTrash(t)
	live := readRows(t, filepath.Join(salon, dataDir, "thatch.db")).named
	delete(live, gone)
	for _, f := range faults[:2] {
		t.Run(f.name, func(t *testing.T) {
			for n := 1; ; n += step {
				op, wrong, hit := oneFault(t, salon, n, f.err, f.kind, func(s *store.Store, ack func(string)) error {
					for sha := range live {
						ack(sha)
					}
					return tidy(s, nil)
				})
				if !hit {
					return
				}
				if len(wrong) > 0 {
					t.Errorf("at %s:\n%s", op, strings.Join(wrong, "\n"))
				}
			}
		})
	}
}

// Opening is asked for again when it fails; it never makes things worse.
func TestAFaultAtAnyOperationOfOpeningLosesNothing(t *testing.T) {
	salon := filledSalon(t, false)
	rows := readRows(t, filepath.Join(salon, dataDir, "thatch.db"))
	for _, f := range faults[:2] {
		t.Run(f.name, func(t *testing.T) {
			for n := 1; ; n += step {
				root := copyTree(t, salon)
				disk := newDisk(t, root)
				hit := ""
				disk.Before(func(op faultfs.Op) error {
					if op.N != n {
						return nil
					}
					hit = op.String()
					return f.err
				})
				s, err := store.Open(ctx, filepath.Join(root, dataDir), store.Options{FS: disk})
				disk.Before(nil)
				switch {
				case err == nil:
					s.Close()
				case timeline.KindOf(err) != f.kind:
					t.Errorf("at %s told as another trouble: %v", hit, err)
				}
				open(t, root, nil).Close()
				if wrong := broken(root, readRows(t, filepath.Join(root, dataDir, "thatch.db")), rows.named); len(wrong) > 0 {
					t.Errorf("at %s: %v", hit, wrong)
				}
				if hit == "" {
					return
				}
			}
		})
	}
}
