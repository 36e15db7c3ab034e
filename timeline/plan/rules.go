package plan

import (
	"math"
	"slices"

	"thatch/timeline"
)

// kind is a choice for a zone in a session.
type kind uint8

const (
	leave kind = iota
	few
	quarter
	third
	half
	top
	strip
)

func (k kind) share() float64 {
	switch k {
	case few:
		return timeline.ShareFew
	case quarter:
		return timeline.ShareQuarter
	case third:
		return timeline.ShareThird
	case half:
		return timeline.ShareHalf
	case strip:
		return timeline.ShareAll
	}
	return 0
}

// choice is a kind with the share it means on that coat.
type choice struct {
	kind    kind
	share   float64
	minutes float64
}

func (c choice) work() timeline.Work {
	switch c.kind {
	case leave:
		return timeline.Leave
	case strip:
		return timeline.Strip
	}
	return timeline.Take
}

// closeSessions applies the rules that depend on the calendar alone.
func (t *task) closeSessions(z *zone) {
	z.open, z.covered = make([]closure, len(t.sessions)), make([][]timeline.Day, len(t.sessions))
	for i := range t.sessions {
		z.open[i] = t.closed(z, t.sessions[i])
		z.covered[i] = t.mustCover(z, t.sessions[i])
	}
}

// hideDays are the days after a pull on which a zone shows its skin, more likely than not.
func (z *zone) hideDays() int { return z.lagDays + usual.BareDays.days() }

// mustCover are the shows too near for hair that is pulled on a day to hide the skin again. Where a zone cannot be made
// right for such a show, covered is better than bare; a pull that bares it is only for a later show's sake, one that is too
// near to the first for the work to be done between them. The days of the sessions have no part in it: one more is never a
// loss.
func (t *task) mustCover(z *zone, on timeline.Day) (days []timeline.Day) {
	if !z.hasBand {
		return nil
	}
	need := max(z.hideDays(), z.flatBy)
	for h, s := range t.shows {
		if s.on <= on || int(s.on-on) >= z.hideDays() {
			continue
		}
		later := false
		for k := h + 1; k < len(t.shows); k++ {
			later = later || z.banded[k] && int(t.shows[k].on-on) >= need && int(t.shows[k].on-s.on) < need
		}
		if !later {
			days = append(days, s.on)
		}
	}
	return days
}

// bares reports whether a pull of the share in session i would leave the zone bare at a show that is too near.
func (t *task) bares(z *zone, lad []rung, share float64, i int) bool {
	for _, day := range z.covered[i] {
		sum := -share
		for _, r := range lad {
			if int(day-t.bornOn(z, r.born)) >= z.hideDays() {
				sum += r.share
			}
		}
		if sum < usual.BareShare.Value-shareEps {
			return true
		}
	}
	return false
}

func (t *task) closed(z *zone, on timeline.Day) closure {
	if !z.prof.Stripped || !z.hasBand {
		return closedKept
	}
	if z.notReady() && on < z.testAgain() {
		return closedRipeness
	}
	for _, s := range t.shows {
		days := int(s.on - on)
		if days <= 0 {
			continue
		}
		// Legs give a little to the end; everything else that is stripped is only tidied in the last days.
		if days <= t.rules.TidyOnlyDays && !z.prof.LittleEach {
			return closedTidy
		}
		if z.flatBy > 0 && days < z.flatBy {
			return closedFlat
		}
	}
	return isOpen
}

// testAgain is the day from which a zone that was not ready, or only coming, may be tested again.
func (z *zone) testAgain() timeline.Day { return z.ripeness.On + timeline.Day(usual.AgainDays.days()) }

func (z *zone) notReady() bool { return z.ripeness != nil && z.ripeness.Is == timeline.NotReady }

// coming blocks large shares until the next test.
func (z *zone) coming(on timeline.Day) bool {
	return z.ripeness != nil && z.ripeness.Is == timeline.Coming && on < z.testAgain()
}

// time: the session holds the minutes, and a sensitive zone has a cap a session.
func (t *task) time(z *zone, minutes float64, i int) bool {
	return minutes <= t.room[i]+eps && !(z.sensitive && t.rules.SensitiveMinutes > 0 && minutes > t.rules.SensitiveMinutes+eps)
}

// flat reports whether the zone is kept flat and covered: a most, no least. Such a zone is pulled flat as a whole, also on
// a rolling coat.
func (z *zone) flat() bool {
	for h, t := range z.targets {
		if z.banded[h] {
			return z.prof.FlatByDays > 0 || z.prof.HeadFlat || t.MinMM <= 0 && t.MaxMM > 0
		}
	}
	return false
}

// menu is what a zone is offered, before the coat of the day is asked. An old jacket and a flat zone may give large shares
// at once; a rolling coat gives one top layer at a time, or part of it where that layer is more than half of the coat.
func (z *zone) menu(old bool, topShare float64) []kind {
	back := z.mode == timeline.BringBack && old
	switch {
	case z.prof.LittleEach && back:
		return []kind{few, quarter, third, half, top}
	case z.prof.LittleEach:
		return []kind{few, top}
	case z.name == timeline.Tail: // a few at a time, never many in one place
		if topShare <= timeline.ShareThird {
			return []kind{few, quarter, third, top}
		}
		return []kind{few, quarter, third}
	case back:
		return []kind{quarter, third, half, top, strip}
	case z.prof.HeadFlat:
		return []kind{few, half, top, strip}
	case z.isFlat:
		return []kind{half, top, strip}
	case topShare > timeline.ShareHalf+shareEps:
		return []kind{quarter, third}
	}
	return []kind{top}
}

// topOf is the share of the top layer; what is too little to be one goes with the next.
func topOf(lad []rung) float64 {
	sum := 0.0
	for _, r := range lad {
		if sum += r.share; sum >= usual.LayerFrom.Value-shareEps {
			break
		}
	}
	return sum
}

// pulls appends the pulls that every rule allows in session i on the coat lad.
func (t *task) pulls(dst []choice, z *zone, lad []rung, i int) []choice {
	if z.open[i] != isOpen || len(lad) == 0 {
		return dst
	}
	can := t.pullable(z, lad, i)
	if can <= shareEps {
		return dst
	}
	topShare, old := topOf(lad), lad[0].born < 0
	menu := z.menu(old, topShare)
	whole := topShare >= 1-shareEps
	if z.mode == timeline.KeepRolling && !z.isFlat && topShare > timeline.ShareHalf+shareEps {
		whole = true // more than one gives at a time
	}
	hasTop := !whole && topShare <= can+shareEps && slices.Contains(menu, top)
	for _, k := range menu {
		c := choice{kind: k, share: k.share()}
		switch k {
		case top:
			if whole {
				continue
			}
			c.share = topShare
		case quarter, third, half:
			// Said as the top layer; or it would leave a rest of the old jacket that is too little to be seen in the
			// visible length and long enough to stick out: then the rest goes too.
			rest := topShare - c.share
			if hasTop && (math.Abs(rest) < shareEps || z.mode == timeline.BringBack && old && rest > 0 && rest < visibleShare-shareEps) {
				continue
			}
		case few:
			if hasTop && math.Abs(topShare-c.share) < shareEps {
				continue
			}
		}
		if c.share > can+shareEps || c.share > timeline.ShareThird+shareEps && z.coming(t.sessions[i]) {
			continue
		}
		if t.bares(z, lad, c.share, i) {
			continue
		}
		// To keep a coat rolling is to keep it covered: elsewhere a bare zone is warned of, here it is not planned.
		if z.mode == timeline.KeepRolling && !z.isFlat && t.cover(z, lad, t.sessions[i])-c.share < t.rules.WarnCoverBelow-shareEps {
			continue
		}
		c.minutes = z.takeMinutes(c.share)
		if k == strip {
			c.minutes = z.workMinutes(timeline.Strip)
		}
		if !t.time(z, c.minutes, i) {
			continue
		}
		dst = append(dst, c)
	}
	return dst
}
