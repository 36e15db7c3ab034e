package salon

import (
	"container/list"
	"encoding/hex"
	"errors"
	"sync"

	"thatch/timeline/coat"
)

// memo keeps the newest answers by what they were computed from. An answer asked for by several at once is computed once;
// an error is not kept. Nothing in it can be stale, because the key is the whole input.
type memo[V any] struct {
	mu    sync.Mutex
	max   int
	at    map[string]*list.Element
	order list.List // of *memoEntry[V], newest first
}

type memoEntry[V any] struct {
	key  string
	once sync.Once
	v    V
	err  error
}

var errNoAnswer = errors.New("salon: an answer that others waited for was not computed")

func newMemo[V any](max int) *memo[V] { return &memo[V]{max: max, at: map[string]*list.Element{}} }

func (m *memo[V]) get(key string, make func() (V, error)) (V, error) {
	m.mu.Lock()
	el, ok := m.at[key]
	if ok {
		m.order.MoveToFront(el)
	} else {
		el = m.order.PushFront(&memoEntry[V]{key: key})
		m.at[key] = el
		for len(m.at) > m.max {
			last := m.order.Back()
			m.order.Remove(last)
			delete(m.at, last.Value.(*memoEntry[V]).key)
		}
	}
	e := el.Value.(*memoEntry[V])
	m.mu.Unlock()
	e.once.Do(func() {
		e.err = errNoAnswer // stays if make panics: others who wait must not take the zero value for an answer
		e.v, e.err = make()
	})
	if e.err != nil {
		m.mu.Lock()
		if m.at[key] == el {
			m.order.Remove(el)
			delete(m.at, key)
		}
		m.mu.Unlock()
	}
	return e.v, e.err
}

// keyOf names a coat file by its content.
func keyOf(f coat.File) string {
	sum := coat.Sum(f)
	return hex.EncodeToString(sum[:])
}
