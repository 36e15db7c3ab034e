package salon

import (
	"context"
	"fmt"
	"sync"

	"thatch/timeline"
)

// album is a dog's photos, read once for as long as none of them changes: a dog that is logged often may have thousands.
// It is shared by all who ask: nobody writes to it but camerasOf.
type album struct {
	photos   []timeline.Photo // by time
	unpaired []timeline.Photo // of these, without a session
	newest   timeline.ID      // of these, the last that is ready; "": none
	measured string           // changes with what figures from these photos are made of; "": no photo has an edge

	mu      sync.Mutex
	cameras map[string]string // nil: not asked for yet
}

// The stamp is read here, before the photos, and not with the dog's own: what changes in between is read under the older
// stamp, and read again.
func (s *Salon) albumOf(ctx context.Context, dog timeline.ID) (*album, error) {
	n, err := s.st.PhotoStamp(ctx, dog)
	if err != nil {
		return nil, err
	}
	return s.albums.get(fmt.Sprint(dog, " ", n), func() (*album, error) {
		// Others may wait for this answer: it does not end with the first one who asked.
		ctx := context.WithoutCancel(ctx)
		a := &album{}
		if a.photos, err = s.st.Photos(ctx, dog); err != nil {
			return nil, err
		}
		if a.measured, err = s.st.MeasuringStamp(ctx, dog); err != nil {
			return nil, err
		}
		for _, p := range a.photos {
			if p.Session == "" {
				a.unpaired = append(a.unpaired, p)
			}
			if p.Ready {
				a.newest = p.ID
			}
		}
		return a, nil
	})
}

// camerasOf are the cameras of the album, by the hash of the file: read when they are first asked for.
func (s *Salon) camerasOf(ctx context.Context, dog timeline.ID, a *album) (map[string]string, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.cameras != nil {
		return a.cameras, nil
	}
	of, err := s.st.CamerasOf(ctx, dog)
	if err == nil {
		a.cameras = of
	}
	return of, err
}
