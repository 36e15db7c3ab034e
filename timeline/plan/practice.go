package plan

import (
	"bytes"
	_ "embed"
	"encoding/json"
)

// figure is a number of the trade with where it comes from.
type figure struct {
	Value  float64 `json:"value"`
	Source string  `json:"source"`
}

func (f figure) days() int { return int(f.Value) }

// practice are the figures of planning that hold for every kind of coat; those that differ between kinds are in the coat's
// profile.
type practice struct {
	EveryDays             figure `json:"every_days"`            // between sessions where nothing is said
	AgainDays             figure `json:"again_days"`            // a zone that was not ready, or only coming, is tested again after these
	GraspDays             figure `json:"grasp_days"`            // from when new hair is out to when it can be gripped
	LayerFrom             figure `json:"layer_from"`            // share of the hair from which it is a layer of its own
	LagKnownWithinDays    figure `json:"lag_known_within_days"` // from p10 to p90
	BareDays              figure `json:"bare_days"`             // from when new hair is out to when it hides the skin
	BareShare             figure `json:"bare_share"`            // with less of the hair out a zone shows its skin
	FlatByLeastDays       figure `json:"flat_by_least_days"`    // the last flat pull before a show is never later than these days
	SensitiveBreakMinutes figure `json:"sensitive_break_minutes"`
	HoldEveryDays         figure `json:"hold_every_days"` // a rolling coat is looked at between its shows
	KeepEveryDays         figure `json:"keep_every_days"` // what is not pulled is made neat again
	CardEveryDays         figure `json:"card_every_days"`
	OldJacketDays         figure `json:"old_jacket_days"` // hair older than this is called an old jacket
	OnTrackFrom           figure `json:"on_track_from"`   // readiness
	TightFrom             figure `json:"tight_from"`
}

//go:embed practice.json
var practiceJSON []byte

var usual = func() (p practice) {
	d := json.NewDecoder(bytes.NewReader(practiceJSON))
	d.DisallowUnknownFields()
	if err := d.Decode(&p); err != nil {
		panic("plan: the embedded figures of practice cannot be read: " + err.Error())
	}
	return p
}()

// GraspDays are from when new hair is out to when it can be gripped.
func GraspDays() int { return usual.GraspDays.days() }
