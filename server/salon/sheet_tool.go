package salon

import "thatch/timeline"

// toolFor proposes a kind of tool: what was used for the same work on the zone the last time, unless the hair was cut with
// it or the zone is sensitive; else what is usual (common practice, no source; where hands differ, judgement).
func toolFor(z SessionZone, do timeline.Work, share float64, cut bool) timeline.Tool {
	switch do {
	case timeline.Card:
		return "undercoat_rake"
	case timeline.Scissor:
		return "scissors"
	case timeline.Clip:
		return "clipper"
	case timeline.Leave:
		return ""
	}
	if last := z.Last; last != nil && last.Do == do && last.Tool != "" && !cut && !z.Sensitive {
		return last.Tool
	}
	if z.Sensitive || cut || z.Zone == timeline.Tail {
		return "fingers"
	}
	switch z.Zone.Group() {
	case timeline.GroupHead:
		if do == timeline.Tidy {
			return "fingers"
		}
		return "stone"
	case timeline.GroupLegs, timeline.GroupUnder:
		return "finger_cots"
	case timeline.GroupJacket:
		if do == timeline.Strip || share >= timeline.ShareHalf {
			return "knife_medium"
		}
	}
	if do == timeline.Tidy {
		return "fingers"
	}
	return "knife_fine"
}
