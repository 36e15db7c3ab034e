package salon

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"thatch/timeline"
	"thatch/timeline/plan"
)

// eveningHour is when tomorrow's dogs come before what is left of today. Judgement, no source.
const eveningHour = 17

// TableCard is a dog that is on the table today or tomorrow, with what she needs.
type TableCard struct {
	DogCard
	On      timeline.Day
	Session *timeline.Session // of the day; nil: not opened yet
	Begun   bool
	Done    bool
	Lines   []plan.Line // planned for the day, without what is left alone; empty: nothing is planned
	Left    []plan.Line // left alone
	Minutes int         // planned, or her usual table time
	Longer  int         // minutes that she stood at most so far, where the plan asks much more of her; 0: it does not
	Before  []TableNote // pain or stop of her newest visit: read first
	Care    []CareLine  // to be done at this visit, or done today
}

// TableNote is a line of an earlier visit that is to be read before the zone is touched.
type TableNote struct {
	Zone timeline.Zone
	On   timeline.Day
	Line timeline.ZoneWork
}

// ShowAhead is a dog's next show with how she stands for it.
type ShowAhead struct {
	Card   DogCard
	Bag    int // lines of the bag that are ticked
	BagOf  int
	Packed bool // the bag is worth a word: the show is near, or packing has begun
}

// Risk orders shows: 0 too late, 1 tight, 2 no plan can be made, 3 being worked out, 4 on track.
func (a ShowAhead) Risk() int {
	switch c := a.Card; {
	case c.Worst != nil && c.Worst.Outlook.Verdict == plan.TooLate:
		return 0
	case c.Worst != nil && c.Worst.Outlook.Verdict == plan.Tight:
		return 1
	case c.PlanFault != nil:
		return 2
	case c.Worst == nil:
		return 3
	}
	return 4
}

// CareDog is a dog that is neither on the table today nor tomorrow, with care that falls due within a week.
type CareDog struct {
	Dog   timeline.Dog
	Lines []CareLine
	First timeline.Day // the earliest day on which something is due
}

// comes reports whether she is booked on a day.
func (h history) comes(on timeline.Day) bool {
	for _, b := range h.dog.Cadence.Days {
		if b.On == on && (b.Skip || b.Extra) {
			return b.Extra
		}
	}
	return h.dog.Cadence.Next == on
}

// sessionOn is her session of a day; nil: none.
func (h history) sessionOn(on timeline.Day) *timeline.Session {
	for i := len(h.sessions) - 1; i >= 0 && h.sessions[i].On >= on; i-- {
		if h.sessions[i].On == on {
			return &h.sessions[i]
		}
	}
	return nil
}

// sheetOn is what the plan wants on today or tomorrow; nil: nothing, or not worked out yet.
func (w whole) sheetOn(on timeline.Day) *plan.Session {
	switch {
	case w.outlook == nil:
		return nil
	case on == w.today && w.morning != nil:
		return w.morning
	case w.plan == nil:
		return nil
	}
	for i := range w.plan.Sessions {
		if w.plan.Sessions[i].On == on {
			return &w.plan.Sessions[i]
		}
	}
	return nil
}

func (w whole) tableCard(c DogCard, on timeline.Day) TableCard {
	out := TableCard{DogCard: c, On: on, Session: w.sessionOn(on), Lines: []plan.Line{}, Left: []plan.Line{}, Before: w.painBefore(on), Care: w.care().OnToday(), Minutes: w.plannedMinutes(on)}
	if v := out.Session; v != nil {
		out.Begun = begun(*v)
		out.Done = v.NotToday != "" || !v.Sheet.Done.IsZero() || v.Minutes > 0 && len(v.Work) > 0
	}
	if p := w.sheetOn(on); p != nil {
		if !out.Done {
			out.Longer = w.muchLonger(on, p.Minutes)
		}
		for _, l := range p.Zones {
			if l.Do == timeline.Leave {
				out.Left = append(out.Left, l)
			} else {
				out.Lines = append(out.Lines, l)
			}
		}
	}
	return out
}

// painBefore is what the newest visit before a day says of pain, or of hair at which a zone is left alone.
func (h history) painBefore(on timeline.Day) []TableNote {
	out := []TableNote{}
	for i := len(h.sessions) - 1; i >= 0; i-- {
		v := h.sessions[i]
		if v.On >= on || len(v.Work) == 0 {
			continue
		}
		for _, l := range v.Work {
			if hurt(l) {
				out = append(out, TableNote{l.Zone, v.On, l})
			}
		}
		break
	}
	return out
}

// HomePage is the first page: who is on the table and what each needs, which show is at risk, which care is due, which photos
// wait.
func (s *Salon) HomePage(ctx context.Context) (Home, error) {
	out := Home{OnToday: []DogCard{}, Tomorrow: []DogCard{}, Waiting: []WaitingPhoto{}, Table: []TableCard{}, Next: []TableCard{}, CareDue: []CareDog{}}
	all, err := s.wholes(ctx)
	if err != nil {
		return out, err
	}
	if out.Today, err = s.Today(ctx); err != nil {
		return out, err
	}
	out.Dogs = cardsOf(all)
	out.Shows = make([]ShowAhead, 0, len(all))
	of := make(map[timeline.ID]whole, len(all))
	for _, w := range all {
		of[w.dog.ID] = w
		for _, p := range w.unpaired {
			out.Waiting = append(out.Waiting, WaitingPhoto{Dog: w.dog, Photo: p, Dated: !p.Moment.Day().IsZero()})
		}
	}
	for _, c := range out.Dogs {
		w := of[c.Dog.ID]
		today := w.comes(out.Today) || c.LastSession == out.Today
		tomorrow := w.comes(out.Today + 1)
		if today {
			out.OnToday = append(out.OnToday, c)
			out.Table = append(out.Table, w.tableCard(c, out.Today))
		}
		if tomorrow {
			if !today {
				out.Tomorrow = append(out.Tomorrow, c)
			}
			out.Next = append(out.Next, w.tableCard(c, out.Today+1))
		}
		if c.NextShow != nil {
			a := ShowAhead{Card: c, Bag: len(w.noted.Bags[c.NextShow.ID]), BagOf: len(timeline.BagItems())}
			a.Packed = c.DaysToShow <= BagDays || a.Bag > 0
			out.Shows = append(out.Shows, a)
		}
		if due := w.care().Reminds(); len(due) > 0 && !today && !tomorrow {
			d := CareDog{Dog: c.Dog, Lines: due, First: due[0].Due}
			for _, l := range due {
				d.First = min(d.First, l.Due)
			}
			out.CareDue = append(out.CareDue, d)
		}
	}
	slices.SortStableFunc(out.Table, func(a, b TableCard) int { return cmp.Compare(a.turn(), b.turn()) })
	slices.SortStableFunc(out.Shows, func(a, b ShowAhead) int { return cmp.Compare(a.Risk(), b.Risk()) }) // those of one risk stay by day
	slices.SortStableFunc(out.CareDue, func(a, b CareDog) int {
		return cmp.Or(cmp.Compare(a.First, b.First), strings.Compare(strings.ToLower(a.Dog.Name), strings.ToLower(b.Dog.Name)))
	})
	slices.SortStableFunc(out.Waiting, func(a, b WaitingPhoto) int { return b.Photo.Added.Compare(a.Photo.Added) })
	if out.Hands, err = s.handsIn(ctx, all, out.Today); err != nil {
		return out, err
	}
	zone, err := s.Zone(ctx)
	if err != nil {
		return out, err
	}
	open := slices.ContainsFunc(out.Table, func(c TableCard) bool { return !c.Done })
	out.Evening = len(out.Next) > 0 && (s.now().In(zone).Hour() >= eveningHour || len(out.Table) > 0 && !open)
	if out.Jobs, err = s.st.PendingJobs(ctx); err != nil {
		return out, err
	}
	out.Heap, err = s.st.HeapSize(ctx)
	return out, err
}

// turn puts who is being worked on first and who is done last.
func (c TableCard) turn() int {
	switch {
	case c.Done:
		return 2
	case c.Begun:
		return 0
	}
	return 1
}

// CareIsDue are the dogs with care that falls due within a week.
func (s *Salon) CareIsDue(ctx context.Context) (map[timeline.ID]bool, error) {
	all, err := s.wholes(ctx)
	if err != nil {
		return nil, err
	}
	out := map[timeline.ID]bool{}
	for _, w := range all {
		if len(w.care().Reminds()) > 0 {
			out[w.dog.ID] = true
		}
	}
	return out, nil
}
