package plan

import (
	"errors"
	"math"
	"testing"

	"thatch/timeline"
	"thatch/timeline/coat"
)

func TestAFileThatCannotBePlannedNamesItsPlace(t *testing.T) {
	today := timeline.Date(2026, 3, 2)
	for name, c := range map[string]struct {
		change func(*coat.File)
		field  string
	}{
		"no show":                       {func(f *coat.File) { f.Shows = nil }, "shows"},
		"a show before today":           {func(f *coat.File) { f.Shows = append(f.Shows, coat.Show{On: today - 1}) }, "shows[1].on"},
		"no session before the show":    {func(f *coat.File) { f.Sessions.Dates = []timeline.Day{today + 30, today + 31} }, "sessions"},
		"a show today":                  {func(f *coat.File) { f.Shows[0].On = today; f.Sessions.Dates = nil }, "sessions"},
		"minutes below zero":            {func(f *coat.File) { f.Sessions.Minutes = -1 }, "sessions.minutes"},
		"minutes not a number":          {func(f *coat.File) { f.Sessions.Minutes = math.NaN() }, "sessions.minutes"},
		"endless minutes":               {func(f *coat.File) { f.Sessions.Minutes = math.Inf(1) }, "sessions.minutes"},
		"a cadence below zero":          {func(f *coat.File) { f.Sessions.EveryDays = -7 }, "sessions.every_days"},
		"a work of no minutes":          {func(f *coat.File) { f.Minutes = minutesOfBack(0) }, "minutes.back.take"},
		"a work of not a number":        {func(f *coat.File) { f.Minutes = minutesOfBack(math.NaN()) }, "minutes.back.take"},
		"shares that do not add up":     {func(f *coat.File) { f.Zones[timeline.Back].Layers[0].Share = 0.4 }, "zones.back.layers"},
		"more sessions than a plan has": {func(f *coat.File) { f.Sessions = &coat.Sessions{EveryDays: 1}; f.Shows[0].On = today + 400 }, "sessions"},
	} {
		t.Run(name, func(t *testing.T) {
			f := coat.File{
				Today: today, Zones: map[timeline.Zone]coat.Zone{timeline.Back: {Layers: []coat.Layer{{Pulled: today - 90, Share: 1}}}},
				Shows: []coat.Show{{Name: "A", On: today + 30}}, Sessions: &coat.Sessions{Dates: []timeline.Day{today + 5}},
			}
			if _, err := Make(f); err != nil {
				t.Fatalf("before the change: %v", err)
			}
			c.change(&f)
			_, err := Make(f)
			var fault *timeline.Fault
			if !errors.As(err, &fault) || fault.Kind != timeline.Invalid || fault.Field != c.field {
				t.Errorf("got %v, want a fault in %s", err, c.field)
			}
		})
	}
	if _, err := MakeShort(coat.File{}, math.NaN()); timeline.KindOf(err) != timeline.Invalid {
		t.Errorf("got %v", err)
	}
}

func minutesOfBack(v float64) map[timeline.Zone]map[timeline.Work]float64 {
	return map[timeline.Zone]map[timeline.Work]float64{timeline.Back: {timeline.Take: v}}
}
