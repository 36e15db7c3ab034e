package plan

import (
	"slices"

	"thatch/timeline"
)

// workingOrder is the order on the table: the jacket from rear to front, the neck, the rear, the legs, underneath, the head
// last (common practice, no source). Carding comes before all of it.
var workingOrder = func() map[timeline.Zone]int {
	order := map[timeline.Zone]int{}
	for _, z := range []timeline.Zone{
		timeline.Rump, timeline.Loin, timeline.Back, timeline.Ribs, timeline.Withers,
		timeline.Crest, timeline.Neck, timeline.Shoulder, timeline.Forechest, timeline.Throat,
		timeline.Tail, timeline.Thigh, timeline.Hindleg, timeline.Foreleg, timeline.Feet,
		timeline.Underline, timeline.Belly,
		timeline.Ears, timeline.Cheek, timeline.Skull, timeline.Brows, timeline.Beard,
	} {
		order[z] = len(order)
	}
	return order
}()

// SheetOrder returns the lines in working order; the argument is not changed.
func SheetOrder(lines []Line) []Line {
	out := slices.Clone(lines)
	rank := func(l Line) int {
		r := workingOrder[l.Zone]
		if l.Do != timeline.Card {
			r += len(workingOrder)
		}
		return r
	}
	slices.SortStableFunc(out, func(a, b Line) int { return rank(a) - rank(b) })
	return out
}

// What is the work in words of the vocabulary: "a quarter", "the top layer", "full strip", "tidy".
func (l Line) What() timeline.Phrase {
	if l.Do != timeline.Take {
		return timeline.Say("work." + string(l.Do))
	}
	switch {
	case l.Top:
		return timeline.Say("share.top")
	case l.Share <= timeline.ShareFew+shareEps:
		return timeline.Say("share.few")
	case l.Share <= timeline.ShareQuarter+shareEps:
		return timeline.Say("share.quarter")
	case l.Share <= timeline.ShareThird+shareEps:
		return timeline.Say("share.third")
	case l.Share <= timeline.ShareHalf+shareEps:
		return timeline.Say("share.half")
	}
	return timeline.Say("share.all")
}

// Changes is a plain account of what is different in the new plan, from the same day on: verdicts first, then days, then
// lines. Both plans are of the same dog; lines of days before the new plan's first are not compared.
func Changes(old, new Plan) []timeline.Phrase {
	out := []timeline.Phrase{}
	for _, z := range timeline.Zones() {
		a, okA := old.Zones[z]
		b, okB := new.Zones[z]
		if !okA || !okB {
			continue
		}
		if a.Verdict != b.Verdict {
			out = append(out, timeline.Say("change.plan.verdict", "zone", z, "from", timeline.Say("verdict."+string(a.Verdict)), "to", timeline.Say("verdict."+string(b.Verdict))))
		} else if a.ReadyBy != b.ReadyBy && !b.ReadyBy.IsZero() {
			out = append(out, timeline.Say("change.plan.ready_by", "zone", z, "by", b.ReadyBy))
		}
	}
	days := map[timeline.Day]Session{}
	var first timeline.Day
	if len(new.Sessions) > 0 {
		first = new.Sessions[0].On
	}
	for _, s := range old.Sessions {
		if s.On >= first {
			days[s.On] = s
		}
	}
	main := func(s Session) map[timeline.Zone]Line {
		m := map[timeline.Zone]Line{}
		for _, l := range s.Zones {
			if l.Do != timeline.Card {
				m[l.Zone] = l
			}
		}
		return m
	}
	for _, s := range new.Sessions {
		was, ok := days[s.On]
		if !ok {
			out = append(out, timeline.Say("change.plan.session_new", "on", s.On))
			continue
		}
		delete(days, s.On)
		before := main(was)
		for _, l := range s.Zones {
			b, ok := before[l.Zone]
			if l.Do == timeline.Card || !ok {
				continue
			}
			if l.What().Key != b.What().Key {
				out = append(out, timeline.Say("change.plan.line", "zone", l.Zone, "on", s.On, "from", b.What(), "to", l.What(), "why", l.Why))
			}
		}
	}
	for _, s := range old.Sessions {
		if _, gone := days[s.On]; gone {
			out = append(out, timeline.Say("change.plan.session_gone", "on", s.On))
		}
	}
	return out
}
