package faultfs_test

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"thatch/store"
	"thatch/store/faultfs"
)

const restoredDir = "restored"

func bringBack(root string, disk store.FS) error {
	_, err := store.Restore(ctx, filepath.Join(root, backupDir), filepath.Join(root, restoredDir), store.RestoreOptions{FS: disk})
	return err
}

// restored says what is wrong with a restored salon; there: whether there is one.
func restored(t testing.TB, root string, named map[string]bool) (wrong []string, there bool) {
	t.Helper()
	dir := filepath.Join(root, restoredDir)
	if _, err := os.Stat(dir); errors.Is(err, fs.ErrNotExist) {
		return nil, false
	}
	rep, err := store.Verify(ctx, dir, store.VerifyOptions{})
	if err != nil {
		return []string{"verify: " + err.Error()}, true
	}
	for _, f := range rep.Damage {
		wrong = append(wrong, f.File+": "+f.Say.String())
	}
	if rep.Originals < len(named) {
		wrong = append(wrong, "not all photos are there")
	}
	return wrong, true
}

func TestThePowerMayGoAtAnyOperationOfARestore(t *testing.T) {
	salon := filledSalon(t, false)
	if err := backUp(salon, nil); err != nil {
		t.Fatal(err)
	}
	rows := readRows(t, filepath.Join(salon, dataDir, "thatch.db"))
	every := step
	if os.Getenv("THATCH_MANY") == "" {
		every *= 3
	}
	for n := 1; ; n += every {
		root := copyTree(t, salon)
		disk := newDisk(t, root)
		var gone faultfs.Op
		disk.Before(untilPower(n, &gone))
		err := bringBack(root, disk)
		if gone.N == 0 && err != nil {
			t.Fatal(err)
		}
		way := 0
		eachLoss(t, disk, n, func(left string) {
			wrong, there := restored(t, left, rows.named)
			wrong = append(wrong, append(broken(left, rows, rows.named), lookAtBackup(t, left, 1)...)...)
			if gone.N == 0 && !there {
				wrong = append(wrong, "a restored salon is gone")
			}
			if way++; !there && way%againEvery == 0 {
				if err := bringBack(left, nil); err != nil {
					wrong = append(wrong, "done again: "+err.Error())
				}
				again, _ := restored(t, left, rows.named)
				wrong = append(wrong, again...)
			}
			if len(wrong) > 0 {
				t.Errorf("power gone at %s: %v", gone, wrong)
			}
		})
		if gone.N == 0 {
			if n < 20 {
				t.Errorf("only %d operations", n-1)
			}
			t.Logf("%d crashes, each with %d choices of what was lost", n, ways)
			return
		}
	}
}
