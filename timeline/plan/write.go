package plan

import (
	"slices"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// course is one zone's chosen sequence replayed: the coat before and after every session.
type course struct {
	z       *zone
	short   bool // of minutes: it could be readier if it alone mattered
	choices []choice
	lads    [][]rung      // before session i; one more than sessions
	steps   [][]coat.Step // before session i; one more than sessions
}

func (t *task) replay(z *zone, s *sequence) course {
	c := course{z: z, lads: [][]rung{z.start}, steps: [][]coat.Step{nil}}
	for i, k := range s.kinds {
		lad, steps := c.lads[i], c.steps[i]
		var chosen choice
		for _, p := range t.pulls(nil, z, lad, i) {
			if p.kind == k {
				chosen = p
			}
		}
		if chosen.kind != leave {
			lad = pull(nil, lad, chosen.share, i)
			steps = append(slices.Clip(steps), coat.Step{On: t.sessions[i], Do: chosen.work(), Share: chosen.share})
		}
		c.choices, c.lads, c.steps = append(c.choices, chosen), append(c.lads, lad), append(c.steps, steps)
	}
	return c
}

// write turns the chosen sequences into sheets, outlooks and warnings.
func (t *task) write(f found) Plan {
	p := Plan{
		From: max(t.today, t.last+1), Feasible: true, LargestRegret: f.regret, ReadinessMean: f.mean, Gap: f.gap,
		Sessions: []Session{}, Zones: map[timeline.Zone]ZoneOutlook{}, Warnings: []timeline.Phrase{},
	}
	var courses []course
	for i, z := range t.zones {
		c := t.replay(z, f.picked[i])
		c.short = f.picked[i].ready < f.options[i].best-eps
		courses = append(courses, c)
	}
	for i := range t.sessions {
		s, warnings := t.sheet(courses, i)
		p.Sessions, p.Warnings = append(p.Sessions, s), append(p.Warnings, warnings...)
	}
	p.Warnings = append(t.outlooks(&p, f, courses), p.Warnings...)
	return p
}

// sheet is one session: the chosen pulls, then, in the time that is left, strays, what is kept by scissors, and carding.
func (t *task) sheet(courses []course, i int) (Session, []timeline.Phrase) {
	on := t.sessions[i]
	s := Session{On: on, Zones: []Line{}}
	var warnings []timeline.Phrase
	left := t.room[i]
	for _, c := range courses {
		left -= c.choices[i].minutes
	}
	h := t.nextShow(on)
	lastBefore := t.shows[h].before == i
	lines := make([]Line, len(courses))
	var noTime, bare []timeline.Zone
	for n, c := range courses {
		ch := c.choices[i]
		if ch.kind == leave {
			lines[n] = Line{Zone: c.z.name, Do: timeline.Leave, Why: t.whyLeave(c, i, left)}
			continue
		}
		lines[n] = Line{Zone: c.z.name, Do: ch.work(), Share: ch.share, Top: ch.kind == top, Minutes: ch.minutes, Why: t.whyPull(c, i)}
		if ch.kind != strip && t.cover(c.z, c.lads[i+1], on) < t.rules.WarnCoverBelow-eps {
			bare = append(bare, c.z.name)
		}
	}
	fill := func(n int, w timeline.Work, why timeline.Phrase) bool {
		z := courses[n].z
		m := z.workMinutes(w)
		if m > left+eps || z.sensitive && t.rules.SensitiveMinutes > 0 && lines[n].Minutes+m > t.rules.SensitiveMinutes+eps {
			return false
		}
		left -= m
		z.lastWork[w] = on
		line := Line{Zone: z.name, Do: w, Minutes: m, Why: why}
		if w == timeline.Card {
			s.Zones = append(s.Zones, line)
		} else {
			lines[n] = line
		}
		return true
	}
	days := int(t.shows[h].on - on)
	for n, c := range courses {
		if (c.z.open[i] == closedTidy || c.z.open[i] == closedFlat) && t.cover(c.z, c.lads[i], on) > shareEps {
			fill(n, timeline.Tidy, timeline.Say("why.strays", "n", days, "show", t.shows[h].name))
		}
	}
	for n, c := range courses {
		if c.z.open[i] != closedKept {
			continue
		}
		w := c.z.kept()
		since := int(on - c.z.lastWork[w])
		never := c.z.lastWork[w].IsZero()
		switch {
		case lastBefore:
			if !fill(n, w, timeline.Say("why.keep.show", "n", days, "show", t.shows[h].name)) {
				noTime = append(noTime, c.z.name)
			}
		case never:
			fill(n, w, timeline.Say("why.keep.first"))
		case since >= usual.KeepEveryDays.days():
			fill(n, w, timeline.Say("why.keep.due", "n", since))
		}
	}
	for n, c := range courses {
		heavy := t.dog.Undercoat == timeline.UndercoatHeavy
		if c.z.name.Group() != timeline.GroupJacket || !heavy && t.dog.Undercoat != timeline.UndercoatSome || days <= t.rules.TidyOnlyDays {
			continue
		}
		if t.cover(c.z, c.lads[i], on) < usual.BareShare.Value-shareEps {
			continue // a rake on bare skin
		}
		if last := c.z.lastWork[timeline.Card]; last.IsZero() || int(on-last) >= usual.CardEveryDays.days() || heavy && int(on-last) >= usual.CardEveryDays.days()/2 {
			why := timeline.Say("why.card.alone")
			if c.choices[i].kind != leave {
				why = timeline.Say("why.card")
			}
			fill(n, timeline.Card, why)
		}
	}
	s.Zones = SheetOrder(append(s.Zones, lines...))
	for n, l := range s.Zones {
		s.Minutes += l.Minutes
		if rest := usual.SensitiveBreakMinutes.Value; t.zoneNamed(l.Zone).sensitive && l.Minutes > rest+eps {
			s.Zones[n].Break = timeline.Say("why.break", "n", int(rest))
		}
	}
	if len(bare) > 0 {
		warnings = append(warnings, timeline.Say("warn.plan.cover", "zones", bare, "on", on))
	}
	if len(noTime) > 0 {
		warnings = append(warnings, timeline.Say("warn.plan.no_time", "zones", noTime, "on", on, "show", t.shows[h].name))
	}
	return s, warnings
}

// kept is how a zone that is not pulled is kept.
func (z *zone) kept() timeline.Work {
	if _, ok := z.minutes[timeline.Scissor]; ok && !z.prof.Stripped && z.name.Group() != timeline.GroupHead {
		return timeline.Scissor
	}
	return timeline.Tidy
}
