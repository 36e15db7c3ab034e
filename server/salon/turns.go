package salon

import (
	"context"
	"sync"

	"thatch/timeline"
)

// turns lets one at a time work on a thing, so that what two ask for at once is made once.
type turns struct {
	mu    sync.Mutex
	taken map[string]chan struct{} // closed when free again
}

// take waits for the turn at key. Where ctx ends first the fault is Busy.
func (t *turns) take(ctx context.Context, key string) (release func(), err error) {
	for {
		t.mu.Lock()
		wait, taken := t.taken[key]
		if !taken {
			if t.taken == nil {
				t.taken = map[string]chan struct{}{}
			}
			mine := make(chan struct{})
			t.taken[key] = mine
			t.mu.Unlock()
			return func() {
				t.mu.Lock()
				delete(t.taken, key)
				t.mu.Unlock()
				close(mine)
			}, nil
		}
		t.mu.Unlock()
		select {
		case <-wait:
		case <-ctx.Done():
			return nil, timeline.NewFault(timeline.Busy, "fault.salon.busy").At("wait for " + key).Because(ctx.Err())
		}
	}
}
