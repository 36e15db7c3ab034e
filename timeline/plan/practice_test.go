package plan

import (
	"testing"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// Sanity of whole plans against what groomers do. Common practice, no source: never the model's truth.

func overgrown(today timeline.Day) coat.File {
	f := coat.File{Today: today, Zones: map[timeline.Zone]coat.Zone{}, Dog: coat.Dog{Undercoat: timeline.UndercoatSome, Texture: timeline.TextureHarsh}}
	for _, z := range timeline.Zones() {
		f.Zones[z] = coat.Zone{Mode: timeline.BringBack, Layers: []coat.Layer{{Pulled: today - 240, Share: 1}}, Ripeness: &coat.Ripeness{On: today, Is: timeline.Ready}}
	}
	return f
}

// rolled is a dog in layers a fortnight apart; flats were stripped as a whole five weeks ago.
func rolled(today timeline.Day) coat.File {
	f := overgrown(today)
	p, _ := coat.ProfileNamed("")
	for z, fz := range f.Zones {
		fz.Mode, fz.Ripeness, fz.Layers = timeline.KeepRolling, nil, nil
		for i := range 5 {
			fz.Layers = append(fz.Layers, coat.Layer{Pulled: today - timeline.Day(14*(i+1)), Share: 0.2})
		}
		if t := p.Zones[z].Target; t != nil && t.MinMM == 0 {
			fz.Layers = []coat.Layer{{Pulled: today - 35, Share: 1}}
		}
		f.Zones[z] = fz
	}
	return f
}

func pullsOf(p Plan, z timeline.Zone) (days []timeline.Day, share float64) {
	for _, s := range p.Sessions {
		for _, l := range s.Zones {
			if l.Zone == z && (l.Do == timeline.Take || l.Do == timeline.Strip) {
				days, share = append(days, s.On), share+l.Share
			}
		}
	}
	return days, share
}

func TestAnOvergrownDogIsBroughtBackOverSeveralFortnights(t *testing.T) {
	f := overgrown(timeline.Date(2026, 3, 2))
	f.Shows = []coat.Show{{Name: "Spring show", On: f.Today + 57}}
	f.Sessions = &coat.Sessions{EveryDays: 14, First: f.Today + 1, Minutes: 90}
	p := mustMake(t, f)
	if len(p.Sessions) < 3 {
		t.Fatalf("%d sessions", len(p.Sessions))
	}
	worked := map[timeline.Day]bool{}
	for _, z := range timeline.GroupJacket.Zones() {
		days, share := pullsOf(p, z)
		if share < 1-1e-9 {
			t.Errorf("%s: %.2f of the old jacket comes off; a rest of it would stick out", z, share)
		}
		if v := p.Zones[z].Verdict; v == TooLate {
			t.Errorf("%s: too late eight weeks before the show", z)
		}
		for _, d := range days {
			worked[d] = true
		}
	}
	for _, z := range []timeline.Zone{timeline.Neck, timeline.Shoulder, timeline.Throat} {
		days, share := pullsOf(p, z)
		if share < 1-1e-9 || int(f.Shows[0].On-days[len(days)-1]) < 42 {
			t.Errorf("%s: pulled %.2f, last on %v", z, share, days)
		}
	}
	for _, z := range timeline.Zones() {
		days, _ := pullsOf(p, z)
		for _, d := range days {
			worked[d] = true
		}
	}
	if len(worked) < 3 {
		t.Errorf("all the pulling on %d days", len(worked))
	}
	if p.Gap != (Gap{}) {
		t.Errorf("gap %+v", p.Gap)
	}
}

func TestARollingDogIsHeldInItsBandsOverTwoShowsSixWeeksApart(t *testing.T) {
	f := rolled(timeline.Date(2026, 3, 2))
	f.Shows = []coat.Show{{Name: "A", On: f.Today + 15}, {Name: "B", On: f.Today + 57}}
	f.Sessions = &coat.Sessions{EveryDays: 7, First: f.Today, Minutes: 90}
	p := mustMake(t, f)
	m, err := coat.New(f)
	if err != nil {
		t.Fatal(err)
	}
	for _, z := range []timeline.Zone{timeline.Withers, timeline.Back, timeline.Loin, timeline.Ribs, timeline.Crest, timeline.Thigh} {
		if p.Zones[z].Verdict == TooLate {
			t.Errorf("%s: too late, %.2f", z, *p.Zones[z].Readiness)
		}
		var steps []coat.Step
		for _, s := range p.Sessions {
			for _, l := range s.Zones {
				if l.Zone == z && l.Do == timeline.Take {
					if l.Share > 0.5 {
						t.Errorf("%s on %s: %.2f of a rolling coat at once", z, s.On, l.Share)
					}
					steps = append(steps, coat.Step{On: s.On, Do: l.Do, Share: l.Share})
				}
			}
		}
		target := m.Target(z, f.Shows[0].On)
		for d := f.Shows[0].On; d <= f.Shows[1].On; d++ {
			if r := m.Zone(z).Readiness(steps, d, target); r < 0.5 {
				t.Errorf("%s: more likely out of its band than in it on %s (%.2f)", z, d, r)
				break
			}
			if v := m.Zone(z).Forecast(steps, d, target); v.InHair.Median < 0.5 {
				t.Errorf("%s: less than half covered on %s", z, d)
				break
			}
		}
	}
}

func TestAShowInTenDaysIsTooLateForAnOvergrownDogAndHearsWhen(t *testing.T) {
	f := overgrown(timeline.Date(2026, 3, 2))
	f.Shows = []coat.Show{{Name: "Too soon", On: f.Today + 10}}
	f.Sessions = &coat.Sessions{EveryDays: 14, First: f.Today + 1, Minutes: 90}
	p := mustMake(t, f)
	if p.Feasible {
		t.Error("feasible")
	}
	tasks := map[timeline.Day]*task{}
	for _, z := range []timeline.Zone{timeline.Back, timeline.Neck, timeline.Skull, timeline.Rump} {
		o := p.Zones[z]
		if o.Verdict != TooLate || o.ReadyBy <= f.Shows[0].On || o.ReadyBy > f.Today+150 {
			t.Errorf("%s: %s, ready by %s", z, o.Verdict, o.ReadyBy)
			continue
		}
		// The date is one at which a plan works, and no earlier one is: the same dog, the show on that day.
		on := func(d timeline.Day) float64 {
			if tasks[d] == nil {
				g := f
				g.Shows = []coat.Show{{Name: "Later", On: d}}
				tasks[d] = taskOf(t, g)
			}
			return bestAlone(t, tasks[d], z)
		}
		if best := on(o.ReadyBy); best < 0.8 {
			t.Errorf("%s: a show on %s can be %.3f ready", z, o.ReadyBy, best)
		}
		for d := f.Shows[0].On + 1; d < o.ReadyBy; d++ {
			if best := on(d); best >= 0.8 {
				t.Errorf("%s: ready by %s, but for a show on %s it can be %.3f", z, o.ReadyBy, d, best)
				break
			}
		}
	}
	if len(p.Warnings) == 0 {
		t.Error("nothing is said of it")
	}
}

func TestEveryCadenceKeepsARollingDogCovered(t *testing.T) {
	for _, every := range []int{7, 14, 21} { // weekly, fortnightly, three-weekly
		f := rolled(timeline.Date(2026, 3, 2))
		f.Shows = []coat.Show{{Name: "A", On: f.Today + 60}}
		f.Sessions = &coat.Sessions{EveryDays: every, First: f.Today, Minutes: 90}
		p := mustMake(t, f)
		for _, w := range p.Warnings {
			if w.Key != "warn.plan.cover" {
				continue
			}
			for _, z := range w.Args["zones"].([]timeline.Zone) {
				if z.Group() == timeline.GroupJacket {
					t.Errorf("every %d days: %s", every, w)
				}
			}
		}
		// The model itself, day by day: at least half of the jacket is in hair, and it is inside its band at the show.
		m, err := coat.New(f)
		if err != nil {
			t.Fatal(err)
		}
		worked := map[timeline.Day]bool{}
		for _, z := range timeline.GroupJacket.Zones() {
			var steps []coat.Step
			for _, s := range p.Sessions {
				for _, l := range s.Zones {
					if l.Zone == z && l.Do == timeline.Take {
						steps = append(steps, coat.Step{On: s.On, Do: l.Do, Share: l.Share})
						worked[s.On] = true
					}
				}
			}
			for d := f.Today; d <= f.Shows[0].On; d += 2 {
				if v := m.Zone(z).Forecast(steps, d, coat.Target{}).InHair.Median; v < 0.5 {
					t.Errorf("every %d days: %.2f of the %s is in hair on %s", every, v, z, d)
					break
				}
			}
			// The rump is kept so short that a fifth of it every three weeks cannot hold it: that is said, not hidden.
			if late := p.Zones[z].Verdict == TooLate; late != (every == 21 && z == timeline.Rump) {
				t.Errorf("every %d days: %s %s, %.2f", every, z, p.Zones[z].Verdict, *p.Zones[z].Readiness)
			}
		}
		if len(worked) < 2 {
			t.Errorf("every %d days: the jacket is worked on %d days", every, len(worked))
		}
	}
}

func TestOnlyTwentyMinutesToday(t *testing.T) {
	f := overgrown(timeline.Date(2026, 3, 2))
	f.Shows = []coat.Show{{Name: "Spring show", On: f.Today + 57}}
	f.Sessions = &coat.Sessions{EveryDays: 14, First: f.Today + 1, Minutes: 90}
	p, err := MakeShort(f, 20)
	if err != nil {
		t.Fatal(err)
	}
	if p.Sessions[0].Minutes > 20+1e-9 || p.Sessions[0].Minutes < 10 {
		t.Errorf("%.1f minutes planned of 20", p.Sessions[0].Minutes)
	}
	full := mustMake(t, f)
	if full.LargestRegret > p.LargestRegret+1e-9 {
		t.Error("less time made a better plan")
	}
	if c := Compare(full, p); len(c) == 0 || c[0].Key == "change.plan.nothing" {
		t.Error("no change is told")
	}
	if got := Compare(full, full); len(got) != 1 || got[0].Key != "change.plan.nothing" {
		t.Errorf("a plan changed from itself: %v", got)
	}
}

func TestALengthThatHairNeverReachesHearsThatThereIsNoDay(t *testing.T) {
	f := overgrown(timeline.Date(2026, 3, 2))
	f.Shows = []coat.Show{{Name: "Long", On: f.Today + 60, Targets: map[timeline.Zone]coat.Target{timeline.Back: {MinMM: 110, MaxMM: 130}}}}
	f.Sessions = &coat.Sessions{EveryDays: 14, First: f.Today + 1, Minutes: 90}
	p := mustMake(t, f)
	if o := p.Zones[timeline.Back]; o.Verdict != TooLate || !o.ReadyBy.IsZero() {
		t.Errorf("%s, ready by %s", o.Verdict, o.ReadyBy)
	}
	for _, w := range p.Warnings {
		if w.Key == "warn.plan.never" {
			return
		}
	}
	t.Errorf("it is not said: %v", p.Warnings)
}

// bestAlone is what a zone can reach if it alone mattered.
func bestAlone(t *testing.T, tk *task, name timeline.Zone) float64 {
	t.Helper()
	for _, z := range tk.zones {
		if z.name == name {
			best, _ := tk.graph(z, usualBreadth).most()
			return best
		}
	}
	t.Fatalf("no %s", name)
	return 0
}

// Stripped two weeks before somebody thought of a show: nothing can be done to the jacket, and the day is told.
func TestADogStrippedTooLateIsLeftAloneAndHearsWhen(t *testing.T) {
	f := overgrown(timeline.Date(2026, 3, 2))
	for _, z := range timeline.GroupJacket.Zones() {
		f.Zones[z] = coat.Zone{Mode: timeline.BringBack, Layers: []coat.Layer{{Pulled: f.Today - 13, Share: 1}}}
	}
	f.Shows = []coat.Show{{Name: "Too soon", On: f.Today + 17}}
	f.Sessions = &coat.Sessions{EveryDays: 14, First: f.Today + 1, Minutes: 120}
	p := mustMake(t, f)
	for _, z := range timeline.GroupJacket.Zones() {
		o := p.Zones[z]
		if days, _ := pullsOf(p, z); len(days) > 0 {
			t.Errorf("%s is pulled on %v", z, days)
		}
		if o.Verdict != TooLate || o.ReadyBy <= f.Shows[0].On || o.ReadyBy > f.Today+70 {
			t.Errorf("%s: %s, ready by %s", z, o.Verdict, o.ReadyBy)
		}
		if l := lineOf(t, p, z, 0); l.Do != timeline.Leave || l.Why.Key != "why.leave.young" {
			t.Errorf("%s: %s %s", z, l.Do, l.Why)
		}
		for _, s := range p.Sessions { // nobody rakes bare skin
			for _, l := range s.Zones {
				if l.Zone == z && l.Do == timeline.Card {
					t.Errorf("%s is carded on %s", z, s.On)
				}
			}
		}
	}
	said := ""
	for _, w := range p.Warnings {
		if w.Key == "warn.plan.too_late" || w.Key == "warn.plan.too_late.range" {
			said += w.Key
		}
	}
	if said == "" {
		t.Errorf("no date is told: %v", p.Warnings)
	}
}

// Three sessions two weeks apart, and no more, bring an overgrown dog back: the jacket first, the flat zones while the rule
// of their last pull still lets them, the head last; every session has work and none is overfull.
func TestThreeSessionsTwoWeeksApartBringAnOvergrownDogBack(t *testing.T) {
	f := overgrown(timeline.Date(2026, 3, 2))
	f.Shows = []coat.Show{{Name: "Spring show", On: f.Today + 64}}
	f.Sessions = &coat.Sessions{Dates: []timeline.Day{f.Today + 1, f.Today + 15, f.Today + 29}, Minutes: 150}
	p := mustMake(t, f)
	for i, s := range p.Sessions {
		if pullMinutesOf(s) < 15 || s.Minutes > 150+1e-9 {
			t.Errorf("session %d: %.0f minutes of pulling in %.0f", i, pullMinutesOf(s), s.Minutes)
		}
	}
	for _, z := range []timeline.Zone{timeline.Withers, timeline.Back, timeline.Loin, timeline.Ribs, timeline.Rump, timeline.Thigh, timeline.Neck, timeline.Shoulder, timeline.Skull, timeline.Cheek} {
		if _, share := pullsOf(p, z); share < 1-1e-9 {
			t.Errorf("%s: %.2f of the old jacket comes off", z, share)
		}
		if p.Zones[z].Verdict == TooLate {
			t.Errorf("%s: too late, %.2f", z, *p.Zones[z].Readiness)
		}
	}
	lastDay := func(z timeline.Zone) timeline.Day {
		days, _ := pullsOf(p, z)
		return days[len(days)-1]
	}
	if lastDay(timeline.Skull) < lastDay(timeline.Neck) || int(f.Shows[0].On-lastDay(timeline.Neck)) < 42 {
		t.Errorf("neck last on %s, skull last on %s", lastDay(timeline.Neck), lastDay(timeline.Skull))
	}
}
