package salon

import (
	"time"

	"thatch/timeline"
	"thatch/timeline/plan"
)

// Sheet is the plan of one visit as it is worked: step by step, each with what to know before the hand gets there.
type Sheet struct {
	Dog     timeline.Dog
	Today   timeline.Day
	On      timeline.Day
	Session *timeline.Session // nil: a visit to come
	Steps   []SheetStep       // never nil; empty: nothing is planned on that day
	Fault   *timeline.Fault   // why nothing is planned, where that can be put right
	Careful []SheetLine       // lines to read before the first is begun: sensitive, sore last time, a remark
	Left    []plan.Line       // left alone, with the reason; those of a step stand in its Leave too
	Others  []timeline.Zone   // an assistant works: zones of the sheet that are not hers
	Own     bool              // the order is the groomer's own
	Minutes float64           // planned
	Open    float64           // minutes of the lines that are not logged yet
	Longer  int               // minutes of the longest visit so far, where this one is planned much longer; 0: it is not
	Short   int               // table time said for this day; 0: as usual
	Next    timeline.Day      // the next visit that the booking proposes; zero: none
	Shows   []timeline.Show   // to come
	Care    CareLook          // what is looked after at the step of care
	Last    *timeline.Session // the visit before this one; nil: this is the first
}

// StepKind is what kind of step of a sheet it is.
type StepKind string

const (
	StepCare  StepKind = "care"  // nails, pads, sanitary area, eyes, ears
	StepBrush StepKind = "brush" // brush through, look at the skin
	StepCard  StepKind = "card"  // undercoat out of Zones
	StepPinch StepKind = "pinch" // pinch test of Zones
	StepZone  StepKind = "zone"  // Line
	StepLook  StepKind = "look"  // stand her up, step back, look at Group
	StepEnd   StepKind = "end"   // all done
)

// SheetStep is one step of a sheet.
type SheetStep struct {
	Code    string // in addresses, one a step: "care", a zone's name, "look-jacket"
	Kind    StepKind
	Line    *SheetLine      // of StepZone
	Zones   []timeline.Zone // of StepCard and StepPinch
	Group   timeline.Group  // of StepZone and StepLook
	Leave   []plan.Line     // left alone in the group, with the reason
	Minutes float64
	Done    bool
}

// SheetLine is one zone of a sheet.
type SheetLine struct {
	Zone       timeline.Zone
	Plan       plan.Line
	Past       SessionZone        // without figures
	Logged     *timeline.ZoneWork // nil: not yet
	Tool       timeline.Tool      // proposed: what was used for it last, else what is usual
	CutWith    timeline.Tool      // would be proposed, had it not cut hair in this visit; "": none did
	CapMinutes float64            // a sensitive zone is not worked longer than this without a break; 0: no cap
	HairWasCut bool               // the newest hair check here said cut: another tool or hand
}

// Pulls reports whether hair is pulled: only then there is something to pinch.
func (l SheetLine) Pulls() bool { return l.Plan.Do == timeline.Take || l.Plan.Do == timeline.Strip }

// SheetAnswer is what a groomer says of a line as she finishes it. The zero answer is: done exactly as planned.
type SheetAnswer struct {
	Do        timeline.Work // "": as planned
	Share     float64       // with Top, of a Take that was another share than planned; 0 and not Top: as planned
	Top       bool
	Tool      timeline.Tool // "": the proposed one
	Ripeness  timeline.Ripeness
	HairCheck timeline.HairCheck
	Skin      timeline.Skin
	Cover     timeline.Cover
	NewHair   timeline.NewHair
	Remark    string
	Loft      timeline.Loft   // of the step that cards
	HairAt    []timeline.Zone // of a group's look: where, of a hair check that is not whole
	SkinAt    []timeline.Zone // and of skin that is not fine
}

// Undo is what a step was before it was done. The zero Undo of a zone takes its line out.
type Undo struct {
	Step string
	Was  []timeline.ZoneWork // the lines of its zones before
	Loft timeline.Loft
}

// Finish is what is said at the end of a visit.
type Finish struct {
	Minutes   int                // 0: as the clock has it, if it is known
	Next      timeline.Day       // zero: the booking stays
	Note      *string            // nil: stays
	Add       string             // to the end of the note
	Loft      timeline.Loft      // "": stays
	Tolerance timeline.Tolerance // "": stays
	Breaks    *int               // nil: stays
	Found     Finding            // of every zone that was worked and of which it was not said
}

// PlanChange is a plain account of what a day's log and readings changed in the plan.
type PlanChange struct {
	Since    timeline.Day
	Lines    int               // logged on that day
	Readings int               // of that day
	NotToday timeline.NotToday // why nothing was worked on that day; "": something was, or nothing was to be
	Account  []timeline.Phrase // what changed; never empty
	Why      []timeline.Phrase // what was found otherwise than expected, never nil
}

// WhatIf is one change of the circumstances that is tried before it is kept.
type WhatIf struct {
	Kind      plan.ChangeKind
	Show      timeline.ID  // of ShowMoved
	On        timeline.Day // of SessionSkipped and SessionMoved: a day of the plan
	Days      int          // of ShowMoved and SessionMoved: later, earlier where negative
	EveryDays int          // of EveryDays
	Minutes   int          // of MinutesEach and ShortToday; 0 in ShortToday: as usual again
}

// SessionMoved is a what-if of the booking: the visit On comes Days later. The dog's first visit to come takes those after
// it along, because the rhythm counts from it; a later one moves alone.
const SessionMoved plan.ChangeKind = "session_moved"

// Tried is a what-if that is not kept.
type Tried struct {
	Change  WhatIf
	Say     timeline.Phrase   // the change in words
	Account []timeline.Phrase // what it would change; never empty where Fault is nil
	Before  *plan.Plan        // as it is now
	Fault   *timeline.Fault   // it cannot be tried, or there would be no plan
}

// clockOr rounds the time between to whole five minutes; 0 where it cannot have been one visit.
func clockOr(begun, done time.Time) int {
	if begun.IsZero() || done.Before(begun) {
		return 0
	}
	m := int(done.Sub(begun).Minutes()+2.5) / 5 * 5
	if m < 5 || m > maxMinutes {
		return 0
	}
	return m
}
