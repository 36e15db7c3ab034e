package plan

import (
	"math"
	"slices"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// The search for the day on which a zone could be ready: a year ahead, over the dog's own cadence.
const (
	searchDays  = 366
	searchCoats = 150 // followed in a session
)

// readyBy is the first day after show h on which the zone, if it alone mattered, could be on track for that show's target
// with the sessions carried on as they are. Where that is never reached within a year it is the first day on which it comes
// close to the best it can be, if that is at least tight, and sure is false; else no day. For a day that is named there is a
// course that every rule allows for a show on it.
func (t *task) readyBy(z *zone, h int) (by timeline.Day, sure bool) {
	s := t.newSearch(z, h)
	from := t.shows[h].on + 1
	first := func(want float64) timeline.Day {
		for week := from; week < from+searchDays; week += 7 {
			if s.best(week) < want {
				continue
			}
			for day := max(from, week-6); day <= week; day++ {
				if s.can(day, want) {
					return day
				}
			}
		}
		return 0
	}
	most := 0.0
	for week := from; week < from+searchDays && most < usual.OnTrackFrom.Value; week += 7 {
		most = math.Max(most, s.best(week))
	}
	if most >= usual.OnTrackFrom.Value {
		if day := first(usual.OnTrackFrom.Value); !day.IsZero() {
			return day, true
		}
	}
	if most*0.95 < usual.TightFrom.Value {
		return 0, false
	}
	return first(most * 0.95), false
}

// only is the task of one zone with the sessions carried on to a day; it has no show.
func (t *task) only(z *zone, h int, end timeline.Day) (*task, *zone) {
	one, zone := *t, *z
	one.shows = nil
	one.sessions = slices.DeleteFunc(carriedOn(t.sessions, end), func(d timeline.Day) bool { return d >= end })
	one.room = slices.Clone(t.room)
	for len(one.room) < len(one.sessions) {
		one.room = append(one.room, t.room[len(t.room)-1])
	}
	one.room = one.room[:len(one.sessions)]
	one.lifted = make([]bool, len(one.sessions))
	zone.targets, zone.banded, zone.hold = z.targets[h:h+1], []bool{true}, nil
	zone.memo = map[memoKey]float64{}
	return &one, &zone
}

// search follows the coats that a zone can come to, session by session and only as far as it is asked.
type search struct {
	t      *task
	z      *zone
	levels [][]coatNode
	states []searchState
	seen   map[memoKey]bool // of coats that come out alike the one that is done first is enough
	quiet  int              // days between the last pull and a show
}

// searchState is a coat after its last pull.
type searchState struct {
	last  timeline.Day // zero: never pulled
	lad   []rung
	steps []coat.Step
}

func (t *task) newSearch(z *zone, h int) *search {
	one, zone := t.only(z, h, t.shows[h].on+1+searchDays)
	one.closeSessions(zone) // without a show: ripeness alone closes
	s := &search{t: one, z: zone, seen: map[memoKey]bool{}}
	s.quiet = t.rules.TidyOnlyDays + 1
	if z.prof.LittleEach {
		s.quiet = 1
	}
	s.quiet = max(s.quiet, z.flatBy)
	s.levels = [][]coatNode{{{lad: zone.start, parent: -1}}}
	s.states = []searchState{{lad: zone.start}}
	return s
}

// ready is how ready a coat is on a day, or anything below more where it is no more than that; 0 where its last pull is too
// near to the day.
func (s *search) ready(st searchState, on timeline.Day, more float64) float64 {
	if !st.last.IsZero() && int(on-st.last) < s.quiet {
		return 0
	}
	z, day, target := s.z, int(on-s.t.today), s.z.targets[0]
	if target.InHair > 0 {
		// Each half of the target bounds the whole and depends on one layer alone, so that few wholes are asked for.
		hair := coat.Target{InHair: target.InHair}
		k := z.key(day, 2, st.lad, hair)
		k.visLo, k.visHi = 0, 0
		if s.ask(k, st, on, hair) < more {
			return 0
		}
		if target.InHair = 0; target.HasBand() && s.ask(z.key(day, 3, st.lad, target), st, on, target) < more {
			return 0
		}
	}
	return s.ask(z.key(day, 0, st.lad, z.targets[0]), st, on, z.targets[0])
}

// ask is the readiness on a day, remembered by the age of the hair where that is all it depends on.
func (s *search) ask(k memoKey, st searchState, on timeline.Day, target coat.Target) float64 {
	age := func(born int16) int16 { return int16(min(on-s.t.bornOn(s.z, born), math.MaxInt16)) }
	if s.z.byAge && k.visLo == k.visHi && k.inLo == k.in {
		if k.kind != 2 {
			k.visLo = age(k.visLo)
		}
		if target.InHair > 0 {
			k.in = age(k.in)
		}
		k.day, k.visHi, k.inLo = math.MaxInt16, 0, 0
	}
	v, ok := s.z.memo[k]
	if !ok {
		v = clamp01(s.z.model.Readiness(st.steps, on, target))
		s.z.memo[k] = v
	}
	return v
}

// best is the best readiness on a day of any coat that was followed; where that is less than tight, anything below tight.
func (s *search) best(on timeline.Day) float64 {
	for len(s.levels) <= len(s.t.sessions) && s.t.sessions[len(s.levels)-1] < on {
		s.follow()
	}
	most := 0.0
	for _, st := range s.states {
		most = math.Max(most, s.ready(st, on, math.Max(most, usual.TightFrom.Value)))
	}
	return most
}

// can: for a show on the day there is a course that every rule allows and that makes the zone so ready.
func (s *search) can(on timeline.Day, want float64) bool {
	s.best(on)
	one := *s.t
	one.sessions = slices.DeleteFunc(slices.Clone(s.t.sessions), func(d timeline.Day) bool { return d >= on })
	one.shows = []show{{on: on, weight: 1, before: len(one.sessions) - 1}}
	zone := *s.z
	one.closeSessions(&zone)
	for _, st := range s.states {
		if s.ready(st, on, want) >= want && one.follows(&zone, st.steps) >= want {
			return true
		}
	}
	return false
}

// follows is how ready the zone is at the first show if these pulls are done as far as the rules allow them, and what the
// rules compel besides.
func (t *task) follows(z *zone, steps []coat.Step) float64 {
	lad, done := z.start, []coat.Step(nil)
	for i, on := range t.sessions {
		menu := t.choices(nil, z, lad, i, func() []coat.Step { return done })
		c := menu[0]
		for _, st := range steps {
			for _, m := range menu {
				if st.On == on && math.Abs(m.share-st.Share) < shareEps && m.work() == st.Do {
					c = m
				}
			}
		}
		if c.kind != leave {
			lad, done = pull(nil, lad, c.share, i), append(done, stepOf(on, c))
		}
	}
	s := t.shows[0]
	return z.ready(int(s.on-t.today), s.on, z.targets[0], done, lad)
}

// follow adds the coats after one more session.
func (s *search) follow() {
	t, z := s.t, s.z
	i := len(s.levels) - 1
	var next []coatNode
	index := map[string]bool{}
	var key []byte
	for at, node := range s.levels[i] {
		menu := append(t.pulls(nil, z, node.lad, i), choice{})
		for _, c := range menu {
			lad := node.lad
			if c.kind != leave {
				lad = pull(nil, node.lad, c.share, i)
			}
			key = key[:0]
			for _, r := range lad {
				key = append(key, byte(r.born), byte(r.born>>8))
				share := uint32(math.Round(r.share * 1e6))
				key = append(key, byte(share), byte(share>>8), byte(share>>16))
			}
			if index[string(key)] {
				continue
			}
			index[string(key)] = true
			next = append(next, coatNode{lad: lad, parent: int32(at), choice: c, total: node.total + c.minutes})
		}
	}
	if len(next) > searchCoats {
		var few []coatNode
		for _, at := range thin(next, searchCoats) {
			few = append(few, next[at])
		}
		next = few
	}
	s.levels = append(s.levels, next)
	for at, node := range next {
		if node.choice.kind == leave {
			continue
		}
		k := z.key(0, 0, node.lad, z.targets[0])
		if !s.seen[k] {
			s.seen[k] = true
			s.states = append(s.states, searchState{t.sessions[i], node.lad, t.wayTo(s.levels, i+1, int32(at))})
		}
	}
}
