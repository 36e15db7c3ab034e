package plan

import (
	"math"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// Document is the plan as JSON. Lists are never null; readiness and best_alone are null where a zone has no band.
type Document struct {
	Feasible      bool                           `json:"feasible"`
	LargestRegret float64                        `json:"largest_regret"`
	ReadinessMean float64                        `json:"readiness_mean"`
	Gap           GapDocument                    `json:"gap"`
	Sessions      []SessionDocument              `json:"sessions"`
	Zones         map[timeline.Zone]ZoneDocument `json:"zones"`
	Warnings      []string                       `json:"warnings"`
}

// GapDocument is Gap as JSON.
type GapDocument struct {
	LargestRegret float64 `json:"largest_regret"`
	ReadinessMean float64 `json:"readiness_mean"`
	Minutes       float64 `json:"minutes"`
}

// SessionDocument is Session as JSON.
type SessionDocument struct {
	On      timeline.Day   `json:"on"`
	Minutes float64        `json:"minutes"`
	Zones   []LineDocument `json:"zones"`
}

// LineDocument is Line as JSON.
type LineDocument struct {
	Zone    timeline.Zone `json:"zone"`
	Do      timeline.Work `json:"do"`
	Share   float64       `json:"share"`
	Minutes float64       `json:"minutes"`
	Why     string        `json:"why"`
}

// ZoneDocument is ZoneOutlook as JSON.
type ZoneDocument struct {
	Readiness *float64     `json:"readiness"`
	BestAlone *float64     `json:"best_alone"`
	Verdict   Verdict      `json:"verdict"`
	VisibleMM coat.Dist    `json:"visible_mm"`
	ReadyBy   timeline.Day `json:"ready_by"` // null where none
}

// JSON is the plan as a document; say puts its reasons and warnings into words. Minutes are rounded to a hundredth.
func (p Plan) JSON(say func(timeline.Phrase) string) any {
	d := Document{
		Feasible: p.Feasible, LargestRegret: p.LargestRegret, ReadinessMean: p.ReadinessMean,
		Gap:      GapDocument{p.Gap.Regret, p.Gap.ReadinessMean, p.Gap.Minutes},
		Sessions: []SessionDocument{}, Zones: map[timeline.Zone]ZoneDocument{}, Warnings: []string{},
	}
	for _, s := range p.Sessions {
		sd := SessionDocument{On: s.On, Minutes: hundredth(s.Minutes), Zones: []LineDocument{}}
		for _, l := range s.Zones {
			sd.Zones = append(sd.Zones, LineDocument{l.Zone, l.Do, l.Share, hundredth(l.Minutes), say(l.Why)})
		}
		d.Sessions = append(d.Sessions, sd)
	}
	for z, o := range p.Zones {
		d.Zones[z] = ZoneDocument{o.Readiness, o.BestAlone, o.Verdict, o.VisibleMM, o.ReadyBy}
	}
	for _, w := range p.Warnings {
		d.Warnings = append(d.Warnings, say(w))
	}
	return d
}

func hundredth(v float64) float64 { return math.Round(v*100) / 100 }
