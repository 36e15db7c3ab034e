package salon

import (
	"context"
	"encoding/json"
	"math"
	"slices"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// history is all that is known of a dog's coat.
type history struct {
	dog      timeline.Dog
	today    timeline.Day
	profile  coat.Profile
	own      json.RawMessage    // its document, where it is one of the salon's own
	sessions []timeline.Session // oldest first
	readings []timeline.Reading // by day
	shows    []timeline.Show    // by day, those that have been too
	seen     *photoDepths       // what photos and combs say of depths; nil: nothing
}

// history is that of a dog as the caller has her, changed by him or not.
func (s *Salon) history(ctx context.Context, d timeline.Dog) (h history, err error) {
	k, err := s.recordOf(ctx, d.ID)
	if err != nil {
		return h, err
	}
	h = k.history
	if d.Profile != h.dog.Profile {
		if h.profile, h.own, err = s.profileOf(ctx, d.Profile); err != nil {
			return h, err
		}
	}
	if d.WithersMM != h.dog.WithersMM {
		if h.seen, err = s.depthsOf(ctx, d); err != nil {
			return h, err
		}
	}
	h.dog = d
	return h, nil
}

// CoatFile is what the model and the plan know of the dog today.
func (s *Salon) CoatFile(ctx context.Context, dog timeline.ID) (coat.File, error) {
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return coat.File{}, err
	}
	h, err := s.history(ctx, d)
	if err != nil {
		return coat.File{}, err
	}
	return h.file(h.today, h.today+1), nil
}

// known reports whether anything is known of the coat on a day: the answers of the first visit are the beginning.
func (h history) known(on timeline.Day) bool { return on >= h.dog.Answers.On }

// file is the coat file as of today with what happened on days before the given one. What was logged for days before the
// four answers is in these answers already and is left out.
func (h history) file(today, before timeline.Day) coat.File {
	d := h.dog
	f := coat.File{
		Dog: coat.Dog{
			Name: d.Name, WithersMM: d.WithersMM, Undercoat: d.Answers.Undercoat, Texture: d.Texture,
			EverClipped: d.History.EverClipped, Neutered: d.History.Neutered, CoatChange: d.History.CoatChange,
		},
		Profile: d.Profile, Today: today, Zones: coat.StartZones(d.Answers, h.profile),
	}
	if h.own != nil {
		f.Profile, f.OwnProfile = h.profile.Base, h.own
	}
	in := func(on timeline.Day) bool { return on >= d.Answers.On && on < before }
	for name, z := range f.Zones {
		z.Work = slices.Clone(z.Work)
		z.Sensitive = z.Sensitive || slices.Contains(d.Sensitive, name)
		var pulled timeline.Day
		for _, v := range h.sessions {
			if !in(v.On) {
				continue
			}
			// The undercoat is looked at once a session, for the whole dog, and a zone has one line: what was seen
			// counts as a carding of every zone.
			if v.Loft != "" {
				z.Work = append(z.Work, coat.WorkDone{On: v.On, Do: timeline.Card, Loft: v.Loft})
			}
			for _, w := range v.Work {
				if w.Zone != name {
					continue
				}
				if w.Ripeness != "" {
					z.Ripeness = &coat.Ripeness{On: v.On, Is: w.Ripeness}
					z.Pinched = append(z.Pinched, *z.Ripeness)
				}
				if w.NewHair != "" && !pulled.IsZero() && pulled < v.On {
					z.NewHair = newHairSeen(z.NewHair, pulled, v.On, w.NewHair)
				}
				if w.Cover != "" {
					z.Cover = append(z.Cover, coat.CoverSeen{On: v.On, Is: w.Cover})
				}
				if w.Do != timeline.Leave && (w.Do != timeline.Card || v.Loft == "") {
					z.Work = append(z.Work, coat.WorkDone{On: v.On, Do: w.Do, Share: w.Share})
				}
				if w.Do == timeline.Take || w.Do == timeline.Strip {
					pulled = v.On
				}
			}
		}
		if t := d.Pinched; t != nil && in(t.On) && h.profile.Zones[name].Stripped && t.Is[name.Group()] != "" {
			r := coat.Ripeness{On: t.On, Is: t.Is[name.Group()]}
			if z.Pinched = append(z.Pinched, r); z.Ripeness == nil || z.Ripeness.On < r.On {
				z.Ripeness = &r
			}
		}
		// A pinch test is of the longest hairs: once these are pulled it says nothing of what is left, unless it said that
		// nothing was ready.
		if r := z.Ripeness; r != nil && !pulled.IsZero() && (r.On < pulled || r.On == pulled && r.Is != timeline.NotReady) {
			z.Ripeness = nil
		}
		z.Measured = h.measured(name, z.Measured, in)
		if h.seen != nil {
			for _, seen := range h.seen.coat[name] {
				if in(seen.On) {
					seen.DepthMM = math.Max(0, seen.DepthMM)
					z.Depth = append(z.Depth, seen)
				}
			}
		}
		f.Zones[name] = z
	}
	for _, v := range h.shows {
		if v.On >= today {
			f.Shows = append(f.Shows, h.coatShow(v))
		}
	}
	if dates := h.sessionDates(today); len(dates) > 0 {
		f.Sessions = &coat.Sessions{Dates: dates, Minutes: float64(d.Cadence.Minutes)}
	}
	return f
}

// newHairSeen adds what was seen of the new hair of a pull: the last day without and the first day with tips count.
func newHairSeen(seen []coat.NewHair, pulled, on timeline.Day, is timeline.NewHair) []coat.NewHair {
	i := slices.IndexFunc(seen, func(h coat.NewHair) bool { return h.Pulled == pulled })
	if i < 0 {
		seen, i = append(seen, coat.NewHair{Pulled: pulled}), len(seen)
	}
	switch h := &seen[i]; {
	case is == timeline.NewHairOut && h.Out.IsZero():
		h.Out = on
	case is == timeline.NewHairNotOut && h.Out.IsZero():
		h.NotOut = on
	}
	return seen
}

// measured is the readings of the zone; a ruler's reading of the first day takes the place of the length that was told.
func (h history) measured(name timeline.Zone, told []coat.Measured, in func(timeline.Day) bool) []coat.Measured {
	var out []coat.Measured
	for _, r := range h.readings {
		if r.Zone == name && in(r.On) {
			// A strange one was asked about before it was kept.
			out = append(out, coat.Measured{On: r.On, LengthMM: r.LengthMM, SDMM: r.SDMM, Confirmed: true})
		}
	}
	for _, t := range told {
		if !slices.ContainsFunc(out, func(m coat.Measured) bool { return m.On == t.On }) {
			out = append([]coat.Measured{t}, out...)
		}
	}
	return out
}

func (h history) coatShow(v timeline.Show) coat.Show {
	out := coat.Show{Name: v.Name, On: v.On, Priority: v.Priority}
	for z := range v.Targets {
		if out.Targets == nil {
			out.Targets = map[timeline.Zone]coat.Target{}
		}
		out.Targets[z] = h.showTarget(v, z)
	}
	return out
}

// showTarget is a show's wanted lengths; that a flat zone be covered stays asked of it.
func (h history) showTarget(v timeline.Show, z timeline.Zone) coat.Target {
	t := coat.Target{MinMM: v.Targets[z].MinMM, MaxMM: v.Targets[z].MaxMM}
	if p := h.profile.Zones[z].Target; p != nil {
		t.InHair = p.InHair
	}
	return t
}

// target is what is asked of a zone on a day: by the first show on or after it that names the zone, else by the kind of
// coat; nil where no band is asked.
func (h history) target(z timeline.Zone, on timeline.Day) *TargetMM {
	t := coat.Target{}
	if p := h.profile.Zones[z].Target; p != nil {
		t = *p
	}
	for _, v := range h.shows {
		if v.On >= on {
			if _, named := v.Targets[z]; named {
				t = h.showTarget(v, z)
			}
			break
		}
	}
	if t.MinMM <= 0 && t.MaxMM <= 0 {
		return nil
	}
	out := &TargetMM{Min: t.MinMM, Covered: t.InHair > 0}
	if t.MaxMM > 0 {
		out.Max = &t.MaxMM
	}
	return out
}

func (h history) targets(on timeline.Day) map[timeline.Zone]*TargetMM {
	out := map[timeline.Zone]*TargetMM{}
	for _, z := range timeline.Zones() {
		if t := h.target(z, on); t != nil {
			out[z] = t
		}
	}
	return out
}

// sessionDates are the days on which the dog can be worked towards her shows: the booked day, then every so many days; if
// none is booked, so many days after the last session, but not before today. The day of the last show is none of them.
func (h history) sessionDates(today timeline.Day) []timeline.Day {
	var last timeline.Day
	for _, v := range h.shows {
		last = max(last, v.On)
	}
	every := timeline.Day(h.dog.Cadence.EveryDays)
	if last <= today || every <= 0 {
		return nil
	}
	// A session of today that has been worked, or that she was sent home from, is not there to be planned any more.
	earliest, worked := today, timeline.Day(0)
	for _, v := range h.sessions {
		if v.On <= today && (len(v.Work) > 0 || v.NotToday != "") {
			worked = max(worked, v.On)
		}
	}
	if worked == today {
		earliest = today + 1
	}
	skip := map[timeline.Day]bool{}
	for _, b := range h.dog.Cadence.Days {
		skip[b.On] = skip[b.On] || b.Skip
	}
	next := h.dog.Cadence.Next
	for next < earliest && skip[next] {
		next += every
	}
	if next < earliest {
		next = earliest
		if !worked.IsZero() {
			next = max(earliest, worked+every)
		}
	}
	var out []timeline.Day
	for d := next; d < last; d += every {
		if !skip[d] {
			out = append(out, d)
		}
	}
	for _, b := range h.dog.Cadence.Days {
		if b.Extra && b.On >= earliest && b.On < last {
			out = append(out, b.On)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// minutesOn is the table time said for one day; 0: as usual.
func (h history) minutesOn(on timeline.Day) int {
	for _, b := range h.dog.Cadence.Days {
		if b.On == on {
			return b.Minutes
		}
	}
	return 0
}

// shortFirst is the table time said for the first session of the file; 0: as usual.
func (h history) shortFirst(f coat.File) float64 {
	if f.Sessions == nil || len(f.Sessions.Dates) == 0 {
		return 0
	}
	return float64(h.minutesOn(f.Sessions.Dates[0]))
}

// morning is the coat file of today before anything was done, with today as the first day of work.
func (h history) morning() coat.File {
	h.sessions = slices.Clone(h.sessions)
	h.sessions = slices.DeleteFunc(h.sessions, func(v timeline.Session) bool { return v.On >= h.today })
	today := timeline.BookedDay{On: h.today, Extra: true, Minutes: h.minutesOn(h.today)}
	h.dog.Cadence.Days = append(slices.DeleteFunc(slices.Clone(h.dog.Cadence.Days), func(b timeline.BookedDay) bool { return b.On == h.today }), today)
	if h.dog.Cadence.Next < h.today {
		h.dog.Cadence.Next = h.today
	}
	return h.file(h.today, h.today+1) // readings of today are of the morning
}
