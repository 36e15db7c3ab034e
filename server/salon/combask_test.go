package salon

import (
	"testing"

	"thatch/timeline"
)

func TestOneDepthADayIsAskedForWhereTheDogDoesNotMind(t *testing.T) {
	s, c := opened(t)
	on := day("2026-06-10")
	c.set(on)
	d := newDog(t, s, "Bracken", on-30)
	asked := func(on timeline.Day) timeline.Zone { return must(s.CombAsked(ctx, d.ID, on)) }
	if z := asked(on); z != timeline.Loin {
		t.Errorf("asked for %q", z)
	}
	if z := asked(on - 1); z != "" {
		t.Errorf("asked for the %s of yesterday", z)
	}
	d.Sensitive = []timeline.Zone{timeline.Loin}
	d = must(s.st.UpdateDog(ctx, d))
	if z := asked(on); z != timeline.Back {
		t.Errorf("with a sore loin: %q", z)
	}
	must(s.AddCombs(ctx, d.ID, on, timeline.PhaseStart, map[timeline.Zone][]float64{timeline.Rump: {9}}, true))
	if z := asked(on); z != timeline.Back {
		t.Errorf("a reading of the rump is no reading of the topline: %q", z)
	}
	added := must(s.AddCombs(ctx, d.ID, on, timeline.PhaseStart, map[timeline.Zone][]float64{timeline.Withers: {9}}, true))
	if z := asked(on); z != "" {
		t.Errorf("asked again: %q", z)
	}
	ok(s.TrashReading(ctx, added.Readings[0].ID))
	if z := asked(on); z != timeline.Back {
		t.Errorf("after it was put aside: %q", z)
	}
	d.Sensitive = []timeline.Zone{timeline.Loin, timeline.Back, timeline.Withers}
	d = must(s.st.UpdateDog(ctx, d))
	if z := asked(on); z != "" {
		t.Errorf("a dog that minds is combed at the %s", z)
	}
}

func TestADepthBeyondTheLengthOfItsHairIsAskedAbout(t *testing.T) {
	s, c := opened(t)
	on := day("2026-06-10")
	c.set(on)
	d := newDog(t, s, "Bracken", on-30)
	must(s.AddReadings(ctx, d.ID, "", on, map[timeline.Zone]float64{timeline.Loin: 14}, true))
	added := must(s.AddCombs(ctx, d.ID, on, timeline.PhaseStart, map[timeline.Zone][]float64{timeline.Loin: {19}, timeline.Back: {12}}, false))
	if added.Stored || len(added.Warnings) != 1 || added.Warnings[0].Zone != timeline.Loin || added.Warnings[0].Say.Key != "comb.longer" {
		t.Errorf("stored %t, %v", added.Stored, added.Warnings)
	}
	if added = must(s.AddCombs(ctx, d.ID, on, timeline.PhaseStart, map[timeline.Zone][]float64{timeline.Loin: {15}}, false)); !added.Stored {
		t.Errorf("within the error of both readings: %v", added.Warnings)
	}
}
