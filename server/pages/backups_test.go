package pages_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"thatch/server/salon"
)

func TestTheSettingsPageSaysHowTheBackupsStand(t *testing.T) {
	x, _ := dated(t)
	says := func(what string, want ...string) {
		t.Helper()
		w := x.get("/settings")
		x.sound(what, w)
		for _, s := range want {
			if !strings.Contains(w.Body.String(), s) {
				t.Errorf("%s: the page does not say %q", what, s)
			}
		}
	}
	says("not set up", "not backed up by itself", "thatch serve --backup-dir FOLDER")

	dest := filepath.Join(t.TempDir(), "backup")
	if err := x.s.PlanBackups(salon.BackupPlan{Dest: dest, Hour: 3}); err != nil {
		t.Fatal(err)
	}
	says("before the first", "None yet", dest)
	if _, err := x.s.BackupNow(t.Context()); err != nil {
		t.Fatal(err)
	}
	says("after the first", "Last backup", dest, "0 photos, 0 of them copied this time", "1 second")

	if err := errors.Join(os.RemoveAll(dest), os.Mkdir(dest, 0o700)); err != nil {
		t.Fatal(err)
	}
	if _, err := x.s.BackupNow(t.Context()); err == nil {
		t.Fatal("backed up to a disk that is gone")
	}
	says("the disk is gone", "failed", "check that it is plugged in", "tried again by itself", "0 photos")
}
