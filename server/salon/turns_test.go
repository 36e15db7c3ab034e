package salon

import (
	"context"
	"sync"
	"sync/atomic"
	"testing"

	"thatch/timeline"
)

func TestOneAtATimeWorksOnAThingAndOthersOnOthers(t *testing.T) {
	var ts turns
	var inside, most, done atomic.Int32
	var all sync.WaitGroup
	for range 50 {
		all.Go(func() {
			release, err := ts.take(t.Context(), "a")
			if err != nil {
				t.Error(err)
				return
			}
			n := inside.Add(1)
			if n > most.Load() {
				most.Store(n)
			}
			other, err := ts.take(t.Context(), "b") // nobody waits for "a" while holding "b"
			if err != nil {
				t.Error(err)
			} else {
				other()
			}
			inside.Add(-1)
			done.Add(1)
			release()
		})
	}
	all.Wait()
	if most.Load() != 1 || done.Load() != 50 || len(ts.taken) != 0 {
		t.Errorf("%d at once, %d done, %d left over", most.Load(), done.Load(), len(ts.taken))
	}
}

func TestWhoWaitsForATurnMayGiveUp(t *testing.T) {
	var ts turns
	release, err := ts.take(t.Context(), "a")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := ts.take(ctx, "a"); timeline.KindOf(err) != timeline.Busy {
		t.Errorf("%v", err)
	}
	release()
	if release, err = ts.take(t.Context(), "a"); err != nil {
		t.Fatal(err)
	}
	release()
}
