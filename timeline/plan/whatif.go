package plan

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// ChangeKind is one "what if".
type ChangeKind string

const (
	ShowMoved      ChangeKind = "show_moved"      // ShowName is Days later (earlier where negative)
	SessionSkipped ChangeKind = "session_skipped" // nothing is done on the day Session
	EveryDays      ChangeKind = "every_days"      // after the first session, one every so many EveryDays
	MinutesEach    ChangeKind = "minutes"         // every session has Minutes
	HalfMinutes    ChangeKind = "half_minutes"    // every session has half of what it has
	ShortToday     ChangeKind = "short_today"     // the first session has only Minutes
)

// Change is one change of the circumstances; the fields that its kind does not name are not looked at.
type Change struct {
	Kind      ChangeKind
	ShowName  string // the first show of that name to come; "" is the first show
	Days      int
	Session   timeline.Day
	EveryDays int
	Minutes   int
}

const maxMovedDays = 366

// Apply is the coat file under the change; the given file is not touched. A change that cannot be made of this file is a
// *timeline.Fault of kind Invalid whose Field is the field of the change: "show", "days", "session", "every_days",
// "minutes". ShortToday leaves the file as it is, because a file has one figure for all sessions: MakeIf knows it.
func Apply(f coat.File, c Change) (coat.File, error) {
	if err := f.Validate(); err != nil {
		return f, err
	}
	p, err := f.Kind()
	if err != nil {
		return f, err
	}
	if err := checkTimes(f); err != nil {
		return f, err
	}
	var end timeline.Day
	for _, s := range f.Shows {
		end = max(end, s.On)
	}
	dates := sessionDays(f, end)
	sessions := coat.Sessions{Dates: dates, Minutes: p.Rules.MinutesDefault}
	if f.Sessions != nil && f.Sessions.Minutes > 0 {
		sessions.Minutes = f.Sessions.Minutes
	}
	minutes := func(m float64) error {
		if !(m > 0) || m > 24*60 {
			return bad("minutes", "fault.plan.minutes")
		}
		sessions.Minutes = m
		return nil
	}
	switch c.Kind {
	case ShowMoved:
		at := slices.IndexFunc(f.Shows, func(s coat.Show) bool { return s.Name == c.ShowName })
		for i, s := range f.Shows {
			if (c.ShowName == "" || s.Name == c.ShowName) && (at < 0 || s.On < f.Shows[at].On) {
				at = i
			}
		}
		if at < 0 {
			return f, bad("show", "fault.plan.if.show", "show", c.ShowName)
		}
		if c.Days < -maxMovedDays || c.Days > maxMovedDays {
			return f, bad("days", "fault.plan.if.far", "n", maxMovedDays)
		}
		f.Shows = slices.Clone(f.Shows)
		f.Shows[at].On += timeline.Day(c.Days)
		if s := f.Shows[at]; s.On < f.Today {
			return f, bad("days", "fault.plan.show_past", "show", s.Name, "on", s.On, "today", f.Today)
		}
		if on := f.Shows[at].On; on > end && len(dates) > 0 {
			sessions.Dates = carriedOn(dates, on)
		}
	case SessionSkipped:
		at := slices.Index(dates, c.Session)
		if at < 0 {
			return f, bad("session", "fault.plan.if.session", "on", c.Session)
		}
		if sessions.Dates = slices.Delete(slices.Clone(dates), at, at+1); len(sessions.Dates) == 0 {
			return f, bad("session", "fault.plan.if.only_session", "on", c.Session)
		}
	case EveryDays:
		if c.EveryDays < 1 || c.EveryDays > 365 {
			return f, bad("every_days", "fault.plan.cadence")
		}
		if len(dates) > 0 {
			sessions.Dates = nil
			for d := dates[0]; d < end; d += timeline.Day(c.EveryDays) {
				sessions.Dates = append(sessions.Dates, d)
			}
		}
	case MinutesEach:
		err = minutes(float64(c.Minutes))
	case HalfMinutes:
		err = minutes(sessions.Minutes / 2)
	case ShortToday:
		m := sessions.Minutes
		err = minutes(float64(c.Minutes))
		sessions.Minutes = m
	default:
		return f, bad("kind", "fault.plan.if.kind", "kind", string(c.Kind))
	}
	f.Sessions = &sessions
	return f, err
}

// MakeIf is the plan under the change.
func MakeIf(f coat.File, c Change) (Plan, error) {
	changed, err := Apply(f, c)
	if err != nil {
		return Plan{}, err
	}
	if c.Kind == ShortToday {
		return MakeShort(changed, float64(c.Minutes))
	}
	return Make(changed)
}

// WhatIf is the plan under the change and a plain account of what it changes and why; never an empty one.
func WhatIf(f coat.File, c Change) (Plan, []timeline.Phrase, error) {
	base, err := Make(f)
	if err != nil {
		return Plan{}, nil, err
	}
	other, err := MakeIf(f, c)
	if err != nil {
		return Plan{}, nil, err
	}
	return other, Compare(base, other), nil
}

// carriedOn are days carried on at their own usual distance up to the day before the end.
func carriedOn(days []timeline.Day, end timeline.Day) []timeline.Day {
	out := slices.Clone(days)
	every := usual.EveryDays.days()
	if n := len(out); n > 1 {
		gaps := make([]int, 0, n-1)
		for i := 1; i < n; i++ {
			gaps = append(gaps, int(out[i]-out[i-1]))
		}
		slices.Sort(gaps)
		every = gaps[len(gaps)/2]
	}
	for d := out[len(out)-1] + timeline.Day(every); d < end; d += timeline.Day(every) {
		out = append(out, d)
	}
	return out
}

// pulled is a zone's pulling in a plan from a day on.
type pulled struct {
	days  []timeline.Day
	lines map[timeline.Day]Line
}

func pulledOf(p Plan, from timeline.Day) map[timeline.Zone]pulled {
	out := map[timeline.Zone]pulled{}
	for _, s := range p.Sessions {
		if s.On < from {
			continue
		}
		for _, l := range s.Zones {
			z := out[l.Zone]
			if z.lines == nil {
				z.lines = map[timeline.Day]Line{}
			}
			if l.Do != timeline.Card {
				z.lines[s.On] = l
			}
			if l.Do == timeline.Take || l.Do == timeline.Strip {
				z.days = append(z.days, s.On)
			}
			out[l.Zone] = z
		}
	}
	return out
}

// groups gathers zones about which the same is to be said, in the order in which each thing was first said.
type groups struct {
	order []string
	zones map[string][]timeline.Zone
	say   map[string]func(zones []timeline.Zone) timeline.Phrase
}

func (g *groups) add(z timeline.Zone, key string, say func([]timeline.Zone) timeline.Phrase) {
	if g.zones == nil {
		g.zones, g.say = map[string][]timeline.Zone{}, map[string]func([]timeline.Zone) timeline.Phrase{}
	}
	if g.say[key] == nil {
		g.order, g.say[key] = append(g.order, key), say
	}
	g.zones[key] = append(g.zones[key], z)
}

func (g *groups) phrases() []timeline.Phrase {
	var out []timeline.Phrase
	for _, k := range g.order {
		out = append(out, g.say[k](g.zones[k]))
	}
	return out
}

// surer is by how much a chance must change to be told where the verdict stays; judgement, no source.
const surer = 0.1

// Compare is a plain account of what is different in the other plan and why: how the zones come out, then the sessions,
// then the pulling. Zones of which the same is to be said are named together. Both plans are of the same dog; the account
// begins on the day from which the other plan plans. It is never empty: where nothing changes, it says so.
func Compare(base, other Plan) []timeline.Phrase {
	var outcome, dates, work groups
	was, now := pulledOf(base, other.From), pulledOf(other, other.From)
	same := true
	for _, z := range timeline.Zones() {
		a, okA := base.Zones[z]
		b, okB := other.Zones[z]
		if !okA || !okB {
			continue
		}
		same = compareOutcome(&outcome, &dates, z, a, b) && same
		comparePulls(&work, z, was[z], now[z])
	}
	out := append(outcome.phrases(), dates.phrases()...)
	rest := append(compareSessions(base, other), work.phrases()...)
	switch {
	case len(out)+len(rest) == 0:
		return []timeline.Phrase{timeline.Say("change.plan.nothing")}
	case same:
		out = append([]timeline.Phrase{timeline.Say("change.plan.same")}, out...)
	}
	return append(out, rest...)
}

// compareOutcome reports whether the zone comes out the same.
func compareOutcome(g, dates *groups, z timeline.Zone, a, b ZoneOutlook) bool {
	from, to := timeline.Say("verdict."+string(a.Verdict)), timeline.Say("verdict."+string(b.Verdict))
	if a.Verdict != b.Verdict {
		key, why := "change.plan.verdict", ""
		switch {
		case a.Readiness == nil || b.Readiness == nil || *b.Readiness >= *a.Readiness:
		case verdictOf(*b.BestAlone) == b.Verdict:
			why = ".days" // even if it alone mattered
		default:
			why = ".time"
		}
		g.add(z, fmt.Sprint(key, why, a.Verdict, b.Verdict), func(zones []timeline.Zone) timeline.Phrase {
			switch why {
			case ".days":
				return timeline.Say("change.plan.verdict.days", "zones", zones, "from", from, "to", to)
			case ".time":
				return timeline.Say("change.plan.verdict.time", "zones", zones, "from", from, "to", to)
			}
			return timeline.Say("change.plan.verdict", "zones", zones, "from", from, "to", to)
		})
	} else if a.Readiness != nil && b.Readiness != nil && math.Abs(*a.Readiness-*b.Readiness) >= surer {
		if *b.Readiness > *a.Readiness {
			g.add(z, "surer"+string(b.Verdict), func(zones []timeline.Zone) timeline.Phrase {
				return timeline.Say("change.plan.surer", "zones", zones, "verdict", to)
			})
		} else {
			g.add(z, "less sure"+string(b.Verdict), func(zones []timeline.Zone) timeline.Phrase {
				return timeline.Say("change.plan.less_sure", "zones", zones, "verdict", to)
			})
		}
	}
	if a.ReadyBy != b.ReadyBy && !b.ReadyBy.IsZero() {
		dates.add(z, fmt.Sprint("by", a.ReadyBy, b.ReadyBy), func(zones []timeline.Zone) timeline.Phrase {
			if a.ReadyBy.IsZero() {
				return timeline.Say("change.plan.ready_by", "zones", zones, "by", b.ReadyBy)
			}
			return timeline.Say("change.plan.ready_by.moved", "zones", zones, "by", b.ReadyBy, "was", a.ReadyBy)
		})
	}
	return a.Verdict == b.Verdict
}

// consequences are reasons to leave a zone on a day that only follow from its being pulled on another.
var consequences = map[string]bool{
	"why.leave.later": true, "why.leave.young": true, "why.leave.short": true, "why.leave.stands": true, "why.leave.best": true, "why.leave.no_help": true,
}

// comparePulls says how the zone's pulling differs, with the reason that the other plan gives: why it is not pulled when it
// was, or, where that is only because another day is better, why on that one.
func comparePulls(g *groups, z timeline.Zone, was, now pulled) {
	if !slices.Equal(was.days, now.days) {
		var days []timeline.Day
		for _, d := range was.days {
			if !slices.Contains(now.days, d) {
				days = append(days, d)
			}
		}
		var added []timeline.Day
		for _, d := range now.days {
			if !slices.Contains(was.days, d) {
				added = append(added, d)
			}
		}
		var why timeline.Phrase
		if len(days) > 0 {
			if why = now.lines[days[0]].Why; len(added) > 0 && consequences[why.Key] {
				why = timeline.Phrase{}
			}
		}
		if why.IsZero() && len(added) > 0 {
			why = now.lines[added[0]].Why
		}
		g.add(z, fmt.Sprint("pulls", days, added, why), func(zones []timeline.Zone) timeline.Phrase {
			switch {
			case len(added) == 0 && why.IsZero():
				return timeline.Say("change.plan.pulls.less", "zones", zones, "was", days)
			case len(added) == 0:
				return timeline.Say("change.plan.pulls.less.why", "zones", zones, "was", days, "why", why)
			case len(days) == 0:
				return timeline.Say("change.plan.pulls.more", "zones", zones, "now", added, "why", why)
			}
			return timeline.Say("change.plan.pulls", "zones", zones, "was", days, "now", added, "why", why)
		})
	}
	for _, d := range now.days {
		a, b := was.lines[d], now.lines[d]
		if slices.Contains(was.days, d) && a.What().Key != b.What().Key {
			g.add(z, fmt.Sprint("amount", d, a.What(), b.What()), func(zones []timeline.Zone) timeline.Phrase {
				return timeline.Say("change.plan.amount", "zones", zones, "on", d, "from", a.What(), "to", b.What())
			})
		}
	}
}

// tellDays is how many days are told one by one.
const tellDays = 4

func compareSessions(base, other Plan) []timeline.Phrase {
	days := func(p Plan) (out []timeline.Day) {
		for _, s := range p.Sessions {
			if s.On >= other.From {
				out = append(out, s.On)
			}
		}
		return out
	}
	a, b := days(base), days(other)
	gone := slices.DeleteFunc(slices.Clone(a), func(d timeline.Day) bool { return slices.Contains(b, d) })
	made := slices.DeleteFunc(slices.Clone(b), func(d timeline.Day) bool { return slices.Contains(a, d) })
	sort.Slice(gone, func(i, j int) bool { return gone[i] < gone[j] })
	var out []timeline.Phrase
	switch {
	case len(gone)+len(made) > tellDays:
		out = append(out, timeline.Say("change.plan.sessions", "from", len(a), "n", len(b)))
	default:
		if len(gone) > 0 {
			out = append(out, timeline.Say("change.plan.session_gone", "days", gone))
		}
		if len(made) > 0 {
			out = append(out, timeline.Say("change.plan.session_new", "days", made))
		}
	}
	return out
}
