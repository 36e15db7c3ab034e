package plan

import (
	"thatch/timeline"
	"thatch/timeline/coat"
)

// Plan is the best that can be done on the permitted session days towards the shows.
type Plan struct {
	Feasible      bool                          `json:"feasible"`
	LargestRegret float64                       `json:"largest_regret"`
	ReadinessMean float64                       `json:"readiness_mean"`
	Sessions      []Session                     `json:"sessions"`
	Zones         map[timeline.Zone]ZoneOutlook `json:"zones"`
	Warnings      []timeline.Phrase             `json:"-"` // the edge puts them in words
}

// Session is the sheet of one day, zones in working order.
type Session struct {
	On      timeline.Day
	Minutes float64
	Zones   []Line
}

// Line is what to do with one zone on one day, and why.
type Line struct {
	Zone    timeline.Zone
	Do      timeline.Work
	Share   float64
	Top     bool // the share is the top layer
	Minutes float64
	Why     timeline.Phrase // key "why.…"
}

// Verdict is what the screens say; the number is behind a tap.
type Verdict string

const (
	OnTrack Verdict = "on track"
	Tight   Verdict = "tight"
	TooLate Verdict = "too late"
	NoBand  Verdict = ""
)

// ZoneOutlook is how a zone will stand at the shows; the worst show rules.
type ZoneOutlook struct {
	Readiness *float64
	BestAlone *float64
	Verdict   Verdict
	VisibleMM coat.Dist    // at the first show
	ReadyBy   timeline.Day // where too late: the first day it could be ready; zero: not within a year
}

// Make finds the plan of a coat file. A bad file, or one without a show or a session, is a *timeline.Fault of kind Invalid.
func Make(f coat.File) (Plan, error) { panic("plan: being written") }
