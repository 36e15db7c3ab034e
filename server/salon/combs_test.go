package salon

import (
	"math"
	"testing"

	"thatch/timeline"
)

func TestACombsReadingsAreKeptOfEveryPlace(t *testing.T) {
	s, _ := opened(t)
	on := day("2026-05-20")
	d := newDog(t, s, "Bracken", on-30)
	v := must(s.OpenSession(ctx, d.ID, on))
	added := must(s.AddCombs(ctx, d.ID, on, timeline.PhaseStart, map[timeline.Zone][]float64{timeline.Back: {9, 10, 12}, timeline.Loin: {8}}, true))
	if !added.Stored || len(added.Readings) != 4 || added.Readings[0].Session != v.ID || added.Readings[0].Of != timeline.OfDepth {
		t.Fatalf("kept %+v", added)
	}
	all := must(s.Combs(ctx, d.ID))
	if len(all.Readings) != 4 || len(all.Missing) != len(all.Zones)-2 {
		t.Errorf("%d readings, %d of %d zones never read", len(all.Readings), len(all.Missing), len(all.Zones))
	}
	if n := len(must(s.Readings(ctx, d.ID))); n != 0 {
		t.Errorf("%d of them are among the lengths", n)
	}
	ok(s.TrashReading(ctx, added.Readings[0].ID))
	if n := len(must(s.Combs(ctx, d.ID)).Readings); n != 3 {
		t.Errorf("%d after one was put aside", n)
	}
}

func TestACombsReadingThatCannotBeIsRefusedAndAStrangeOneAskedAbout(t *testing.T) {
	s, _ := opened(t)
	on := day("2026-05-20")
	d := newDog(t, s, "Bracken", on-30)
	for name, c := range map[string]struct {
		on    timeline.Day
		phase timeline.Phase
		mm    map[timeline.Zone][]float64
		key   string
	}{
		"nothing read":        {on, timeline.PhaseStart, nil, "fault.reading.none"},
		"a zone from above":   {on, timeline.PhaseStart, map[timeline.Zone][]float64{timeline.Ribs: {9}}, "fault.comb.zone"},
		"longer than a coat":  {on, timeline.PhaseStart, map[timeline.Zone][]float64{timeline.Back: {121}}, "fault.reading.range"},
		"no number":           {on, timeline.PhaseStart, map[timeline.Zone][]float64{timeline.Back: {math.NaN()}}, "fault.reading.range"},
		"in the middle of it": {on, timeline.PhaseDuring, map[timeline.Zone][]float64{timeline.Back: {9}}, "fault.comb.phase"},
		"tomorrow":            {day("2026-06-11"), timeline.PhaseStart, map[timeline.Zone][]float64{timeline.Back: {9}}, "fault.day.future"},
	} {
		_, err := s.AddCombs(ctx, d.ID, c.on, c.phase, c.mm, true)
		if f := faultOf(err); f == nil || f.Kind != timeline.Invalid || f.Say.Key != c.key {
			t.Errorf("%s: %v", name, err)
		}
	}
	strange := map[timeline.Zone][]float64{timeline.Back: {70}}
	added := must(s.AddCombs(ctx, d.ID, on, timeline.PhaseStart, strange, false))
	if added.Stored || len(added.Warnings) != 1 || added.Warnings[0].Say.Key != "comb.doubt" {
		t.Errorf("70 mm at the back: stored %t, %v", added.Stored, added.Warnings)
	}
	if added = must(s.AddCombs(ctx, d.ID, on, timeline.PhaseStart, strange, true)); !added.Stored {
		t.Error("what was confirmed is not kept")
	}
}
