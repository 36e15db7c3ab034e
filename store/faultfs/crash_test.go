package faultfs_test

import (
	"errors"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"thatch/store"
	"thatch/store/faultfs"
)

var errPower = errors.New("the power is gone")

// crash is the moment at which the power went.
type crash struct {
	op    faultfs.Op // the zero Op: after everything was done
	disk  *faultfs.Disk
	db    map[string][]byte
	acked map[string]bool
}

// crashed lets the power go at the n-th operation of work, in a copy of the salon. Not ok: work has fewer.
func crashed(t testing.TB, salon string, n int, deaf string, work func(s *store.Store, ack func(string)) error) (c crash, ok bool) {
	t.Helper()
	root := copyTree(t, salon)
	c = crash{disk: newDisk(t, root), acked: map[string]bool{}}
	c.disk.Deaf = deaf
	s := open(t, root, c.disk)
	c.disk.Before(func(op faultfs.Op) error {
		if op.N < n {
			return nil
		}
		if c.db == nil {
			c.op, c.db = op, database(t, root)
		}
		return errPower
	})
	err := work(s, func(sha string) {
		if c.db == nil { // the dead acknowledge nothing
			c.acked[sha] = true
		}
	})
	ended := c.db == nil
	if ended {
		if err != nil {
			t.Fatalf("without a crash: %v", err)
		}
		c.db = database(t, root)
	}
	c.disk.Before(func(faultfs.Op) error { return errPower }) // nothing of a good end reaches the disk any more
	_ = s.Close()
	c.disk.Before(nil)
	return c, !ended
}

// look opens what is left of the salon after the crash in several ways and says what is wrong with it.
func (c crash) look(t testing.TB) (wrong []string) {
	t.Helper()
	into := t.TempDir()
	rows := readRows(t, writeDatabase(t, filepath.Join(into, "rows"), c.db))
	for way := range ways {
		left := filepath.Join(into, "left")
		if err := c.disk.Crash(rand.New(rand.NewPCG(uint64(way), uint64(c.op.N))), left); err != nil {
			t.Fatal(err)
		}
		for _, w := range broken(left, rows, c.acked) {
			wrong = append(wrong, "power gone at "+c.op.String()+": "+w)
		}
		if way == ways-1 && len(wrong) == 0 { // it opens unattended, and what was not acknowledged can be done again
			writeDatabase(t, left, c.db)
			s := open(t, left, nil)
			again := map[string]bool{}
			if err := uploads(s, func(sha string) { again[sha] = true }); err != nil {
				t.Fatalf("power gone at %s, and again: %v", c.op, err)
			}
			s.Close()
			for _, w := range broken(left, readRows(t, filepath.Join(left, dataDir, "thatch.db")), again) {
				wrong = append(wrong, "done again after "+c.op.String()+": "+w)
			}
		}
		if err := os.RemoveAll(left); err != nil {
			t.Fatal(err)
		}
	}
	return wrong
}

// everyCrash looks at the crash at each operation of work and after it. It stops at the first that breaks something, if told.
func everyCrash(t testing.TB, deaf string, stop bool, work func(s *store.Store, ack func(string)) error) (wrong []string, crashes int) {
	t.Helper()
	salon := oldSalon(t)
	for n := 1; ; n += step {
		c, more := crashed(t, salon, n, deaf, work)
		wrong = append(wrong, c.look(t)...)
		if !more || stop && len(wrong) > 0 {
			return wrong, n
		}
	}
}

func TestThePowerMayGoAtAnyOperationOfAnUpload(t *testing.T) {
	wrong, crashes := everyCrash(t, "", false, uploads)
	if len(wrong) > 0 {
		t.Errorf("%d times something broke:\n%s", len(wrong), strings.Join(wrong[:min(len(wrong), 20)], "\n"))
	}
	if crashes < 20 {
		t.Errorf("only %d crashes", crashes)
	}
	t.Logf("%d crashes, each with %d choices of what was lost", crashes, ways)
}

// An upload that was killed leaves on the disk what no fsync followed. The next one must not rely on it.
func TestAnUploadAfterAKilledOneIsDurable(t *testing.T) {
	salon := oldSalon(t)
	for n := 1; ; n += step {
		root := copyTree(t, salon)
		disk := newDisk(t, root)
		var gone faultfs.Op
		s := open(t, root, disk)
		disk.Before(untilPower(n, &gone))
		err := uploads(s, func(string) {})
		disk.Before(nil)
		if gone.N == 0 {
			if err != nil || n < 20 {
				t.Errorf("%d operations, %v", n-1, err)
			}
			s.Close()
			return
		}
		s.Close()
		s = open(t, root, disk)
		acked := map[string]bool{}
		if err := uploads(s, func(sha string) { acked[sha] = true }); err != nil {
			t.Fatalf("killed at %s, and again: %v", gone, err)
		}
		s.Close()
		rows := readRows(t, filepath.Join(root, dataDir, "thatch.db"))
		eachLoss(t, disk, n, func(left string) {
			if wrong := broken(left, rows, acked); len(wrong) > 0 {
				t.Errorf("killed at %s, done again, then the power gone: %v", gone, wrong)
			}
		})
	}
}

// The store's own build has no bugs to plant: one that has them is made here (planted_test.go).
func TestPlantedBugsAreCaughtByACrash(t *testing.T) {
	out, err := exec.Command("go", "test", "-v", "-tags", "plantedbugs", "-run", "EachPlantedBug", ".").CombinedOutput()
	if err != nil || strings.Count(string(out), "--- PASS") != 4 {
		t.Errorf("%v\n%s", err, out)
	}
}

// A disk that is deaf to a kind of fsync is what a store that does not ask for it would be: it must be caught.
func TestAForgottenFsyncIsCaught(t *testing.T) {
	for _, deaf := range []string{"sync", "syncdir"} {
		wrong, crashes := everyCrash(t, deaf, true, uploads)
		if len(wrong) == 0 {
			t.Errorf("nobody missed %s in %d crashes", deaf, crashes)
			continue
		}
		t.Logf("%s: %s", deaf, wrong[0])
	}
}
