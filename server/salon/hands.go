package salon

import (
	"context"
	"math"
	"time"

	"thatch/timeline"
)

// HandsSay is how a day's work with the hands stands against the limit that its groomer set.
type HandsSay string

const (
	HandsUnset HandsSay = ""      // no limit is set
	HandsWell  HandsSay = "well"  // the day's work fits
	HandsNear  HandsSay = "near"  // with what is planned it will not fit
	HandsOver  HandsSay = "over"  // the limit is reached
	handsMost           = 16 * 60 // minutes; more is a slip of the finger
)

// Hands is how long somebody works with her hands: all minutes of her visits count, those with rake and scissors too.
type Hands struct {
	LimitMin    int // 0: none set
	DoneMin     int // logged today, and the visits that are on the table by the clock
	PlannedMin  int // of today's dogs that nobody has begun
	TomorrowMin int
	Say         HandsSay // of today
	SayTomorrow HandsSay
	Mine        bool // counted by who wrote the logs; else all of the salon's
}

// Left is what the limit leaves of today.
func (h Hands) Left() int { return max(0, h.LimitMin-h.DoneMin) }

func handsSay(limit, done, planned int) HandsSay {
	switch {
	case limit == 0:
		return HandsUnset
	case done >= limit:
		return HandsOver
	case done+planned > limit:
		return HandsNear
	}
	return HandsWell
}

// handsOf adds up what was logged and what is planned. mine says whether a visit counts as the asker's; now ends the visits that
// are on the table.
func handsOf(all []whole, today timeline.Day, now time.Time, limit int, mine func(timeline.Session) bool) Hands {
	out := Hands{LimitMin: limit}
	for _, w := range all {
		v := w.sessionOn(today)
		switch {
		case v != nil && v.NotToday != "":
		case v != nil && begun(*v):
			if mine(*v) {
				out.DoneMin += minutesOf(*v, now)
			}
		case v != nil || w.comes(today):
			out.PlannedMin += w.plannedMinutes(today)
		}
		if w.comes(today + 1) {
			out.TomorrowMin += w.plannedMinutes(today + 1)
		}
	}
	out.Say = handsSay(limit, out.DoneMin, out.PlannedMin)
	out.SayTomorrow = handsSay(limit, 0, out.TomorrowMin)
	return out
}

// begun: somebody worked on it, by the sheet's clock or by what is logged.
func begun(v timeline.Session) bool {
	return !v.Sheet.Begun.IsZero() || v.Minutes > 0 || len(v.Work) > 0
}

// minutesOf are those that were logged; of a visit on the table, those since its first step.
func minutesOf(v timeline.Session, now time.Time) int {
	if v.Minutes > 0 || v.Sheet.Begun.IsZero() || !v.Sheet.Done.IsZero() {
		return v.Minutes
	}
	return max(0, min(int(now.Sub(v.Sheet.Begun).Minutes()), maxMinutes))
}

// WholeMinutes are written everywhere: one that is begun counts.
func WholeMinutes(v float64) int { return int(math.Ceil(v - 1e-9)) }

// plannedMinutes of a day: as the sheet has them, else her usual table time.
func (w whole) plannedMinutes(on timeline.Day) int {
	if p := w.sheetOn(on); p != nil && p.Minutes > 0 {
		return WholeMinutes(p.Minutes)
	}
	if m := w.minutesOn(on); m > 0 {
		return m
	}
	return w.dog.Cadence.Minutes
}

// HandsOf counts for whoever asks.
func (s *Salon) HandsOf(ctx context.Context) (Hands, error) {
	all, err := s.wholes(ctx)
	if err != nil {
		return Hands{}, err
	}
	today, err := s.Today(ctx)
	if err != nil {
		return Hands{}, err
	}
	return s.handsIn(ctx, all, today)
}

func (s *Salon) handsIn(ctx context.Context, all []whole, today timeline.Day) (Hands, error) {
	who, _ := timeline.VisitorOf(ctx)
	limit, err := s.st.HandsLimit(ctx, who.Person)
	if err != nil {
		return Hands{}, err
	}
	mine := func(timeline.Session) bool { return true }
	if who.Person != "" {
		// A day of the salon's zone begins up to half a day before that of UTC.
		wrote, err := s.st.SessionsWrittenBy(ctx, who.Person, today-1)
		if err != nil {
			return Hands{}, err
		}
		mine = func(v timeline.Session) bool { return wrote[v.ID] }
	}
	out := handsOf(all, today, s.Now(), limit, mine)
	out.Mine = who.Person != ""
	return out, nil
}

// SetHandsLimit keeps how many minutes a day whoever asks wants to work with her hands at most; 0: no limit.
func (s *Salon) SetHandsLimit(ctx context.Context, minutes int) error {
	if minutes < 0 || minutes > handsMost {
		return invalid("hours", "fault.hands.limit", "max", handsMost/60)
	}
	who, _ := timeline.VisitorOf(ctx)
	return s.st.SetHandsLimit(ctx, who.Person, minutes)
}
