package plan

import (
	"math"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// Plan is the best that can be done on the permitted session days towards the shows.
type Plan struct {
	From          timeline.Day                  // the first day that it may plan: today, or the day after the last logged work
	Feasible      bool                          // every zone that has a band can be inside it: none is too late
	LargestRegret float64                       // over zones: best alone − readiness, 0–1
	ReadinessMean float64                       // rounded to 0.001, weighted by the priority of the shows
	Gap           Gap                           // how far from the best this plan can be at most
	Sessions      []Session                     // every permitted day, in order
	Zones         map[timeline.Zone]ZoneOutlook // every zone of the file
	Warnings      []timeline.Phrase             // keys "warn.plan.…"; the edge puts them in words
}

// Gap is a proven bound on what the search may have missed; zero where the plan is exact. The objective is lexicographic:
// ReadinessMean is only a bound while Regret is 0, Minutes only while both are.
type Gap struct {
	Regret        float64 // the best plan's largest regret may be this much smaller
	ReadinessMean float64 // its mean this much larger
	Minutes       float64 // its work this much shorter
}

// Session is the sheet of one day, zones in working order.
type Session struct {
	On      timeline.Day
	Minutes float64 // planned, never more than the session has
	Zones   []Line
}

// Line is what to do with one zone on one day, and why.
type Line struct {
	Zone    timeline.Zone
	Do      timeline.Work
	Share   float64         // of the zone's hair; 0 unless Take or Strip
	Top     bool            // the share is the top layer
	Minutes float64         // 0 for Leave
	Why     timeline.Phrase // key "why.…"
	Break   timeline.Phrase // where the zone is sensitive and the work is long: when to stop for a while; else zero
}

// Verdict is what the screens say; the number is behind a tap.
type Verdict string

const (
	OnTrack Verdict = "on track"
	Tight   Verdict = "tight"
	TooLate Verdict = "too late"
	NoBand  Verdict = ""
)

func verdictOf(readiness float64) Verdict {
	switch {
	case readiness >= usual.OnTrackFrom.Value:
		return OnTrack
	case readiness >= usual.TightFrom.Value:
		return Tight
	}
	return TooLate
}

// ZoneOutlook is how a zone will stand at the shows; the worst show rules.
type ZoneOutlook struct {
	Readiness *float64 // nil: no band
	BestAlone *float64 // if this zone alone mattered
	Verdict   Verdict
	Show      timeline.Day // of the show that rules; zero: no band
	Next      Verdict      // at the first show that asks something of the zone
	VisibleMM coat.Dist    // at the first show
	ReadyBy   timeline.Day // where too late: the first day it could be ready; zero: not within a year
}

// Make finds the plan of a coat file. A bad file, or one without a show or a session, is a *timeline.Fault of kind Invalid
// whose Field is the place in the file.
//
// The largest regret is minimised first, then the mean readiness (rounded to 0.001) maximised, then the minutes of pulling
// minimised. Carding, tidying and scissoring change no readiness; they fill the time that is left and are not counted.
func Make(f coat.File) (Plan, error) { return makeIn(f, 0) }

// MakeShort is Make where the first session has only these minutes: which zones, if there are only 20 minutes today. More
// than a session has changes nothing.
func MakeShort(f coat.File, minutes float64) (Plan, error) {
	if !(minutes > 0) || math.IsInf(minutes, 0) {
		return Plan{}, bad("minutes", "fault.plan.minutes")
	}
	return makeIn(f, minutes)
}

func makeIn(f coat.File, first float64) (Plan, error) {
	m, err := coat.New(f)
	if err != nil {
		return Plan{}, err
	}
	return MakeOf(f, m, first)
}

// MakeOf is Make, or MakeShort where minutes is not 0, with the model of that very file, for who has it already.
func MakeOf(f coat.File, m *coat.Model, first float64) (Plan, error) {
	return makeWith(f, m.Profile(), func(z timeline.Zone) zoneModel { return m.Zone(z) }, first)
}

func makeWith(f coat.File, prof coat.Profile, model func(timeline.Zone) zoneModel, first float64) (Plan, error) {
	t, err := newTask(f, prof, model, first)
	if err != nil {
		return Plan{}, err
	}
	return t.write(t.search()), nil
}
