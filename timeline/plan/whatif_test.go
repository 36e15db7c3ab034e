package plan

import (
	"errors"
	"slices"
	"testing"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// whatIfDog is the rolling dog with two shows and a fortnightly cadence.
func whatIfDog() coat.File {
	f := rolled(timeline.Date(2026, 3, 2))
	f.Shows = []coat.Show{{Name: "First", On: f.Today + 49}, {Name: "Second", On: f.Today + 91, Priority: 2}}
	f.Sessions = &coat.Sessions{EveryDays: 14, First: f.Today + 1, Minutes: 90}
	return f
}

func daysOf(p Plan) (out []timeline.Day) {
	for _, s := range p.Sessions {
		out = append(out, s.On)
	}
	return out
}

func every(first timeline.Day, days int, end timeline.Day) (out []timeline.Day) {
	for d := first; d < end; d += timeline.Day(days) {
		out = append(out, d)
	}
	return out
}

func TestWhatIf(t *testing.T) {
	f := whatIfDog()
	first := f.Today + 1
	end := f.Shows[1].On
	for name, c := range map[string]struct {
		change Change
		days   []timeline.Day
		most   float64 // minutes of the first session
		then   float64 // minutes of the others
	}{
		"the first show a fortnight earlier": {Change{Kind: ShowMoved, Days: -14}, every(first, 14, end), 90, 90},
		"the second show a month later":      {Change{Kind: ShowMoved, ShowName: "Second", Days: 30}, every(first, 14, end+30), 90, 90},
		"the second show before the first":   {Change{Kind: ShowMoved, ShowName: "Second", Days: -60}, every(first, 14, f.Shows[0].On), 90, 90},
		"the second session skipped":         {Change{Kind: SessionSkipped, Session: first + 14}, slices.Delete(every(first, 14, end), 1, 2), 90, 90},
		"weekly":                             {Change{Kind: EveryDays, EveryDays: 7}, every(first, 7, end), 90, 90},
		"three-weekly":                       {Change{Kind: EveryDays, EveryDays: 21}, every(first, 21, end), 90, 90},
		"half the minutes":                   {Change{Kind: HalfMinutes}, every(first, 14, end), 45, 45},
		"an hour each time":                  {Change{Kind: MinutesEach, Minutes: 60}, every(first, 14, end), 60, 60},
		"only twenty minutes today":          {Change{Kind: ShortToday, Minutes: 20}, every(first, 14, end), 20, 90},
	} {
		t.Run(name, func(t *testing.T) {
			p, account, err := WhatIf(f, c.change)
			if err != nil {
				t.Fatal(err)
			}
			if got := daysOf(p); !slices.Equal(got, c.days) {
				t.Errorf("sessions on %v, want %v", got, c.days)
			}
			for i, s := range p.Sessions {
				if most := []float64{c.most, c.then}[min(i, 1)]; s.Minutes > most+1e-9 {
					t.Errorf("%s: %.1f minutes of %.0f", s.On, s.Minutes, most)
				}
			}
			if len(account) == 0 {
				t.Error("no account")
			}
			words := catalogue(t)
			for _, a := range account {
				checkPhrase(t, words, a)
			}
			again, err := Make(f)
			if err != nil {
				t.Fatal(err)
			}
			if !slices.Equal(daysOf(again), every(first, 14, end)) {
				t.Error("the file itself was changed")
			}
		})
	}
}

func TestAWhatIfThatCannotBeNamesItsField(t *testing.T) {
	f := whatIfDog()
	for name, c := range map[string]struct {
		change Change
		field  string
	}{
		"a show that is not there":      {Change{Kind: ShowMoved, ShowName: "Third"}, "show"},
		"a show moved before today":     {Change{Kind: ShowMoved, Days: -50}, "days"},
		"a show moved by years":         {Change{Kind: ShowMoved, Days: 1000}, "days"},
		"a day without a session":       {Change{Kind: SessionSkipped, Session: f.Today + 2}, "session"},
		"every no days":                 {Change{Kind: EveryDays}, "every_days"},
		"no minutes":                    {Change{Kind: MinutesEach}, "minutes"},
		"no minutes today":              {Change{Kind: ShortToday}, "minutes"},
		"fewer than no minutes":         {Change{Kind: MinutesEach, Minutes: -5}, "minutes"},
		"a change that nobody knows":    {Change{Kind: "rain"}, "kind"},
		"a show moved to today is none": {Change{Kind: ShowMoved, ShowName: "Second", Days: -91}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, err := WhatIf(f, c.change)
			var fault *timeline.Fault
			if c.field == "" {
				if err != nil {
					t.Fatal(err)
				}
				return
			}
			if !errors.As(err, &fault) || fault.Kind != timeline.Invalid || fault.Field != c.field {
				t.Errorf("got %v, want a fault in %s", err, c.field)
			}
		})
	}
	f.Sessions = &coat.Sessions{Dates: []timeline.Day{f.Today + 3}}
	if _, err := Apply(f, Change{Kind: SessionSkipped, Session: f.Today + 3}); timeline.KindOf(err) != timeline.Invalid {
		t.Errorf("the only session skipped: %v", err)
	}
}

// The account names what follows from the change, and its cause.
func TestTheAccountOfAWhatIfNamesTheCause(t *testing.T) {
	f := overgrown(timeline.Date(2026, 3, 2))
	f.Shows = []coat.Show{{Name: "Spring show", On: f.Today + 57}}
	f.Sessions = &coat.Sessions{EveryDays: 14, First: f.Today + 1, Minutes: 120}
	base := mustMake(t, f)
	said := func(c Change) map[string][]timeline.Phrase {
		_, account, err := WhatIf(f, c)
		if err != nil {
			t.Fatal(err)
		}
		out := map[string][]timeline.Phrase{}
		for _, a := range account {
			out[a.Key] = append(out[a.Key], a)
		}
		return out
	}
	if a := said(Change{Kind: ShowMoved, Days: -21}); len(a["change.plan.verdict.days"]) == 0 || len(a["change.plan.verdict.time"]) != 0 {
		t.Errorf("three weeks less are a matter of days: %v", a)
	}
	if a := said(Change{Kind: MinutesEach, Minutes: 25}); len(a["change.plan.verdict.time"]) == 0 {
		t.Errorf("twenty-five minutes are a matter of time: %v", a)
	}
	first := base.Sessions[0].On
	a := said(Change{Kind: SessionSkipped, Session: first})
	if gone := a["change.plan.session_gone"]; len(gone) != 1 || !slices.Equal(gone[0].Args["days"].([]timeline.Day), []timeline.Day{first}) {
		t.Errorf("the skipped session is not named: %v", a)
	}
	a = said(Change{Kind: MinutesEach, Minutes: 120})
	if len(a) != 1 || len(a["change.plan.nothing"]) != 1 {
		t.Errorf("nothing changes: %v", a)
	}
}
