package salon

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"thatch/timeline"
)

func told(key string) func() (*outlook, error) {
	return func() (*outlook, error) { return &outlook{key: key}, nil }
}

func TestWhoFindsTheLineShortWaitsForTheNewestAnswer(t *testing.T) {
	d, ctx := newDesk(), context.Background()
	for _, key := range []string{"one", "two", "two"} {
		o, late, err := d.ask(ctx, "dog", key, nil, told(key))
		if err != nil || late || o.key != key {
			t.Errorf("%s: %v, late %t, %v", key, o, late, err)
		}
	}
	asked := 0
	if _, _, err := d.ask(ctx, "dog", "two", nil, func() (*outlook, error) { asked++; return nil, nil }); err != nil || asked > 0 {
		t.Errorf("what is known was worked out again (%v)", err)
	}
}

func TestWhoFindsTheLineLongIsGivenTheAnswerBefore(t *testing.T) {
	d, ctx := newDesk(), context.Background()
	seen, enough := context.WithCancel(ctx)
	defer enough()
	if _, _, err := d.ask(ctx, "known", "old", nil, told("old")); err != nil {
		t.Fatal(err)
	}
	hold, begun := make(chan struct{}), make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		d.ask(ctx, "first", "f", nil, func() (*outlook, error) { close(begun); <-hold; return &outlook{key: "f"}, nil })
	})
	<-begun
	var order []string
	var mu sync.Mutex
	note := func(key string) func() (*outlook, error) {
		return func() (*outlook, error) {
			mu.Lock()
			order = append(order, key)
			mu.Unlock()
			return &outlook{key: key}, nil
		}
	}
	for i := range deskPatience {
		key := fmt.Sprint("glance ", i)
		// Nobody waits for these: as on the first page.
		go d.ask(ctx, timeline.ID(key), key, &glance{seen, seen}, note(key))
	}
	for {
		d.mu.Lock()
		n := len(d.line)
		d.mu.Unlock()
		if n == deskPatience {
			break
		}
	}
	o, late, err := d.ask(ctx, "known", "new", nil, note("new"))
	if err != nil || !late || o.key != "old" {
		t.Errorf("with a long line: %v, late %t, %v", o, late, err)
	}
	if o, late, err := d.ask(ctx, "stranger", "s", &glance{seen, seen}, note("s")); err != nil || !late || o != nil {
		t.Errorf("a glance at a dog that nothing is known of: %v, late %t, %v", o, late, err)
	}
	wg.Go(func() {
		if o, late, err := d.ask(ctx, "waits", "w", nil, note("w")); err != nil || late || o.key != "w" {
			t.Errorf("the one who must wait: %v, late %t, %v", o, late, err)
		}
	})
	for {
		d.mu.Lock()
		ready := d.tasks["waits"] != nil && d.tasks["waits"].waiting == 1
		d.mu.Unlock()
		if ready {
			break
		}
	}
	close(hold)
	wg.Wait()
	// What was asked for is worked out, and those without patience after those with.
	for {
		o, late, err := d.ask(ctx, "known", "new", nil, note("new"))
		if err != nil {
			t.Fatal(err)
		}
		if !late {
			if o.key != "new" {
				t.Errorf("in the end: %v", o)
			}
			break
		}
	}
	mu.Lock()
	defer mu.Unlock()
	at := func(key string) int {
		for i, k := range order {
			if k == key {
				return i
			}
		}
		return -1
	}
	if at("w") < 0 || at("new") < 0 || at("w") > at("new") {
		t.Errorf("worked out in the order %q", order)
	}
}

func TestAnswersThatFailAreToldAndNotKept(t *testing.T) {
	d, ctx := newDesk(), context.Background()
	bad := errors.New("no disk")
	if _, _, err := d.ask(ctx, "dog", "k", nil, func() (*outlook, error) { return nil, bad }); !errors.Is(err, bad) {
		t.Errorf("%v", err)
	}
	if _, _, err := d.ask(ctx, "dog", "k", nil, func() (*outlook, error) { panic("no model") }); err == nil {
		t.Error("a panic is no error")
	}
	if o, late, err := d.ask(ctx, "dog", "k", nil, told("k")); err != nil || late || o.key != "k" {
		t.Errorf("asked again: %v, late %t, %v", o, late, err)
	}
}

func TestOneWhoGoesAwayKeepsNobodyWaiting(t *testing.T) {
	d := newDesk()
	hold := make(chan struct{})
	ctx, cancel := context.WithCancel(context.Background())
	var done atomic.Bool
	go func() {
		for {
			d.mu.Lock()
			waits := d.working && len(d.line) == 0
			d.mu.Unlock()
			if waits {
				cancel()
				return
			}
		}
	}()
	_, _, err := d.ask(ctx, "dog", "k", nil, func() (*outlook, error) { <-hold; done.Store(true); return &outlook{key: "k"}, nil })
	if !errors.Is(err, context.Canceled) || done.Load() {
		t.Errorf("%v", err)
	}
	close(hold)
	if o, _, err := d.ask(context.Background(), "dog", "k", nil, told("k")); err != nil || o.key != "k" {
		t.Errorf("%v, %v", o, err)
	}
}

func TestAGlanceEnds(t *testing.T) {
	for name, known := range map[string]bool{"at an older answer": true, "without one": false} {
		d, ctx := newDesk(), context.Background()
		if _, _, err := d.ask(ctx, "another", "old", nil, told("old")); err != nil {
			t.Fatal(err)
		}
		var enough func()
		g := &glance{ctx, ctx} // the other of the two goes on for ever
		if known {
			if _, _, err := d.ask(ctx, "dog", "old", nil, told("old")); err != nil {
				t.Fatal(err)
			}
			g.newer, enough = context.WithCancel(ctx)
		} else {
			g.first, enough = context.WithCancel(ctx)
		}
		hold := make(chan struct{})
		o, late, err := d.ask(ctx, "dog", "new", g, func() (*outlook, error) { enough(); <-hold; return &outlook{key: "new"}, nil })
		if err != nil || !late || (o != nil) != known || known && o.key != "old" {
			t.Errorf("%s: %v, late %t, %v", name, o, late, err)
		}
		close(hold)
	}
}

func TestWhoWaitsDoesNotWaitForTheRest(t *testing.T) {
	d, ctx := newDesk(), context.Background()
	resting := make(chan struct{}, 1)
	d.after = func(time.Duration) <-chan time.Time { resting <- struct{}{}; return nil } // a rest without end
	hold := make(chan struct{})
	done, enough := context.WithCancel(ctx)
	enough() // nobody waits for these
	for i := range deskPatience + 2 {
		key := fmt.Sprint("glance ", i)
		if _, _, err := d.ask(ctx, timeline.ID(key), key, &glance{done, done}, func() (*outlook, error) { <-hold; return &outlook{key: key}, nil }); err != nil {
			t.Fatal(err)
		}
	}
	close(hold)
	<-resting
	if o, late, err := d.ask(ctx, "waits", "w", nil, told("w")); err != nil || late || o.key != "w" {
		t.Errorf("%v, late %t, %v", o, late, err)
	}
}

func TestManyAreThoseOfTheLastSecondOrTwo(t *testing.T) {
	at := time.Unix(1000, 0)
	d := newDesk()
	d.now = func() time.Time { return at }
	key := 0
	ask := func(n int, g *glance) {
		for i := range n {
			key++
			for range 20 { // what is known by now is told, however often
				if _, _, err := d.ask(t.Context(), timeline.ID(fmt.Sprint(i)), fmt.Sprint(key), g, told(fmt.Sprint(key))); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	steps := []struct {
		name  string
		after time.Duration
		asks  int
		list  bool
		busy  bool
	}{
		{"nobody", 0, 0, false, false},
		{"a list of two hundred dogs is one who asks", 0, 200, true, false},
		{"as many as are few", 0, deskCrowd, false, false},
		{"one more", 0, 1, false, true},
		{"a second later it still was so", time.Second, 0, false, true},
		{"another second later it was long ago", time.Second, 0, false, false},
		{"many, and then a long time nobody", 0, deskCrowd + 1, false, true},
		{"", time.Hour, 0, false, false},
		{"few in every second", time.Second, deskCrowd, false, false},
		{"few in every second", time.Second, deskCrowd, false, false},
	}
	for _, c := range steps {
		at = at.Add(c.after)
		var g *glance
		if c.list {
			g = &glance{t.Context(), t.Context()}
		}
		ask(c.asks, g)
		if d.busy() != c.busy {
			t.Errorf("%s: busy %t", c.name, !c.busy)
		}
	}
}

func TestWhileManyAskLearningRestsAsLongAsItWorked(t *testing.T) {
	at, rested := time.Unix(1000, 0), []time.Duration(nil)
	d := newDesk()
	d.now = func() time.Time { return at }
	d.after = func(long time.Duration) <-chan time.Time {
		rested = append(rested, long)
		c := make(chan time.Time, 1)
		c <- at
		return c
	}
	work := func(took time.Duration) {
		pace{d}.Do(func() { at = at.Add(took) })()
	}
	work(5 * time.Millisecond)
	if rested != nil {
		t.Errorf("rested for nobody: %v", rested)
	}
	for range deskCrowd + 1 {
		d.crowd.one(at)
	}
	work(5 * time.Millisecond)
	work(longestRest + time.Millisecond)
	if want := []time.Duration{5 * time.Millisecond, longestRest}; !slices.Equal(rested, want) {
		t.Errorf("rested %v, want %v", rested, want)
	}
}
