package plan

import (
	"slices"
	"sort"

	"thatch/timeline"
	"thatch/timeline/coat"
)

func stepOf(on timeline.Day, c choice) coat.Step {
	return coat.Step{On: on, Do: c.work(), Share: c.share}
}

// outlooks fills the plan's zones and says what is not possible and when it would be.
func (t *task) outlooks(p *Plan, f found, courses []course) []timeline.Phrase {
	type verdictAt struct {
		show int
		by   timeline.Day
	}
	late := map[verdictAt][]timeline.Zone{}
	var short, between []timeline.Zone
	for i, c := range courses {
		z := c.z
		steps := c.steps[len(t.sessions)]
		o := ZoneOutlook{VisibleMM: z.model.Forecast(steps, t.shows[0].on, z.targets[0]).VisibleMM}
		if !z.hasBand {
			p.Zones[z.name] = o
			continue
		}
		r, best := f.picked[i].ready, f.options[i].best
		o.Readiness, o.BestAlone, o.Verdict = &r, &best, verdictOf(r)
		if o.Verdict == TooLate {
			p.Feasible = false
			if verdictOf(best) == TooLate {
				h := t.worst(c)
				o.ReadyBy = t.readyBy(z, h)
				late[verdictAt{h, o.ReadyBy}] = append(late[verdictAt{h, o.ReadyBy}], z.name)
			}
		}
		if o.Verdict != verdictOf(best) {
			short = append(short, z.name)
		}
		for k, hd := range z.hold {
			at := hd.session + 1
			if r >= usual.TightFrom.Value && z.ready(-1-k, hd.on, z.targets[hd.show], c.steps[at], c.lads[at]) < usual.TightFrom.Value {
				between = append(between, z.name)
				break
			}
		}
		p.Zones[z.name] = o
	}
	var out []timeline.Phrase
	keys := make([]verdictAt, 0, len(late))
	for k := range late {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b verdictAt) int {
		if a.show != b.show {
			return a.show - b.show
		}
		return int(a.by - b.by)
	})
	for _, k := range keys {
		s := t.shows[k.show]
		if k.by.IsZero() {
			out = append(out, timeline.Say("warn.plan.never", "zones", late[k], "show", s.name))
		} else {
			out = append(out, timeline.Say("warn.plan.too_late", "zones", late[k], "show", s.name, "by", k.by))
		}
	}
	if len(short) > 0 {
		out = append(out, timeline.Say("warn.plan.minutes", "zones", short))
	}
	if len(between) > 0 {
		out = append(out, timeline.Say("warn.plan.between", "zones", between))
	}
	return out
}

// worst is the show at which the zone is least ready.
func (t *task) worst(c course) int {
	worst, least := 0, 2.0
	for h, s := range t.shows {
		if !c.z.banded[h] {
			continue
		}
		at := s.before + 1
		if r := c.z.ready(h, s.on, c.z.targets[h], c.steps[at], c.lads[at]); r < least {
			worst, least = h, r
		}
	}
	return worst
}

// The search for the day a zone could be ready: a year ahead, at most so many pulls, at the dog's own cadence.
const (
	searchDays  = 366
	searchPulls = 8
)

// readyBy is the first day after show h on which the zone, if it alone mattered and minutes did not bind, could be on
// track for that show's target; where that is never reached within a year, the first day it comes close to the best it
// can be, if that is at least tight; else no day.
func (t *task) readyBy(z *zone, h int) timeline.Day {
	from := t.shows[h].on + 1
	more := *t
	more.shows, more.last = nil, t.last
	more.sessions = carriedOn(t.sessions, from+searchDays)
	more.room = make([]float64, len(more.sessions))
	for i := range more.room {
		more.room[i] = 24 * 60
	}
	zone := *z
	zone.sensitive = false
	zone.memo = map[memoKey]float64{}
	more.closeSessions(&zone)

	type state struct {
		last  timeline.Day // of the pulls
		steps []coat.Step
		lad   []rung
	}
	states := []state{{steps: nil, lad: zone.start}}
	for _, prefer := range []kind{strip, top, half, third, quarter, few} {
		lad, steps, pulls := zone.start, []coat.Step(nil), 0
		for i, on := range more.sessions {
			if pulls == searchPulls {
				break
			}
			menu := more.pulls(nil, &zone, lad, i)
			at := slices.IndexFunc(menu, func(c choice) bool { return c.kind == prefer })
			if at < 0 && (prefer != strip || pulls > 0) {
				// Once the old jacket is gone its large shares are not offered: go on with the top layer. A full strip waits
				// until all of the hair can be gripped.
				at = slices.IndexFunc(menu, func(c choice) bool { return c.kind == top })
			}
			if at < 0 {
				continue
			}
			pulls++
			lad = pull(nil, lad, menu[at].share, i)
			steps = append(slices.Clip(steps), stepOf(on, menu[at]))
			states = append(states, state{on, steps, lad})
		}
	}
	quiet := t.rules.TidyOnlyDays + 1
	if zone.prof.LittleEach {
		quiet = 1
	}
	quiet = max(quiet, zone.flatBy)
	target := z.targets[h]
	best := func(on timeline.Day) float64 {
		most := 0.0
		for _, s := range states {
			if !s.last.IsZero() && int(on-s.last) < quiet {
				continue
			}
			most = max(most, zone.ready(int(on-t.today), on, target, s.steps, s.lad))
		}
		return most
	}
	weeks := searchDays / 7
	weekly := make([]float64, weeks)
	most := 0.0
	want := usual.OnTrackFrom.Value
	hit := -1
	for w := range weeks {
		weekly[w] = best(from + timeline.Day(7*w))
		most = max(most, weekly[w])
		if weekly[w] >= want {
			hit = w
			break
		}
	}
	if hit < 0 {
		if want = 0.95 * most; want < usual.TightFrom.Value {
			return 0
		}
		hit = sort.Search(weeks, func(w int) bool { return slices.Max(weekly[:w+1]) >= want })
	}
	day := from + timeline.Day(7*hit)
	for d := max(from, day-6); d < day; d++ {
		if best(d) >= want {
			return d
		}
	}
	return day
}
