package coat

import "thatch/timeline"

// Profile is a kind of coat as data: starting guesses, targets, minutes and rules, each with its source.
type Profile struct {
	Name  string                        `json:"name"`
	Zones map[timeline.Zone]ZoneProfile `json:"zones"`
	Rules Rules                         `json:"rules"`
}

// ZoneProfile is how a zone of this kind of coat grows and is usually kept.
type ZoneProfile struct {
	RateFactor  float64                   `json:"rate_factor"` // m_z of the design
	LengthMaxMM MeanSD                    `json:"length_max_mm"`
	Target      *Target                   `json:"target"`       // nil: tidy or shaped, no band
	Minutes     map[timeline.Work]float64 `json:"minutes"`      // of a whole take, strip, …
	FlatByDays  int                       `json:"flat_by_days"` // last flat pull no later than this many days before a show; 0: no rule
	HeadFlat    bool                      `json:"head_flat"`    // picked over until show week
	Stripped    bool                      `json:"stripped"`     // false: brows, beard, feet, belly, underline
	LittleEach  bool                      `json:"little_each"`  // legs: a little of the longest at every session
	Source      string                    `json:"source"`
}

// Rules are the salon's rules of planning.
type Rules struct {
	TidyOnlyDays      int     `json:"tidy_only_days"`       // the jacket is only tidied in the last days before a show
	FlatByDaysUnknown int     `json:"flat_by_days_unknown"` // instead of FlatByDays until the dog's own lag is known
	WarnCoverBelow    float64 `json:"warn_cover_below"`
	SensitiveMinutes  float64 `json:"sensitive_minutes"` // cap a session for a sensitive zone
	MinutesDefault    float64 `json:"minutes_default"`   // a session without a figure of its own
}

// ProfileNamed returns an embedded profile; an unknown name is a *timeline.Fault of kind Invalid.
func ProfileNamed(name string) (Profile, error) { panic("coat: being written") }
