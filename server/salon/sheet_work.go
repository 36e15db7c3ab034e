package salon

import (
	"context"
	"slices"

	"thatch/timeline"
)

// changeSession changes a session from the version that the caller saw, and keeps it with what it takes to undo that; step
// is what is done, in the words of Before.
func (s *Salon) changeSession(ctx context.Context, id timeline.ID, rev timeline.Rev, step string, change func(sheet Sheet, v *timeline.Session) error) (timeline.Session, error) {
	sheet, err := s.Sheet(ctx, id)
	if err != nil {
		return timeline.Session{}, err
	}
	v := *sheet.Session
	v.Rev = rev
	v.Work, v.Sheet.Ticked = slices.Clone(v.Work), slices.Clone(v.Sheet.Ticked)
	v.Before = beforeOf(*sheet.Session, rev, step)
	if err := change(sheet, &v); err != nil {
		return v, err
	}
	if worked(v) {
		v.NotToday = ""
	}
	if v.Work, err = s.checkWork(ctx, sheet.Dog, v, v.Work); err != nil {
		return v, err
	}
	if err := assisted(*sheet.Session, v.Work); err != nil {
		return v, err
	}
	if step == StepOff {
		return s.st.EndWithoutWork(ctx, v)
	}
	return s.st.UpdateSession(ctx, v)
}

// begin notes when the first step was done, so that the minutes need not be typed at the end. Only the session of today is
// on the table.
func (s *Salon) begin(sheet Sheet, v *timeline.Session) {
	if v.Sheet.Begun.IsZero() && v.On == sheet.Today {
		v.Sheet.Begun = s.Now()
	}
}

// SheetDone does a step of the sheet. A zone's line goes into the log exactly as it is planned, with the proposed tool,
// where the answer says nothing else; what was found there in this session before stays. The step that cards notes the
// undercoat and logs the zones that are carded only; the other steps are ticked. The answer says how to undo it.
func (s *Salon) SheetDone(ctx context.Context, session timeline.ID, rev timeline.Rev, code string, a SheetAnswer) (timeline.Session, Undo, error) {
	undo := Undo{Step: code, Was: []timeline.ZoneWork{}}
	v, err := s.changeSession(ctx, session, rev, code, func(sheet Sheet, v *timeline.Session) error {
		st := sheet.Step(code)
		if st == nil || st.Code != code || st.Kind == StepEnd {
			return timeline.NewFault(timeline.Conflict, "fault.sheet.no_step")
		}
		s.begin(sheet, v)
		v.Sheet.Looked = noTime // the teacher looked at what was there before
		undo.Loft = v.Loft
		switch st.Kind {
		case StepZone:
			was := takeOut(v, st.Line.Zone)
			undo.Was = append(undo.Was, was...)
			line := answered(*st.Line, a)
			if len(was) > 0 {
				keepFound(&line, was[0])
			}
			v.Work = append(v.Work, line)
			return nil
		case StepCard:
			if a.Loft != "" {
				v.Loft = a.Loft
			}
			if err := s.logCarded(ctx, sheet, v, st.Zones); err != nil {
				return err
			}
		case StepLook:
			found := Finding{Ripeness: a.Ripeness, HairCheck: a.HairCheck, HairAt: a.HairAt, Skin: a.Skin, SkinAt: a.SkinAt, Cover: a.Cover}
			if err := fill(v.Work, st.Group.Zones(), found); err != nil {
				return err
			}
		}
		tick(v, code)
		return nil
	})
	return v, undo, err
}

// logCarded logs the zones of the sheet that are carded only.
func (s *Salon) logCarded(ctx context.Context, sheet Sheet, v *timeline.Session, zones []timeline.Zone) error {
	planned, _, err := s.plannedFor(ctx, sheet)
	if err != nil {
		return err
	}
	for _, z := range zones {
		if l := mainOf(planned, z); l != nil && l.Do == timeline.Card && !hasLine(*v, z) {
			v.Work = append(v.Work, timeline.ZoneWork{Zone: z, Do: timeline.Card, Tool: "undercoat_rake"})
		}
	}
	return nil
}

// SheetNotReady logs that the pinch test found a zone not ready: it is left, and the plan proposes a day to test again.
func (s *Salon) SheetNotReady(ctx context.Context, session timeline.ID, rev timeline.Rev, zone timeline.Zone, remark string) (timeline.Session, Undo, error) {
	undo := Undo{Step: string(zone), Was: []timeline.ZoneWork{}}
	v, err := s.changeSession(ctx, session, rev, string(zone), func(sheet Sheet, v *timeline.Session) error {
		st := sheet.Step(string(zone))
		if st == nil || st.Kind != StepZone || st.Line.Zone != zone {
			return timeline.NewFault(timeline.Conflict, "fault.sheet.no_step")
		}
		s.begin(sheet, v)
		v.Sheet.Looked = noTime
		undo.Was = append(undo.Was, takeOut(v, zone)...)
		undo.Loft = v.Loft
		v.Work = append(v.Work, timeline.ZoneWork{Zone: zone, Do: timeline.Leave, Ripeness: timeline.NotReady, Remark: remark})
		return nil
	})
	return v, undo, err
}

// SheetRest logs every line that is still open as planned, and ticks the steps.
func (s *Salon) SheetRest(ctx context.Context, session timeline.ID, rev timeline.Rev) (timeline.Session, error) {
	return s.sheetRest(ctx, session, rev, "")
}

// SheetGroup is SheetRest of one group's lines; its look is left open, for it is to be looked at.
func (s *Salon) SheetGroup(ctx context.Context, session timeline.ID, rev timeline.Rev, g timeline.Group) (timeline.Session, error) {
	if !slices.Contains(timeline.Groups(), g) {
		return timeline.Session{}, timeline.NewFault(timeline.Conflict, "fault.sheet.no_step")
	}
	return s.sheetRest(ctx, session, rev, g)
}

func (s *Salon) sheetRest(ctx context.Context, session timeline.ID, rev timeline.Rev, g timeline.Group) (timeline.Session, error) {
	step := StepRest
	if g != "" {
		step = StepGroup + string(g)
	}
	return s.changeSession(ctx, session, rev, step, func(sheet Sheet, v *timeline.Session) error {
		if len(sheet.Steps) == 0 {
			return timeline.NewFault(timeline.Conflict, "fault.session.no_sheet")
		}
		s.begin(sheet, v)
		v.Sheet.Looked = noTime
		for _, l := range sheet.Waiting() {
			if g == "" || l.Zone.Group() == g {
				v.Work = append(v.Work, answered(l, SheetAnswer{}))
				v.Before.Count++
			}
		}
		if g != "" {
			return nil
		}
		for _, st := range sheet.Steps {
			switch st.Kind {
			case StepZone, StepEnd:
				continue
			case StepCard:
				if err := s.logCarded(ctx, sheet, v, st.Zones); err != nil {
					return err
				}
			}
			tick(v, st.Code)
		}
		return nil
	})
}

// SheetUndo puts a step back to what it was.
func (s *Salon) SheetUndo(ctx context.Context, session timeline.ID, rev timeline.Rev, u Undo) (timeline.Session, error) {
	return s.changeSession(ctx, session, rev, StepUndone, func(sheet Sheet, v *timeline.Session) error {
		if sheet.at(u.Step) < 0 && !timeline.Zone(u.Step).Known() {
			return timeline.NewFault(timeline.Conflict, "fault.sheet.no_step")
		}
		v.Sheet.Looked, v.Sheet.Done = noTime, noTime
		if st := sheet.Step(u.Step); st != nil && st.Code == u.Step && st.Kind == StepCard {
			v.Loft = u.Loft
			for _, z := range st.Zones {
				if i := slices.IndexFunc(v.Work, func(w timeline.ZoneWork) bool { return w.Zone == z && w.Do == timeline.Card }); i >= 0 {
					v.Work = slices.Delete(v.Work, i, i+1)
				}
			}
		}
		v.Sheet.Ticked = slices.DeleteFunc(v.Sheet.Ticked, func(c string) bool { return c == u.Step })
		if z := timeline.Zone(u.Step); z.Known() {
			takeOut(v, z)
		}
		for _, w := range u.Was {
			takeOut(v, w.Zone)
			v.Work = append(v.Work, w)
		}
		return nil
	})
}

// ArrangeSheet keeps the groomer's own order of a session's lines, and of the sessions after it until she changes it; none:
// the usual order again.
func (s *Salon) ArrangeSheet(ctx context.Context, session timeline.ID, rev timeline.Rev, zones []timeline.Zone) (timeline.Session, error) {
	return s.changeSession(ctx, session, rev, StepOrder, func(sheet Sheet, v *timeline.Session) error {
		seen := map[timeline.Zone]bool{}
		for _, z := range zones {
			if err := checkZone("order", z); err != nil {
				return err
			}
			if seen[z] {
				return invalid("order", "fault.session.zone_twice", "zone", z)
			}
			seen[z] = true
		}
		v.Sheet.Order = slices.Clone(zones)
		if len(zones) == 0 && sheet.Own {
			// An empty order would let an earlier session's own order come back: the usual one is written out.
			v.Sheet.Order = usualOrder(sheet)
		}
		return nil
	})
}

// MoveInSheet moves one line up (by < 0) or down among the lines of the sheet.
func (s *Salon) MoveInSheet(ctx context.Context, session timeline.ID, rev timeline.Rev, zone timeline.Zone, by int) (timeline.Session, error) {
	return s.changeSession(ctx, session, rev, StepOrder, func(sheet Sheet, v *timeline.Session) error {
		var order []timeline.Zone
		for _, l := range sheet.Lines() {
			order = append(order, l.Zone)
		}
		i := slices.Index(order, zone)
		if i < 0 {
			return timeline.NewFault(timeline.Conflict, "fault.sheet.no_step")
		}
		to := min(max(i+by, 0), len(order)-1)
		order = slices.Insert(slices.Delete(order, i, i+1), to, zone)
		v.Sheet.Order = order
		return nil
	})
}

// Assist hands the sheet to an assistant who may work these zones; none: the groomer works it again.
func (s *Salon) Assist(ctx context.Context, session timeline.ID, rev timeline.Rev, zones []timeline.Zone) (timeline.Session, error) {
	return s.changeSession(ctx, session, rev, StepAssist, func(_ Sheet, v *timeline.Session) error {
		for _, z := range zones {
			if err := checkZone("assistant", z); err != nil {
				return err
			}
		}
		v.Sheet.Assistant, v.Sheet.Looked = inOrder(zones), noTime
		return nil
	})
}

// TeacherLooked notes that a teacher looked at the assistant's work as it stands; any line logged after it asks for another
// look.
func (s *Salon) TeacherLooked(ctx context.Context, session timeline.ID, rev timeline.Rev) (timeline.Session, error) {
	return s.changeSession(ctx, session, rev, StepLooked, func(_ Sheet, v *timeline.Session) error {
		v.Sheet.Looked = s.Now()
		return nil
	})
}

// AllDone ends the visit. An assistant waits for a teacher's look. Minutes that are not said are taken from the clock, where
// it saw the visit begin; the next visit is booked if one is said.
func (s *Salon) AllDone(ctx context.Context, session timeline.ID, rev timeline.Rev, f Finish) (timeline.Session, error) {
	v, err := s.Session(ctx, session)
	if err != nil {
		return v, err
	}
	if len(v.Sheet.Assistant) > 0 && v.Sheet.Looked.IsZero() {
		return v, timeline.NewFault(timeline.Invalid, "fault.sheet.teacher").In("looked")
	}
	e := SessionEdit{ID: v.ID, Rev: rev, Minutes: f.Minutes, Loft: v.Loft, Note: v.Note, Work: slices.Clone(v.Work), Next: f.Next, Step: StepEnded, done: true}
	if f.Loft != "" {
		e.Loft = f.Loft
	}
	if f.Tolerance != "" {
		e.Tolerance = &f.Tolerance
	}
	e.Breaks = f.Breaks
	if err := fill(e.Work, timeline.Zones(), f.Found); err != nil {
		return v, err
	}
	if e.Minutes == 0 {
		e.Minutes = v.Minutes
	}
	if e.Minutes == 0 {
		e.Minutes = clockOr(v.Sheet.Begun, s.Now())
	}
	if f.Note != nil {
		e.Note = *f.Note
	}
	e.Note = appended(e.Note, f.Add)
	return s.SaveSession(ctx, e)
}

// ReopenSheet takes "all done" or "not today" back.
func (s *Salon) ReopenSheet(ctx context.Context, session timeline.ID, rev timeline.Rev) (timeline.Session, error) {
	return s.changeSession(ctx, session, rev, StepReopen, func(_ Sheet, v *timeline.Session) error {
		v.Sheet.Done, v.Sheet.Looked, v.NotToday = noTime, noTime, ""
		return nil
	})
}
