package coat

import (
	"embed"
	"encoding/json"
	"path"
	"sort"
	"strings"

	"thatch/timeline"
)

// Profile is a kind of coat as data: starting guesses, targets, minutes and rules, each with its source.
type Profile struct {
	Name    string                        `json:"name"`
	Base    string                        `json:"base,omitempty"` // the built-in profile that a salon's own was made from
	Growth  Growth                        `json:"growth"`
	Rules   Rules                         `json:"rules"`
	Sources map[string]string             `json:"sources"` // of every value, by its path: "growth.lie", "zones.minutes", "rules.tidy_only_days"
	Zones   map[timeline.Zone]ZoneProfile `json:"zones"`
}

// Growth is how hair of this kind of coat grows, before anything is known of the dog.
type Growth struct {
	RateMMPerDay       float64                      `json:"rate_mm_per_day"` // of a zone of factor 1
	DogCV              float64                      `json:"dog_cv"`          // of g, lognormal of mean 1, one a dog
	ZoneCV             float64                      `json:"zone_cv"`         // of e, lognormal of mean 1, one a zone
	LagDays            MedianSD                     `json:"lag_days"`
	LagDaysNoUndercoat MedianSD                     `json:"lag_days_no_undercoat"`
	Curve              string                       `json:"curve"` // "plateau" or "monomolecular"
	Lie                MeanSD                       `json:"lie"`   // depth = lie · visible length + loft
	LieAdd             map[timeline.Texture]float64 `json:"lie_add"`
	LoftMM             map[timeline.Loft]float64    `json:"loft_mm"`
	LoftSDMM           map[timeline.Loft]float64    `json:"loft_sd_mm"`
	SpreadFactor       map[string]float64           `json:"spread_factor"` // texture, undercoat, history (ever_clipped, neutered, coat_change) → widening of every spread
	Evidence           Evidence                     `json:"evidence"`
}

// ZoneProfile is how a zone of this kind of coat grows and is usually kept.
type ZoneProfile struct {
	RateFactor  float64                   `json:"rate_factor"`
	LengthMaxMM MeanSD                    `json:"length_max_mm"`
	Target      *Target                   `json:"target"`       // nil: tidy or shaped, no band
	Minutes     map[timeline.Work]float64 `json:"minutes"`      // of a whole take, strip, …; a take of a share takes that share of them
	FlatByDays  int                       `json:"flat_by_days"` // last flat pull no later than this many days before a show; 0: no rule
	HeadFlat    bool                      `json:"head_flat"`    // picked over until show week
	Stripped    bool                      `json:"stripped"`     // false: brows, beard, feet, belly, underline
	LittleEach  bool                      `json:"little_each"`  // legs: a little of the longest at every session
	Sensitive   bool                      `json:"sensitive"`    // a minutes cap with a break
	ScissorMM   float64                   `json:"scissor_mm"`   // length left by scissors where the log does not say
	ClipMM      float64                   `json:"clip_mm"`      // length left by the clipper
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

//go:embed profiles/*.json
var profileFiles embed.FS

// DefaultProfile is the kind of coat where none is named.
const DefaultProfile = "rough"

// ProfileNames returns the embedded kinds of coat in order of name.
func ProfileNames() []string {
	entries, err := profileFiles.ReadDir("profiles")
	if err != nil {
		panic("coat: the embedded profiles are gone: " + err.Error())
	}
	var names []string
	for _, e := range entries {
		names = append(names, strings.TrimSuffix(e.Name(), ".json"))
	}
	sort.Strings(names)
	return names
}

// ProfileNamed returns an embedded profile, "" being DefaultProfile; an unknown name is a *timeline.Fault of kind Invalid.
// The caller owns the returned value and may change it.
func ProfileNamed(name string) (Profile, error) {
	if name == "" {
		name = DefaultProfile
	}
	var known bool
	for _, n := range ProfileNames() {
		known = known || n == name
	}
	if !known {
		return Profile{}, timeline.NewFault(timeline.Invalid, "fault.coat.profile", "profile", name, "profiles", strings.Join(ProfileNames(), ", ")).In("profile")
	}
	b, err := profileFiles.ReadFile(path.Join("profiles", name+".json"))
	if err != nil {
		return Profile{}, timeline.NewFault(timeline.Internal, "fault.internal").Because(err).At("read profile " + name)
	}
	var p Profile
	if err := json.Unmarshal(b, &p); err != nil {
		return Profile{}, timeline.NewFault(timeline.Internal, "fault.internal").Because(err).At("read profile " + name)
	}
	return p, nil
}
