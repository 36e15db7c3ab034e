package salon

import (
	"slices"

	"thatch/timeline"
)

// New hair after a pull is out within 8 to 10 weeks; later than that it is a veterinarian's to look at, not a longer lag.
// Common practice, no source.
const noHairDays = 10 * 7

// vetYear is how far back two findings of the skin belong together. Judgement, no source.
const vetYear = 365

// forVet are the remarks of the logs, and of what was seen, that a veterinarian should look at. They say what was written down
// and never what it might be.
func forVet(h history, signs []SignLine) []timeline.Phrase {
	out := []timeline.Phrase{}
	for _, s := range signs {
		out = append(out, timeline.Say("vet."+string(s.Sign), "on", s.On))
	}
	var sore []timeline.Zone
	for _, z := range timeline.Zones() {
		if days := unhairedDays(h, z); days >= noHairDays {
			out = append(out, timeline.Say("vet.no_hair", "zone", z, "weeks", days/7))
		}
		if timesSore(h, z) >= 2 {
			sore = append(sore, z)
		}
	}
	if len(sore) > 0 {
		out = append(out, timeline.Say("vet.skin", "zones", sore))
	}
	return out
}

// unhairedDays is how long after a whole strip the new hair was still seen not to be out, at the newest look since; 0: it is
// out, or nobody looked.
func unhairedDays(h history, z timeline.Zone) int {
	var stripped timeline.Day
	days := 0
	for _, v := range h.sessions {
		for _, l := range v.Work {
			if l.Zone != z {
				continue
			}
			// New hair is looked for before the work of the day.
			switch {
			case l.NewHair == timeline.NewHairOut:
				days = 0
			case l.NewHair == timeline.NewHairNotOut && !stripped.IsZero():
				days = int(v.On - stripped)
			}
			if l.Do == timeline.Strip {
				stripped, days = v.On, 0
			}
		}
	}
	return days
}

// timesSore is at how many visits of the last year the skin of a zone was raised or broken.
func timesSore(h history, z timeline.Zone) int {
	n := 0
	for _, v := range h.sessions {
		if v.On+vetYear < h.today {
			continue
		}
		if slices.ContainsFunc(v.Work, func(l timeline.ZoneWork) bool {
			return l.Zone == z && (l.Skin == timeline.SkinRaised || l.Skin == timeline.SkinBroken)
		}) {
			n++
		}
	}
	return n
}
