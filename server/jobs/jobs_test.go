package jobs

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"strings"
	"sync"
	"testing"
	"time"

	"thatch/store"
	"thatch/timeline"
)

type runner func(ctx context.Context, job store.Job) error

func (r runner) RunJob(ctx context.Context, job store.Job) error { return r(ctx, job) }

// clock stands still until it is moved: no test waits for real time to pass.
type clock struct {
	mu  sync.Mutex
	now time.Time
}

func (c *clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *clock) move(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

func setup(t *testing.T) (*store.Store, *clock, Options) {
	t.Helper()
	c := &clock{now: time.Date(2026, 5, 4, 12, 0, 0, 0, time.UTC)}
	st, err := store.Open(context.Background(), t.TempDir(), store.Options{Now: c.Now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { st.Close() })
	return st, c, Options{Now: c.Now, Poll: time.Millisecond, Log: slog.New(slog.NewTextHandler(io.Discard, nil))}
}

func enqueue(t *testing.T, st *store.Store, keys ...string) {
	t.Helper()
	for _, k := range keys {
		if err := st.EnqueueJobs(context.Background(), store.Job{Kind: store.KindDerive, Key: k}); err != nil {
			t.Fatal(err)
		}
	}
}

func start(t *testing.T, st *store.Store, r Runner, opt Options) *Workers {
	t.Helper()
	w, err := Start(context.Background(), st, r, opt)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func pending(t *testing.T, st *store.Store) int {
	t.Helper()
	n, err := st.PendingJobs(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// until waits for what another goroutine is about to do; it fails after a minute, never after a pause too short.
func until(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(time.Millisecond) {
		if ok() {
			return
		}
	}
	t.Fatalf("never happened: %s", what)
}

func TestWorkIsDoneOnceAndForgotten(t *testing.T) {
	st, _, opt := setup(t)
	enqueue(t, st, "a", "b")
	var mu sync.Mutex
	done := map[string]int{}
	opt.Workers = 2
	w := start(t, st, runner(func(_ context.Context, j store.Job) error {
		mu.Lock()
		defer mu.Unlock()
		done[j.Key]++
		return nil
	}), opt)
	enqueue(t, st, "c", "d", "e")
	until(t, "the queue is empty", func() bool { return pending(t, st) == 0 })
	w.Stop()
	for _, k := range []string{"a", "b", "c", "d", "e"} {
		if done[k] != 1 {
			t.Errorf("%s was done %d times", k, done[k])
		}
	}
}

func TestWhatFailsIsTriedAgainLaterAndGivenUpInTheEnd(t *testing.T) {
	st, c, opt := setup(t)
	enqueue(t, st, "a")
	tried := 0
	fails := runner(func(context.Context, store.Job) error { tried++; return errors.New("no light today") })
	ctx := context.Background()
	for n := 1; n <= maxAttempts; n++ {
		if err := Drain(ctx, st, fails, opt); err != nil {
			t.Fatal(err)
		}
		if tried != n {
			t.Fatalf("tried %d times, want %d", tried, n)
		}
		c.move(pause(n) - time.Millisecond)
		if err := Drain(ctx, st, fails, opt); err != nil || tried != n {
			t.Fatalf("tried again before its time (%v)", err)
		}
		c.move(time.Millisecond)
	}
	c.move(1000 * time.Hour)
	if err := Drain(ctx, st, fails, opt); err != nil || tried != maxAttempts || pending(t, st) != 0 {
		t.Errorf("not given up: %v, %d tries, %d wait", err, tried, pending(t, st))
	}
}

func TestACommandAlsoDoesWhatItsWorkAsksFor(t *testing.T) {
	st, c, opt := setup(t)
	enqueue(t, st, "a", "b")
	ran := ""
	r := runner(func(ctx context.Context, j store.Job) error {
		ran += j.Key + " "
		c.move(time.Millisecond)
		return st.EnqueueJobs(ctx, store.Job{Kind: store.KindMarker, Key: j.Key + "!"})
	})
	if err := Drain(context.Background(), st, r, opt); err != nil {
		t.Fatal(err)
	}
	// What goes on for ever is left to the server.
	if strings.TrimSpace(ran) != "a b a! b!" || pending(t, st) != 2 {
		t.Errorf("ran %q, %d wait", ran, pending(t, st))
	}
}

func TestAPanicIsTheJobsFailureAndNotTheProgramsEnd(t *testing.T) {
	st, c, opt := setup(t)
	enqueue(t, st, "bad", "good")
	ran := ""
	r := runner(func(_ context.Context, j store.Job) error {
		ran += j.Key + " "
		if j.Key == "bad" && j.Attempts == 1 {
			panic("a picture from hell")
		}
		return nil
	})
	if err := Drain(context.Background(), st, r, opt); err != nil {
		t.Fatal(err)
	}
	c.move(pause(1))
	if err := Drain(context.Background(), st, r, opt); err != nil {
		t.Fatal(err)
	}
	if strings.TrimSpace(ran) != "bad good bad" || pending(t, st) != 0 {
		t.Errorf("ran %q, %d wait", ran, pending(t, st))
	}
}

func TestStoppingInTheMiddleGivesTheWorkBackAndARestartDoesIt(t *testing.T) {
	st, _, opt := setup(t)
	enqueue(t, st, "a")
	begun := make(chan struct{})
	w := start(t, st, runner(func(ctx context.Context, j store.Job) error {
		close(begun)
		<-ctx.Done()
		return ctx.Err()
	}), opt)
	<-begun
	w.Stop()
	if pending(t, st) != 1 {
		t.Fatal("the work in hand is lost")
	}
	done := make(chan struct{})
	w = start(t, st, runner(func(context.Context, store.Job) error { close(done); return nil }), opt)
	<-done
	until(t, "the queue is empty", func() bool { return pending(t, st) == 0 })
	w.Stop()
}

func TestAProcessThatDiedInTheMiddleLeavesItsWorkToTheNext(t *testing.T) {
	st, c, opt := setup(t)
	enqueue(t, st, "a")
	if j, err := st.ClaimJob(context.Background(), c.Now()); err != nil || j == nil { // and then the power goes
		t.Fatal(j, err)
	}
	done := make(chan struct{})
	w := start(t, st, runner(func(context.Context, store.Job) error { close(done); return nil }), opt)
	<-done
	w.Stop()
}

func TestWorkThatTakesTheProgramDownEveryTimeIsGivenUp(t *testing.T) {
	st, c, opt := setup(t)
	ctx := context.Background()
	enqueue(t, st, "killer")
	for range maxAttempts {
		if j, err := st.ClaimJob(ctx, c.Now()); err != nil || j == nil {
			t.Fatal(j, err)
		}
		if err := st.ReleaseJobs(ctx); err != nil {
			t.Fatal(err)
		}
	}
	ran := false
	if err := Drain(ctx, st, runner(func(context.Context, store.Job) error { ran = true; return nil }), opt); err != nil {
		t.Fatal(err)
	}
	if ran || pending(t, st) != 0 {
		t.Errorf("ran again: %v, %d wait", ran, pending(t, st))
	}
}

func TestAPhotoWhoseWorkWasGivenUpSaysSo(t *testing.T) {
	st, c, opt := setup(t)
	ctx := context.Background()
	d, err := st.CreateDog(ctx, timeline.Dog{Name: "Bracken"})
	if err != nil {
		t.Fatal(err)
	}
	in, err := st.ReceiveFile(ctx, strings.NewReader("x"), 10)
	if err != nil {
		t.Fatal(err)
	}
	p, _, err := st.KeepPhoto(ctx, in, timeline.Original{Format: "jpeg", WidthPX: 1, HeightPX: 1, Orientation: 1},
		timeline.Photo{Dog: d.ID, WidthPX: 1, HeightPX: 1}, []store.Job{{Kind: store.KindDerive, Key: in.SHA256}})
	if err != nil {
		t.Fatal(err)
	}
	for n := 1; n <= maxAttempts; n++ {
		if err := Drain(ctx, st, runner(func(context.Context, store.Job) error { return errors.New("no") }), opt); err != nil {
			t.Fatal(err)
		}
		c.move(pause(n))
	}
	if p, err = st.Photo(ctx, p.ID); err != nil || p.Ready || p.Trouble != troubleGaveUp {
		t.Errorf("%+v, %v", p, err)
	}
}

func TestPausesGrowAndStayBounded(t *testing.T) {
	last := time.Duration(0)
	for n := 1; n < 100; n++ {
		p := pause(n)
		if p < last || p > longPause || p < firstPause {
			t.Fatalf("pause %d is %v after %v", n, p, last)
		}
		last = p
	}
}
