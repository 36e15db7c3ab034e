package coat

import "thatch/timeline"

// Dist is a distribution told by three quantiles.
type Dist struct {
	Median float64 `json:"median"`
	P10    float64 `json:"p10"`
	P90    float64 `json:"p90"`
}

// Step is one piece of work that a plan supposes.
type Step struct {
	On    timeline.Day
	Do    timeline.Work
	Share float64
}

// Status says how much a zone's figures rest on the dog's own readings.
type Status string

const (
	StartingGuess Status = "starting guess"
	Updating      Status = "updating"
	Learned       Status = "learned"
)

// ZoneForecast is what to expect of one zone on a day.
type ZoneForecast struct {
	LongestMM    Dist     `json:"longest_mm"`
	VisibleMM    Dist     `json:"visible_mm"`
	MeanMM       Dist     `json:"mean_mm"`
	DepthMM      Dist     `json:"depth_mm"`
	InHair       Dist     `json:"in_hair"`
	Readiness    *float64 `json:"readiness"`
	RateMMPerDay Dist     `json:"rate_mm_per_day"`
	LagDays      Dist     `json:"lag_days"`
	Status       Status   `json:"status"`
}

// Forecast is what to expect of a dog on a day.
type Forecast struct {
	On    timeline.Day                   `json:"on"`
	Zones map[timeline.Zone]ZoneForecast `json:"zones"`
}

// Model is a coat file brought up to its Today: the posterior of every zone given the log and the readings. It is
// immutable and safe for concurrent use.
type Model struct{}

// New checks the file and builds its model. A bad file is a *timeline.Fault of kind Invalid that names the field.
func New(f File) (*Model, error) { panic("coat: being written") }

// Forecast is what to expect on a day (before or after Today, not before the first known layer), with no work after Today.
// Readiness is against the targets of the first show on or after that day, else the profile's.
func (m *Model) Forecast(on timeline.Day) Forecast { panic("coat: being written") }

// Zone is the model of one zone of the file, nil if the file does not have it.
func (m *Model) Zone(z timeline.Zone) *ZoneModel { panic("coat: being written") }

// ZoneModel answers a plan's questions about one zone. Steps are of Today or later, in order of day.
type ZoneModel struct{}

// Forecast is what to expect on a day after the steps; Readiness against the target, nil where the target has no band.
func (z *ZoneModel) Forecast(steps []Step, on timeline.Day, t Target) ZoneForecast {
	panic("coat: being written")
}

// Readiness is the probability, by fixed quadrature, that on the day the zone is inside the target: visible length in
// [MinMM, MaxMM] and, where InHair is asked, at least that share of follicles with hair out.
func (z *ZoneModel) Readiness(steps []Step, on timeline.Day, t Target) float64 {
	panic("coat: being written")
}

// TopLayer is the layer that is longest on the day after the steps (median parameters): the day it was last pulled and
// its share of the follicles.
func (z *ZoneModel) TopLayer(steps []Step, on timeline.Day) (pulled timeline.Day, share float64) {
	panic("coat: being written")
}
