package plan

import (
	"slices"
	"testing"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// The rules of the trade one by one. Common practice, no source, but for the figures that practice.json and the profiles
// name.

// oneZone is a dog of one zone, stripped as a whole so many days ago, with sessions so many days from today.
func oneZone(z timeline.Zone, mode timeline.Mode, age int, showIn int, sessions ...int) coat.File {
	f := coat.File{Today: timeline.Date(2026, 3, 2)}
	f.Zones = map[timeline.Zone]coat.Zone{z: {Mode: mode, Layers: []coat.Layer{{Pulled: f.Today - timeline.Day(age), Share: 1}}}}
	f.Shows = []coat.Show{{Name: "A", On: f.Today + timeline.Day(showIn)}}
	f.Sessions = &coat.Sessions{Minutes: 120}
	for _, d := range sessions {
		f.Sessions.Dates = append(f.Sessions.Dates, f.Today+timeline.Day(d))
	}
	return f
}

func lineOf(t *testing.T, p Plan, z timeline.Zone, session int) Line {
	t.Helper()
	for _, l := range p.Sessions[session].Zones {
		if l.Zone == z && l.Do != timeline.Card {
			return l
		}
	}
	t.Fatalf("no line for %s", z)
	return Line{}
}

func TestHairBornAtThePreviousSessionIsNotPulledAtTheNext(t *testing.T) {
	// Six weeks apart the new hair is long enough to be gripped; it is the rule alone that spares it.
	tk := taskOf(t, oneZone(timeline.Skull, timeline.BringBack, 200, 150, 0, 42, 84))
	z := tk.zones[0]
	after := pull(nil, z.start, 1, 0)
	if got := tk.pulls(nil, z, after, 1); len(got) != 0 {
		t.Errorf("%v is offered of hair born the session before", got)
	}
	if got := tk.pulls(nil, z, after, 2); len(got) == 0 {
		t.Error("nothing is offered two sessions later")
	}
	// The last logged work is a session too.
	f := oneZone(timeline.Skull, timeline.BringBack, 200, 150, 0)
	skull := f.Zones[timeline.Skull]
	skull.Work = []coat.WorkDone{{On: f.Today - 40, Do: timeline.Strip}}
	f.Zones[timeline.Skull] = skull
	tk = taskOf(t, f)
	if got := tk.pulls(nil, tk.zones[0], tk.zones[0].start, 0); len(got) != 0 {
		t.Errorf("%v is offered of hair born the logged session before", got)
	}
}

func TestWhatIsNotReadyIsNotPulledAndTestedAgain(t *testing.T) {
	f := oneZone(timeline.Back, timeline.BringBack, 200, 70, 3, 6, 12)
	back := f.Zones[timeline.Back]
	back.Ripeness = &coat.Ripeness{On: f.Today, Is: timeline.NotReady}
	f.Zones[timeline.Back] = back
	p := mustMake(t, f)
	for i := range 2 {
		l := lineOf(t, p, timeline.Back, i)
		if l.Do != timeline.Leave || l.Why.Key != "why.not_ready" || l.Why.Args["on"] != f.Today || l.Why.Args["again"] != f.Today+12 {
			t.Errorf("session %d: %s %s", i, l.Do, l.Why)
		}
	}
	if l := lineOf(t, p, timeline.Back, 2); l.Do == timeline.Leave {
		t.Errorf("after the next test: %s", l.Why)
	}
	// Where no session is left for it, the day itself.
	f.Sessions.Dates = f.Sessions.Dates[:2]
	if l := lineOf(t, mustMake(t, f), timeline.Back, 0); l.Why.Args["again"] != f.Today+7 {
		t.Errorf("%s", l.Why)
	}
}

func TestTheLastFlatPullComesFiveWeeksBeforeAShowSixUntilTheLagIsKnown(t *testing.T) {
	for name, c := range map[string]struct {
		lag  *coat.MedianSD
		days int
	}{
		"nothing known of her lag":           {nil, 42},
		"known to be usual":                  {&coat.MedianSD{Median: 20, SDLog: 0.15}, 35},
		"known to be slow":                   {&coat.MedianSD{Median: 30, SDLog: 0.05}, 35},
		"known to be quick: later, not last": {&coat.MedianSD{Median: 12, SDLog: 0.1}, 28},
	} {
		for _, zone := range []timeline.Zone{timeline.Throat, timeline.Neck, timeline.Shoulder} {
			f := oneZone(zone, timeline.BringBack, 200, 60)
			for d := range 60 {
				f.Sessions.Dates = append(f.Sessions.Dates, f.Today+timeline.Day(d))
			}
			if c.lag != nil {
				f.Priors = map[timeline.Zone]coat.Priors{zone: {LagDays: c.lag}}
			}
			tk := taskOf(t, f)
			for i, on := range tk.sessions {
				days := int(f.Shows[0].On - on)
				want := isOpen
				if days < c.days {
					want = closedFlat
				}
				if days <= tk.rules.TidyOnlyDays {
					want = closedTidy
				}
				if got := tk.zones[0].open[i]; got != want {
					t.Errorf("%s, %s: %d days before the show %d, want %d", name, zone, days, got, want)
				}
			}
		}
	}
	// It is said of the last day on which it may be.
	p := mustMake(t, oneZone(timeline.Neck, timeline.BringBack, 200, 60, 18, 32))
	if l := lineOf(t, p, timeline.Neck, 0); l.Why.Key != "why.last_flat" || l.Why.Args["n"] != 42 {
		t.Errorf("%s %s", l.Do, l.Why)
	}
	if l := lineOf(t, p, timeline.Neck, 1); l.Do == timeline.Take || l.Do == timeline.Strip {
		t.Errorf("%s %s", l.Do, l.Why)
	}
}

func TestTheHeadIsPickedOverUntilShowWeekAndTheJacketOnlyTidiedInIt(t *testing.T) {
	for _, c := range []struct {
		zone timeline.Zone
		in   int
		want closure
	}{
		{timeline.Skull, 8, isOpen}, {timeline.Skull, 7, closedTidy}, {timeline.Cheek, 8, isOpen}, {timeline.Ears, 8, isOpen},
		{timeline.Back, 8, isOpen}, {timeline.Back, 7, closedTidy}, {timeline.Rump, 1, closedTidy}, {timeline.Tail, 7, closedTidy},
		{timeline.Hindleg, 7, isOpen}, {timeline.Foreleg, 1, isOpen},
	} {
		tk := taskOf(t, oneZone(c.zone, timeline.BringBack, 200, c.in, 0))
		if got := tk.zones[0].open[0]; got != c.want {
			t.Errorf("%s %d days before the show: %d, want %d", c.zone, c.in, got, c.want)
		}
	}
	f := overgrown(timeline.Date(2026, 3, 2))
	f.Shows = []coat.Show{{Name: "A", On: f.Today + 5}}
	f.Sessions = &coat.Sessions{Dates: []timeline.Day{f.Today + 1}, Minutes: 240}
	p := mustMake(t, f)
	for _, z := range timeline.GroupJacket.Zones() {
		if l := lineOf(t, p, z, 0); l.Do != timeline.Tidy {
			t.Errorf("%s is given %s %d days before the show", z, l.Do, 4)
		}
	}
}

func TestLegsGiveALittleAtEverySessionWhereTheirBandAllowsIt(t *testing.T) {
	f := rolled(timeline.Date(2026, 3, 2))
	f.Shows = []coat.Show{{Name: "A", On: f.Today + 57}}
	f.Sessions = &coat.Sessions{EveryDays: 14, First: f.Today + 1, Minutes: 120}
	p := mustMake(t, f)
	for i := range p.Sessions {
		for _, z := range []timeline.Zone{timeline.Foreleg, timeline.Hindleg} {
			if l := lineOf(t, p, z, i); l.Do != timeline.Take || l.Share > 0.34 {
				t.Errorf("%s in session %d: %s %.2f (%s)", z, i, l.Do, l.Share, l.Why)
			}
		}
	}
	// What must grow is left, and the reason says so.
	f.Shows[0].Targets = map[timeline.Zone]coat.Target{timeline.Foreleg: {MinMM: 70, MaxMM: 90}}
	if l := lineOf(t, mustMake(t, f), timeline.Foreleg, 0); l.Do != timeline.Leave || l.Why.Key != "why.leave.grow" {
		t.Errorf("%s %s", l.Do, l.Why)
	}
}

func TestASensitiveZoneHasItsMinutesAndABreak(t *testing.T) {
	f := oneZone(timeline.Ribs, timeline.BringBack, 200, 98, 0, 14, 28, 42)
	ribs := f.Zones[timeline.Ribs]
	longest := Line{}
	usualPlan := mustMake(t, f)
	for i := range usualPlan.Sessions {
		if l := lineOf(t, usualPlan, timeline.Ribs, i); l.Minutes > longest.Minutes {
			longest = l
		}
	}
	if longest.Minutes < 20 || !longest.Break.IsZero() {
		t.Errorf("not sensitive: %.0f minutes, %s", longest.Minutes, longest.Break)
	}
	ribs.Sensitive = true
	f.Zones[timeline.Ribs] = ribs
	breaks := 0
	p := mustMake(t, f)
	for _, s := range p.Sessions {
		sum := 0.0
		for _, l := range s.Zones {
			sum += l.Minutes
			if l.Minutes > 5 {
				if breaks++; l.Break.Key != "why.break" || l.Break.Args["n"] != 5 {
					t.Errorf("%.0f minutes without a break: %s", l.Minutes, l.Break)
				}
			}
		}
		if sum > 10+1e-9 {
			t.Errorf("%.1f minutes on a sensitive zone on %s", sum, s.On)
		}
	}
	if breaks == 0 {
		t.Error("nothing took long enough to need a break")
	}
}

func TestLessThanHalfCoveredIsWarnedOfOutsideAFullStrip(t *testing.T) {
	warned := func(p Plan, z timeline.Zone, on timeline.Day) bool {
		return slices.ContainsFunc(p.Warnings, func(w timeline.Phrase) bool {
			return w.Key == "warn.plan.cover" && w.Args["on"] == on && slices.Contains(w.Args["zones"].([]timeline.Zone), z)
		})
	}
	bare, strips := 0, 0
	for _, age := range []int{120, 240} {
		f := overgrown(timeline.Date(2026, 3, 2))
		for z, fz := range f.Zones {
			fz.Layers[0].Pulled = f.Today - timeline.Day(age)
			f.Zones[z] = fz
		}
		f.Shows = []coat.Show{{Name: "A", On: f.Today + 71}}
		f.Sessions = &coat.Sessions{EveryDays: 14, First: f.Today + 1, Minutes: 60}
		p := mustMake(t, f)
		tk := taskOf(t, f)
		for _, z := range tk.zones {
			lad := z.start
			for i, s := range p.Sessions {
				l := lineOf(t, p, z.name, i)
				if l.Do != timeline.Take && l.Do != timeline.Strip {
					continue
				}
				lad = pull(nil, lad, l.Share, i)
				low := tk.cover(z, lad, s.On) < 0.5-1e-6
				if got := warned(p, z.name, s.On); got != (low && l.Do != timeline.Strip) {
					t.Errorf("%s after %s %.2f on %s: covered %.2f, warned %t", z.name, l.Do, l.Share, s.On, tk.cover(z, lad, s.On), got)
				}
				if low && l.Do != timeline.Strip {
					bare++
				}
				if l.Do == timeline.Strip {
					strips++
				}
			}
		}
	}
	if bare == 0 || strips == 0 {
		t.Errorf("%d bare zones, %d strips: nothing to warn of", bare, strips)
	}
}

func TestAZoneThatCannotBeReadyIsShownCoveredRatherThanBare(t *testing.T) {
	for _, in := range []int{9, 16, 20} {
		f := overgrown(timeline.Date(2026, 3, 2))
		f.Shows = []coat.Show{{Name: "Too soon", On: f.Today + timeline.Day(in)}}
		f.Sessions = &coat.Sessions{Dates: []timeline.Day{f.Today}, Minutes: 240}
		p := mustMake(t, f)
		for _, z := range timeline.Zones() {
			if _, share := pullsOf(p, z); share > 0.5+1e-9 {
				t.Errorf("show in %d days: %.2f of the %s is pulled", in, share, z)
			}
		}
	}
	// Three weeks and a day let the new hair hide the skin: cheeks may be stripped.
	if _, share := pullsOf(mustMake(t, oneZone(timeline.Cheek, timeline.BringBack, 240, 22, 0)), timeline.Cheek); share < 1 {
		t.Errorf("%.2f of the cheeks 22 days before", share)
	}
	// A later show that leaves no time after the first one excuses it; one that does leave time does not.
	for _, c := range []struct {
		second int
		bare   bool
	}{{30, true}, {36, true}, {60, false}} {
		f := oneZone(timeline.Cheek, timeline.BringBack, 240, 16, 0)
		f.Shows = append(f.Shows, coat.Show{Name: "B", On: f.Today + timeline.Day(c.second)})
		tk := taskOf(t, f)
		if got := len(tk.zones[0].covered[0]) == 0; got != c.bare {
			t.Errorf("shows in 16 and %d days: may be bare at the first %t, want %t", c.second, got, c.bare)
		}
	}
}

func TestACrumbOfALayerGoesWithTheNext(t *testing.T) {
	f := oneZone(timeline.Back, timeline.KeepRolling, 200, 60, 0)
	back := f.Zones[timeline.Back]
	back.Layers = []coat.Layer{{Pulled: f.Today - 200, Share: 0.01}, {Pulled: f.Today - 100, Share: 0.29}, {Pulled: f.Today - 50, Share: 0.7}}
	f.Zones[timeline.Back] = back
	tk := taskOf(t, f)
	menu := tk.pulls(nil, tk.zones[0], tk.zones[0].start, 0)
	if len(menu) != 1 || menu[0].kind != top || menu[0].share < 0.3-1e-9 || menu[0].share > 0.3+1e-9 {
		t.Errorf("offered %+v", menu)
	}
}

func TestEveryFigureOfPracticeNamesItsSource(t *testing.T) {
	for name, f := range map[string]figure{
		"every": usual.EveryDays, "again": usual.AgainDays, "grasp": usual.GraspDays, "layer": usual.LayerFrom, "lag": usual.LagKnownWithinDays,
		"bare days": usual.BareDays, "bare share": usual.BareShare, "flat": usual.FlatByLeastDays, "break": usual.SensitiveBreakMinutes,
		"hold": usual.HoldEveryDays, "keep": usual.KeepEveryDays, "card": usual.CardEveryDays, "old": usual.OldJacketDays,
		"on track": usual.OnTrackFrom, "tight": usual.TightFrom,
	} {
		if f.Value <= 0 || f.Source == "" {
			t.Errorf("%s: %+v", name, f)
		}
	}
}

// A thin top layer takes less than the few hairs that the minutes are reckoned for.
func TestTheLittleThatLegsMustGiveNeverOverfillsASession(t *testing.T) {
	f := coat.File{Today: timeline.Date(2026, 3, 2), Zones: map[timeline.Zone]coat.Zone{}, Minutes: map[timeline.Zone]map[timeline.Work]float64{}}
	for z, thin := range map[timeline.Zone]float64{timeline.Hindleg: 0.05, timeline.Foreleg: 0.1} {
		f.Zones[z] = coat.Zone{Mode: timeline.BringBack, Layers: []coat.Layer{{Pulled: f.Today - 90, Share: thin}, {Pulled: f.Today - 60, Share: 1 - thin}}}
	}
	f.Minutes[timeline.Hindleg] = map[timeline.Work]float64{timeline.Take: 43}
	f.Shows = []coat.Show{{Name: "A", On: f.Today + 47}}
	for _, minutes := range []float64{2, 2.2, 3.2, 4.3, 6.5} {
		f.Sessions = &coat.Sessions{Dates: []timeline.Day{f.Today + 3}, Minutes: minutes}
		if s := mustMake(t, f).Sessions[0]; s.Minutes > minutes+1e-9 {
			t.Errorf("%.2f minutes planned of %.2f", s.Minutes, minutes)
		}
	}
}
