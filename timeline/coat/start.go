package coat

import (
	"math"

	"thatch/timeline"
)

// Starting a dog takes four answers. What is assumed beside them is judgement: a rolled coat is worked every
// rollDays; its flat zones carry flatLayers, its jacket as many layers as its longest hair tells, between rollMin and
// rollMax, rollUsual where that was not said.
const (
	rollDays   = 14
	rollMin    = 3
	rollMax    = 8
	rollUsual  = 4
	flatLayers = 2
	// neglectedDays after the last work even a rolled coat is brought back: common practice, no source, counts about
	// three months untouched as a new start.
	neglectedDays = 84
	// guessedAgeSDMM is the sd of the first reading where the age of the hair had to be guessed from that very reading,
	// so that it teaches next to nothing of the rate.
	guessedAgeSDMM = 15
	// firstReadingSDMM is the sd of a length told at a first visit, not read from a ruler under our protocol; of a rolled
	// coat more, since the age of the oldest layer was rounded to a whole number of layers by that very length.
	firstReadingSDMM  = 2
	firstReadingRolls = 5
)

// medianDays is the age at which a zone's longest hair has the length, by the profile's medians; full reports that the
// length is near its full length, so that any greater age would do.
func (p Profile) medianDays(zone timeline.Zone, u timeline.Undercoat, mm float64) (days float64, full bool) {
	zp := p.Zones[zone]
	pr := zonePrior(p, zp, Dog{Undercoat: u}, Priors{})
	days = pr.lag.quantile(0.5) + mm/pr.rate.quantile(0.5)
	return days, mm >= 0.9*zp.LengthMaxMM.Mean
}

// LayersFrom are the layers that the four answers tell of a zone, and how it is to be worked: a rolled coat as equal
// layers two weeks apart ending at the last work, any other as one old jacket of that day.
func LayersFrom(a timeline.Answers, p Profile, zone timeline.Zone) ([]Layer, timeline.Mode) {
	zp := p.Zones[zone]
	last := a.LastWorked
	if last.IsZero() {
		last = guessLastWorked(a, p)
	}
	if !zp.Stripped {
		// Shaped or scissored, never pulled: full-grown hair, whatever was done to the rest.
		return []Layer{{Pulled: last - oldJacketDays, Share: 1}}, ""
	}
	if !a.Rolled || a.LastWorked.IsZero() {
		return []Layer{{Pulled: last, Share: 1}}, timeline.BringBack
	}
	n := flatLayers
	if zp.Target == nil || zp.Target.MinMM > 0 {
		n = rollUsual
		if a.LongestWithersMM > 0 {
			days, _ := p.medianDays(timeline.Withers, a.Undercoat, a.LongestWithersMM)
			n = int(math.Round((days-float64(a.On-last))/rollDays)) + 1
			n = min(max(n, rollMin), rollMax)
		}
	}
	layers := make([]Layer, n)
	for i := range layers {
		layers[i] = Layer{Pulled: last - rollDays*timeline.Day(n-1-i), Share: 1 / float64(n)}
	}
	mode := timeline.KeepRolling
	if a.On-last > neglectedDays {
		mode = timeline.BringBack
	}
	return layers, mode
}

// guessLastWorked is the day from which the told length would have grown; a full-grown or unknown one says only "long ago".
func guessLastWorked(a timeline.Answers, p Profile) timeline.Day {
	if a.LongestWithersMM <= 0 {
		return a.On - oldJacketDays
	}
	days, full := p.medianDays(timeline.Withers, a.Undercoat, a.LongestWithersMM)
	if full {
		return a.On - oldJacketDays
	}
	return a.On - timeline.Day(math.Round(days))
}

// StartZones are all zones of a dog as the four answers tell. The longest hair at the withers is also its first reading.
// Zones that are scissored or clipped count as done with the last work; brows and beard keep their hair.
func StartZones(a timeline.Answers, p Profile) map[timeline.Zone]Zone {
	out := make(map[timeline.Zone]Zone, len(p.Zones))
	for _, name := range timeline.Zones() {
		zp, ok := p.Zones[name]
		if !ok {
			continue
		}
		z := Zone{Sensitive: zp.Sensitive}
		z.Layers, z.Mode = LayersFrom(a, p, name)
		if !zp.Stripped && name.Group() != timeline.GroupHead && !a.LastWorked.IsZero() {
			z.Work = []WorkDone{{On: a.LastWorked, Do: timeline.Scissor}}
		}
		if name == timeline.Withers && a.LongestWithersMM > 0 {
			sd := float64(firstReadingSDMM)
			switch {
			case a.LastWorked.IsZero():
				sd = guessedAgeSDMM
			case a.Rolled:
				sd = firstReadingRolls
			}
			z.Measured = []Measured{{On: a.On, LengthMM: a.LongestWithersMM, SDMM: sd}}
		}
		out[name] = z
	}
	return out
}
