package salon

import (
	"context"
	"math"
	"slices"

	"thatch/timeline"
	"thatch/timeline/plan"
)

// Repeat is what the last visit's work would be if it were done again.
type Repeat struct {
	On    timeline.Day
	Lines []RepeatLine // never empty
}

// RepeatLine is one zone of it, without what was found there: that is of its day.
type RepeatLine struct {
	Line timeline.ZoneWork
	Keep timeline.Phrase // why it is not done again unless she says so; zero: it is
	Not  bool            // and not if she says so either
}

// Zones are those that are done again if nobody says otherwise.
func (r Repeat) Zones() []timeline.Zone {
	out := []timeline.Zone{}
	for _, l := range r.Lines {
		if l.Keep.IsZero() {
			out = append(out, l.Line.Zone)
		}
	}
	return out
}

// Repeat proposes the work of the visit before this one once more; nil where there is none. What is logged today stays as it
// is. A zone that was sore, or that was pulled bare so short a time ago that its hair cannot be gripped yet, is left out until
// she takes it in.
func (s *Salon) Repeat(ctx context.Context, session timeline.ID) (*Repeat, error) {
	v, err := s.Session(ctx, session)
	if err != nil {
		return nil, err
	}
	d, err := s.Dog(ctx, v.Dog)
	if err != nil {
		return nil, err
	}
	h, err := s.history(ctx, d)
	if err != nil {
		return nil, err
	}
	return s.repeatOf(h, v)
}

func (s *Salon) repeatOf(h history, v timeline.Session) (*Repeat, error) {
	var last *timeline.Session
	for i := range h.sessions {
		if q := &h.sessions[i]; q.On < v.On && worked(*q) {
			last = q
		}
	}
	if last == nil {
		return nil, nil
	}
	grip, err := s.gripDays(h, v.On)
	if err != nil {
		return nil, err
	}
	out := &Repeat{On: last.On}
	for _, w := range last.Work {
		if w.Do == timeline.Leave || len(v.Sheet.Assistant) > 0 && !slices.Contains(v.Sheet.Assistant, w.Zone) {
			continue
		}
		line := RepeatLine{Line: timeline.ZoneWork{Zone: w.Zone, Do: w.Do, Share: w.Share, TopLayer: w.TopLayer, Tool: w.Tool}}
		if w.TopLayer {
			line.Line.Share = 0 // of today's top layer
		}
		bare := w.Do == timeline.Strip || w.Do == timeline.Take && w.Share > 0.95
		switch {
		case hasLine(v, w.Zone):
			line.Keep, line.Not = timeline.Say("repeat.logged"), true
		case w.Skin != "" && w.Skin != timeline.SkinFine || w.HairCheck == timeline.HairSticky:
			line.Keep = timeline.Say("repeat.sore")
		case bare && int(v.On-last.On) < grip[w.Zone]:
			line.Keep = timeline.Say("repeat.bare", "n", int(v.On-last.On))
		}
		out.Lines = append(out.Lines, line)
	}
	if len(out.Lines) == 0 {
		return nil, nil
	}
	return out, nil
}

// gripDays are from a pull until the new hair can be gripped: this dog's lag, and as long as the plan waits after it.
// Nobody writes to them: they are shared by all who ask.
func (s *Salon) gripDays(h history, on timeline.Day) (map[timeline.Zone]int, error) {
	out := map[timeline.Zone]int{}
	if !h.known(on) {
		return out, nil
	}
	f := h.file(on, on)
	f.Shows, f.Sessions = nil, nil
	return s.grips.get(keyOf(f), func() (map[timeline.Zone]int, error) {
		m, err := s.modelOf(f, false)
		if err != nil {
			return nil, err
		}
		for _, z := range timeline.Zones() {
			if zone := m.Zone(z); zone != nil {
				out[z] = int(math.Ceil(zone.LagDays().Median)) + plan.GraspDays()
			}
		}
		return out, nil
	})
}

// RepeatLast logs the zones of the last visit's work once more, as many as are said; lines of today stay as they are.
func (s *Salon) RepeatLast(ctx context.Context, session timeline.ID, rev timeline.Rev, zones []timeline.Zone) (timeline.Session, error) {
	r, err := s.Repeat(ctx, session)
	if err != nil {
		return timeline.Session{}, err
	}
	if r == nil {
		return timeline.Session{}, timeline.NewFault(timeline.Conflict, "fault.session.no_last")
	}
	if len(zones) == 0 {
		return timeline.Session{}, invalid("zones", "fault.session.no_zone")
	}
	return s.changeSession(ctx, session, rev, StepRepeat, func(sheet Sheet, v *timeline.Session) error {
		s.begin(sheet, v)
		v.Sheet.Looked = noTime
		for _, l := range r.Lines {
			if slices.Contains(zones, l.Line.Zone) && !hasLine(*v, l.Line.Zone) {
				v.Work = append(v.Work, l.Line)
				v.Before.Count++
			}
		}
		return nil
	})
}
