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
		return jacketTool(do, share)
	}
	if z.Zone == timeline.Crest {
		return jacketTool(do, share)
	}
	if do == timeline.Tidy {
		return "fingers"
	}
	return "knife_fine"
}

// jacketTool is for the long hair of the jacket and crest: a fine blade soon cuts it.
func jacketTool(do timeline.Work, share float64) timeline.Tool {
	if do == timeline.Strip || do == timeline.Take && share >= timeline.ShareHalf {
		return "knife_medium"
	}
	return "fingers"
}

// notCutting is another tool where hair was cut with the proposed one in this visit, and the one that cut; "": none did. Where
// even fingers did, no tool is better: the hair is looked at first.
func notCutting(v timeline.Session, tool timeline.Tool) (other, cut timeline.Tool) {
	for _, w := range v.Work {
		if w.HairCheck == timeline.HairCut && w.Tool == tool && tool != "" {
			return "fingers", tool
		}
	}
	return tool, ""
}
