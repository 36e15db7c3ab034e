package salon

import (
	"context"
	"slices"
	"strings"

	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/timeline/plan"
)

// whole is everything that pages show of a dog, read once.
type whole struct {
	history
	photos    []timeline.Photo // by time
	file      coat.File
	plan      *plan.Plan
	planFault *timeline.Fault
}

func (s *Salon) whole(ctx context.Context, d timeline.Dog) (w whole, err error) {
	if w.history, err = s.history(ctx, d); err != nil {
		return w, err
	}
	if w.photos, err = s.st.Photos(ctx, d.ID); err != nil {
		return w, err
	}
	w.file = w.history.file(w.today, w.today+1)
	p, err := s.planOf(w.file, w.shortFirst(w.file))
	if err == nil {
		w.plan = &p
		return w, nil
	}
	// That there is no plan is an answer, not a failure of the page.
	if w.planFault = faultOf(err); w.planFault != nil && w.planFault.Kind == timeline.Invalid {
		return w, nil
	}
	return w, err
}

func (w whole) card() DogCard {
	c := DogCard{Dog: w.dog, Photos: len(w.photos), Sessions: len(w.sessions)}
	if n := len(w.sessions); n > 0 {
		c.LastSession = w.sessions[n-1].On
	}
	if v := w.nextShow(); v != nil {
		c.NextShow, c.DaysToShow = v, int(v.On-w.today)
		c.PlanFault = w.planFault
	}
	c.Worst = worst(w.plan)
	for _, p := range w.photos {
		if p.Ready {
			c.Picture = p.ID
		}
	}
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

func (s *Salon) wholes(ctx context.Context) ([]whole, error) {
	dogs, err := s.Dogs(ctx)
	if err != nil {
		return nil, err
	}
	out := make([]whole, len(dogs))
	err = each(len(dogs), func(i int) (err error) {
		out[i], err = s.whole(ctx, dogs[i])
		return err
	})
	return out, err
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

// HomePage is the first page: who is on the table, which show is at risk, which photos wait.
func (s *Salon) HomePage(ctx context.Context) (Home, error) {
	out := Home{OnToday: []DogCard{}, Tomorrow: []DogCard{}, Waiting: []WaitingPhoto{}}
	all, err := s.wholes(ctx)
	if err != nil {
		return out, err
	}
	if out.Today, err = s.Today(ctx); err != nil {
		return out, err
	}
	out.Dogs = cardsOf(all)
	for _, c := range out.Dogs {
		next := c.Dog.Cadence.Next
		switch {
		case next == out.Today || c.LastSession == out.Today:
			out.OnToday = append(out.OnToday, c)
		case next == out.Today+1:
			out.Tomorrow = append(out.Tomorrow, c)
		}
	}
	for _, w := range all {
		for _, p := range w.photos {
			if p.Session == "" {
				out.Waiting = append(out.Waiting, WaitingPhoto{Dog: w.dog, Photo: p, Dated: !p.Moment.Day().IsZero()})
			}
		}
	}
	slices.SortStableFunc(out.Waiting, func(a, b WaitingPhoto) int { return b.Photo.Added.Compare(a.Photo.Added) })
	if out.Jobs, err = s.st.PendingJobs(ctx); err != nil {
		return out, err
	}
	out.Heap, err = s.st.HeapSize(ctx)
	return out, err
}

// pairOf finds two photos of one side worth comparing, those that can be measured before those that can only be looked at,
// then the longest time apart. after says which photos may be the second one.
func pairOf(photos []timeline.Photo, before, after func(timeline.Photo) bool) *PhotoPair {
	var best *PhotoPair
	bestRank, bestSpan := -1, int64(-1)
	for _, side := range []timeline.Side{timeline.SideLeft, timeline.SideRight} {
		for _, a := range photos {
			if a.Side != side || !a.Ready || a.Moment.Instant.IsZero() || !before(a) {
				continue
			}
			for _, b := range photos {
				if b.Side != side || !b.Ready || b.ID == a.ID || !after(b) || !b.Moment.Instant.After(a.Moment.Instant) {
					continue
				}
				rank := 0
				for _, p := range []timeline.Photo{a, b} {
					if lookOnly(p).IsZero() {
						rank += 2
					} else if len(missingTrunk(p.Landmarks)) == 0 {
						rank++
					}
				}
				span := int64(b.Moment.Instant.Sub(a.Moment.Instant))
				if rank > bestRank || rank == bestRank && span > bestSpan {
					best, bestRank, bestSpan = &PhotoPair{A: a, B: b}, rank, span
				}
			}
		}
	}
	return best
}

func ofPhase(phase timeline.Phase) func(timeline.Photo) bool {
	return func(p timeline.Photo) bool { return p.Phase == phase && p.Session != "" }
}
