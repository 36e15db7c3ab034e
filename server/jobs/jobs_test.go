package jobs

import (
	"context"
	"errors"
	"log/slog"
	"sync"
	"testing"
	"time"

	"thatch/store"
	"thatch/timeline"
)

type runner func(store.Job) error

func (r runner) RunJob(_ context.Context, j store.Job) error { return r(j) }

func open(t *testing.T, dir string) *store.Store {
	t.Helper()
	st, err := store.Open(t.Context(), dir, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return st
}

func pending(t *testing.T, st *store.Store) int {
	t.Helper()
	n, err := st.PendingJobs(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func TestAJobThatWasClaimedWhenTheProcessDiedIsDoneAfterTheRestart(t *testing.T) {
	dir := t.TempDir()
	st := open(t, dir)
	if err := st.EnqueueJobs(t.Context(), store.Job{Kind: "derive", Key: "a"}, store.Job{Kind: "derive", Key: "b"}); err != nil {
		t.Fatal(err)
	}
	if j, err := st.ClaimJob(t.Context(), time.Now()); err != nil || j == nil {
		t.Fatalf("claimed %v, %v", j, err)
	}
	st.Close()

	st = open(t, dir)
	defer st.Close()
	ctx, stop := context.WithCancel(t.Context())
	var mu sync.Mutex
	done := map[string]int{}
	all := make(chan struct{})
	wait := Start(ctx, st, runner(func(j store.Job) error {
		mu.Lock()
		defer mu.Unlock()
		done[j.Key]++
		if len(done) == 2 {
			close(all)
		}
		return nil
	}), 2, slog.New(slog.DiscardHandler))
	<-all
	stop()
	wait()
	if done["a"] != 1 || done["b"] != 1 || pending(t, st) != 0 {
		t.Errorf("done %v, %d pending; want each once and none left", done, pending(t, st))
	}
}

func TestAWorkerIsWokenByANewJob(t *testing.T) {
	st := open(t, t.TempDir())
	defer st.Close()
	ctx, stop := context.WithCancel(t.Context())
	did := make(chan string, 1)
	wait := Start(ctx, st, runner(func(j store.Job) error { did <- j.Key; return nil }), 1, slog.New(slog.DiscardHandler))
	if err := st.EnqueueJobs(ctx, store.Job{Kind: "derive", Key: "new"}); err != nil {
		t.Fatal(err)
	}
	if key := <-did; key != "new" {
		t.Errorf("did %q", key)
	}
	stop()
	wait()
}

func TestAFailedJobIsTriedAgainLaterUnlessTheFileIsToBlame(t *testing.T) {
	now := time.Date(2030, 1, 1, 0, 0, 0, 0, time.UTC)
	bad := timeline.NewFault(timeline.Invalid, "fault.photo.damaged")
	for _, c := range []struct {
		name     string
		attempts int
		cause    error
		want     time.Duration // 0: given up
	}{
		{"the first time ten seconds later", 1, errors.New("disk"), 10 * time.Second},
		{"the second time forty seconds later", 2, errors.New("disk"), 40 * time.Second},
		{"the fourth time within a quarter of an hour", 4, errors.New("disk"), 640 * time.Second},
		{"the fifth time not again", 5, errors.New("disk"), 0},
		{"a damaged file not at all", 1, bad, 0},
	} {
		got := retryAt(store.Job{Attempts: c.attempts}, now, c.cause)
		if c.want == 0 && !got.IsZero() || c.want != 0 && got != now.Add(c.want) {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}

func TestDrainGoesOnAfterAJobThatFails(t *testing.T) {
	st := open(t, t.TempDir())
	defer st.Close()
	if err := st.EnqueueJobs(t.Context(), store.Job{Kind: "derive", Key: "bad"}, store.Job{Kind: "derive", Key: "good"}); err != nil {
		t.Fatal(err)
	}
	did := map[string]bool{}
	err := Drain(t.Context(), st, runner(func(j store.Job) error {
		did[j.Key] = true
		if j.Key == "bad" {
			return errors.New("disk")
		}
		return nil
	}), nil)
	if err != nil || !did["good"] || !did["bad"] || pending(t, st) != 1 {
		t.Errorf("%v, did %v, %d pending", err, did, pending(t, st))
	}
}
