package coat

import (
	"encoding/json"

	"thatch/timeline"
)

// File is the coat file: all that the model and the plan need to know of one dog. All but Dog, Today and Zones is optional.
type File struct {
	Dog      Dog                                         `json:"dog"`
	Profile  string                                      `json:"profile,omitempty"`
	Today    timeline.Day                                `json:"today"`
	Zones    map[timeline.Zone]Zone                      `json:"zones"`
	Shows    []Show                                      `json:"shows,omitempty"`
	Sessions *Sessions                                   `json:"sessions,omitempty"`
	Minutes  map[timeline.Zone]map[timeline.Work]float64 `json:"minutes,omitempty"`
	Priors   map[timeline.Zone]Priors                    `json:"priors,omitempty"`
	// OwnProfile is a kind of coat of the salon's own: a profile document, laid over the one that Profile names.
	OwnProfile json.RawMessage `json:"own_profile,omitempty"`
}

// Dog is what the model must know of the dog itself.
type Dog struct {
	Name      string             `json:"name"`
	WithersMM float64            `json:"withers_mm,omitempty"`
	Undercoat timeline.Undercoat `json:"undercoat,omitempty"`
	Texture   timeline.Texture   `json:"texture,omitempty"`
	// History that changes a coat; each widens what is expected and lowers what is promised. CoatChange is an illness or a
	// medicine that changes the coat, in the owner's word: the tool names neither.
	EverClipped bool `json:"ever_clipped,omitempty"`
	Neutered    bool `json:"neutered,omitempty"`
	CoatChange  bool `json:"coat_change,omitempty"`
}

// Zone is the coat of one zone: its layers as of the first day that is known, and everything that happened since.
type Zone struct {
	Mode      timeline.Mode `json:"mode,omitempty"`
	Layers    []Layer       `json:"layers,omitempty"`
	Work      []WorkDone    `json:"work,omitempty"`
	Measured  []Measured    `json:"measured,omitempty"`
	Depth     []Depth       `json:"depth,omitempty"`
	Ripeness  *Ripeness     `json:"ripeness,omitempty"` // the newest pinch test: plans obey it
	Pinched   []Ripeness    `json:"pinched,omitempty"`  // earlier ones: they only teach
	Cover     []CoverSeen   `json:"cover,omitempty"`
	NewHair   []NewHair     `json:"new_hair,omitempty"`
	Lie       *float64      `json:"lie,omitempty"`
	Sensitive bool          `json:"sensitive,omitempty"`
}

// Layer is hair last pulled on the same day; shares of a zone's layers add up to 1. LengthMM, where
// given, is the layer's length on the file's Today (before any work of that day) and wins over growth from Pulled.
type Layer struct {
	Pulled   timeline.Day `json:"pulled"`
	Share    float64      `json:"share"`
	LengthMM *float64     `json:"length_mm,omitempty"`
}

// WorkDone is one line of the log.
type WorkDone struct {
	On    timeline.Day  `json:"on"`
	Do    timeline.Work `json:"do"`
	Share float64       `json:"share,omitempty"` // of the follicles, for a take; longest first
	Loft  timeline.Loft `json:"loft,omitempty"`  // what the undercoat looked like after carding
}

// Measured is one reading of the longest hair; on a session day taken before the work.
type Measured struct {
	On       timeline.Day `json:"on"`
	LengthMM float64      `json:"length_mm"`
	SDMM     float64      `json:"sd_mm,omitempty"`
	// Confirmed: somebody was asked whether it is right. Any other reading that no coat explains is taken for a slip and
	// left out.
	Confirmed bool `json:"confirmed,omitempty"`
}

// Depth is one reading of how far the coat stands off the body, mm, along the normal; on a session day before the work.
type Depth struct {
	On      timeline.Day `json:"on"`
	DepthMM float64      `json:"depth_mm"`
	SDMM    float64      `json:"sd_mm,omitempty"`
}

// CoverSeen is how a zone looked after the work of a day.
type CoverSeen struct {
	On timeline.Day   `json:"on"`
	Is timeline.Cover `json:"is"`
}

// NewHair is what was seen of the new hair of a pull: NotOut is the last day on which no tip showed, Out the first on which
// tips did. One of the two is enough.
type NewHair struct {
	Pulled timeline.Day `json:"pulled"`
	NotOut timeline.Day `json:"not_out,omitzero"`
	Out    timeline.Day `json:"out,omitzero"`
}

// Ripeness is one pinch test of the longest hairs, before the work of its day.
type Ripeness struct {
	On timeline.Day      `json:"on"`
	Is timeline.Ripeness `json:"is"`
}

// Show is a day with targets.
type Show struct {
	Name     string                   `json:"name"`
	On       timeline.Day             `json:"on"`
	Priority int                      `json:"priority,omitempty"`
	Targets  map[timeline.Zone]Target `json:"targets,omitempty"`
}

// Target is a wanted band of the visible length; MaxMM 0: none asked. InHair is the least share of follicles with hair out.
type Target struct {
	MinMM  float64 `json:"min_mm,omitempty"`
	MaxMM  float64 `json:"max_mm,omitempty"`
	InHair float64 `json:"in_hair,omitempty"`
}

// Sessions are the days on which the dog can be worked: Dates, or every EveryDays from First to the last show.
type Sessions struct {
	Dates     []timeline.Day `json:"dates,omitempty"`
	EveryDays int            `json:"every_days,omitempty"`
	First     timeline.Day   `json:"first,omitzero"`
	Minutes   float64        `json:"minutes,omitempty"`
}

// Priors replace the profile's starting guesses of a quantity for a zone; SD 0 pins it.
type Priors struct {
	RateMMPerDay *MeanSD   `json:"rate_mm_per_day,omitempty"`
	LagDays      *MedianSD `json:"lag_days,omitempty"`
	LengthMaxMM  *MeanSD   `json:"length_max_mm,omitempty"`
	Season       *Season   `json:"season,omitempty"`
}

// MeanSD is a quantity with its standard deviation.
type MeanSD struct {
	Mean float64 `json:"mean"`
	SD   float64 `json:"sd"`
}

// MedianSD is a lognormal quantity.
type MedianSD struct {
	Median float64 `json:"median"`
	SDLog  float64 `json:"sd_log"`
}

// Season is the seasonal modulation of growth.
type Season struct {
	Alpha float64 `json:"alpha"`
	Beta  float64 `json:"beta"`
}
