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
