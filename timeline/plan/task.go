package plan

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// zoneModel is what the plan asks of the coat model about one zone. Steps are of Today or later, in order of day.
type zoneModel interface {
	Readiness(steps []coat.Step, on timeline.Day, t coat.Target) float64
	TopLayer(steps []coat.Step, on timeline.Day) (pulled timeline.Day, share float64)
	Forecast(steps []coat.Step, on timeline.Day, t coat.Target) coat.ZoneForecast
}

const (
	maxSessions = 120 // more permitted days than this are refused: a plan of years is no plan
	maxShows    = 24
)

// task is the coat file made ready for the search.
type task struct {
	today    timeline.Day
	sessions []timeline.Day
	room     []float64 // minutes available, one a session
	shows    []show    // by day
	zones    []*zone   // anatomical order
	rules    coat.Rules
	last     timeline.Day // the newest logged work, zero: none
	dog      coat.Dog
	lifted   []bool // one a session: its minutes do not hold "a little at every session"
	weight   float64
}

type show struct {
	name   string
	on     timeline.Day
	weight float64
	before int // index of the last session before it, −1: none
}

// zone is one zone of the task.
type zone struct {
	name      timeline.Zone
	mode      timeline.Mode
	model     zoneModel
	prof      coat.ZoneProfile
	targets   []coat.Target // one a show
	banded    []bool        // one a show
	hasBand   bool
	isFlat    bool
	minutes   map[timeline.Work]float64
	ripeness  *coat.Ripeness
	sensitive bool
	lagDays   int
	flatBy    int
	open      []closure        // one a session: why nothing may be pulled then, or open
	covered   [][]timeline.Day // one a session: the shows on which it must not show its skin after a pull then
	initial   []initialLayer
	start     []rung
	byAge     bool // the age of hair says how long it is: no season, no length given, nothing cut
	mixed     bool // layers with a length beside layers without: their order is not certain in every case
	lastWork  map[timeline.Work]timeline.Day
	hold      []holdDay // days between the shows on which a rolling zone is looked at too

	memo map[memoKey]float64
}

// holdDay is a day between the first and the last show, every week: a rolling zone is held in the band of the next show on
// it. They do not depend on the sessions, so that a session more is never a loss.
type holdDay struct {
	on            timeline.Day
	session, show int // the last session on or before it (−1: none), the next show
	weight        float64
}

// closure is a rule that forbids pulling a zone in a session.
type closure int

const (
	isOpen closure = iota
	closedRipeness
	closedFlat // too near to a show for a flat pull
	closedTidy // the last days before a show
	closedKept // not a stripped zone, or without a band
)

// weightOf turns a priority into a weight: 1, ½, ⅓. Judgement, no source.
func weightOf(priority int) float64 {
	if priority < 1 {
		priority = 1
	}
	return 1 / float64(priority)
}

func bad(field, key string, args ...any) error {
	return timeline.NewFault(timeline.Invalid, key, args...).In(field)
}

// checkTimes refuses what the plan needs and the model does not: shows, sessions, minutes.
func checkTimes(f coat.File) error {
	if len(f.Shows) == 0 {
		return bad("shows", "fault.plan.no_show")
	}
	if len(f.Shows) > maxShows {
		return bad("shows", "fault.plan.many_shows", "n", maxShows)
	}
	for i, s := range f.Shows {
		if s.On < f.Today {
			return bad(fmt.Sprintf("shows[%d].on", i), "fault.plan.show_past", "show", s.Name, "on", s.On, "today", f.Today)
		}
	}
	if s := f.Sessions; s != nil {
		// 0 is "not said" here: the profile's figure stands in. A file that says 0 is refused where it is read.
		if !(s.Minutes >= 0) || math.IsInf(s.Minutes, 0) || s.Minutes > 24*60 {
			return bad("sessions.minutes", "fault.plan.minutes")
		}
		if s.EveryDays < 0 {
			return bad("sessions.every_days", "fault.plan.cadence")
		}
	}
	for _, z := range timeline.Zones() {
		for _, w := range timeline.Works() {
			if v, ok := f.Minutes[z][w]; ok && (!(v > 0) || math.IsInf(v, 0) || v > 24*60) {
				return bad(fmt.Sprintf("minutes.%s.%s", z, w), "fault.plan.work_minutes", "zone", z, "work", w)
			}
		}
	}
	return nil
}

// lastWorked is the newest logged day of the dog, any zone, any work.
func lastWorked(f coat.File) timeline.Day {
	var last timeline.Day
	for _, z := range f.Zones {
		for _, w := range z.Work {
			if w.Do != timeline.Leave && w.On > last {
				last = w.On
			}
		}
	}
	return last
}

// sessionDays are the permitted days: today or later, not yet worked, before the last show and on no show.
func sessionDays(f coat.File, end timeline.Day) []timeline.Day {
	last := lastWorked(f)
	isShow := map[timeline.Day]bool{}
	for _, s := range f.Shows {
		isShow[s.On] = true
	}
	var all []timeline.Day
	if f.Sessions != nil && len(f.Sessions.Dates) > 0 {
		all = slices.Clone(f.Sessions.Dates)
	} else {
		first, every := cadence(f)
		if first < f.Today {
			first += timeline.Day((int(f.Today-first) + every - 1) / every * every)
		}
		for d := first; d < end; d += timeline.Day(every) {
			all = append(all, d)
		}
	}
	slices.Sort(all)
	all = slices.Compact(all)
	return slices.DeleteFunc(all, func(d timeline.Day) bool {
		return d < f.Today || d <= last || d >= end || isShow[d]
	})
}

// cadence is the first day and the days between sessions where no dates are given.
func cadence(f coat.File) (first timeline.Day, every int) {
	every = usual.EveryDays.days()
	if f.Sessions != nil {
		if f.Sessions.EveryDays > 0 {
			every = f.Sessions.EveryDays
		}
		first = f.Sessions.First
	}
	if first.IsZero() {
		first = f.Today
		if last := lastWorked(f); !last.IsZero() {
			first = max(f.Today, last+timeline.Day(every))
		}
	}
	return first, every
}

// newTask prepares the search; first, if not 0, is all the time that the first session has.
func newTask(f coat.File, prof coat.Profile, model func(timeline.Zone) zoneModel, first float64) (*task, error) {
	if err := checkTimes(f); err != nil {
		return nil, err
	}
	t := &task{today: f.Today, rules: prof.Rules, last: lastWorked(f), dog: f.Dog}
	shows := slices.Clone(f.Shows)
	sort.SliceStable(shows, func(a, b int) bool { return shows[a].On < shows[b].On })
	end := shows[len(shows)-1].On
	t.sessions = sessionDays(f, end)
	if len(t.sessions) == 0 {
		return nil, bad("sessions", "fault.plan.no_session", "show", shows[len(shows)-1].Name, "on", end)
	}
	if len(t.sessions) > maxSessions {
		return nil, bad("sessions", "fault.plan.many_sessions", "n", maxSessions)
	}
	minutes := prof.Rules.MinutesDefault
	if f.Sessions != nil && f.Sessions.Minutes > 0 {
		minutes = f.Sessions.Minutes
	}
	for range t.sessions {
		t.room = append(t.room, minutes)
	}
	if first > 0 {
		t.room[0] = min(first, minutes)
	}
	for _, s := range shows {
		t.shows = append(t.shows, show{name: s.Name, on: s.On, weight: weightOf(s.Priority), before: t.lastBefore(s.On)})
	}
	for _, name := range timeline.Zones() {
		fz, ok := f.Zones[name]
		if !ok {
			continue
		}
		z := &zone{
			name: name, mode: fz.Mode, model: model(name), prof: prof.Zones[name], ripeness: fz.Ripeness, sensitive: fz.Sensitive,
			minutes: map[timeline.Work]float64{}, lastWork: map[timeline.Work]timeline.Day{}, memo: map[memoKey]float64{},
		}
		if z.mode == "" {
			z.mode = timeline.KeepRolling
		}
		known := 0
		for _, l := range fz.Layers {
			if l.LengthMM != nil {
				known++
			}
		}
		z.mixed = known > 0 && known < len(fz.Layers)
		for _, w := range timeline.Works() {
			if v, ok := f.Minutes[name][w]; ok {
				z.minutes[w] = v
			} else if v, ok := z.prof.Minutes[w]; ok {
				z.minutes[w] = v
			}
		}
		for _, w := range fz.Work {
			z.lastWork[w.Do] = max(z.lastWork[w.Do], w.On)
		}
		for _, s := range shows {
			target, ok := s.Targets[name]
			if !ok && z.prof.Target != nil {
				target = *z.prof.Target
			}
			has := target.MinMM > 0 || target.MaxMM > 0 || target.InHair > 0
			z.targets, z.banded, z.hasBand = append(z.targets, target), append(z.banded, has), z.hasBand || has
		}
		z.isFlat = z.flat()
		t.prepare(z)
		z.byAge = f.Priors[name].Season == nil && known == 0 && z.lastWork[timeline.Scissor].IsZero() && z.lastWork[timeline.Clip].IsZero()
		t.zones = append(t.zones, z)
	}
	if len(t.zones) == 0 {
		return nil, bad("zones", "fault.plan.no_zone")
	}
	littles := make([]float64, len(t.sessions))
	for _, z := range t.zones {
		for h, s := range t.shows {
			if z.banded[h] {
				t.weight += s.weight
			}
		}
		for _, hd := range z.hold {
			t.weight += hd.weight
		}
		for i := range littles {
			if t.compels(z, i) {
				littles[i] += z.takeMinutes(timeline.ShareFew)
			}
		}
	}
	for i, m := range littles {
		t.lifted = append(t.lifted, m > t.room[i]+eps)
	}
	return t, nil
}

func (t *task) lastBefore(d timeline.Day) int {
	return sort.Search(len(t.sessions), func(i int) bool { return t.sessions[i] >= d }) - 1
}

// nextShow is the index of the first show after a session day.
func (t *task) nextShow(d timeline.Day) int {
	return sort.Search(len(t.shows), func(i int) bool { return t.shows[i].on > d })
}

// prepare asks the model once for what the rules need: lag, layers; then opens and closes the sessions.
func (t *task) prepare(z *zone) {
	now := z.model.Forecast(nil, t.today, coat.Target{})
	z.lagDays = int(math.Round(now.LagDays.Median))
	if z.prof.FlatByDays > 0 {
		z.flatBy = z.prof.FlatByDays
		known := now.Status == coat.Learned || now.LagDays.P90-now.LagDays.P10 <= usual.LagKnownWithinDays.Value
		if known {
			// Later where this dog is known to be in hair soon enough, nine times in ten.
			z.flatBy = min(z.flatBy, max(usual.FlatByLeastDays.days(), int(math.Ceil(now.LagDays.P90))+usual.GraspDays.days()))
		} else {
			z.flatBy = max(z.flatBy, t.rules.FlatByDaysUnknown)
		}
	}
	t.readLayers(z)
	t.closeSessions(z)
	if z.mode != timeline.KeepRolling || z.flatBy > 0 || !z.hasBand {
		return // a flat pull between two shows leaves the band on purpose
	}
	first, last := t.shows[0].on, t.shows[len(t.shows)-1].on
	every := timeline.Day(usual.HoldEveryDays.days())
	for d := first + every; d < last; d += every {
		if h := t.nextShow(d); z.banded[h] && !slices.ContainsFunc(t.shows, func(s show) bool { return s.on == d }) {
			z.hold = append(z.hold, holdDay{on: d, session: t.lastBefore(d + 1), show: h})
		}
	}
	// All these days together weigh half a show of the last priority: they decide between plans that
	// are as good at the shows, and never against one. Judgement, no source.
	for i := range z.hold {
		z.hold[i].weight = weightOf(3) / 2 / float64(len(z.hold))
	}
}

func (z *zone) little() bool { return z.prof.LittleEach && z.prof.Stripped && z.hasBand }

// workMinutes is the time of a whole work on the zone; without a figure a guess (judgement, no source).
func (z *zone) workMinutes(w timeline.Work) float64 {
	if v, ok := z.minutes[w]; ok {
		return v
	}
	switch w {
	case timeline.Leave:
		return 0
	case timeline.Strip:
		return z.workMinutes(timeline.Take)
	case timeline.Take:
		return 15
	case timeline.Tidy, timeline.Card:
		return 3
	}
	return 5
}

// takeMinutes scales with the share.
func (z *zone) takeMinutes(share float64) float64 { return share * z.workMinutes(timeline.Take) }
