package salon

import (
	"reflect"
	"testing"

	"thatch/timeline"
)

func TestTodaysSheetIsThereUnbookedAndStaysWhileItsLinesAreLogged(t *testing.T) {
	s, c := opened(t)
	today := day("2026-06-10")
	c.set(today)
	d := newDog(t, s, "Wisp", today)
	must(s.AddShow(ctx, timeline.Show{Dog: d.ID, Name: "Hall Show", On: today + 60}))
	must(s.BookNext(ctx, d.ID, d.Rev, today+7))
	v := must(s.OpenSession(ctx, d.ID, today))
	before := must(s.SessionPage(ctx, v.ID))
	if before.Sheet == nil {
		t.Fatal("there is no sheet for a session of today that was not booked")
	}
	line := before.Sheet.Zones[0]
	must(s.SaveSession(ctx, SessionEdit{ID: v.ID, Rev: v.Rev, Work: []timeline.ZoneWork{{Zone: timeline.Back, Do: timeline.Strip}, {Zone: timeline.Loin, Do: timeline.Tidy}}}))
	after := must(s.SessionPage(ctx, v.ID))
	if after.Sheet == nil || !reflect.DeepEqual(after.Sheet.Zones[0], line) || len(after.Sheet.Zones) != len(before.Sheet.Zones) {
		t.Errorf("the sheet changed while it was worked:\n%+v\n%+v", before.Sheet, after.Sheet)
	}
}
