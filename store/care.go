package store

import (
	"context"
	"database/sql"
	"errors"
	"maps"
	"sync"

	tl "thatch/timeline"
)

var (
	noteCare    = query(`INSERT INTO care (dog, what, on_day, noted_at) VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING`)
	unnoteCare  = query(`DELETE FROM care WHERE dog = ? AND what = ? AND on_day = ?`)
	selectCare  = query(`SELECT what, max(on_day) FROM care WHERE dog = ? GROUP BY what`)
	setEvery    = query(`INSERT INTO care_every (dog, what, days) VALUES (?, ?, ?) ON CONFLICT (dog, what) DO UPDATE SET days = excluded.days`)
	dropEvery   = query(`DELETE FROM care_every WHERE dog = ? AND what = ?`)
	selectEvery = query(`SELECT what, days FROM care_every WHERE dog = ?`)
	tickBag     = query(`INSERT INTO bag (show, item) VALUES (?, ?) ON CONFLICT DO NOTHING`)
	untickBag   = query(`DELETE FROM bag WHERE show = ? AND item = ?`)
	selectBags  = query(`SELECT b.show, b.item FROM bag b JOIN show s ON s.id = b.show WHERE s.dog = ?`)
	setHands    = query(`INSERT INTO hands (person, minutes) VALUES (?, ?) ON CONFLICT (person) DO UPDATE SET minutes = excluded.minutes`)
	selectHands = query(`SELECT minutes FROM hands WHERE person = ?`)
	// The log rises with time and has no index of it: a day's changes are among its newest.
	selectMyWork = query(`SELECT id, key FROM audit WHERE person = ? AND id > max(?, (SELECT coalesce(max(id), 0) FROM audit) - 20000)
		AND at >= ? AND op IN ('create session', 'update session') ORDER BY id`)
)

// NotedOf is what was done and seen of a dog besides her coat.
func (s *Store) NotedOf(ctx context.Context, dog tl.ID) (tl.Noted, error) {
	out := tl.Noted{Last: map[string]tl.Day{}, Every: map[tl.Care]int{}, Bags: map[tl.ID][]tl.BagItem{}}
	err := s.read(ctx, "care of "+string(dog), func(t tx) error {
		err := t.each(func(r scanner) error {
			var what string
			var on tl.Day
			err := r.Scan(&what, onDay{&on})
			out.Last[what] = on
			return err
		}, selectCare, dog)
		if err != nil {
			return err
		}
		err = t.each(func(r scanner) error {
			var what tl.Care
			var days int
			err := r.Scan(&what, &days)
			out.Every[what] = days
			return err
		}, selectEvery, dog)
		if err != nil {
			return err
		}
		return t.each(func(r scanner) error {
			var show tl.ID
			var item tl.BagItem
			err := r.Scan(&show, &item)
			out.Bags[show] = append(out.Bags[show], item)
			return err
		}, selectBags, dog)
	})
	return out, err
}

// NoteCare notes that something was done, or seen, of a dog on a day; twice is once.
func (s *Store) NoteCare(ctx context.Context, dog tl.ID, what string, on tl.Day) error {
	return s.write(ctx, "note care of "+string(dog), func(t tx) error {
		_, err := t.exec(noteCare, dog, what, on.String(), stamp(s.now()))
		return err
	})
}

// TakeBackCare is the undo of NoteCare. What is not noted is not an error: a second tap of undo changes nothing.
func (s *Store) TakeBackCare(ctx context.Context, dog tl.ID, what string, on tl.Day) error {
	return s.write(ctx, "take back care of "+string(dog), func(t tx) error {
		_, err := t.exec(unnoteCare, dog, what, on.String())
		return err
	})
}

// SetCareEvery gives a dog intervals of her own, in days; what is not in the map has the usual one again.
func (s *Store) SetCareEvery(ctx context.Context, dog tl.ID, every map[tl.Care]int) error {
	return s.write(ctx, "set care of "+string(dog), func(t tx) error {
		for _, c := range tl.Cares() {
			var err error
			if days, ok := every[c]; ok {
				_, err = t.exec(setEvery, dog, c, days)
			} else {
				_, err = t.exec(dropEvery, dog, c)
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
}

// TickBag ticks a line of a show's bag, or takes the tick away.
func (s *Store) TickBag(ctx context.Context, show tl.ID, item tl.BagItem, on bool) error {
	if !on {
		return s.write(ctx, "untick bag of "+string(show), func(t tx) error {
			_, err := t.exec(untickBag, show, item)
			return err
		})
	}
	return s.write(ctx, "tick bag of "+string(show), func(t tx) error {
		_, err := t.exec(tickBag, show, item)
		return err
	})
}

// HandsLimit is how many minutes a day somebody wants to work with her hands at most; 0: no limit is set.
func (s *Store) HandsLimit(ctx context.Context, person tl.ID) (minutes int, err error) {
	err = s.readOne(ctx, "hands", func(t tx) error {
		err := t.row(selectHands, person).Scan(&minutes)
		if errors.Is(err, sql.ErrNoRows) {
			err = nil
		}
		return err
	})
	return
}

// SetHandsLimit keeps it.
func (s *Store) SetHandsLimit(ctx context.Context, person tl.ID, minutes int) error {
	return s.write(ctx, "set hands", func(t tx) error {
		_, err := t.exec(setHands, person, minutes)
		return err
	})
}

// SessionsWrittenBy are the sessions that somebody with an account wrote into since the start of a day, UTC. The answer is
// shared: nobody writes to it.
func (s *Store) SessionsWrittenBy(ctx context.Context, person tl.ID, since tl.Day) (map[tl.ID]bool, error) {
	w := s.wrote.of(person, since)
	var more []tl.ID
	err := s.readOne(ctx, "sessions written by "+string(person), func(t tx) error {
		return t.each(func(r scanner) error {
			var id tl.ID
			err := r.Scan(&w.upTo, &id)
			more = append(more, id)
			return err
		}, selectMyWork, person, w.upTo, stamp(since.Time()))
	})
	if err != nil || len(more) == 0 {
		return w.in, err
	}
	w.in = maps.Clone(w.in)
	for _, id := range more {
		w.in[id] = true
	}
	s.wrote.keep(person, w)
	return w.in, nil
}

// writers are who wrote into which sessions, as far as the log of changes has been read: it is only ever added to, in the
// order of its numbers, and the first page asks anew after every change of anybody.
type writers struct {
	mu   sync.Mutex
	read map[tl.ID]writer
}

type writer struct {
	since tl.Day
	upTo  int64 // the last line that was read
	in    map[tl.ID]bool
}

const writersKept = 256

func (k *writers) of(person tl.ID, since tl.Day) writer {
	k.mu.Lock()
	defer k.mu.Unlock()
	if w, ok := k.read[person]; ok && w.since == since {
		return w
	}
	return writer{since: since, in: map[tl.ID]bool{}}
}

func (k *writers) keep(person tl.ID, w writer) {
	k.mu.Lock()
	defer k.mu.Unlock()
	switch was, ok := k.read[person]; {
	case ok && was.since == w.since && was.upTo >= w.upTo: // somebody read further meanwhile
		return
	case k.read == nil || len(k.read) >= writersKept:
		k.read = map[tl.ID]writer{}
	}
	k.read[person] = w
}
