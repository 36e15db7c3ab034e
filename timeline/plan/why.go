package plan

import (
	"math"

	"thatch/timeline"
)

// whyPull says why a zone is worked in session i.
func (t *task) whyPull(c course, i int) timeline.Phrase {
	z, on, ch := c.z, t.sessions[i], c.choices[i]
	h := t.nextShow(on)
	show, days := t.shows[h].name, int(t.shows[h].on-on)
	lad := c.lads[i]
	pulled := t.bornOn(z, lad[0].born)
	old := int(on-pulled) > usual.OldJacketDays.days()
	switch {
	case z.flatBy > 0 && t.lastOpen(z, i, h):
		return timeline.Say("why.last_flat", "n", days, "show", show)
	case ch.kind == strip:
		return timeline.Say("why.strip", "n", days, "show", show)
	case z.little() && ch.share <= timeline.ShareFew+shareEps:
		return timeline.Say("why.legs")
	case z.name == timeline.Tail:
		return timeline.Say("why.tail")
	case z.prof.HeadFlat && ch.share <= timeline.ShareFew+shareEps:
		return timeline.Say("why.pick_over")
	case ch.kind == top && old:
		return timeline.Say("why.top.old")
	case ch.kind == top:
		return timeline.Say("why.top", "on", pulled)
	case old:
		return timeline.Say("why.part.old", "cover", int(math.Round(100*t.cover(z, c.lads[i+1], on))))
	}
	return timeline.Say("why.part", "on", pulled)
}

// lastOpen: no later session before show h lets the zone be pulled.
func (t *task) lastOpen(z *zone, i, h int) bool {
	for j := i + 1; j <= t.shows[h].before; j++ {
		if z.open[j] == isOpen {
			return false
		}
	}
	return true
}

// whyLeave says why a zone is left in session i; left is the time that the chosen pulls leave free.
func (t *task) whyLeave(c course, i int, left float64) timeline.Phrase {
	z, on := c.z, t.sessions[i]
	h := t.nextShow(on)
	show, days := t.shows[h].name, int(t.shows[h].on-on)
	switch z.open[i] {
	case closedKept:
		if last := z.lastWork[z.kept()]; !last.IsZero() && int(on-last) < usual.KeepEveryDays.days() {
			return timeline.Say("why.leave.kept", "n", int(on-last))
		}
		return timeline.Say("why.leave.kept_no_time")
	case closedRipeness:
		return timeline.Say("why.not_ready", "on", z.ripeness.On, "again", t.nextTest(z))
	case closedFlat, closedTidy:
		if lad := c.lads[i]; len(lad) > 0 && t.cover(z, lad, on) <= shareEps {
			return timeline.Say("why.leave.young", "n", int(on-t.bornOn(z, lad[0].born)))
		}
		return timeline.Say("why.leave.strays_no_time", "n", days, "show", show)
	}
	lad := c.lads[i]
	if len(lad) == 0 {
		return timeline.Say("why.leave.stands", "show", show)
	}
	if t.pullable(z, lad, i) <= shareEps {
		since := int(on - t.bornOn(z, lad[0].born))
		if since <= z.lagDays {
			return timeline.Say("why.leave.young", "n", since)
		}
		return timeline.Say("why.leave.short", "n", since)
	}
	menu := t.pulls(nil, z, lad, i)
	if len(menu) == 0 {
		if t.onlyBare(z, lad, i) {
			at := z.covered[i][0]
			return timeline.Say("why.leave.bare", "n", int(at-on), "show", t.shows[t.nextShow(at-1)].name)
		}
		switch {
		case z.sensitive:
			return timeline.Say("why.leave.sensitive")
		case z.coming(on):
			return timeline.Say("why.leave.coming", "on", z.ripeness.On, "again", t.nextTest(z))
		}
		return t.whyWait(c, i)
	}
	least := menu[0]
	for _, m := range menu {
		if m.share < least.share {
			least = m
		}
	}
	after := pull(nil, lad, least.share, i)
	step := c.steps[i]
	if !t.longEnough(z, h, append(step[:len(step):len(step)], stepOf(on, least)), after) {
		return timeline.Say("why.leave.grow", "min", timeline.LengthMM(z.targets[h].MinMM), "show", show)
	}
	if c.short && least.minutes > left+eps {
		return timeline.Say("why.leave.no_time")
	}
	return t.whyWait(c, i)
}

// nextTest is the session in which a zone is tested again, or the day on which it should be.
func (t *task) nextTest(z *zone) timeline.Day {
	for _, on := range t.sessions {
		if on >= z.testAgain() {
			return on
		}
	}
	return z.testAgain()
}

// onlyBare: there would be something to pull in session i if the zone might be bare at the show.
func (t *task) onlyBare(z *zone, lad []rung, i int) bool {
	if len(z.covered[i]) == 0 {
		return false
	}
	covered := z.covered[i]
	z.covered[i] = nil
	could := len(t.pulls(nil, z, lad, i)) > 0
	z.covered[i] = covered
	return could
}

// whyWait: the zone may be pulled, but it is better as it is.
func (t *task) whyWait(c course, i int) timeline.Phrase {
	h := t.nextShow(t.sessions[i])
	for j := i + 1; j < len(t.sessions); j++ {
		if c.choices[j].kind != leave {
			return timeline.Say("why.leave.later", "on", t.sessions[j])
		}
	}
	z := c.z
	if z.banded[h] {
		switch verdictOf(z.ready(h, t.shows[h].on, z.targets[h], c.steps[i], c.lads[i])) {
		case TooLate:
			return timeline.Say("why.leave.no_help", "show", t.shows[h].name)
		case Tight:
			return timeline.Say("why.leave.best", "show", t.shows[h].name)
		}
	}
	return timeline.Say("why.leave.stands", "show", t.shows[h].name)
}
