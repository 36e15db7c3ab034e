package salon

import (
	"slices"
	"testing"

	"thatch/timeline"
)

func TestTheZoneThatTeachesMostIsAskedForAndNoneTwice(t *testing.T) {
	s, _, d, v := onTheTable(t)
	asked := map[timeline.Zone]bool{}
	var skip []timeline.Zone
	for i := range 4 {
		m := must(s.MeasureNext(ctx, d.ID, v.On, "", skip))
		if m.Zone == "" || asked[m.Zone] || !m.Asked || m.Order[0] != m.Zone && len(skip) == 0 {
			t.Fatalf("asked for %q after %v, first of %v", m.Zone, asked, m.Order[:3])
		}
		asked[m.Zone] = true
		if i == 1 { // passed over: another one is asked for
			skip = append(skip, m.Zone)
			continue
		}
		mm := m.Now.Median
		before := m.Expected[m.Zone]
		added := must(s.AddReadings(ctx, d.ID, "", v.On, map[timeline.Zone]float64{m.Zone: mm}, true))
		got := must(s.TaughtBy(ctx, d.ID, added.Readings[0].ID))
		if got == nil || got.Expected != before {
			t.Fatalf("%s: what it taught is of another expectation: %+v, %+v", m.Zone, got, before)
		}
		if was, is := got.Before.P90-got.Before.P10, got.After.P90-got.After.P10; is >= was {
			t.Errorf("%s: read as expected, its range went from %.1f to %.1f mm", m.Zone, was, is)
		}
	}
	if m := must(s.MeasureNext(ctx, d.ID, v.On, timeline.Tail, nil)); m.Zone != timeline.Tail || m.Asked {
		t.Errorf("her own choice became %s", m.Zone)
	}
	m := must(s.MeasureNext(ctx, d.ID, v.On, "", timeline.Zones()))
	if m.Zone != "" || len(m.Order) != len(timeline.Zones()) {
		t.Errorf("all passed over, and %q is asked for; %d zones are told", m.Zone, len(m.Order))
	}
	if i := slices.Index(m.Order, m.Read[0].Zone); i < len(m.Order)-len(m.Read) {
		t.Error("a zone that was read stands before others")
	}
	// Before the four answers nothing is forecast, and the usual three are asked for.
	if m := must(s.MeasureNext(ctx, d.ID, d.Answers.On-7, "", nil)); m.Zone != timeline.Loin || m.Asked {
		t.Errorf("before the answers %s is asked for", m.Zone)
	}
}
