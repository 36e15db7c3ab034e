package salon

import (
	"context"

	"thatch/timeline"
)

// NotToday ends a visit without work: she was looked at and sent home. It stands in her history with its reason, the plan
// counts the visit as gone, and what it wanted of it goes to the next one. A visit that has begun in earnest is ended as
// stopped early instead.
func (s *Salon) NotToday(ctx context.Context, session timeline.ID, rev timeline.Rev, why timeline.NotToday, remark string, next timeline.Day) (timeline.Session, error) {
	if err := checkWord("not_today", why, timeline.NotTodays()); err != nil {
		return timeline.Session{}, err
	}
	remark, err := cleanText("add", remark, maxNoteRunes)
	if err != nil {
		return timeline.Session{}, err
	}
	today, err := s.Today(ctx)
	if err != nil {
		return timeline.Session{}, err
	}
	var dog timeline.Dog
	v, err := s.changeSession(ctx, session, rev, StepOff, func(sheet Sheet, v *timeline.Session) error {
		if worked(*v) {
			return invalid("not_today", "fault.session.worked")
		}
		dog = sheet.Dog
		if err := checkNextOf(dog, *v, next, today); err != nil {
			return err
		}
		note, err := cleanText("add", appended(v.Note, remark), maxNoteRunes)
		if err != nil {
			return err
		}
		v.Note, v.NotToday, v.Sheet.Done = note, why, s.Now()
		return nil
	})
	if err != nil {
		return v, err
	}
	return v, s.bookNext(ctx, dog, next)
}
