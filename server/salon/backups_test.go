package salon

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"thatch/store"
	"thatch/timeline"
)

func TestWhenTheNextBackupIsDue(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	at := func(day, hour, minute int) time.Time { return time.Date(2026, 11, day, hour, minute, 0, 0, berlin) }
	for name, c := range map[string]struct{ last, now, want time.Time }{
		"never made: at once":                   {time.Time{}, at(26, 10, 0), at(26, 10, 0)},
		"made this night: the next night":       {at(26, 3, 1), at(26, 10, 0), at(27, 3, 0)},
		"made before this night's hour":         {at(26, 2, 0), at(26, 2, 30), at(26, 3, 0)},
		"the hour has come":                     {at(25, 3, 1), at(26, 3, 0), at(26, 3, 0)},
		"not yet the hour":                      {at(25, 3, 1), at(26, 2, 59), at(26, 3, 0)},
		"the machine was off at night":          {at(25, 3, 1), at(26, 8, 30), at(26, 8, 30)},
		"off for days":                          {at(20, 3, 1), at(26, 1, 0), at(26, 1, 0)},
		"caught up in the morning: next night":  {at(26, 8, 31), at(26, 8, 40), at(27, 3, 0)},
		"late in the evening":                   {at(26, 3, 1), at(26, 23, 59), at(27, 3, 0)},
		"the clock of the machine went forward": {at(28, 3, 0), at(26, 10, 0), at(27, 3, 0)},
	} {
		if got := nextBackup(c.last.UTC(), c.now.UTC(), 3, berlin); !got.Equal(c.want) {
			t.Errorf("%s: %v, want %v", name, got.In(berlin), c.want)
		}
	}
	// Summer time begins on 29 March 2026: two o'clock is not there, and one backup a night is due all the same.
	now := time.Date(2026, 3, 28, 1, 59, 0, 0, berlin)
	last, made := now.Add(-23*time.Hour), 0
	for range 3*24*60 - 60 { // one of the nights is an hour shorter
		now = now.Add(time.Minute)
		if !nextBackup(last, now, 2, berlin).After(now) {
			last, made = now, made+1
		}
	}
	if made != 3 {
		t.Errorf("%d backups in three nights", made)
	}
}

func TestTheNightsBackupIsMadeAndRemembered(t *testing.T) {
	s, c := opened(t)
	if v, err := s.Backups(ctx); err != nil || v.Plan.Dest != "" || v.Last != nil || v.Late {
		t.Errorf("before it is set up: %+v, %v", v, err)
	}
	dest := filepath.Join(t.TempDir(), "backup")
	if err := s.PlanBackups(BackupPlan{Dest: dest, Hour: 3}); err != nil {
		t.Fatal(err)
	}
	if v, err := s.Backups(ctx); err != nil || v.Last != nil || v.Next.After(s.Now()) {
		t.Errorf("before the first: %+v, %v", v, err)
	}
	if _, err := s.CreateDog(ctx, NewDog{Name: "Burdock"}); err != nil {
		t.Fatal(err)
	}
	run, err := s.BackupNow(ctx)
	if err != nil || !run.Good() || run.Snapshot == "" {
		t.Fatalf("%+v, %v", run, err)
	}
	v, err := s.Backups(ctx)
	if err != nil || v.Good == nil || v.Good.ID != run.ID || v.Last.ID != run.ID || !v.Next.After(s.Now()) || v.Late {
		t.Errorf("%+v, %v", v, err)
	}
	if rep, err := store.Verify(ctx, dest, store.VerifyOptions{}); err != nil || rep.Snapshots != 1 || len(rep.Damage) > 0 {
		t.Errorf("%+v, %v", rep, err)
	}

	// The disk is not plugged in: its place is an empty folder. That is told, nothing is written there, the good one stays known.
	if err := errors.Join(os.RemoveAll(dest), os.Mkdir(dest, 0o700)); err != nil {
		t.Fatal(err)
	}
	run, err = s.BackupNow(ctx)
	if err == nil || run.Trouble.Key != "fault.backup.disk_gone" || run.Trouble.Args["dest"] != dest {
		t.Errorf("%+v, %v", run, err)
	}
	if left, err := os.ReadDir(dest); err != nil || len(left) > 0 {
		t.Errorf("written to the place of a disk that is gone: %v, %v", left, err)
	}
	c.set(day("2026-06-13"))
	v, err = s.Backups(ctx)
	if err != nil || !v.Late || v.Last.Good() || v.Last.Trouble.Key != "fault.backup.disk_gone" || v.Good == nil || !v.Good.Good() {
		t.Errorf("%+v, %v", v, err)
	}
}

func TestAPlanThatCannotBeKeptIsRefused(t *testing.T) {
	s, _ := opened(t)
	for key, p := range map[string]BackupPlan{
		"fault.backup.hour":         {Dest: t.TempDir(), Hour: 24},
		"fault.backup.nightly_file": {Dest: filepath.Join(t.TempDir(), "b.tar"), Hour: 3},
		"fault.backup.inside":       {Dest: filepath.Join(s.st.Dir(), "b"), Hour: 3},
	} {
		var f *timeline.Fault
		if err := s.PlanBackups(p); !errors.As(err, &f) || f.Kind != timeline.Invalid || f.Say.Key != key {
			t.Errorf("%+v: %v, want %s", p, err, key)
		}
	}
}
