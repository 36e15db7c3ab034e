package coat

import (
	"sync"
	"sync/atomic"
	"testing"
)

// asked is a pace that tells how it was asked.
type asked struct {
	busy        func() bool
	works, most atomic.Int64
	pieces      atomic.Int64
	rests       atomic.Int64
}

func (p *asked) Busy() bool { return p.busy() }

func (p *asked) Do(piece func()) func() {
	p.pieces.Add(1)
	piece()
	return func() { p.rests.Add(1) }
}

func TestSharedWorkIsDoneOnceHoweverBusyOthersAre(t *testing.T) {
	var turns atomic.Int64
	for name, pace := range map[string]Pace{
		"nobody asks":     nil,
		"nobody is there": &asked{busy: func() bool { return false }},
		"always busy":     &asked{busy: func() bool { return true }},
		"now and then":    &asked{busy: func() bool { return turns.Add(1)%3 == 0 }},
	} {
		for _, n := range []int{0, 1, 2, 23} {
			var mu sync.Mutex
			done := map[int]int{}
			share(pace, n, func(i int) {
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

func TestWhileOthersAskOneCoreIsTakenWithRestsBetween(t *testing.T) {
	p := &asked{busy: func() bool { return true }}
	share(p, 8, func(int) {
		p.most.Store(max(p.most.Load(), p.works.Add(1)))
		p.works.Add(-1)
	})
	if p.most.Load() != 1 || p.pieces.Load() != 8 || p.rests.Load() != 7 {
		t.Errorf("%d at once, %d pieces, %d rests", p.most.Load(), p.pieces.Load(), p.rests.Load())
	}
}
