package coat

import (
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

func TestSharedWorkIsDoneOnceHoweverBusyOthersAre(t *testing.T) {
	var asked atomic.Int64
	for name, busy := range map[string]func() bool{
		"nobody asks":     nil,
		"nobody is there": func() bool { return false },
		"always busy":     func() bool { return true },
		"now and then":    func() bool { return asked.Add(1)%3 == 0 },
	} {
		for _, n := range []int{0, 1, 2, 23} {
			var mu sync.Mutex
			done := map[int]int{}
			share(busy, n, func(i int) {
				mu.Lock()
				done[i]++
				mu.Unlock()
			})
			for i := range n {
				if done[i] != 1 {
					t.Errorf("%s, %d of %d: done %d times", name, i, n, done[i])
				}
			}
			if len(done) != n {
				t.Errorf("%s: %d of %d", name, len(done), n)
			}
		}
	}
}

// While others want the machine there is one at work, and it rests as long as it works.
func TestWhileOthersAskHalfOfOneCoreIsTaken(t *testing.T) {
	var working, most atomic.Int64
	began := time.Now()
	share(func() bool { return true }, 8, func(int) {
		most.Store(max(most.Load(), working.Add(1)))
		time.Sleep(5 * time.Millisecond)
		working.Add(-1)
	})
	if most.Load() != 1 {
		t.Errorf("%d at once", most.Load())
	}
	if took, least := time.Since(began), 8*5*time.Millisecond+7*5*time.Millisecond; took < least {
		t.Errorf("took %v, the pieces and the rests between them %v", took, least)
	}
}
