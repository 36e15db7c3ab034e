package salon

import (
	"context"
	"slices"
	"time"

	"thatch/timeline"
)

// proposeTries bounds how often a proposal is made again because somebody edited one of the photos meanwhile.
const proposeTries = 6

func sessionOfDay(sessions []timeline.Session, day timeline.Day) timeline.ID {
	if day.IsZero() {
		return ""
	}
	for _, v := range sessions {
		if v.On == day {
			return v.ID
		}
	}
	return ""
}

// pairDay pairs the photos of the session's local day that have no session of their own, and proposes phases.
func (s *Salon) pairDay(ctx context.Context, dog timeline.ID, v timeline.Session) error {
	sessions, err := s.st.Sessions(ctx, dog)
	if err != nil {
		return err
	}
	live := map[timeline.ID]bool{}
	for _, q := range sessions {
		live[q.ID] = true
	}
	return s.changePhotos(ctx, dog, func(photos []timeline.Photo) []timeline.Photo {
		var changed []timeline.Photo
		for _, p := range photos {
			if p.Moment.Day() == v.On && !live[p.Session] {
				p.Session = v.ID
				changed = append(changed, p)
			}
		}
		return changed
	}, v.ID)
}

// proposePhases proposes start, during and end for the session's photos that no person has said it of.
func (s *Salon) proposePhases(ctx context.Context, dog, session timeline.ID) error {
	if session == "" {
		return nil
	}
	return s.changePhotos(ctx, dog, nil, session)
}

// changePhotos applies first, then the proposals for the session, in one write; photos edited meanwhile are read again.
func (s *Salon) changePhotos(ctx context.Context, dog timeline.ID, first func([]timeline.Photo) []timeline.Photo, session timeline.ID) error {
	s.pairing.Lock()
	defer s.pairing.Unlock()
	for try := 1; ; try++ {
		photos, err := s.st.Photos(ctx, dog)
		if err != nil {
			return err
		}
		now := map[timeline.ID]timeline.Photo{}
		if first != nil {
			for _, p := range first(photos) {
				now[p.ID] = p
			}
		}
		var of []timeline.Photo
		for _, p := range photos {
			if q, ok := now[p.ID]; ok {
				p = q
			}
			if p.Session == session {
				of = append(of, p)
			}
		}
		for id, phase := range proposedPhases(of) {
			for _, p := range of {
				if p.ID == id && !p.PhaseSaid && p.Phase != phase {
					p.Phase = phase
					now[id] = p
				}
			}
		}
		if len(now) == 0 {
			return nil
		}
		var changed []timeline.Photo
		for _, p := range photos {
			if q, ok := now[p.ID]; ok {
				changed = append(changed, q)
			}
		}
		_, err = s.st.UpdatePhotos(ctx, changed)
		if err == nil || timeline.KindOf(err) != timeline.Conflict || try == proposeTries {
			return err
		}
	}
}

// minPhaseGap is the shortest pause between photos that may be work: five photos of a dog stood up take less.
const minPhaseGap = 15 * time.Minute

// proposedPhases tells from the pauses between a session's photos what each is of. One cluster is the start; of several
// the first is the start, the last the end, what lies between is during. A pause parts clusters if it is at least a
// quarter of an hour and at least a third of the longest pause, so that a dog stood up again after ten minutes' brushing is
// still at her start. A photo whose time of day nobody knows is proposed as the start.
func proposedPhases(photos []timeline.Photo) map[timeline.ID]timeline.Phase {
	out := make(map[timeline.ID]timeline.Phase, len(photos))
	type dated struct {
		id timeline.ID
		at time.Time
	}
	var ds []dated
	for _, p := range photos {
		out[p.ID] = timeline.PhaseStart
		at := p.Moment.Instant
		if at.IsZero() || slices.Contains(p.Moment.Flags, "time_unknown") {
			continue
		}
		ds = append(ds, dated{p.ID, at})
	}
	slices.SortStableFunc(ds, func(a, b dated) int { return a.at.Compare(b.at) })
	longest := time.Duration(0)
	for i := 1; i < len(ds); i++ {
		longest = max(longest, ds[i].at.Sub(ds[i-1].at))
	}
	gap := max(minPhaseGap, longest/3)
	cluster := make([]int, len(ds))
	for i := 1; i < len(ds); i++ {
		cluster[i] = cluster[i-1]
		if ds[i].at.Sub(ds[i-1].at) >= gap {
			cluster[i]++
		}
	}
	for i, d := range ds {
		switch last := cluster[len(ds)-1]; {
		case cluster[i] == 0:
		case cluster[i] == last:
			out[d.id] = timeline.PhaseEnd
		default:
			out[d.id] = timeline.PhaseDuring
		}
	}
	return out
}
