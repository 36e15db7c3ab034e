package salon

import (
	"context"
	"slices"
	"strings"

	"thatch/timeline"
)

// What a change of a session is called in Before, where it is not the code of a step of its sheet.
const (
	StepRest   = "rest"   // all that was open, as planned
	StepGroup  = "group-" // the same of a group, which follows
	StepRepeat = "repeat" // as last time
	StepLog    = "log"
	StepFacts  = "facts"
	StepNote   = "note"
	StepBreak  = "break"
	StepEnded  = "ended"
	StepOff    = "not_today"
	StepReopen = "reopen"
	StepOrder  = "order"
	StepAssist = "assist"
	StepLooked = "looked"
	StepUndone = "undone"
)

// Finding is what was found of several zones at once. Only what is well is true of all: hair that is not whole and skin that
// is not fine were found somewhere.
type Finding struct {
	Ripeness  timeline.Ripeness
	HairCheck timeline.HairCheck
	HairAt    []timeline.Zone // where, of a hair check that is not whole
	Skin      timeline.Skin
	SkinAt    []timeline.Zone // where, of skin that is not fine
	Cover     timeline.Cover
}

// fill says of every line of the zones what was found there, where nothing was said yet: a zone's own word stands, unless it
// is named now. Of hair that was not pulled neither ripeness nor a hair check is told, of a zone that was left nothing at all.
// Trouble without a place is refused: it would stop zones that are well, or none.
func fill(work []timeline.ZoneWork, zones []timeline.Zone, f Finding) error {
	hair, skin := f.HairCheck != "" && f.HairCheck != timeline.HairWhole, f.Skin != "" && f.Skin != timeline.SkinFine
	told := map[string]int{}
	for i := range work {
		w := &work[i]
		if w.Do == timeline.Leave || !slices.Contains(zones, w.Zone) {
			continue
		}
		if Pulled(*w) {
			w.Ripeness = either(w.Ripeness, f.Ripeness)
			switch {
			case !hair:
				w.HairCheck = either(w.HairCheck, f.HairCheck)
			case slices.Contains(f.HairAt, w.Zone):
				w.HairCheck = f.HairCheck
				told["hair_at"]++
			}
		}
		switch {
		case !skin:
			w.Skin = either(w.Skin, f.Skin)
		case slices.Contains(f.SkinAt, w.Zone):
			w.Skin = f.Skin
			told["skin_at"]++
		}
		w.Cover = either(w.Cover, f.Cover)
	}
	if skin && (told["skin_at"] == 0 || told["skin_at"] < len(f.SkinAt)) {
		return invalid("skin_at", "fault.sheet.where_skin")
	}
	if hair && (told["hair_at"] == 0 || told["hair_at"] < len(f.HairAt)) {
		return invalid("hair_at", "fault.sheet.where_hair")
	}
	return nil
}

// Pulled reports whether hair was pulled: only then there is hair to look at.
func Pulled(w timeline.ZoneWork) bool {
	return w.Do == timeline.Take || w.Do == timeline.Strip || w.Do == timeline.Tidy
}

func either[T ~string](was, is T) T {
	if was != "" {
		return was
	}
	return is
}

// worked reports whether anything was done to the coat.
func worked(v timeline.Session) bool {
	return slices.ContainsFunc(v.Work, func(w timeline.ZoneWork) bool { return w.Do != timeline.Leave })
}

// appended is a note with more at its end; nothing that stood there is lost.
func appended(note, more string) string {
	note, more = strings.TrimSpace(note), strings.TrimSpace(more)
	if note == "" || more == "" {
		return note + more
	}
	return note + "\n" + more
}

// beforeOf is what it takes to undo a change that is made from rev.
func beforeOf(v timeline.Session, rev timeline.Rev, step string) *timeline.Before {
	return &timeline.Before{
		Rev: rev + 1, Step: step, Minutes: v.Minutes, Loft: v.Loft, Note: v.Note, Work: slices.Clone(v.Work),
		Tolerance: v.Tolerance, Breaks: v.Breaks, NotToday: v.NotToday, Sheet: v.Sheet,
	}
}

// UndoLast puts a session back to what it was before its last change, whoever made that. There is nothing to undo after
// another change, nor twice.
func (s *Salon) UndoLast(ctx context.Context, session timeline.ID, rev timeline.Rev) (timeline.Session, timeline.Before, error) {
	var was timeline.Before
	v, err := s.changeSession(ctx, session, rev, StepUndone, func(sheet Sheet, v *timeline.Session) error {
		b := sheet.Session.Before
		if b == nil || b.Rev != sheet.Session.Rev || b.Step == StepUndone {
			return timeline.NewFault(timeline.Conflict, "fault.session.no_undo")
		}
		was = *b
		begun := v.Sheet.Begun
		v.Minutes, v.Loft, v.Note, v.Work = b.Minutes, b.Loft, b.Note, slices.Clone(b.Work)
		v.Tolerance, v.Breaks, v.NotToday, v.Sheet = b.Tolerance, b.Breaks, b.NotToday, b.Sheet
		if v.Sheet.Begun.IsZero() {
			v.Sheet.Begun = begun // the clock on the table does not go back
		}
		v.Before = nil
		return nil
	})
	return v, was, err
}

// AddNote writes at the end of the session's note. Nothing of it can be in anybody's way, so it asks for no version.
func (s *Salon) AddNote(ctx context.Context, session timeline.ID, text string) (timeline.Session, error) {
	text, err := cleanText("add", text, maxNoteRunes)
	if err != nil {
		return timeline.Session{}, err
	}
	if text == "" {
		return timeline.Session{}, invalid("add", "fault.session.no_note")
	}
	return s.changeNewest(ctx, session, StepNote, func(v *timeline.Session) error {
		v.Note, err = cleanText("add", appended(v.Note, text), maxNoteRunes)
		return err
	})
}

// BreakTaken counts a break of this visit, taken for the dog.
func (s *Salon) BreakTaken(ctx context.Context, session timeline.ID) (timeline.Session, error) {
	return s.changeNewest(ctx, session, StepBreak, func(v *timeline.Session) error {
		if v.Breaks >= maxBreaks {
			return invalid("breaks", "fault.session.breaks", "max", maxBreaks)
		}
		v.Breaks++
		v.Before.Count = v.Breaks
		return nil
	})
}

// changeNewest changes a session as it stands, for what cannot contradict what another phone wrote a moment ago.
func (s *Salon) changeNewest(ctx context.Context, session timeline.ID, step string, change func(v *timeline.Session) error) (timeline.Session, error) {
	for tries := 0; ; tries++ {
		v, err := s.Session(ctx, session)
		if err != nil {
			return v, err
		}
		v, err = s.changeSession(ctx, session, v.Rev, step, func(sheet Sheet, v *timeline.Session) error {
			s.begin(sheet, v)
			return change(v)
		})
		if timeline.KindOf(err) != timeline.Conflict || tries == 3 {
			return v, err
		}
	}
}

// SessionPhotos are the photos of a session, as the clock has them.
func (s *Salon) SessionPhotos(ctx context.Context, session timeline.ID) ([]timeline.Photo, error) {
	v, err := s.Session(ctx, session)
	if err != nil {
		return nil, err
	}
	a, err := s.albumOf(ctx, v.Dog)
	if err != nil {
		return nil, err
	}
	out := []timeline.Photo{}
	for _, p := range a.photos {
		if p.Session == v.ID {
			out = append(out, p)
		}
	}
	return out, nil
}
