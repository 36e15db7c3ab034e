package salon

import (
	"context"
	"slices"

	"thatch/timeline"
	"thatch/timeline/plan"
)

// maxMovedDays: a show or a visit that is moved further is another one.
const maxMovedDays = 366

// under is the history under a change, nothing kept. What would be planned after it was kept is planned from the same
// history, so that what was tried is what one gets.
func (h history) under(c WhatIf) (history, timeline.Phrase, error) {
	var dates []timeline.Day
	if f := h.file(h.today, h.today+1); f.Sessions != nil {
		dates = f.Sessions.Dates
	}
	none := timeline.Phrase{}
	cad := &h.dog.Cadence
	cad.Days = slices.DeleteFunc(slices.Clone(cad.Days), func(b timeline.BookedDay) bool { return b.On < h.today })
	h.shows = slices.Clone(h.shows)
	if (c.Kind == plan.ShowMoved || c.Kind == SessionMoved) && (c.Days == 0 || c.Days < -maxMovedDays || c.Days > maxMovedDays) {
		return h, none, invalid("days", "fault.whatif.days", "n", maxMovedDays)
	}
	switch c.Kind {
	case plan.ShowMoved:
		i := slices.IndexFunc(h.shows, func(v timeline.Show) bool { return v.ID == c.Show && v.On >= h.today })
		if i < 0 {
			return h, none, invalid("show", "fault.whatif.show")
		}
		v := &h.shows[i]
		from := v.On
		if v.On += timeline.Day(c.Days); v.On < h.today {
			return h, none, invalid("days", "fault.plan.show_past", "show", v.Name, "on", v.On, "today", h.today)
		}
		say := timeline.Say("whatif.show_moved", "show", v.Name, "from", from, "to", v.On)
		slices.SortStableFunc(h.shows, func(a, b timeline.Show) int { return int(a.On - b.On) })
		return h, say, nil
	case plan.SessionSkipped, SessionMoved:
		i := slices.Index(dates, c.On)
		if i < 0 {
			return h, none, invalid("on", "fault.plan.if.session", "on", c.On)
		}
		if c.Kind == plan.SessionSkipped {
			if len(dates) == 1 {
				return h, none, invalid("on", "fault.plan.if.only_session", "on", c.On)
			}
			if i == 0 {
				cad.Next = dates[1]
				h.setDay(timeline.BookedDay{On: c.On})
			} else {
				h.setDay(timeline.BookedDay{On: c.On, Skip: true})
			}
			return h, timeline.Say("whatif.session_skipped", "on", c.On), nil
		}
		to := c.On + timeline.Day(c.Days)
		switch {
		case to < h.today:
			return h, none, invalid("days", "fault.dog.next_past", "on", to, "today", h.today)
		case slices.Contains(dates, to):
			return h, none, invalid("days", "fault.whatif.taken", "on", to)
		}
		if i == 0 {
			cad.Next = to
			h.setDay(timeline.BookedDay{On: c.On})
			h.setDay(timeline.BookedDay{On: to, Minutes: h.minutesOn(to)})
		} else {
			h.setDay(timeline.BookedDay{On: c.On, Skip: true})
			h.setDay(timeline.BookedDay{On: to, Extra: true})
		}
		return h, timeline.Say("whatif.session_moved", "from", c.On, "to", to), nil
	case plan.EveryDays:
		if c.EveryDays < 1 || c.EveryDays > maxEveryDays {
			return h, none, invalid("every_days", "fault.dog.every_days", "max", maxEveryDays)
		}
		cad.EveryDays = c.EveryDays
		return h, timeline.Say("whatif.every_days", "n", c.EveryDays), nil
	case plan.MinutesEach, plan.HalfMinutes:
		m := c.Minutes
		if c.Kind == plan.HalfMinutes {
			m = cad.Minutes / 2
		}
		if m < 5 || m > maxMinutes {
			return h, none, invalid("minutes", "fault.dog.minutes", "min", 5, "max", maxMinutes)
		}
		cad.Minutes = m
		return h, timeline.Say("whatif.minutes", "n", m), nil
	case plan.ShortToday:
		if len(dates) == 0 {
			return h, none, invalid("minutes", "fault.show.no_session_before")
		}
		on := dates[0]
		if !c.On.IsZero() {
			on = c.On
		}
		if c.Minutes != 0 && (c.Minutes < 5 || c.Minutes > maxMinutes) {
			return h, none, invalid("minutes", "fault.dog.minutes", "min", 5, "max", maxMinutes)
		}
		b := timeline.BookedDay{On: on, Minutes: c.Minutes}
		b.Extra = slices.ContainsFunc(cad.Days, func(was timeline.BookedDay) bool { return was.On == on && was.Extra })
		h.setDay(b)
		if c.Minutes == 0 {
			return h, timeline.Say("whatif.usual_time", "on", on), nil
		}
		return h, timeline.Say("whatif.short_today", "on", on, "n", c.Minutes), nil
	}
	return h, none, invalid("kind", "fault.plan.if.kind", "kind", clip(string(c.Kind), 40))
}

// setDay says how a day is, in place of what was said of it; a day as usual is not listed.
func (h *history) setDay(b timeline.BookedDay) {
	cad := &h.dog.Cadence
	cad.Days = slices.DeleteFunc(cad.Days, func(was timeline.BookedDay) bool { return was.On == b.On })
	if b.Skip || b.Extra || b.Minutes > 0 {
		cad.Days = append(cad.Days, b)
		slices.SortFunc(cad.Days, func(a, b timeline.BookedDay) int { return int(a.On - b.On) })
	}
}

// PlanPageIf is the plan of a dog under a change; nothing is kept. A change that cannot be made, or leaves nothing to plan,
// is told by Tried.Fault beside the plan as it is.
func (s *Salon) PlanPageIf(ctx context.Context, dog timeline.ID, c WhatIf) (PlanPage, error) {
	out, err := s.PlanPage(ctx, dog)
	if err != nil {
		return out, err
	}
	out.Tried = &Tried{Change: c, Account: []timeline.Phrase{}, Before: out.Plan}
	h, err := s.history(ctx, out.Dog)
	if err != nil {
		return out, err
	}
	told := func(err error) (PlanPage, error) {
		if f := faultOf(err); f != nil && f.Kind == timeline.Invalid {
			out.Tried.Fault = f
			return out, nil
		}
		return out, err
	}
	if out.Plan == nil {
		out.Tried.Fault = out.PlanFault
		return out, nil
	}
	h, say, err := h.under(c)
	if err != nil {
		return told(err)
	}
	f := h.file(h.today, h.today+1)
	p, err := s.planOf(f, h.shortFirst(f))
	if err != nil {
		return told(err)
	}
	out.Tried.Say, out.Tried.Account = say, plan.Compare(*out.Plan, p)
	out.Plan, out.File, out.Shows, out.Targets = &p, f, h.shows, h.targets(h.today)
	out.Booked = f.Sessions.Dates
	return out, nil
}

// KeepWhatIf keeps a change; Rev is the dog's. What was before is kept beside it, for UndoKept.
func (s *Salon) KeepWhatIf(ctx context.Context, dog timeline.ID, rev timeline.Rev, c WhatIf) (timeline.Dog, error) {
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return d, err
	}
	if d.Rev != rev {
		return d, timeline.NewFault(timeline.Conflict, "fault.store.changed")
	}
	h, err := s.history(ctx, d)
	if err != nil {
		return d, err
	}
	after, _, err := h.under(c)
	if err != nil {
		return d, err
	}
	kept := &timeline.Kept{Rev: rev + 1, At: s.Now(), Kind: string(c.Kind), On: c.On, Days: c.Days, Figure: c.Minutes + c.EveryDays, Show: c.Show, Cadence: d.Cadence}
	switch c.Kind {
	case plan.HalfMinutes:
		kept.Figure = after.dog.Cadence.Minutes
	case plan.ShowMoved:
		for _, v := range after.shows {
			if v.ID != c.Show {
				continue
			}
			was, err := s.show(ctx, v.ID)
			if err != nil {
				return d, err
			}
			moved, err := s.UpdateShow(ctx, v)
			if err != nil {
				return d, err
			}
			kept.ShowOn, kept.ShowRev = was.On, moved.Rev
		}
	}
	d.Cadence, d.Kept = after.dog.Cadence, kept
	return s.UpdateDog(ctx, d)
}

// UndoKept puts back what the last kept change changed, unless the dog or the show was changed since.
func (s *Salon) UndoKept(ctx context.Context, dog timeline.ID, rev timeline.Rev) (timeline.Dog, error) {
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return d, err
	}
	if d.Kept == nil || d.Kept.Rev != d.Rev || d.Rev != rev {
		return d, timeline.NewFault(timeline.Conflict, "fault.whatif.nothing")
	}
	if k := d.Kept; k.Show != "" {
		v, err := s.show(ctx, k.Show)
		if err != nil {
			return d, err
		}
		if v.Rev != k.ShowRev {
			return d, timeline.NewFault(timeline.Conflict, "fault.whatif.nothing")
		}
		v.On = k.ShowOn
		if _, err := s.UpdateShow(ctx, v); err != nil {
			return d, err
		}
	}
	d.Cadence, d.Kept = d.Kept.Cadence, nil
	return s.UpdateDog(ctx, d)
}

// KeptSay is the change that can be undone now, in words; the zero Phrase: there is none.
func (s *Salon) KeptSay(ctx context.Context, d timeline.Dog) (timeline.Phrase, error) {
	k := d.Kept
	if k == nil || k.Rev != d.Rev {
		return timeline.Phrase{}, nil
	}
	switch plan.ChangeKind(k.Kind) {
	case plan.ShowMoved:
		v, err := s.show(ctx, k.Show)
		if isNotFound(err) || err == nil && v.Rev != k.ShowRev {
			return timeline.Phrase{}, nil
		}
		return timeline.Say("whatif.show_moved", "show", v.Name, "from", k.ShowOn, "to", v.On), err
	case plan.SessionSkipped:
		return timeline.Say("whatif.session_skipped", "on", k.On), nil
	case SessionMoved:
		return timeline.Say("whatif.session_moved", "from", k.On, "to", k.On+timeline.Day(k.Days)), nil
	case plan.EveryDays:
		return timeline.Say("whatif.every_days", "n", k.Figure), nil
	case plan.MinutesEach, plan.HalfMinutes:
		return timeline.Say("whatif.minutes", "n", k.Figure), nil
	case plan.ShortToday:
		on := k.On
		for _, b := range d.Cadence.Days {
			if on.IsZero() && b.Minutes == k.Figure {
				on = b.On
			}
		}
		if k.Figure == 0 {
			return timeline.Say("whatif.usual_time", "on", on), nil
		}
		return timeline.Say("whatif.short_today", "on", on, "n", k.Figure), nil
	}
	return timeline.Phrase{}, nil
}
