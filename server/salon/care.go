package salon

import (
	"context"
	"slices"

	"thatch/timeline"
)

// CareState is how one kind of care stands.
type CareState string

const (
	CareOff     CareState = ""        // not counted for this dog
	CareDone    CareState = "done"    // today
	CareFine    CareState = "fine"    // not for a week
	CareSoon    CareState = "soon"    // within a week
	CareDue     CareState = "due"     // today or before
	CareUnnoted CareState = "unnoted" // nobody noted it yet: looked at when she comes
)

// careSoonDays are the days in which a reminder is already worth a word.
const careSoonDays = 7

// CareLine is one kind of care of one dog.
type CareLine struct {
	What  timeline.Care
	Every int          // days; 0: not counted
	Own   bool         // the interval is her own, not the usual one
	Last  timeline.Day // zero: never noted
	Due   timeline.Day // zero: not counted, or never noted
	State CareState
	Over  int // days since it fell due
}

// Open reports whether it is to be done at the next visit.
func (l CareLine) Open() bool {
	return l.State == CareDue || l.State == CareSoon || l.State == CareUnnoted
}

// LessonLine is one of a puppy's first lessons.
type LessonLine struct {
	Lesson timeline.Lesson
	On     timeline.Day // she could do it; zero: not yet
}

// SignLine is something that was seen and is for a veterinarian.
type SignLine struct {
	Sign timeline.Sign
	On   timeline.Day // the newest day on which it was noted; zero: not seen
}

// CareLook is what is to be looked after besides the coat.
type CareLook struct {
	Dog     timeline.ID
	Today   timeline.Day
	Lines   []CareLine
	NoBath  timeline.Day // the next visit, where it is within a week: no bath before it; zero: none
	Signs   []SignLine
	Growing bool         // she is not a year old
	Months  int          // since she was born
	Height  bool         // her height was read so long ago that she has grown since
	Lessons []LessonLine // of a dog that grows, or that has begun them; otherwise empty
	Ahead   timeline.Lesson
}

// Open are the lines that are to be done at the next visit.
func (l CareLook) Open() []CareLine {
	out := []CareLine{}
	for _, c := range l.Lines {
		if c.Open() {
			out = append(out, c)
		}
	}
	return out
}

// AtVisit are the lines of a visit: what is to be done, and what was done today, so that a tap can be taken back.
func (l CareLook) AtVisit() []CareLine {
	out := []CareLine{}
	for _, c := range l.Lines {
		if c.Open() || c.State == CareDone {
			out = append(out, c)
		}
	}
	return out
}

// OnToday are the lines that the first page shows: AtVisit without what nobody ever noted, or a salon that does not use care
// would have four taps a dog in its way.
func (l CareLook) OnToday() []CareLine {
	return slices.DeleteFunc(l.AtVisit(), func(c CareLine) bool { return c.State == CareUnnoted })
}

// Reminds is whether something falls due within a week, of what was noted before.
func (l CareLook) Reminds() []CareLine {
	out := []CareLine{}
	for _, c := range l.Lines {
		if c.State == CareDue || c.State == CareSoon {
			out = append(out, c)
		}
	}
	return out
}

// careOf is the care of a dog as it stands on a day.
func careOf(d timeline.Dog, n timeline.Noted, today timeline.Day) CareLook {
	out := CareLook{Dog: d.ID, Today: today, Lines: []CareLine{}, Signs: []SignLine{}, Lessons: []LessonLine{}}
	for _, c := range timeline.Cares() {
		out.Lines = append(out.Lines, careLine(c, n, today))
	}
	for _, s := range timeline.Signs() {
		if on := n.Last[s.What()]; !on.IsZero() {
			out.Signs = append(out.Signs, SignLine{s, on})
		}
	}
	if next := d.Cadence.Next; next > today && next <= today+careSoonDays {
		out.NoBath = next
	}
	out.Growing = timeline.Growing(d.Born, today)
	if !d.Born.IsZero() {
		out.Months = monthsBetween(d.Born, today)
		out.Height = d.WithersMM > 0 && timeline.Outgrown(d.Born, heightOn(d), today)
	}
	begun := false
	for _, l := range timeline.Lessons() {
		on := n.Last[l.What()]
		begun = begun || !on.IsZero()
		if on.IsZero() && out.Ahead == "" {
			out.Ahead = l
		}
		out.Lessons = append(out.Lessons, LessonLine{l, on})
	}
	// Once she is grown and knows them all, they are no news.
	if !out.Growing && (!begun || out.Ahead == "") {
		out.Lessons, out.Ahead = []LessonLine{}, ""
	}
	return out
}

// heightOn is the day that her height is of: where nobody noted it, the day of her first answers.
func heightOn(d timeline.Dog) timeline.Day {
	if !d.WithersOn.IsZero() {
		return d.WithersOn
	}
	return d.Answers.On
}

func careLine(c timeline.Care, n timeline.Noted, today timeline.Day) CareLine {
	out := CareLine{What: c, Every: c.EveryDays(), Last: n.Last[c.What()]}
	if days, own := n.Every[c]; own {
		out.Every, out.Own = days, true
	}
	switch {
	case out.Every == 0:
		return out
	case out.Last.IsZero():
		out.State = CareUnnoted
		return out
	}
	out.Due = out.Last + timeline.Day(out.Every)
	switch {
	case out.Last == today:
		out.State = CareDone
	case out.Due <= today:
		out.State, out.Over = CareDue, int(today-out.Due)
	case out.Due < today+careSoonDays:
		out.State = CareSoon
	default:
		out.State = CareFine
	}
	return out
}

// monthsBetween are the whole months of the calendar between two days.
func monthsBetween(from, to timeline.Day) int {
	a, b := from.Time(), to.Time()
	n := 12*(b.Year()-a.Year()) + int(b.Month()) - int(a.Month())
	if b.Day() < a.Day() {
		n--
	}
	return max(0, n)
}

// Care is what is to be looked after of a dog.
func (s *Salon) Care(ctx context.Context, dog timeline.ID) (CareLook, error) {
	k, err := s.recordOf(ctx, dog)
	if err != nil {
		return CareLook{}, err
	}
	return k.care(), nil
}

func (k *record) care() CareLook {
	if l := k.cared.Load(); l != nil {
		return *l
	}
	l := careOf(k.dog, k.noted, k.today)
	k.cared.Store(&l)
	return l
}

// NoteCare notes today what was done or seen: what is the word of a kind of care, of a lesson or of a sign. taken back is the
// undo of the same tap: of care and lessons today's, of a sign whatever day it was noted.
func (s *Salon) NoteCare(ctx context.Context, dog timeline.ID, what string, takenBack bool) error {
	k, err := s.recordOf(ctx, dog)
	if err != nil {
		return err
	}
	if !takenBack {
		return s.NoteCareOn(ctx, dog, what, k.today)
	}
	if !slices.Contains(careWords(), what) {
		return invalid("what", "fault.word", "text", clip(what, 40), "answers", careWords())
	}
	on := k.today
	if last := k.noted.Last[what]; !last.IsZero() && !slices.Contains(timeline.Cares(), timeline.Care(what)) {
		on = last // a lesson that did not last, a sign that is over
	}
	return s.st.TakeBackCare(ctx, dog, what, on)
}

// NoteCareOn notes what was done on a day that has been.
func (s *Salon) NoteCareOn(ctx context.Context, dog timeline.ID, what string, on timeline.Day) error {
	k, err := s.recordOf(ctx, dog)
	if err != nil {
		return err
	}
	if !slices.Contains(careWords(), what) {
		return invalid("what", "fault.word", "text", clip(what, 40), "answers", careWords())
	}
	if on.IsZero() || on > k.today {
		return invalid("on", "fault.day.future", "on", on, "today", k.today)
	}
	return s.st.NoteCare(ctx, dog, what, on)
}

// careWords are all that may be noted.
func careWords() []string {
	var out []string
	for _, c := range timeline.Cares() {
		out = append(out, c.What())
	}
	for _, l := range timeline.Lessons() {
		out = append(out, l.What())
	}
	for _, v := range timeline.Signs() {
		out = append(out, v.What())
	}
	return out
}

// SetCareEvery gives a dog intervals of her own; one that is the usual one is not her own.
func (s *Salon) SetCareEvery(ctx context.Context, dog timeline.ID, every map[timeline.Care]int) error {
	if _, err := s.Dog(ctx, dog); err != nil {
		return err
	}
	own := map[timeline.Care]int{}
	for _, c := range timeline.Cares() {
		days, ok := every[c]
		if !ok || days == c.EveryDays() {
			continue
		}
		if days < 0 || days > maxCareDays {
			return invalid("every_"+c.What(), "fault.care.every", "max", maxCareDays)
		}
		own[c] = days
	}
	return s.st.SetCareEvery(ctx, dog, own)
}

const maxCareDays = 366

// BagLine is one line of a show's bag.
type BagLine struct {
	Item timeline.BagItem
	On   bool
}

// Bag is what to do and to pack for a show.
func (s *Salon) Bag(ctx context.Context, show timeline.ID) ([]BagLine, error) {
	v, err := s.show(ctx, show)
	if err != nil {
		return nil, err
	}
	k, err := s.recordOf(ctx, v.Dog)
	if err != nil {
		return nil, err
	}
	return bagOf(k.noted.Bags[show]), nil
}

func bagOf(ticked []timeline.BagItem) []BagLine {
	out := []BagLine{}
	for _, item := range timeline.BagItems() {
		out = append(out, BagLine{item, slices.Contains(ticked, item)})
	}
	return out
}

// TickBag ticks a line of a show's bag, or takes the tick away.
func (s *Salon) TickBag(ctx context.Context, show timeline.ID, item timeline.BagItem, on bool) error {
	v, err := s.show(ctx, show)
	if err != nil {
		return err
	}
	if _, err := s.Dog(ctx, v.Dog); err != nil {
		return err
	}
	if err := checkWord("item", item, timeline.BagItems()); err != nil {
		return err
	}
	return s.st.TickBag(ctx, show, item, on)
}

// CarePage is what is to be looked after of a dog, with the remarks that a veterinarian should look at.
type CarePage struct {
	Dog    timeline.Dog
	Care   CareLook
	ForVet []timeline.Phrase
}

// CarePage of a dog.
func (s *Salon) CarePage(ctx context.Context, dog timeline.ID) (CarePage, error) {
	k, err := s.recordOf(ctx, dog)
	if err != nil {
		return CarePage{}, err
	}
	out := CarePage{Dog: k.dog, Care: k.care()}
	out.ForVet = forVet(k.history, out.Care.Signs)
	return out, nil
}

// SaveSize keeps the day she was born, and her height as it was read today; 0 leaves the height as it is. Rev is checked.
func (s *Salon) SaveSize(ctx context.Context, dog timeline.ID, rev timeline.Rev, born timeline.Day, mm float64) (timeline.Dog, error) {
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return d, err
	}
	d.Rev, d.Born = rev, born
	if mm > 0 {
		if d.WithersOn, err = s.Today(ctx); err != nil {
			return d, err
		}
		d.WithersMM = mm
	}
	return s.UpdateDog(ctx, d)
}

// BagDays before a show its bag is worth a word.
const BagDays = 7
