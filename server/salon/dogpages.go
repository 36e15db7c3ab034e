package salon

import (
	"context"
	"slices"

	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/timeline/plan"
)

// DogPage is all of one dog.
func (s *Salon) DogPage(ctx context.Context, dog timeline.ID) (DogPage, error) {
	w, err := s.whole(ctx, dog)
	if err != nil {
		return DogPage{}, err
	}
	out := DogPage{
		Card: w.card(), Dog: w.dog, Forecast: w.forecast, Links: w.links, Late: w.late, Today: w.today, Shows: w.shows, Plan: w.plan, PlanFault: w.planFault,
		Targets: w.targets(w.today), Care: w.care(), Before: w.painBefore(w.today), Frame: stripFrame(w.dog, w.today, w.photos),
	}
	photos := stillHerSize(w.dog.Born, w.today, w.photos)
	out.Pair = pairOf(photos, ofPhase(timeline.PhaseStart), ofPhase(timeline.PhaseStart))
	if out.Pair == nil {
		out.Pair = pairOf(photos, ofPhase(timeline.PhaseStart), ofPhase(timeline.PhaseEnd))
	}
	out.ForVet = forVet(w.history, out.Care.Signs)
	if v := w.sessionOn(w.today); v != nil && v.Sheet.Done.IsZero() && v.NotToday == "" {
		out.Begun = v
	}
	if show := w.nextShow(); show != nil {
		out.Bag = bagOf(w.noted.Bags[show.ID])
	}
	out.History, out.Unpaired, err = s.visits(w.record)
	return out, err
}

// todays is the forecast on today; today is never before the first answers.
func (s *Salon) todays(h history) (coat.Forecast, error) {
	return s.forecastWithReadiness(h, max(h.today, h.dog.Answers.On))
}

// PlanPage is the plan of a dog.
func (s *Salon) PlanPage(ctx context.Context, dog timeline.ID) (PlanPage, error) {
	w, err := s.whole(ctx, dog)
	if err != nil {
		return PlanPage{}, err
	}
	out := PlanPage{
		Dog: w.dog, Forecast: w.forecast, Changed: w.changed, Late: w.late, Today: w.today, Shows: w.shows, File: w.file, Plan: w.plan, PlanFault: w.planFault,
		Targets: w.targets(w.today), Booked: []timeline.Day{},
	}
	if w.file.Sessions != nil {
		out.Booked = w.file.Sessions.Dates
	}
	return out, nil
}

// SessionPage is one visit: its log, what the plan wants of it, and what to know of each zone before the hand reaches it.
func (s *Salon) SessionPage(ctx context.Context, session timeline.ID) (SessionPage, error) {
	v, err := s.Session(ctx, session)
	if err != nil {
		return SessionPage{}, err
	}
	w, err := s.whole(ctx, v.Dog)
	if err != nil {
		return SessionPage{}, err
	}
	out := SessionPage{
		Dog: w.dog, Today: w.today, Session: v, Photos: []timeline.Photo{}, Readings: []timeline.Reading{},
		PlanFault: w.planFault, Zones: []SessionZone{}, Waiting: []timeline.Photo{},
	}
	for i := range w.photos {
		switch p := &w.photos[i]; {
		case p.Session == v.ID:
			out.Photos = append(out.Photos, *p)
		case p.Session == "" && p.Moment.Day() == v.On:
			out.Waiting = append(out.Waiting, *p)
		}
	}
	out.Pair = pairOf(out.Photos, ofPhase(timeline.PhaseStart), ofPhase(timeline.PhaseEnd))
	for _, r := range w.readings {
		if r.On == v.On {
			out.Readings = append(out.Readings, r)
		}
	}
	for i := range w.sessions {
		q := w.sessions[i]
		if q.On < v.On {
			out.Previous = &q
		}
		if q.On > v.On && out.Following == nil {
			out.Following = &q
		}
	}
	if out.Sheet, _, err = s.plannedOn(w.history, v.On); err != nil {
		return out, err
	}
	if c := w.changed; c != nil && c.Since == v.On && !w.late { // what an old visit changed has been changed since
		out.Changed = c
	}
	figures, err := s.figures(w.history, v.On)
	if err != nil {
		return out, err
	}
	if out.ByPhoto, err = s.worked(ctx, w.history, v.On); err != nil {
		return out, err
	}
	for _, z := range timeline.Zones() {
		out.Zones = append(out.Zones, sessionZone(w.history, v, z, figures[z], out.Sheet))
	}
	return out, nil
}

func sessionZone(h history, v timeline.Session, z timeline.Zone, figures ZoneFigures, sheet *plan.Session) SessionZone {
	out := SessionZone{Zone: z, Figures: figures, Sensitive: h.sensitive(z)}
	for i := range v.Work {
		if v.Work[i].Zone == z {
			line := v.Work[i]
			out.Line = &line
		}
	}
	if sheet != nil {
		for i := range sheet.Zones {
			if sheet.Zones[i].Zone == z {
				line := sheet.Zones[i]
				out.Planned = &line
			}
		}
	}
	for _, q := range h.sessions { // oldest first: the newest wins
		if q.On >= v.On {
			break
		}
		for _, line := range q.Work {
			if line.Zone != z {
				continue
			}
			out.Last, out.LastOn = &line, q.On
			if hurt(line) {
				out.Hurt, out.HurtOn = &line, q.On
			}
			if line.Remark != "" {
				out.Remark, out.RemarkOn = line.Remark, q.On
			}
		}
	}
	return out
}

// sensitive: the dog is said to be sensitive there, or that kind of dog usually is.
func (h history) sensitive(z timeline.Zone) bool {
	return h.profile.Zones[z].Sensitive || slices.Contains(h.dog.Sensitive, z)
}

// hurt: the line tells of something to read before the zone is touched again.
func hurt(line timeline.ZoneWork) bool {
	return line.Skin != "" && line.Skin != timeline.SkinFine || line.HairCheck == timeline.HairCut || line.HairCheck == timeline.HairSticky
}

// PhotoPage is one photo.
func (s *Salon) PhotoPage(ctx context.Context, photo timeline.ID) (PhotoPage, error) {
	p, err := s.Photo(ctx, photo)
	if err != nil {
		return PhotoPage{}, err
	}
	k, err := s.recordOf(ctx, p.Dog)
	if err != nil {
		return PhotoPage{}, err
	}
	h, d, photos := k.history, k.dog, k.photos
	out := PhotoPage{Dog: d, Photo: p, Look: lookOnly(p), Missing: missingTrunk(p.Landmarks), Compare: []timeline.Photo{}}
	if out.Original, err = s.st.Original(ctx, p.SHA256); err != nil {
		return out, err
	}
	for i := range h.sessions {
		v := h.sessions[i]
		if v.ID == p.Session {
			out.Session = &v
		} else if p.Session == "" && v.On == p.Moment.Day() {
			out.OnDay = &v
		}
	}
	out.Offer = out.Session == nil && out.OnDay == nil && !p.Moment.Day().IsZero()
	if out.Overlay, err = s.overlayOn(ctx, h, p); err != nil {
		return out, err
	}
	for i, q := range photos {
		if q.ID == p.ID {
			if i > 0 {
				out.Neighbour.Previous = photos[i-1].ID
			}
			if i+1 < len(photos) {
				out.Neighbour.Next = photos[i+1].ID
			}
		}
	}
	out.Compare = nearby(photos, p)
	out.Shift, err = s.ShiftCandidates(ctx, p.ID)
	return out, err
}
