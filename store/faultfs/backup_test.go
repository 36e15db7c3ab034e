package faultfs_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"thatch/store"
	"thatch/store/faultfs"
	"thatch/timeline"
)

const backupDir = "backup"

var errLeftOut = errors.New("a photo that cannot be read was left out, and is named")

// filledSalon has photos of two dogs and one in the heap; older is a backup from before most of them came, "" none.
func filledSalon(t testing.TB, withOlder bool) (root string) {
	t.Helper()
	root = oldSalon(t)
	if withOlder {
		if err := backUp(root, nil); err != nil {
			t.Fatal(err)
		}
	}
	s := open(t, root, nil)
	defer s.Close()
	if err := uploads(s, func(string) {}); err != nil {
		t.Fatal(err)
	}
	return root
}

// backUp makes a backup; one that had to leave a photo out says so.
func backUp(root string, disk store.FS) error {
	rep, err := store.Backup(ctx, filepath.Join(root, dataDir), filepath.Join(root, backupDir), store.BackupOptions{FS: disk})
	if err == nil && rep.Lost > 0 {
		err = errLeftOut
	}
	return err
}

// wholeBackups counts the snapshots of which every file is there as its manifest says, and those that leave none out. It shares
// no code with the store.
func wholeBackups(t testing.TB, root string) (n, all int) {
	t.Helper()
	dir := filepath.Join(root, backupDir)
	is := func(file, sha string, n int64) bool {
		b, err := os.ReadFile(file)
		return err == nil && int64(len(b)) == n && shaOf(b) == sha
	}
	manifests, _ := filepath.Glob(filepath.Join(dir, "snapshots", "*", "manifest.json"))
	for _, name := range manifests {
		type file struct {
			SHA256 string
			Bytes  int64
		}
		var m struct {
			Backup struct {
				Database     file
				Photos, Lost []file
			} `json:"thatch_backup"`
		}
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if json.Unmarshal(b, &m) != nil || !is(filepath.Join(filepath.Dir(name), "thatch.db"), m.Backup.Database.SHA256, m.Backup.Database.Bytes) {
			continue
		}
		whole := true
		for _, f := range m.Backup.Photos {
			whole = whole && is(filepath.Join(dir, "photos", f.SHA256[:2], f.SHA256), f.SHA256, f.Bytes)
		}
		if whole {
			n++
			if len(m.Backup.Lost) == 0 {
				all++
			}
		}
	}
	return n, all
}

// lookAtBackup says what is wrong with what is left of a backup of which at least so many snapshots were acknowledged.
func lookAtBackup(t testing.TB, root string, acked int) (wrong []string) {
	t.Helper()
	say := func(format string, args ...any) { wrong = append(wrong, fmt.Sprintf(format, args...)) }
	whole, all := wholeBackups(t, root)
	if all < acked {
		say("%d backups were acknowledged, %d are whole and hold everything", acked, all)
	}
	rep, err := store.Verify(ctx, filepath.Join(root, backupDir), store.VerifyOptions{})
	switch {
	case timeline.KindOf(err) == timeline.NotFound && err != nil:
		rep.Snapshots = 0
	case err != nil:
		say("verify: %v", err)
	}
	if rep.Snapshots != whole {
		say("%d are taken for whole, %d are", rep.Snapshots, whole)
	}
	return wrong
}

func eachLoss(t testing.TB, d *faultfs.Disk, seed int, look func(left string)) {
	t.Helper()
	left := filepath.Join(t.TempDir(), "left")
	for way := range ways {
		if err := d.Crash(rand.New(rand.NewPCG(uint64(way), uint64(seed))), left); err != nil {
			t.Fatal(err)
		}
		look(left)
		if err := os.RemoveAll(left); err != nil {
			t.Fatal(err)
		}
	}
}

// untilPower is asked by a Disk: the power goes at the n-th operation.
func untilPower(n int, gone *faultfs.Op) func(faultfs.Op) error {
	return func(op faultfs.Op) error {
		if op.N < n {
			return nil
		}
		if gone.N == 0 {
			*gone = op
		}
		return errPower
	}
}

func TestThePowerMayGoAtAnyOperationOfABackup(t *testing.T) {
	for _, older := range []bool{false, true} {
		t.Run(fmt.Sprint("an older one is there: ", older), func(t *testing.T) {
			salon := filledSalon(t, older)
			rows := readRows(t, filepath.Join(salon, dataDir, "thatch.db"))
			_, before := wholeBackups(t, salon)
			for n := 1; ; n += step {
				root := copyTree(t, salon)
				disk := newDisk(t, root)
				var gone faultfs.Op
				disk.Before(untilPower(n, &gone))
				err := backUp(root, disk)
				acked := before
				if gone.N == 0 {
					if err != nil {
						t.Fatal(err)
					}
					acked++
				}
				way := 0
				eachLoss(t, disk, n, func(left string) {
					wrong := append(broken(left, rows, rows.named), lookAtBackup(t, left, acked)...)
					if way++; way%againEvery == 0 {
						writeDatabase(t, left, database(t, salon))
						if err := backUp(left, nil); err != nil {
							wrong = append(wrong, "made again: "+err.Error())
						}
						wrong = append(wrong, lookAtBackup(t, left, 1)...)
					}
					if len(wrong) > 0 {
						t.Errorf("power gone at %s:\n%s", gone, strings.Join(wrong, "\n"))
					}
				})
				if gone.N == 0 {
					t.Logf("%d crashes, each with %d choices of what was lost", n, ways)
					return
				}
			}
		})
	}
}

// A backup that was killed leaves on the disk what no fsync followed. The next one must not rely on it.
func TestABackupAfterAKilledOneIsDurable(t *testing.T) {
	salon := filledSalon(t, false)
	for n := 1; ; n += step {
		root := copyTree(t, salon)
		disk := newDisk(t, root)
		var gone faultfs.Op
		disk.Before(untilPower(n, &gone))
		if err := backUp(root, disk); gone.N == 0 {
			if err != nil || n < 20 {
				t.Errorf("%d operations, %v", n-1, err)
			}
			return
		}
		disk.Before(nil)
		if err := backUp(root, disk); err != nil {
			t.Fatalf("killed at %s, and again: %v", gone, err)
		}
		eachLoss(t, disk, n, func(left string) {
			if wrong := lookAtBackup(t, left, 1); len(wrong) > 0 {
				t.Errorf("killed at %s, made again, then the power gone:\n%s", gone, strings.Join(wrong, "\n"))
			}
		})
	}
}

func TestAFaultAtAnyOperationOfABackupLosesNothing(t *testing.T) {
	salon := filledSalon(t, true)
	rows := readRows(t, filepath.Join(salon, dataDir, "thatch.db"))
	for _, f := range faults {
		t.Run(f.name, func(t *testing.T) {
			for n := 1; ; n += step {
				root := copyTree(t, salon)
				disk := newDisk(t, root)
				var hit faultfs.Op
				disk.Before(func(op faultfs.Op) error {
					if op.N != n {
						return nil
					}
					hit = op
					return f.err
				})
				err := backUp(root, disk)
				disk.Before(nil)
				if hit.N == 0 {
					if err != nil || n < 20 {
						t.Errorf("%d operations, %v", n-1, err)
					}
					return
				}
				var wrong []string
				acked := 1
				var fault *timeline.Fault
				switch {
				case err == nil:
					acked++
				case errors.Is(err, errLeftOut): // the medium under that photo may be bad; the others are safe
				case !errors.As(err, &fault) || fault.Say.IsZero():
					wrong = append(wrong, "no sentence: "+err.Error())
				case fault.Kind != f.kind:
					wrong = append(wrong, "told as another trouble: "+err.Error())
				}
				wrong = append(wrong, append(broken(root, rows, rows.named), lookAtBackup(t, root, acked)...)...)
				if err := backUp(root, disk); err != nil {
					wrong = append(wrong, "a second try fails: "+err.Error())
				}
				wrong = append(wrong, lookAtBackup(t, root, acked+1)...)
				if len(wrong) > 0 {
					t.Errorf("at %s:\n%s", hit, strings.Join(wrong, "\n"))
				}
			}
		})
	}
}
