package salon

import (
	"slices"

	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/timeline/plan"
)

// changed is what the newest day with a log or a reading changed in the plan; nil where there is no plan or no such day.
func (s *Salon) changed(w whole) (*PlanChange, error) {
	var newest timeline.Day
	for _, v := range w.sessions {
		if (len(v.Work) > 0 || v.NotToday != "") && v.On <= w.today {
			newest = max(newest, v.On)
		}
	}
	for _, r := range w.readings {
		if r.On <= w.today {
			newest = max(newest, r.On)
		}
	}
	return s.changedBy(w, newest)
}

// changedBy compares the plan with the one that would have been made on the morning of the day, from what was known before
// it, for the same shows and the same visits after it: what differs came from that day's log and readings.
func (s *Salon) changedBy(w whole, on timeline.Day) (*PlanChange, error) {
	if w.plan == nil || on.IsZero() || !w.known(on) || w.file.Sessions == nil {
		return nil, nil
	}
	out := &PlanChange{Since: on, Why: []timeline.Phrase{}}
	f := w.history.file(on, on)
	dates := slices.Clone(w.file.Sessions.Dates)
	for _, v := range w.sessions {
		if v.On == on && (len(v.Work) > 0 || v.NotToday != "") {
			out.Lines, out.NotToday = len(v.Work), v.NotToday
			dates = append([]timeline.Day{on}, dates...)
		}
	}
	for _, r := range w.readings {
		if r.On == on {
			out.Readings++
		}
	}
	if out.Lines+out.Readings == 0 && out.NotToday == "" {
		return nil, nil
	}
	f.Shows = w.file.Shows
	f.Sessions = &coat.Sessions{Dates: slices.Compact(dates), Minutes: w.file.Sessions.Minutes}
	base, err := s.planWith(f, float64(w.minutesOn(dates[0])), false)
	if fault := faultOf(err); fault != nil && fault.Kind == timeline.Invalid {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	out.Account = plan.Compare(base, *w.plan)
	out.Why, err = s.whyChanged(w, on, base)
	return out, err
}

// whyChanged is what the day brought that was not expected: lengths outside their band, work other than planned.
func (s *Salon) whyChanged(w whole, on timeline.Day, base plan.Plan) ([]timeline.Phrase, error) {
	out := []timeline.Phrase{}
	for _, v := range w.sessions {
		if v.On == on && v.NotToday != "" {
			out = append(out, timeline.Say("change.why.not_today", "why", timeline.Say("not_today."+string(v.NotToday))))
		}
	}
	expected, ok, err := s.expected(w.history, on)
	if err != nil {
		return out, err
	}
	var longer, shorter []timeline.Zone
	for _, r := range w.readings {
		if r.On != on || !ok {
			continue
		}
		switch e := expected.Zones[r.Zone].LongestMM; {
		case r.LengthMM > e.P90:
			longer = append(longer, r.Zone)
		case r.LengthMM < e.P10:
			shorter = append(shorter, r.Zone)
		}
	}
	if len(longer) > 0 {
		out = append(out, timeline.Say("change.why.longer", "zones", inOrder(longer)))
	}
	if len(shorter) > 0 {
		out = append(out, timeline.Say("change.why.shorter", "zones", inOrder(shorter)))
	}
	var sheet []plan.Line
	if len(base.Sessions) > 0 && base.Sessions[0].On == on {
		sheet = base.Sessions[0].Zones
	}
	var unready, more, less, other []timeline.Zone
	for _, v := range w.sessions {
		if v.On != on || len(v.Work) == 0 || sheet == nil { // only opened so far: nothing is missing yet
			continue
		}
		for _, z := range timeline.Zones() {
			l := mainOf(sheet, z)
			i := slices.IndexFunc(v.Work, func(x timeline.ZoneWork) bool { return x.Zone == z })
			var did timeline.ZoneWork
			if i >= 0 {
				did = v.Work[i]
			}
			planned, done := pulledShare(l), pulledLine(did)
			switch {
			case did.Ripeness == timeline.NotReady && planned > 0 && done == 0:
				unready = append(unready, z)
			case done > planned+shareStep:
				more = append(more, z)
			case done < planned-shareStep && done > 0:
				less = append(less, z)
			case done == 0 && planned > 0:
				other = append(other, z)
			}
		}
	}
	for _, say := range []struct {
		key   string
		zones []timeline.Zone
	}{{"change.why.not_ready", unready}, {"change.why.more", more}, {"change.why.less", less}, {"change.why.not_done", other}} {
		if len(say.zones) > 0 {
			out = append(out, timeline.Say(say.key, "zones", say.zones))
		}
	}
	return out, nil
}

// shareStep: shares closer than this are the same in a groomer's words.
const shareStep = 0.06

func pulledShare(l *plan.Line) float64 {
	if l == nil || l.Do != timeline.Take && l.Do != timeline.Strip {
		return 0
	}
	return l.Share
}

func pulledLine(w timeline.ZoneWork) float64 {
	if w.Do != timeline.Take && w.Do != timeline.Strip {
		return 0
	}
	return w.Share
}
