package salon

import (
	"context"
	"slices"

	"thatch/timeline"
	"thatch/timeline/plan"
)

// Sheet is the sheet of a session. It asks for the plan of this morning alone, which stays while lines are logged: a tap on
// Done must not wait for a new plan.
func (s *Salon) Sheet(ctx context.Context, session timeline.ID) (Sheet, error) {
	v, err := s.Session(ctx, session)
	if err != nil {
		return Sheet{}, err
	}
	d, err := s.Dog(ctx, v.Dog)
	if err != nil {
		return Sheet{}, err
	}
	h, err := s.history(ctx, d)
	if err != nil {
		return Sheet{}, err
	}
	out, err := s.sheet(h, v.On, &v)
	if err != nil {
		return out, err
	}
	out.Care, err = s.Care(ctx, v.Dog)
	return out, err
}

// SheetOn is the sheet of a day, today or to come, whether the session is open or not.
func (s *Salon) SheetOn(ctx context.Context, dog timeline.ID, on timeline.Day) (Sheet, error) {
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return Sheet{}, err
	}
	h, err := s.history(ctx, d)
	if err != nil {
		return Sheet{}, err
	}
	if on.IsZero() {
		on = h.today
	}
	for i := range h.sessions {
		if h.sessions[i].On == on {
			return s.sheet(h, on, &h.sessions[i])
		}
	}
	return s.sheet(h, on, nil)
}

// plannedOn is what the plan wants on a day; nil where it wants nothing, with the fault where that can be put right.
// Today's is planned from the coat as it was this morning, so that it stays as it is while its lines are logged one by one,
// and also where today was not booked.
func (s *Salon) plannedOn(h history, on timeline.Day) (*plan.Session, *timeline.Fault, error) {
	if on < h.today {
		return nil, nil, nil
	}
	f := h.file(h.today, h.today+1)
	if on == h.today {
		f = h.morning()
	}
	p, err := s.planOf(f, h.shortFirst(f))
	if fault := faultOf(err); fault != nil && fault.Kind == timeline.Invalid {
		return nil, fault, nil // no show to plan back from: an answer, not a failure of the page
	}
	if err != nil {
		return nil, nil, err
	}
	for i := range p.Sessions {
		if p.Sessions[i].On == on {
			return &p.Sessions[i], nil, nil
		}
	}
	return nil, nil, nil
}

func (s *Salon) sheet(h history, on timeline.Day, v *timeline.Session) (Sheet, error) {
	out := Sheet{
		Dog: h.dog, Today: h.today, On: on, Session: v, Steps: []SheetStep{}, Careful: []SheetLine{}, Left: []plan.Line{}, Others: []timeline.Zone{},
		Short: h.minutesOn(on), Shows: []timeline.Show{},
	}
	for _, w := range h.shows {
		if w.On >= h.today {
			out.Shows = append(out.Shows, w)
		}
	}
	for i := range h.sessions {
		if h.sessions[i].On < on {
			out.Last = &h.sessions[i]
		}
	}
	out.Next = h.nextAfter(on)
	if v != nil && v.NotToday != "" { // what was planned goes to the next visit
		return out, nil
	}
	planned, fault, err := s.plannedOn(h, on)
	if err != nil {
		return out, err
	}
	out.Fault = fault
	if planned == nil {
		return out, nil
	}
	state := timeline.Session{On: on}
	if v != nil {
		state = *v
	}
	b := sheetBuilder{h: h, v: state, sheet: *planned, out: &out}
	b.build()
	out.Longer = h.muchLonger(on, out.Minutes)
	return out, nil
}

// muchLonger is the longest visit so far where a sheet is half as long again (judgement, no source): a dog that never stood
// an hour is not asked to stand three without a word about it.
func (h history) muchLonger(on timeline.Day, minutes float64) int {
	longest := 0
	for _, q := range h.sessions {
		if q.On < on {
			longest = max(longest, q.Minutes)
		}
	}
	if longest > 0 && minutes > 1.5*float64(longest) {
		return longest
	}
	return 0
}

// nextAfter is the next visit after a day, as it is booked or as the rhythm has it.
func (h history) nextAfter(on timeline.Day) timeline.Day {
	for _, d := range h.sessionDates(h.today) {
		if d > on {
			return d
		}
	}
	if next := h.dog.Cadence.Next; next > on {
		return next
	}
	if every := h.dog.Cadence.EveryDays; every > 0 {
		return on + timeline.Day(every)
	}
	return 0
}

type sheetBuilder struct {
	h     history
	v     timeline.Session
	sheet plan.Session
	out   *Sheet
	lines []SheetLine // those that are not left
	card  []plan.Line
}

// mine: an assistant sees her zones only.
func (b *sheetBuilder) mine(z timeline.Zone) bool {
	return len(b.v.Sheet.Assistant) == 0 || slices.Contains(b.v.Sheet.Assistant, z)
}

func (b *sheetBuilder) build() {
	pulled := map[timeline.Zone]bool{}
	for _, l := range b.sheet.Zones {
		pulled[l.Zone] = pulled[l.Zone] || l.Do != timeline.Card && l.Do != timeline.Leave
	}
	others := map[timeline.Zone]bool{}
	for _, l := range b.sheet.Zones {
		switch {
		case l.Do == timeline.Leave && b.logged(l.Zone) == nil:
			if b.mine(l.Zone) {
				b.out.Left = append(b.out.Left, l)
			}
			continue
		case !b.mine(l.Zone):
			others[l.Zone] = true
			continue
		case l.Do == timeline.Card:
			b.card = append(b.card, l)
			continue
		}
		b.lines = append(b.lines, b.line(l))
	}
	for _, z := range timeline.Zones() {
		if others[z] {
			b.out.Others = append(b.out.Others, z)
		}
	}
	b.arrange()
	b.steps()
	b.careful()
}

func (b *sheetBuilder) logged(z timeline.Zone) *timeline.ZoneWork {
	for i := range b.v.Work {
		if b.v.Work[i].Zone == z {
			return &b.v.Work[i]
		}
	}
	return nil
}

func (b *sheetBuilder) line(l plan.Line) SheetLine {
	z := sessionZone(b.h, b.v, l.Zone, ZoneFigures{}, nil)
	cut := z.Hurt != nil && z.Hurt.HairCheck == timeline.HairCut
	out := SheetLine{Zone: l.Zone, Plan: l, Past: z, Logged: z.Line, HairWasCut: cut, Tool: toolFor(z, l.Do, l.Share, cut)}
	if z.Sensitive {
		out.CapMinutes = b.h.profile.Rules.SensitiveMinutes
	}
	if out.Logged == nil && (out.Pulls() || l.Do == timeline.Tidy) {
		out.Tool, out.CutWith = notCutting(b.v, out.Tool)
	}
	return out
}

// arrange puts the lines into the groomer's own order, if she has one: of this session, else of the newest earlier one.
// A zone that her order does not name comes after the one before it in the usual order.
func (b *sheetBuilder) arrange() {
	order := b.v.Sheet.Order
	for i := len(b.h.sessions) - 1; i >= 0 && len(order) == 0; i-- {
		if q := b.h.sessions[i]; q.On < b.v.On {
			order = q.Sheet.Order
		}
	}
	if len(order) == 0 {
		return
	}
	b.out.Own = true
	b.lines = inOwnOrder(b.lines, order)
}

func inOwnOrder(lines []SheetLine, order []timeline.Zone) []SheetLine {
	var out []SheetLine
	for _, z := range order {
		for _, l := range lines {
			if l.Zone == z {
				out = append(out, l)
			}
		}
	}
	for i, l := range lines {
		if slices.Contains(order, l.Zone) {
			continue
		}
		at := 0
		if i > 0 {
			at = 1 + slices.IndexFunc(out, func(o SheetLine) bool { return o.Zone == lines[i-1].Zone })
		}
		out = slices.Insert(out, at, l)
	}
	return out
}

// steps is the order on the table (common practice, no source): nails, pads, sanitary area, eyes and ears; brush through and
// look at the skin; card; pinch; the zones, with a look at the standing dog after each group.
func (b *sheetBuilder) steps() {
	out := b.out
	ticked := func(code string) bool { return slices.Contains(b.v.Sheet.Ticked, code) }
	add := func(st SheetStep) { out.Steps = append(out.Steps, st) }
	add(SheetStep{Code: "care", Kind: StepCare, Done: ticked("care")})
	add(SheetStep{Code: "brush", Kind: StepBrush, Done: ticked("brush")})
	if len(b.card) > 0 {
		st := SheetStep{Code: "card", Kind: StepCard, Done: ticked("card")}
		for _, l := range b.card {
			st.Zones, st.Minutes = append(st.Zones, l.Zone), st.Minutes+l.Minutes
		}
		add(st)
		out.Minutes += st.Minutes
		if !st.Done {
			out.Open += st.Minutes
		}
	}
	var pinch []timeline.Zone
	last := map[timeline.Group]int{}
	for i, l := range b.lines {
		if l.Pulls() {
			pinch = append(pinch, l.Zone)
		}
		last[l.Zone.Group()] = i
	}
	if len(pinch) > 0 {
		add(SheetStep{Code: "pinch", Kind: StepPinch, Zones: pinch, Done: ticked("pinch")})
	}
	for i := range b.lines {
		l := &b.lines[i]
		g := l.Zone.Group()
		var leave []plan.Line
		for _, x := range out.Left {
			if x.Zone.Group() == g {
				leave = append(leave, x)
			}
		}
		done := l.Logged != nil
		add(SheetStep{Code: string(l.Zone), Kind: StepZone, Line: l, Group: g, Leave: leave, Minutes: l.Plan.Minutes, Done: done})
		out.Minutes += l.Plan.Minutes
		if !done {
			out.Open += l.Plan.Minutes
		}
		if last[g] == i {
			code := "look-" + string(g)
			add(SheetStep{Code: code, Kind: StepLook, Group: g, Done: ticked(code)})
		}
	}
	add(SheetStep{Code: "end", Kind: StepEnd, Done: !b.v.Sheet.Done.IsZero()})
}

func (b *sheetBuilder) careful() {
	for _, l := range b.lines {
		if l.Past.Sensitive || l.Past.Hurt != nil || l.Past.Remark != "" {
			b.out.Careful = append(b.out.Careful, l)
		}
	}
}

// Step is the step of a code, else the first that is not done; nil where there are none.
func (s Sheet) Step(code string) *SheetStep {
	for i := range s.Steps {
		if s.Steps[i].Code == code {
			return &s.Steps[i]
		}
	}
	return s.NextOpen("")
}

func (s Sheet) at(code string) int {
	return slices.IndexFunc(s.Steps, func(st SheetStep) bool { return st.Code == code })
}

// NextOpen is the next step after a code that is not done; the end where there is none; nil where there are no steps.
func (s Sheet) NextOpen(code string) *SheetStep {
	for i := s.at(code) + 1; i < len(s.Steps); i++ {
		if !s.Steps[i].Done || s.Steps[i].Kind == StepEnd {
			return &s.Steps[i]
		}
	}
	if len(s.Steps) == 0 {
		return nil
	}
	return &s.Steps[len(s.Steps)-1]
}

// Before is the step before a code; nil at the first.
func (s Sheet) Before(code string) *SheetStep {
	if i := s.at(code); i > 0 {
		return &s.Steps[i-1]
	}
	return nil
}

// Pinched reports whether the coat was brushed through and its hair tried: before that nobody knows whether the lines can be
// done as planned.
func (s Sheet) Pinched() bool {
	for _, st := range s.Steps {
		if (st.Kind == StepBrush || st.Kind == StepPinch) && !st.Done {
			return false
		}
	}
	return true
}

// Waiting are the lines that are not logged yet.
func (s Sheet) Waiting() []SheetLine {
	out := []SheetLine{}
	for _, st := range s.Steps {
		if st.Kind == StepZone && !st.Done {
			out = append(out, *st.Line)
		}
	}
	return out
}

// Lines are all lines in their order.
func (s Sheet) Lines() []SheetLine {
	out := []SheetLine{}
	for _, st := range s.Steps {
		if st.Kind == StepZone {
			out = append(out, *st.Line)
		}
	}
	return out
}

// mainOf is what is done with a zone on a sheet; nil: it is left. Where it is carded and pulled, the pull is what a log
// keeps: it has one line a zone.
func mainOf(lines []plan.Line, z timeline.Zone) *plan.Line {
	var out *plan.Line
	for i, l := range lines {
		if l.Zone == z && l.Do != timeline.Leave && (out == nil || out.Do == timeline.Card) {
			out = &lines[i]
		}
	}
	return out
}
