package salon

import (
	"context"
	"slices"

	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/timeline/plan"
)

// Rhythm is how the visits are to follow each other. A zero field is as the dog is booked, a visit not booked is today's.
type Rhythm struct {
	First     timeline.Day
	EveryDays int
	Minutes   int  // table time of a visit
	AtOnce    bool // the old coat out as fast as it gives, bare for a while; otherwise covered throughout
}

// FirstVisit is what a groomer can tell at a first visit, from four answers and a pinch test: whether the coat can be
// stripped, on which days, how long it takes, what the dog looks like meanwhile, and what is not promised.
//
// Its visits are planned forward, to have the old coat out; a plan (package plan) goes back from a show. Both are forecast by
// the one model of the dog's coat.
type FirstVisit struct {
	Dog        timeline.Dog
	Today      timeline.Day
	Kind       CoatKind
	Rhythm     Rhythm           // nothing in it is zero
	Groups     []timeline.Group // those that are stripped and can be tested
	Can        Can
	Why        []timeline.Phrase // of Can, by group
	Rolling    bool              // she is kept rolling: the visits shown are the next ones, not all
	Visits     []FirstDay        // never nil
	Later      []CoatLook        // what comes after the last visit, if nothing more is done
	Open       []timeline.Zone   // still in their old coat after the visits shown
	Minutes    int               // of all visits
	PriceCents int               // of all visits; 0: the salon tells no price
	Ready      ReadyAtEarliest
	NotSure    []timeline.Phrase // what cannot be promised
	Cautions   []timeline.Phrase
}

// Can is whether a coat can be stripped.
type Can string

const (
	CanYes      Can = "yes"
	CanPartly   Can = "partly"   // some of it now
	CanUntested Can = "untested" // by the answers; not pinched yet
	CanNotYet   Can = "not_yet"  // nothing of it on the first day
	CanAsk      Can = "ask"      // a veterinarian first
)

// FirstDay is one visit.
type FirstDay struct {
	On         timeline.Day
	Minutes    int // whole fives
	PriceCents int
	Work       []plan.Line      // in working order; Why is a reason of a first visit, where one is needed
	Test       []timeline.Group // to be pinched first: the work on them is only if they are ready
	After      CoatLook
}

// ReadyAtEarliest is the day before which she cannot be ready for a show: every zone could be, if it alone mattered, with these
// visits carried on. The plan says more once there is a show.
type ReadyAtEarliest struct {
	On    timeline.Day    // zero: a coat of which nothing is promised, or no zone comes right within a year
	Last  []timeline.Zone // the zones that it waits for; none: she is ready as she is
	Never []timeline.Zone // by these answers not sure to come right on any day within a year
	Late  []timeline.Zone // still late on that day, because the visits are too short or too few for everything
}

// FirstVisit answers for the dog as she is booked.
func (s *Salon) FirstVisit(ctx context.Context, dog timeline.ID) (FirstVisit, error) {
	return s.FirstVisitIf(ctx, dog, Rhythm{})
}

// FirstVisitIf answers for another rhythm, which is not kept.
func (s *Salon) FirstVisitIf(ctx context.Context, dog timeline.ID, r Rhythm) (FirstVisit, error) {
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return FirstVisit{}, err
	}
	h, err := s.history(ctx, d)
	if err != nil {
		return FirstVisit{}, err
	}
	set, err := s.Settings(ctx)
	if err != nil {
		return FirstVisit{}, err
	}
	if r, err = rhythmOf(r, d, h.today); err != nil {
		return FirstVisit{}, err
	}
	f := h.file(h.today, h.today+1)
	f.Shows, f.Sessions = nil, nil
	m, err := s.model(f)
	if err != nil {
		return FirstVisit{}, err
	}
	out := FirstVisit{Dog: d, Today: h.today, Rhythm: r, Kind: CoatKind{Key: d.Profile, Name: h.profile.Name, Base: h.profile.Base, Own: h.own != nil}}
	for _, g := range timeline.Groups() {
		if slices.ContainsFunc(g.Zones(), func(z timeline.Zone) bool { return h.profile.Zones[z].Stripped }) {
			out.Groups = append(out.Groups, g)
		}
	}
	b := newBringing(f, m, r)
	b.run()
	out.Visits, out.Later, out.Open, out.Rolling = b.visits, b.later(), b.open(), b.rolling
	for i := range out.Visits {
		v := &out.Visits[i]
		v.PriceCents = priceOf(v.Minutes, set.HourCents)
		out.Minutes += v.Minutes
		out.PriceCents += v.PriceCents
	}
	out.Can, out.Why = b.can(d)
	out.NotSure = append(coat.Promises(f.Dog), notSure(d)...)
	out.Cautions = cautions(b)
	if !d.History.CoatChange {
		out.Ready, err = s.readyAtEarliest(f, m, r)
	}
	return out, err
}

// priceOf is the price of minutes on the table, rounded to whole units of the currency: it is an estimate.
func priceOf(minutes, hourCents int) int {
	return (minutes*hourCents + 3000) / 6000 * 100
}

func rhythmOf(r Rhythm, d timeline.Dog, today timeline.Day) (Rhythm, error) {
	if r.First.IsZero() {
		if r.First = d.Cadence.Next; r.First < today {
			r.First = today
		}
	}
	if r.EveryDays == 0 {
		r.EveryDays = d.Cadence.EveryDays
	}
	if r.Minutes == 0 {
		r.Minutes = d.Cadence.Minutes
	}
	if r.EveryDays < 1 || r.EveryDays > maxEveryDays {
		return r, invalid("every", "fault.dog.every_days", "max", maxEveryDays)
	}
	if r.Minutes < 5 || r.Minutes > maxMinutes {
		return r, invalid("minutes", "fault.dog.minutes", "min", 5, "max", maxMinutes)
	}
	return r, checkNext(r.First, today)
}

// notSure is what the answers leave open, beside what the dog's history takes back.
func notSure(d timeline.Dog) []timeline.Phrase {
	var out []timeline.Phrase
	a := d.Answers
	if a.LastWorked.IsZero() {
		out = append(out, timeline.Say("first.unsure.last"))
	}
	if a.LongestWithersMM == 0 {
		out = append(out, timeline.Say("first.unsure.length"))
	}
	return append(out, timeline.Say("first.unsure.guess"))
}

// cautions are common practice, no source. They defer to a veterinarian and say nothing of what ails a dog.
func cautions(b *bringing) []timeline.Phrase {
	out := []timeline.Phrase{timeline.Say("first.caution.skin"), timeline.Say("first.caution.ill")}
	if b.bareSometime() {
		out = append(out, timeline.Say("first.caution.bare"))
	}
	return append(out, timeline.Say("first.caution.bath"), timeline.Say("first.caution.stop"), timeline.Say("first.caution.growth"))
}

// FirstAnswers are what the page of a first visit asks beside the four answers.
type FirstAnswers struct {
	Rev     timeline.Rev
	Pinched map[timeline.Group]timeline.Ripeness // today's pinch test; a group left out was not tested
	History timeline.History
}

// SaveFirst keeps them; rev is checked. The test is of today, unless it says what an earlier one said.
func (s *Salon) SaveFirst(ctx context.Context, dog timeline.ID, a FirstAnswers) (timeline.Dog, error) {
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return d, err
	}
	today, err := s.Today(ctx)
	if err != nil {
		return d, err
	}
	d.Rev, d.History = a.Rev, a.History
	switch {
	case len(a.Pinched) == 0:
		d.Pinched = nil
	case d.Pinched == nil || !sameTest(d.Pinched.Is, a.Pinched):
		d.Pinched = &timeline.PinchTest{On: today, Is: a.Pinched}
	}
	return s.UpdateDog(ctx, d)
}

func sameTest(a, b map[timeline.Group]timeline.Ripeness) bool {
	if len(a) != len(b) {
		return false
	}
	for g, is := range a {
		if b[g] != is {
			return false
		}
	}
	return true
}

// BookFirst books the dog in this rhythm; rev is checked.
func (s *Salon) BookFirst(ctx context.Context, dog timeline.ID, rev timeline.Rev, r Rhythm) (timeline.Dog, error) {
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return d, err
	}
	today, err := s.Today(ctx)
	if err != nil {
		return d, err
	}
	if r, err = rhythmOf(r, d, today); err != nil {
		return d, err
	}
	d.Rev = rev
	d.Cadence.Next, d.Cadence.EveryDays, d.Cadence.Minutes = r.First, r.EveryDays, r.Minutes
	return s.UpdateDog(ctx, d)
}

// readyAtEarliest asks the plan for a show too near to be ready for, which tells each zone's own day, and then for a show on
// the last of these days, which tells what all of them together leave late.
func (s *Salon) readyAtEarliest(f coat.File, m *coat.Model, r Rhythm) (ReadyAtEarliest, error) {
	var out ReadyAtEarliest
	ask := func(on timeline.Day) (plan.Plan, error) {
		f.Shows = []coat.Show{{On: on, Priority: 1, Targets: newCoatTargets(f, m, on)}}
		f.Sessions = &coat.Sessions{Minutes: float64(r.Minutes)}
		for d := r.First; d < on; d += timeline.Day(r.EveryDays) {
			f.Sessions.Dates = append(f.Sessions.Dates, d)
		}
		return s.planOf(f, 0)
	}
	near := r.First + timeline.Day(r.EveryDays) + 1 // two visits, so that the plan knows how to go on
	p, err := ask(near)
	if err != nil {
		return out, err
	}
	for _, z := range timeline.Zones() {
		o := p.Zones[z]
		switch {
		case o.Verdict == plan.NoBand || o.Verdict != plan.TooLate:
		case o.ReadyBy > out.On:
			out.On, out.Last = o.ReadyBy, []timeline.Zone{z}
		case o.ReadyBy.IsZero() && *o.BestAlone < readyLeast:
			out.Never = append(out.Never, z)
		case !o.ReadyBy.IsZero() && o.ReadyBy == out.On:
			out.Last = append(out.Last, z)
		}
	}
	if out.On.IsZero() {
		if len(out.Never) == 0 {
			out.On = near
		}
		return out, nil
	}
	if p, err = ask(out.On); err != nil {
		return out, err
	}
	for _, z := range timeline.Zones() {
		if p.Zones[z].Verdict == plan.TooLate && !slices.Contains(out.Never, z) {
			out.Late = append(out.Late, z)
		}
	}
	return out, nil
}

// readyLeast is the readiness below which the plan calls a zone too late.
const readyLeast = 0.5

// newCoatTargets are targets that hair which is old on a day does not meet by its length alone: a show wants a new jacket.
// Zones whose hair is not old keep what the kind of coat wants of them.
func newCoatTargets(f coat.File, m *coat.Model, on timeline.Day) map[timeline.Zone]coat.Target {
	out := map[timeline.Zone]coat.Target{}
	for z := range f.Zones {
		t := m.Target(z, on)
		if t.MaxMM == 0 || f.Today-longestOf(m.Zone(z).Start(), f.Today) <= oldHairDays {
			continue
		}
		old := m.Zone(z).Forecast(nil, f.Today, coat.Target{}).VisibleMM.P10
		if t.MaxMM > old && old > t.MinMM+leastBandMM {
			t.MaxMM = old
			out[z] = t
		}
	}
	return out
}

const (
	// oldHairDays: as the plan says, older hair is called an old jacket. Judgement, no source.
	oldHairDays = 150
	leastBandMM = 5
)
