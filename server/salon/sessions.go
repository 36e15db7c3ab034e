package salon

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"thatch/timeline"
)

// OpenSession is the dog's session of the day, made where there is none; waiting photos of that local day are paired with
// it. A day in the future is refused: that is a booking, not a session.
func (s *Salon) OpenSession(ctx context.Context, dog timeline.ID, on timeline.Day) (timeline.Session, error) {
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return timeline.Session{}, err
	}
	today, err := s.Today(ctx)
	if err != nil {
		return timeline.Session{}, err
	}
	if on.IsZero() {
		return timeline.Session{}, invalid("on", "fault.session.no_day")
	}
	if on > today {
		return timeline.Session{}, invalid("on", "fault.session.future", "on", on, "today", today)
	}
	if on < today-maxVisitDaysAgo {
		return timeline.Session{}, invalid("on", "fault.session.long_ago", "on", on)
	}
	v, err := s.st.SessionOn(ctx, d.ID, on)
	if isNotFound(err) {
		v, err = s.st.CreateSession(ctx, timeline.Session{Dog: d.ID, On: on})
		if err != nil && timeline.KindOf(err) == timeline.Conflict { // opened by somebody else a moment ago
			v, err = s.st.SessionOn(ctx, d.ID, on)
		}
	}
	if err != nil {
		return timeline.Session{}, err
	}
	return v, s.pairDay(ctx, d.ID, v)
}

// Session is a session that is not in the trash.
func (s *Salon) Session(ctx context.Context, id timeline.ID) (timeline.Session, error) {
	v, err := s.st.Session(ctx, id)
	if err == nil && !v.Trashed.IsZero() {
		return timeline.Session{}, notFound("session " + string(id))
	}
	return v, err
}

// SaveSession replaces the session's log and books the next day if one is given; the answer carries the new Rev.
func (s *Salon) SaveSession(ctx context.Context, e SessionEdit) (timeline.Session, error) {
	v, err := s.Session(ctx, e.ID)
	if err != nil {
		return v, err
	}
	d, err := s.Dog(ctx, v.Dog)
	if err != nil {
		return v, err
	}
	today, err := s.Today(ctx)
	if err != nil {
		return v, err
	}
	if e.Minutes < 0 || e.Minutes > maxMinutes {
		return v, invalid("minutes", "fault.session.minutes", "max", maxMinutes)
	}
	if err := checkWordOrUnsaid("loft", e.Loft, timeline.Lofts()); err != nil {
		return v, err
	}
	note, err := cleanText("note", e.Note, maxNoteRunes)
	if err != nil {
		return v, err
	}
	work, err := s.checkWork(ctx, d, v, e.Work)
	if err != nil {
		return v, err
	}
	if err := assisted(v, work); err != nil {
		return v, err
	}
	if err := checkNextOf(d, v, e.Next, today); err != nil {
		return v, err
	}
	if e.Tolerance != nil {
		if err := checkWordOrUnsaid("tolerance", *e.Tolerance, timeline.Tolerances()); err != nil {
			return v, err
		}
	}
	if e.Breaks != nil && (*e.Breaks < 0 || *e.Breaks > maxBreaks) {
		return v, invalid("breaks", "fault.session.breaks", "max", maxBreaks)
	}
	v.Before = beforeOf(v, e.Rev, cmp.Or(e.Step, StepLog))
	if !slices.Equal(v.Work, work) {
		v.Sheet.Looked = noTime
	}
	if e.Tolerance != nil {
		v.Tolerance = *e.Tolerance
	}
	if e.Breaks != nil {
		v.Breaks = *e.Breaks
	}
	v.Rev, v.Minutes, v.Loft, v.Note, v.Work = e.Rev, e.Minutes, e.Loft, note, work
	if worked(v) {
		v.NotToday = ""
	}
	if e.done {
		v.Sheet.Done = s.Now()
	}
	saved, err := s.st.UpdateSession(ctx, v)
	if err != nil {
		return v, err
	}
	return saved, s.bookNext(ctx, d, e.Next)
}

// maxBreaks of a visit; more is a slip of the finger.
const maxBreaks = 99

// checkNextOf refuses a next visit that cannot be; the day that is booked already is never wrong.
func checkNextOf(d timeline.Dog, v timeline.Session, next, today timeline.Day) error {
	if next.IsZero() || next == d.Cadence.Next {
		return nil
	}
	if err := checkNext(next, today); err != nil {
		return err
	}
	if next <= v.On {
		return invalid("next", "fault.session.next_before", "on", next, "session", v.On)
	}
	return nil
}

// bookNext books the next visit; the zero Day leaves the booking as it is.
func (s *Salon) bookNext(ctx context.Context, d timeline.Dog, next timeline.Day) error {
	if next.IsZero() || next == d.Cadence.Next {
		return nil
	}
	d.Cadence.Next, d.Cadence.Days = next, comesOn(d.Cadence.Days, next)
	_, err := s.st.UpdateDog(ctx, d)
	return err
}

// assisted refuses a line of a zone that is not the assistant's, while an assistant works the sheet.
func assisted(v timeline.Session, work []timeline.ZoneWork) error {
	if len(v.Sheet.Assistant) == 0 {
		return nil
	}
	was := map[timeline.Zone]timeline.ZoneWork{}
	for _, w := range v.Work {
		was[w.Zone] = w
	}
	for _, w := range work {
		if old, ok := was[w.Zone]; (!ok || old != w) && !slices.Contains(v.Sheet.Assistant, w.Zone) {
			return invalid("zones", "fault.sheet.not_hers", "zone", w.Zone)
		}
		delete(was, w.Zone)
	}
	for _, z := range timeline.Zones() {
		if _, gone := was[z]; gone && !slices.Contains(v.Sheet.Assistant, z) {
			return invalid("zones", "fault.sheet.not_hers", "zone", z)
		}
	}
	return nil
}

// TrashSession puts a session aside; its photos wait for a session again until it is restored.
func (s *Salon) TrashSession(ctx context.Context, id timeline.ID) error {
	return s.st.TrashSession(ctx, id)
}

// RestoreSession brings it back, unless another session was opened on that day meanwhile.
func (s *Salon) RestoreSession(ctx context.Context, id timeline.ID) error {
	if err := s.st.RestoreSession(ctx, id); err != nil {
		return err
	}
	v, err := s.st.Session(ctx, id)
	if err != nil {
		return err
	}
	return s.pairDay(ctx, v.Dog, v)
}

// LogGroup logs the same line for every zone of a group, in place of what was there for these zones.
func LogGroup(work []timeline.ZoneWork, g timeline.Group, line timeline.ZoneWork) []timeline.ZoneWork {
	zones := g.Zones()
	out := []timeline.ZoneWork{}
	for _, w := range work {
		if !slices.Contains(zones, w.Zone) {
			out = append(out, w)
		}
	}
	for _, z := range zones {
		line.Zone = z
		out = append(out, line)
	}
	sortWork(out)
	return out
}

func sortWork(work []timeline.ZoneWork) {
	slices.SortStableFunc(work, func(a, b timeline.ZoneWork) int { return a.Zone.Order() - b.Zone.Order() })
}

// checkWork returns the lines in anatomical order with their shares filled in, or the first line's fault.
func (s *Salon) checkWork(ctx context.Context, d timeline.Dog, v timeline.Session, lines []timeline.ZoneWork) ([]timeline.ZoneWork, error) {
	out := make([]timeline.ZoneWork, 0, len(lines))
	seen := map[timeline.Zone]bool{}
	for i, w := range lines {
		at := func(field string) string { return fmt.Sprintf("work[%d].%s", i, field) }
		if err := checkZone(at("zone"), w.Zone); err != nil {
			return nil, err
		}
		if seen[w.Zone] {
			return nil, invalid(at("zone"), "fault.session.zone_twice", "zone", w.Zone)
		}
		seen[w.Zone] = true
		if err := checkWord(at("do"), w.Do, timeline.Works()); err != nil {
			return nil, err
		}
		switch w.Do {
		case timeline.Take:
			if w.TopLayer && w.Share == 0 {
				share, err := s.topLayer(ctx, d, w.Zone, v.On)
				if err != nil {
					return nil, err
				}
				w.Share = share
			}
			if math.IsNaN(w.Share) || w.Share <= 0 || w.Share > 1 {
				return nil, invalid(at("share"), "fault.session.share", "zone", w.Zone)
			}
		case timeline.Strip:
			w.Share, w.TopLayer = 1, false
		default:
			w.Share, w.TopLayer = 0, false
		}
		if err := checkWordOrUnsaid(at("tool"), w.Tool, timeline.Tools()); err != nil {
			return nil, err
		}
		if err := checkWordOrUnsaid(at("ripeness"), w.Ripeness, timeline.Ripenesses()); err != nil {
			return nil, err
		}
		if err := checkWordOrUnsaid(at("hair_check"), w.HairCheck, timeline.HairChecks()); err != nil {
			return nil, err
		}
		if err := checkWordOrUnsaid(at("skin"), w.Skin, timeline.Skins()); err != nil {
			return nil, err
		}
		if err := checkWordOrUnsaid(at("cover"), w.Cover, timeline.Covers()); err != nil {
			return nil, err
		}
		if err := checkWordOrUnsaid(at("new_hair"), w.NewHair, timeline.NewHairs()); err != nil {
			return nil, err
		}
		remark, err := cleanText(at("remark"), w.Remark, maxRemarkRunes)
		if err != nil {
			return nil, err
		}
		w.Remark = remark
		out = append(out, w)
	}
	sortWork(out)
	return out, nil
}

// Sessions of a dog, oldest first.
func (s *Salon) Sessions(ctx context.Context, dog timeline.ID) ([]timeline.Session, error) {
	return s.st.Sessions(ctx, dog)
}
