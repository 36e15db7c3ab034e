package backups

import (
	"context"
	"errors"
	"log/slog"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"thatch/server/salon"
	"thatch/store"
)

// fake is a salon whose backups fail as told.
type fake struct {
	mu    sync.Mutex
	now   time.Time
	fails int
	next  time.Time
	tries []time.Time
	panic bool
	busy  chan struct{} // not nil: a backup takes until ctx ends, and says that it began
}

func (f *fake) Backups(context.Context) (salon.BackupState, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	return salon.BackupState{Plan: salon.BackupPlan{Dest: "/b"}, Next: f.next}, nil
}

func (f *fake) BackupNow(ctx context.Context) (store.BackupRun, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.tries = append(f.tries, f.now)
	if f.busy != nil {
		close(f.busy)
		<-ctx.Done()
		return store.BackupRun{}, ctx.Err()
	}
	if f.panic {
		f.panic = false
		panic("a bug")
	}
	if f.fails > 0 {
		f.fails--
		return store.BackupRun{}, errors.New("the disk is not there")
	}
	f.next = f.now.Add(24 * time.Hour)
	return store.BackupRun{}, nil
}

func TestABackupThatFailsIsTriedAgainLaterAndLater(t *testing.T) {
	noon := time.Date(2026, 11, 26, 12, 0, 0, 0, time.UTC)
	f := &fake{now: noon, next: noon, fails: 7, panic: true}
	k := &Keeper{salon: f, opt: Options{Now: func() time.Time { return f.now }, Log: slog.New(slog.DiscardHandler)}}
	for range 3 * 24 * 60 {
		k.look(context.Background())
		f.now = f.now.Add(time.Minute)
	}
	var got []int
	for i, at := range f.tries[1:] {
		got = append(got, int(at.Sub(f.tries[i]).Minutes()))
	}
	// Eight failures, the first of them a panic; then one that succeeds, and one a day.
	want := []int{15, 30, 60, 120, 240, 240, 240, 240, 1440}
	if len(got) != len(want) && len(got) != len(want)+1 {
		t.Fatalf("minutes between tries: %v, want %v", got, want)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Fatalf("minutes between tries: %v, want %v", got, want)
		}
	}
}

func TestNothingIsMadeWithoutAPlanOrBeforeItIsDue(t *testing.T) {
	noon := time.Date(2026, 11, 26, 12, 0, 0, 0, time.UTC)
	f := &fake{now: noon, next: noon.Add(time.Second)}
	k := &Keeper{salon: f, opt: Options{Now: func() time.Time { return f.now }, Log: slog.New(slog.DiscardHandler)}}
	k.look(context.Background())
	if len(f.tries) != 0 {
		t.Error("one was made too early")
	}
}

func TestStoppingInterruptsABackup(t *testing.T) {
	f := &fake{now: time.Now(), busy: make(chan struct{})}
	k := Start(context.Background(), f, Options{Look: time.Millisecond, Log: slog.New(slog.DiscardHandler)})
	<-f.busy
	k.Stop()
	if k.failures != 0 {
		t.Error("being stopped is taken for a failure")
	}
}

// With a real clock and a real salon.
func TestTheFirstBackupIsMadeSoonAfterTheStart(t *testing.T) {
	st, err := store.Open(t.Context(), t.TempDir(), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	s := salon.New(st, salon.Options{})
	dest := filepath.Join(t.TempDir(), "backup")
	if err := s.PlanBackups(salon.BackupPlan{Dest: dest, Hour: 3}); err != nil {
		t.Fatal(err)
	}
	k := Start(t.Context(), s, Options{Look: 10 * time.Millisecond, Log: slog.New(slog.DiscardHandler)})
	defer k.Stop()
	for {
		v, err := s.Backups(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if v.Good != nil {
			break
		}
		time.Sleep(10 * time.Millisecond) // the test's own time limit ends it
	}
	if rep, err := store.Verify(t.Context(), dest, store.VerifyOptions{}); err != nil || rep.Snapshots != 1 || len(rep.Damage) > 0 {
		t.Errorf("%+v, %v", rep, err)
	}
}
