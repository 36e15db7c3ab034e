package salon

import (
	"reflect"
	"testing"

	"thatch/timeline"
	"thatch/timeline/coat"
)

func TestTheLastDayWithoutAndTheFirstDayWithTipsCount(t *testing.T) {
	var seen []coat.NewHair
	for _, s := range []struct {
		pulled, on timeline.Day
		is         timeline.NewHair
	}{
		{100, 110, timeline.NewHairNotOut}, {100, 114, timeline.NewHairNotOut}, {100, 118, timeline.NewHairOut},
		{100, 125, timeline.NewHairOut}, {100, 130, timeline.NewHairNotOut}, // what came after the first tips says nothing
		{140, 154, timeline.NewHairNotOut},
	} {
		seen = newHairSeen(seen, s.pulled, s.on, s.is)
	}
	want := []coat.NewHair{{Pulled: 100, NotOut: 114, Out: 118}, {Pulled: 140, NotOut: 154}}
	if !reflect.DeepEqual(seen, want) {
		t.Errorf("%+v, want %+v", seen, want)
	}
}

// What is tapped in a visit's log reaches the model: this dog's lag is narrower for it, and only in the zone it was seen in.
func TestNewHairThatIsLoggedTeachesTheLag(t *testing.T) {
	s, clock := opened(t)
	first := day("2026-06-10")
	d := newDog(t, s, "Bracken", first)
	log := func(on timeline.Day, work ...timeline.ZoneWork) timeline.Session {
		clock.set(on)
		v := must(s.OpenSession(ctx, d.ID, on))
		return must(s.SaveSession(ctx, SessionEdit{ID: v.ID, Rev: v.Rev, Work: work}))
	}
	log(first, timeline.ZoneWork{Zone: timeline.Throat, Do: timeline.Strip}, timeline.ZoneWork{Zone: timeline.Neck, Do: timeline.Strip})
	log(first+12, timeline.ZoneWork{Zone: timeline.Throat, Do: timeline.Leave, NewHair: timeline.NewHairNotOut})
	saved := log(first+17, timeline.ZoneWork{Zone: timeline.Throat, Do: timeline.Leave, NewHair: timeline.NewHairOut})
	if len(saved.Work) != 1 || saved.Work[0].NewHair != timeline.NewHairOut {
		t.Fatalf("%+v", saved.Work)
	}
	f := must(s.Forecast(ctx, d.ID, first+18))
	seen, unseen := f.Zones[timeline.Throat].LagDays, f.Zones[timeline.Neck].LagDays
	if w := seen.P90 - seen.P10; w > 8 || w > 0.7*(unseen.P90-unseen.P10) || seen.Median < 10 || seen.Median > 18 {
		t.Errorf("lag %+v, where nothing was seen %+v", seen, unseen)
	}
	clock.set(first + 20)
	v := must(s.OpenSession(ctx, d.ID, first+20))
	_, err := s.SaveSession(ctx, SessionEdit{ID: v.ID, Rev: v.Rev, Work: []timeline.ZoneWork{{Zone: timeline.Throat, Do: timeline.Leave, NewHair: "perhaps"}}})
	wantFault(t, err, timeline.Invalid, "fault.word", "work[0].new_hair")
}
