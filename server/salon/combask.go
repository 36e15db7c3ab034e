package salon

import (
	"context"
	"slices"

	"thatch/timeline"
)

// combZones are where one depth tells most about the skin line of a side-on photo, best first: flat, easy to reach, and seen
// from the side.
var combZones = []timeline.Zone{timeline.Loin, timeline.Back, timeline.Withers}

// CombAsked is the zone whose depth a comb should read today, so that the photos of the day tell depths better: the first of
// loin, back and withers where the dog does not mind. It is "" on any other day, and once one of them has been read.
func (s *Salon) CombAsked(ctx context.Context, dog timeline.ID, on timeline.Day) (timeline.Zone, error) {
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return "", err
	}
	today, err := s.Today(ctx)
	if err != nil || on != today {
		return "", err
	}
	combs, err := s.st.Combs(ctx, dog)
	if err != nil {
		return "", err
	}
	for _, r := range combs {
		if r.On == on && slices.Contains(combZones, r.Zone) {
			return "", nil
		}
	}
	for _, z := range combZones {
		if !slices.Contains(d.Sensitive, z) {
			return z, nil
		}
	}
	return "", nil
}
