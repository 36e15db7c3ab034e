package pages

import (
	"fmt"
	"math"

	"thatch/timeline"
	"thatch/timeline/plan"
	"thatch/web/words"
)

// shareChoice is a share of a take as the groomer says it.
type shareChoice struct {
	Value string // in forms
	Share float64
	Top   bool
}

func shareChoices() []shareChoice {
	return []shareChoice{
		{"top", 0, true}, {"few", timeline.ShareFew, false}, {"quarter", timeline.ShareQuarter, false},
		{"third", timeline.ShareThird, false}, {"half", timeline.ShareHalf, false},
	}
}

// shareWord is a share in words where there is one, else in percent.
func shareWord(sp words.Speaker, share float64, top bool) string {
	// What is left of a layer after a few pulls is a few hairs to the hand, whatever the model calls it.
	if top && share > 0 && share < timeline.ShareFew-0.005 {
		return sp.T("share.top.few")
	}
	if top {
		return sp.T("share.top")
	}
	for _, c := range shareChoices() {
		if !c.Top && math.Abs(share-c.Share) < 0.005 {
			return sp.T("share." + c.Value)
		}
	}
	if share >= 1 {
		return sp.T("share.all")
	}
	return fmt.Sprintf("%.0f %%", share*100)
}

// doing is a line of work in words: "take a quarter", "full strip", "leave".
func doing(sp words.Speaker, do timeline.Work, share float64, top bool) string {
	if do == timeline.Take && (share > 0 || top) {
		return doingShare(sp, do, shareWord(sp, share, top))
	}
	return word(sp, do)
}

// doingShare puts the work and how much of it in the order of the language.
func doingShare(sp words.Speaker, do timeline.Work, share string) string {
	return sp.T("session.doing", "do", do, "share", share)
}

func doingOf(sp words.Speaker, v any) (string, error) {
	switch v := v.(type) {
	case timeline.ZoneWork:
		return doing(sp, v.Do, v.Share, v.TopLayer), nil
	case *timeline.ZoneWork:
		return doing(sp, v.Do, v.Share, v.TopLayer), nil
	case plan.Line:
		return doing(sp, v.Do, v.Share, v.Top), nil
	case *plan.Line:
		return doing(sp, v.Do, v.Share, v.Top), nil
	}
	return "", fmt.Errorf("doing of %T", v)
}
