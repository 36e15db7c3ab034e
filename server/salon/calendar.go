package salon

import (
	"cmp"
	"context"
	"slices"

	"thatch/timeline"
)

// CalendarDay is a day that stands in a calendar: a visit that is booked, or a show.
type CalendarDay struct {
	On   timeline.Day
	Dog  timeline.Dog
	Show *timeline.Show // nil: a visit
}

// Calendar is every booked visit and every show from today on, by day. What only the rhythm proposes is no booking.
func (s *Salon) Calendar(ctx context.Context) ([]CalendarDay, error) {
	dogs, err := s.Dogs(ctx)
	if err != nil {
		return nil, err
	}
	out := []CalendarDay{}
	for _, d := range dogs {
		k, err := s.recordOf(ctx, d.ID)
		if isNotFound(err) {
			continue // just put into the trash
		}
		if err != nil {
			return nil, err
		}
		days := []timeline.Day{k.dog.Cadence.Next}
		for _, b := range k.dog.Cadence.Days {
			days = append(days, b.On)
		}
		slices.Sort(days)
		for _, on := range slices.Compact(days) {
			if on >= k.today && k.comes(on) {
				out = append(out, CalendarDay{On: on, Dog: k.dog})
			}
		}
		for i, v := range k.shows {
			if v.On >= k.today {
				out = append(out, CalendarDay{On: v.On, Dog: k.dog, Show: &k.shows[i]})
			}
		}
	}
	slices.SortStableFunc(out, func(a, b CalendarDay) int { return cmp.Compare(a.On, b.On) })
	return out, nil
}
