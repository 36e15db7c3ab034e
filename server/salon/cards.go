package salon

import (
	"context"
	"maps"
	"slices"
	"strings"
	"time"

	"thatch/timeline"
	"thatch/timeline/plan"
)

// whole is what is known of a dog and what is worked out of it.
type whole struct {
	*record
	*outlook
	late bool // the outlook is of before the newest change, and is being worked out anew
}

func (s *Salon) whole(ctx context.Context, dog timeline.ID) (w whole, err error) {
	if w.record, err = s.recordOf(ctx, dog); err != nil {
		return w, err
	}
	w.outlook, w.late, err = s.outlookOf(ctx, w.record, nil)
	return w, err
}

// A list of dogs is kept waiting for plans that are not worked out yet, a list of few dogs longer. Where a plan is only to be
// brought up to date, a list of many says so and goes on: with many people at the table one of their dogs always is.
const (
	glanceTime = 2 * time.Second
	newerTime  = 100 * time.Millisecond
	fewDogs    = 12
	fewTime    = 8 * time.Second
)

// WorkAhead puts every dog into the line of what is to be worked out, so that the day's first page finds it done.
func (s *Salon) WorkAhead(ctx context.Context) error {
	_, err := s.glanced(ctx, func(int) time.Duration { return 0 })
	return err
}

// wholes are all dogs that are not in the trash, by name. While many are being worked out, an outlook may be nil.
func (s *Salon) wholes(ctx context.Context) ([]whole, error) {
	return s.glanced(ctx, func(dogs int) time.Duration {
		if dogs <= fewDogs {
			return fewTime
		}
		return glanceTime
	})
}

func (s *Salon) glanced(ctx context.Context, patience func(dogs int) time.Duration) ([]whole, error) {
	stamps, err := s.st.Stamps(ctx)
	if err != nil {
		return nil, err
	}
	today, err := s.Today(ctx)
	if err != nil {
		return nil, err
	}
	ids := slices.Sorted(maps.Keys(stamps))
	all := make([]whole, len(ids))
	first, cancel := context.WithTimeout(ctx, patience(len(ids)))
	defer cancel()
	g := &glance{first, first}
	if len(ids) > fewDogs {
		newer, enough := context.WithTimeout(first, newerTime)
		defer enough()
		g.newer = newer
	}
	err = each(len(ids), func(i int) (err error) {
		w := &all[i]
		w.record, err = s.recordAt(ctx, ids[i], recordKey(ids[i], stamps[ids[i]], today))
		if isNotFound(err) { // just put into the trash
			return nil
		}
		if err == nil {
			w.outlook, w.late, err = s.outlookOf(ctx, w.record, g)
		}
		return err
	})
	all = slices.DeleteFunc(all, func(w whole) bool { return w.record == nil })
	slices.SortStableFunc(all, func(a, b whole) int {
		return strings.Compare(strings.ToLower(a.dog.Name), strings.ToLower(b.dog.Name))
	})
	return all, err
}

func (w whole) card() DogCard {
	c := DogCard{Dog: w.dog, Photos: len(w.photos), Sessions: len(w.sessions)}
	if n := len(w.sessions); n > 0 {
		c.LastSession = w.sessions[n-1].On
	}
	if v := w.nextShow(); v != nil {
		c.NextShow, c.DaysToShow = v, int(v.On-w.today)
	}
	if w.outlook != nil {
		if w.worst != nil {
			v := *w.worst
			v.Later = w.laterShow(v.Outlook)
			c.Worst = &v
		}
		if c.NextShow != nil && !w.late { // an older fault may be of before the show was put in
			c.PlanFault = w.planFault
		}
	}
	c.Late = w.late
	c.Picture = w.newest
	return c
}

func (w whole) nextShow() *timeline.Show {
	for _, v := range w.shows {
		if v.On >= w.today {
			return &v
		}
	}
	return nil
}

// laterShow is the show that rules a zone's verdict, nil where it is the next one.
func (w whole) laterShow(o plan.ZoneOutlook) *timeline.Show {
	next := w.nextShow()
	if next == nil || o.Show <= next.On {
		return nil
	}
	for _, v := range w.shows {
		if v.On == o.Show {
			return &v
		}
	}
	return nil
}

// worst is the zone that stands worst towards the shows: by verdict, then readiness, then anatomical order.
func worst(p *plan.Plan) *ZoneVerdict {
	if p == nil {
		return nil
	}
	rank := map[plan.Verdict]int{plan.TooLate: 0, plan.Tight: 1, plan.OnTrack: 2}
	var out *ZoneVerdict
	for _, z := range timeline.Zones() {
		o, ok := p.Zones[z]
		if !ok || o.Verdict == plan.NoBand {
			continue
		}
		if out == nil || rank[o.Verdict] < rank[out.Outlook.Verdict] ||
			o.Verdict == out.Outlook.Verdict && value(o.Readiness) < value(out.Outlook.Readiness) {
			out = &ZoneVerdict{Zone: z, Outlook: o}
		}
	}
	return out
}

func value(v *float64) float64 {
	if v == nil {
		return 0
	}
	return *v
}

// DogCards are the dogs with what lists show, those with a show first and by its day, then by name.
func (s *Salon) DogCards(ctx context.Context) ([]DogCard, error) {
	all, err := s.wholes(ctx)
	if err != nil {
		return nil, err
	}
	return cardsOf(all), nil
}

func cardsOf(all []whole) []DogCard {
	out := make([]DogCard, len(all))
	for i, w := range all {
		out[i] = w.card()
	}
	slices.SortStableFunc(out, func(a, b DogCard) int {
		switch {
		case a.NextShow != nil && b.NextShow != nil && a.NextShow.On != b.NextShow.On:
			return int(a.NextShow.On - b.NextShow.On)
		case a.NextShow != nil && b.NextShow == nil:
			return -1
		case a.NextShow == nil && b.NextShow != nil:
			return 1
		}
		return strings.Compare(strings.ToLower(a.Dog.Name), strings.ToLower(b.Dog.Name))
	})
	return out
}

// pairOf finds two photos of one side worth comparing, those that can be measured before those that can only be looked at,
// then the longest time apart. after says which photos may be the second one.
func pairOf(photos []timeline.Photo, before, after func(timeline.Photo) bool) *PhotoPair {
	const ranks = 3
	var best *PhotoPair
	bestRank, bestSpan := -1, int64(-1)
	for _, side := range []timeline.Side{timeline.SideLeft, timeline.SideRight} {
		var first, last [ranks]*timeline.Photo // of two ranks the longest span lies between the first and the last
		for i := range photos {
			p := &photos[i]
			if p.Side != side || !p.Ready || p.Moment.Instant.IsZero() {
				continue
			}
			is, from, to := -1, before(*p), after(*p)
			if from || to {
				is = pairRank(*p)
			}
			if from && (first[is] == nil || p.Moment.Instant.Before(first[is].Moment.Instant)) {
				first[is] = p
			}
			if to && (last[is] == nil || p.Moment.Instant.After(last[is].Moment.Instant)) {
				last[is] = p
			}
		}
		for i, a := range first {
			for k, b := range last {
				if a == nil || b == nil || a.ID == b.ID || !b.Moment.Instant.After(a.Moment.Instant) {
					continue
				}
				span := int64(b.Moment.Instant.Sub(a.Moment.Instant))
				if i+k > bestRank || i+k == bestRank && span > bestSpan {
					best, bestRank, bestSpan = &PhotoPair{A: *a, B: *b}, i+k, span
				}
			}
		}
	}
	return best
}

// pairRank is 2 for a photo that can be measured, 1 for one whose points are placed, 0 for any other.
func pairRank(p timeline.Photo) int {
	switch {
	case !trunkPlaced(p.Landmarks):
		return 0
	case StateLook(p).IsZero():
		return 2
	}
	return 1
}

func ofPhase(phase timeline.Phase) func(timeline.Photo) bool {
	return func(p timeline.Photo) bool { return p.Phase == phase && p.Session != "" }
}
