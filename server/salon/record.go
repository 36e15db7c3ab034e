package salon

import (
	"context"
	"fmt"
	"sync"
	"sync/atomic"

	"thatch/store"
	"thatch/timeline"
	"thatch/timeline/coat"
)

// record is everything that is read of a dog, read once for as long as nothing of her changes. It is shared by all who ask:
// nobody writes to it.
type record struct {
	history
	*album
	links []timeline.Link
	noted timeline.Noted // care, lessons, signs, bags
	file  coat.File      // as of today
	key   string         // changes with anything of the dog, of what all dogs share, and with the day

	cared atomic.Pointer[CareLook] // nil: not asked for yet

	lined   sync.Once
	visited []Visit
	loose   []*timeline.Photo // of no session, or of one in the trash
	lineErr error
}

// recordOf reads a dog, from memory where nothing has changed since. A dog in the trash is NotFound.
func (s *Salon) recordOf(ctx context.Context, dog timeline.ID) (*record, error) {
	stamp, err := s.st.Stamp(ctx, dog)
	if err != nil {
		return nil, err
	}
	today, err := s.Today(ctx)
	if err != nil {
		return nil, err
	}
	return s.recordAt(ctx, dog, recordKey(dog, stamp, today))
}

func recordKey(dog timeline.ID, v store.Stamp, today timeline.Day) string {
	return fmt.Sprint(dog, " ", v.Dog, " ", v.Shared, " ", today)
}

// The stamp is read before what it stands for: what changes in between is read under the older stamp, and read again.
func (s *Salon) recordAt(ctx context.Context, dog timeline.ID, key string) (*record, error) {
	return s.dogs.get(key, func() (*record, error) {
		// Others may wait for this answer: it does not end with the first one who asked.
		return s.readDog(context.WithoutCancel(ctx), dog, key)
	})
}

func (s *Salon) readDog(ctx context.Context, dog timeline.ID, key string) (k *record, err error) {
	k = &record{key: key}
	h := &k.history
	if h.dog, err = s.Dog(ctx, dog); err != nil {
		return nil, err
	}
	if h.today, err = s.Today(ctx); err != nil {
		return nil, err
	}
	if h.profile, h.own, err = s.profileOf(ctx, h.dog.Profile); err != nil {
		return nil, err
	}
	if h.sessions, err = s.st.Sessions(ctx, dog); err != nil {
		return nil, err
	}
	if h.readings, err = s.st.Readings(ctx, dog); err != nil {
		return nil, err
	}
	if h.shows, err = s.st.Shows(ctx, dog); err != nil {
		return nil, err
	}
	if h.seen, err = s.depthsOf(ctx, h.dog); err != nil {
		return nil, err
	}
	if k.album, err = s.albumOf(ctx, dog); err != nil {
		return nil, err
	}
	if k.links, err = s.st.Links(ctx, dog); err != nil {
		return nil, err
	}
	if k.noted, err = s.st.NotedOf(ctx, dog); err != nil {
		return nil, err
	}
	k.file = h.file(h.today, h.today+1)
	return k, nil
}

// visits are the dog's sessions and the photos of none, with figures where something was measured.
func (s *Salon) visits(k *record) ([]Visit, []*timeline.Photo, error) {
	k.lined.Do(func() {
		k.lineErr = errNoAnswer // stays if what follows panics: who asks next must not take nothing for an answer
		k.visited, k.loose, k.lineErr = s.visitsOf(k.history, k.photos, k.measuredAt)
	})
	return k.visited, k.loose, k.lineErr
}
