package demo

import (
	"thatch/imaging/phantom"
	"thatch/timeline"
	"thatch/timeline/coat"
)

// growth is the invented truth of one dog: the coat model with every parameter pinned to the dog's own.
type growth struct{ model *coat.Model }

// truthOf grows the role's coat through its visits. today is the day that the story's days count from.
func truthOf(r role, today timeline.Day) (growth, error) {
	p, err := coat.ProfileNamed("rough")
	if err != nil {
		return growth{}, err
	}
	f := coat.File{
		Dog:     coat.Dog{Name: r.start.Name, Undercoat: r.start.Answers.Undercoat, Texture: r.start.Texture},
		Profile: "rough", Today: today,
		Zones:  coat.StartZones(r.answersOn(today), p),
		Priors: map[timeline.Zone]coat.Priors{},
	}
	for _, z := range timeline.Zones() {
		zp := p.Zones[z]
		f.Priors[z] = coat.Priors{
			RateMMPerDay: &coat.MeanSD{Mean: baseRateMMPerDay * zp.RateFactor * r.growth},
			LagDays:      &coat.MedianSD{Median: r.lagDays},
			LengthMaxMM:  &coat.MeanSD{Mean: zp.LengthMaxMM.Mean},
		}
		zone := f.Zones[z]
		zone.Measured, zone.Ripeness = nil, nil
		for _, v := range r.visits {
			if w, ok := v.log()[z]; ok {
				zone.Work = append(zone.Work, coat.WorkDone{On: today + timeline.Day(v.day), Do: w.Do, Share: w.Share})
			}
		}
		f.Zones[z] = zone
	}
	m, err := coat.New(f)
	return growth{m}, err
}

// baseRateMMPerDay is the starting guess that the dog's own growth multiplies.
const baseRateMMPerDay = 0.38

func (r role) answersOn(today timeline.Day) timeline.Answers {
	a := r.start.Answers
	a.On, a.LastWorked = today+timeline.Day(r.answers), today+timeline.Day(r.last)
	return a
}

// lengths are the true lengths of a zone on a day, before or after its work.
func (g growth) lengths(on timeline.Day, after bool) map[timeline.Zone]coat.ZoneForecast {
	if after {
		return g.model.Forecast(on).Zones
	}
	return g.model.ForecastStart(on).Zones
}

// coatOn is what a photo shows. The depth drawn is the model's own.
func (g growth) coatOn(on timeline.Day, after bool) phantom.Coat {
	out := phantom.Coat{}
	for z, f := range g.lengths(on, after) {
		const lie = 0.45
		length := f.VisibleMM.Median
		out[z] = phantom.ZoneCoat{LengthMM: length, LieRatio: lie, LoftMM: max(0, f.DepthMM.Median-lie*length), InHair: f.InHair.Median}
	}
	return out
}
