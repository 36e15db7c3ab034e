package salon

import (
	"reflect"
	"slices"
	"testing"

	"thatch/timeline"
	"thatch/timeline/outside"
	"thatch/timeline/plan"
)

// planned is a rolled dog with a show in sixty days and a visit every two weeks from today on.
func planned(t *testing.T) (*Salon, timeline.Dog, timeline.Show) {
	t.Helper()
	s, c := opened(t)
	today := day("2026-06-10")
	c.set(today)
	d := newDog(t, s, "Wisp", today)
	d = must(s.BookNext(ctx, d.ID, d.Rev, today+2))
	return s, d, must(s.AddShow(ctx, timeline.Show{Dog: d.ID, Name: "Hall Show", On: today + 60}))
}

func TestWhatIsTriedIsWhatOneGetsAndNothingIsSavedBeforeItIsKept(t *testing.T) {
	outside.Alone(t)
	today := day("2026-06-10")
	for name, change := range map[string]func(timeline.Show) WhatIf{
		"a show a week earlier":  func(v timeline.Show) WhatIf { return WhatIf{Kind: plan.ShowMoved, Show: v.ID, Days: -7} },
		"a show a week later":    func(v timeline.Show) WhatIf { return WhatIf{Kind: plan.ShowMoved, Show: v.ID, Days: 7} },
		"the next visit skipped": func(timeline.Show) WhatIf { return WhatIf{Kind: plan.SessionSkipped, On: today + 2} },
		"a later visit skipped":  func(timeline.Show) WhatIf { return WhatIf{Kind: plan.SessionSkipped, On: today + 30} },
		"the next visit moved":   func(timeline.Show) WhatIf { return WhatIf{Kind: SessionMoved, On: today + 2, Days: 3} },
		"a later visit moved":    func(timeline.Show) WhatIf { return WhatIf{Kind: SessionMoved, On: today + 30, Days: -4} },
		"weekly":                 func(timeline.Show) WhatIf { return WhatIf{Kind: plan.EveryDays, EveryDays: 7} },
		"three-weekly":           func(timeline.Show) WhatIf { return WhatIf{Kind: plan.EveryDays, EveryDays: 21} },
		"half the minutes":       func(timeline.Show) WhatIf { return WhatIf{Kind: plan.HalfMinutes} },
		"only 20 minutes, once":  func(timeline.Show) WhatIf { return WhatIf{Kind: plan.ShortToday, Minutes: 20} },
		"45 minutes each":        func(timeline.Show) WhatIf { return WhatIf{Kind: plan.MinutesEach, Minutes: 45} },
	} {
		t.Run(name, func(t *testing.T) {
			s, d, v := planned(t)
			before := must(s.PlanPage(ctx, d.ID))
			tried := must(s.PlanPageIf(ctx, d.ID, change(v)))
			if tried.Tried.Fault != nil || len(tried.Tried.Account) == 0 || tried.Tried.Say.IsZero() {
				t.Fatalf("%+v", tried.Tried)
			}
			if again := must(s.PlanPage(ctx, d.ID)); !reflect.DeepEqual(again.Plan, before.Plan) || must(s.Dog(ctx, d.ID)).Rev != d.Rev {
				t.Error("trying changed something")
			}
			kept := must(s.KeepWhatIf(ctx, d.ID, d.Rev, change(v)))
			after := must(s.PlanPage(ctx, d.ID))
			if !reflect.DeepEqual(after.Plan, tried.Plan) || !slices.Equal(after.Booked, tried.Booked) {
				t.Errorf("kept, the plan is another than tried:\n%v\n%v", after.Booked, tried.Booked)
			}
			if say := must(s.KeptSay(ctx, kept)); say.String() != tried.Tried.Say.String() {
				t.Errorf("kept it says %s, tried it said %s", say, tried.Tried.Say)
			}
			back := must(s.UndoKept(ctx, d.ID, kept.Rev))
			if got := must(s.PlanPage(ctx, d.ID)); !reflect.DeepEqual(got.Plan, before.Plan) || !slices.Equal(got.Booked, before.Booked) {
				t.Errorf("undone, the plan is not as before: %v, %v", got.Booked, before.Booked)
			}
			_, err := s.UndoKept(ctx, d.ID, back.Rev)
			wantFault(t, err, timeline.Conflict, "fault.whatif.nothing", "")
		})
	}
}

// One rule, two doors: what the salon's booking makes of a change is what the plan's own changes make of the coat file.
func TestAChangeOfTheBookingIsTheChangeOfTheCoatFile(t *testing.T) {
	s, d, v := planned(t)
	f := must(s.CoatFile(ctx, d.ID))
	h := must(s.history(ctx, d))
	for _, c := range []struct {
		salon WhatIf
		plan  plan.Change
	}{
		{WhatIf{Kind: plan.ShowMoved, Show: v.ID, Days: -7}, plan.Change{Kind: plan.ShowMoved, ShowName: v.Name, Days: -7}},
		{WhatIf{Kind: plan.SessionSkipped, On: day("2026-06-26")}, plan.Change{Kind: plan.SessionSkipped, Session: day("2026-06-26")}},
		{WhatIf{Kind: plan.EveryDays, EveryDays: 7}, plan.Change{Kind: plan.EveryDays, EveryDays: 7}},
		{WhatIf{Kind: plan.HalfMinutes}, plan.Change{Kind: plan.HalfMinutes}},
		{WhatIf{Kind: plan.ShortToday, Minutes: 20}, plan.Change{Kind: plan.ShortToday, Minutes: 20}},
	} {
		under, _, err := h.under(c.salon)
		ok(err)
		g := under.file(under.today, under.today+1)
		mine := must(s.planOf(g, under.shortFirst(g)))
		its := must(plan.MakeIf(f, c.plan))
		if !reflect.DeepEqual(mine.Sessions, its.Sessions) || !reflect.DeepEqual(mine.Zones, its.Zones) {
			t.Errorf("%s: two plans", c.salon.Kind)
		}
	}
}

func TestAChangeThatCannotBeMadeIsNamed(t *testing.T) {
	s, d, v := planned(t)
	today := day("2026-06-10")
	for _, c := range []struct {
		change     WhatIf
		key, field string
	}{
		{WhatIf{Kind: plan.ShowMoved, Show: v.ID, Days: -61}, "fault.plan.show_past", "days"},
		{WhatIf{Kind: plan.ShowMoved, Show: v.ID}, "fault.whatif.days", "days"},
		{WhatIf{Kind: plan.ShowMoved, Show: "nobody", Days: 7}, "fault.whatif.show", "show"},
		{WhatIf{Kind: plan.SessionSkipped, On: today + 3}, "fault.plan.if.session", "on"},
		{WhatIf{Kind: SessionMoved, On: today + 2, Days: 14}, "fault.whatif.taken", "days"},
		{WhatIf{Kind: SessionMoved, On: today + 2, Days: -3}, "fault.dog.next_past", "days"},
		{WhatIf{Kind: plan.EveryDays}, "fault.dog.every_days", "every_days"},
		{WhatIf{Kind: plan.MinutesEach, Minutes: 0}, "fault.dog.minutes", "minutes"},
		{WhatIf{Kind: plan.ShortToday, Minutes: -20}, "fault.dog.minutes", "minutes"},
		{WhatIf{Kind: "wish"}, "fault.plan.if.kind", "kind"},
	} {
		page := must(s.PlanPageIf(ctx, d.ID, c.change))
		wantFault(t, page.Tried.Fault, timeline.Invalid, c.key, c.field)
		_, err := s.KeepWhatIf(ctx, d.ID, d.Rev, c.change)
		wantFault(t, err, timeline.Invalid, c.key, c.field)
	}
	if now := must(s.Dog(ctx, d.ID)); now.Rev != d.Rev {
		t.Error("something was written")
	}
	_, err := s.KeepWhatIf(ctx, d.ID, d.Rev+1, WhatIf{Kind: plan.HalfMinutes})
	wantFault(t, err, timeline.Conflict, "fault.store.changed", "")
}

func TestOnlyTwentyMinutesTodayMakesTodaysSheetShorter(t *testing.T) {
	s, _, d, v := onTheTable(t)
	long := must(s.Sheet(ctx, v.ID))
	must(s.KeepWhatIf(ctx, d.ID, must(s.Dog(ctx, d.ID)).Rev, WhatIf{Kind: plan.ShortToday, On: v.On, Minutes: 20}))
	short := must(s.Sheet(ctx, v.ID))
	if short.Minutes > 20+1e-9 || short.Minutes < 5 || short.Minutes >= long.Minutes || short.Short != 20 {
		t.Errorf("%.1f minutes of %.1f", short.Minutes, long.Minutes)
	}
	must(s.KeepWhatIf(ctx, d.ID, must(s.Dog(ctx, d.ID)).Rev, WhatIf{Kind: plan.ShortToday, On: v.On}))
	if got := must(s.Sheet(ctx, v.ID)); got.Minutes != long.Minutes {
		t.Errorf("the usual time again: %.1f minutes, before %.1f", got.Minutes, long.Minutes)
	}
}

func TestALogAndAReadingTellWhatTheyChangedAndWhy(t *testing.T) {
	s, _, d, v := onTheTable(t)
	if page := must(s.PlanPage(ctx, d.ID)); page.Changed != nil {
		t.Errorf("nothing happened yet, and it tells %+v", page.Changed)
	}
	var zone timeline.Zone
	for _, l := range must(s.Sheet(ctx, v.ID)).Lines() {
		if l.Pulls() && l.Zone.Group() == timeline.GroupJacket {
			zone = l.Zone
		}
	}
	v, _, err := s.SheetNotReady(ctx, v.ID, v.Rev, zone, "")
	ok(err)
	page := must(s.PlanPage(ctx, d.ID))
	c := page.Changed
	if c == nil || c.Since != v.On || c.Lines != 1 || len(c.Account) == 0 {
		t.Fatalf("%+v", c)
	}
	if !slices.ContainsFunc(c.Why, func(p timeline.Phrase) bool { return p.Key == "change.why.not_ready" }) {
		t.Errorf("the reason is %v", c.Why)
	}
	must(s.AddReadings(ctx, d.ID, v.ID, v.On, map[timeline.Zone]float64{timeline.Withers: 45}, true))
	c = must(s.SessionPage(ctx, v.ID)).Changed
	if c == nil || c.Readings != 1 || !slices.ContainsFunc(c.Why, func(p timeline.Phrase) bool { return p.Key == "change.why.longer" }) {
		t.Errorf("after a long reading: %+v", c)
	}
}

func TestASessionThatIsOnlyOpenedIsNotSaidToBeMissingWork(t *testing.T) {
	s, _, d, v := onTheTable(t)
	must(s.AddReadings(ctx, d.ID, v.ID, v.On, map[timeline.Zone]float64{timeline.Withers: 45}, true))
	c := must(s.PlanPage(ctx, d.ID)).Changed
	if c == nil || c.Lines != 0 || c.Readings != 1 {
		t.Fatalf("%+v", c)
	}
	for _, p := range c.Why {
		if p.Key == "change.why.not_done" {
			t.Errorf("it says %s", p)
		}
	}
}

func TestADayThatWasSkippedIsBookedAgainByBookingIt(t *testing.T) {
	s, d, _ := planned(t)
	skipped := day("2026-06-26")
	d = must(s.KeepWhatIf(ctx, d.ID, d.Rev, WhatIf{Kind: plan.SessionSkipped, On: skipped}))
	if slices.Contains(must(s.PlanPage(ctx, d.ID)).Booked, skipped) {
		t.Fatal("the day is not skipped")
	}
	must(s.BookNext(ctx, d.ID, d.Rev, skipped))
	if got := must(s.PlanPage(ctx, d.ID)).Booked; len(got) == 0 || got[0] != skipped {
		t.Errorf("booked again, the visits are %v", got)
	}
}
