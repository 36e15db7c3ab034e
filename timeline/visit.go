package timeline

// Tolerance is how the dog bore a visit.
type Tolerance string

const (
	StoodWell    Tolerance = "stood_well"
	Restless     Tolerance = "restless"
	NeededBreaks Tolerance = "needed_breaks"
	StoppedEarly Tolerance = "stopped" // the visit was ended for her sake before the sheet was
)

// Tolerances returns every answer, harder downwards.
func Tolerances() []Tolerance { return []Tolerance{StoodWell, Restless, NeededBreaks, StoppedEarly} }

// NotToday is why a visit ended without work. It names what was seen, never what it is.
type NotToday string

const (
	OffIll      NotToday = "ill"
	OffSoreSkin NotToday = "sore_skin"
	OffInSeason NotToday = "in_season"
	OffAfraid   NotToday = "afraid"
	OffOther    NotToday = "other"
)

// NotTodays returns every reason.
func NotTodays() []NotToday {
	return []NotToday{OffIll, OffSoreSkin, OffInSeason, OffAfraid, OffOther}
}

// ForVet reports whether what was seen is for a veterinarian to look at, whatever it is.
func (n NotToday) ForVet() bool { return n == OffIll || n == OffSoreSkin }

// Before is a session as it was before its last change, so that one tap undoes that change, also from another phone or after
// a reload.
type Before struct {
	Rev       Rev        `json:"rev"`  // of the session after the change; at another one there is nothing to undo any more
	Step      string     `json:"step"` // what was done: the code of a step, or of a change of the whole log
	Count     int        `json:"count,omitempty"`
	Minutes   int        `json:"minutes"`
	Loft      Loft       `json:"loft"`
	Note      string     `json:"note"`
	Work      []ZoneWork `json:"work"`
	Tolerance Tolerance  `json:"tolerance"`
	Breaks    int        `json:"breaks"`
	NotToday  NotToday   `json:"not_today"`
	Sheet     SheetState `json:"sheet"`
}
