package salon

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/timeline/outside"
)

// newcomer is a dog whose answers are of today (2026-06-10): last worked so many days ago, 0: nobody knows.
func newcomer(t testing.TB, s *Salon, name string, daysAgo int, change func(*NewDog)) timeline.Dog {
	t.Helper()
	n := NewDog{Name: name, Answers: timeline.Answers{On: day("2026-06-10"), Undercoat: timeline.UndercoatSome, LongestWithersMM: 46}}
	if daysAgo > 0 {
		n.Answers.LastWorked = n.Answers.On - timeline.Day(daysAgo)
	}
	if change != nil {
		change(&n)
	}
	d, err := s.CreateDog(ctx, n)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func keysOf(list []timeline.Phrase) (out []string) {
	for _, p := range list {
		out = append(out, p.Key)
	}
	return out
}

// pulls are the days on which each zone is pulled, and how much.
func pulls(v FirstVisit) map[timeline.Zone]map[timeline.Day]float64 {
	out := map[timeline.Zone]map[timeline.Day]float64{}
	for _, d := range v.Visits {
		for _, l := range d.Work {
			if l.Do == timeline.Take || l.Do == timeline.Strip {
				if out[l.Zone] == nil {
					out[l.Zone] = map[timeline.Day]float64{}
				}
				out[l.Zone][d.On] += l.Share
			}
		}
	}
	return out
}

// A coat untouched for three months takes about three sessions two weeks apart: common practice, no source. Here the jacket
// is out in three; legs and tail, a little at a time, may take one more.
func TestANeglectedCoatIsBroughtBackInAFewVisitsAndStaysCovered(t *testing.T) {
	outside.Alone(t)
	for _, c := range []struct {
		name           string
		every, minutes int
		jacketBy       timeline.Day // days from the first visit
		visits         int
	}{
		{"weekly", 7, 90, 28, 5}, {"fortnightly", 14, 120, 28, 4}, {"every three weeks", 21, 120, 42, 4},
	} {
		s, _ := opened(t)
		d := newcomer(t, s, "Wisp", 200, func(n *NewDog) { n.EveryDays, n.Minutes = c.every, c.minutes })
		v := must(s.FirstVisit(ctx, d.ID))
		if v.Can != CanUntested || v.Rolling || len(v.Open) != 0 || len(v.Visits) < 2 || len(v.Visits) > c.visits {
			t.Errorf("%s: %s, %d visits, still open %v", c.name, v.Can, len(v.Visits), v.Open)
		}
		for z, days := range pulls(v) {
			sum, last := 0.0, timeline.Day(0)
			for on, share := range days {
				sum, last = sum+share, max(last, on)
			}
			if sum < 1-1e-6 || sum > 1+1e-6 {
				t.Errorf("%s: %s is pulled %.3f of once", c.name, z, sum)
			}
			if z.Group() == timeline.GroupJacket && last > v.Rhythm.First+c.jacketBy {
				t.Errorf("%s: the %s is out on day %d, want %d", c.name, z, last-v.Rhythm.First, c.jacketBy)
			}
		}
		for _, visit := range v.Visits {
			if visit.Minutes > c.minutes {
				t.Errorf("%s: %d minutes on %s", c.name, visit.Minutes, visit.On)
			}
			for _, z := range timeline.GroupJacket.Zones() {
				if l := visit.After.Zones[z]; l.InHair < 0.5-0.01 || l.Kind == LookBare {
					t.Errorf("%s: after %s the %s is %s with %.2f of the hair out", c.name, visit.On, z, l.Kind, l.InHair)
				}
			}
		}
		if len(v.Later) != 2 || v.Later[1].Zones[timeline.Back].Kind != LookNew || v.Later[1].Zones[timeline.Back].VisibleMM.Median < 12 {
			t.Errorf("%s: eight weeks later %+v", c.name, v.Later)
		}
		if v.Ready.On < v.Rhythm.First+60 || len(v.Ready.Last) == 0 {
			t.Errorf("%s: ready on %s, waiting for %v", c.name, v.Ready.On, v.Ready.Last)
		}
	}
}

func TestAllAtOnceIsFasterAndBarer(t *testing.T) {
	s, _ := opened(t)
	d := newcomer(t, s, "Wisp", 200, func(n *NewDog) { n.Minutes = 300 })
	slow := must(s.FirstVisit(ctx, d.ID))
	fast := must(s.FirstVisitIf(ctx, d.ID, Rhythm{AtOnce: true}))
	if len(fast.Visits) >= len(slow.Visits) || fast.Visits[0].After.Zones[timeline.Back].Kind != LookBare {
		t.Errorf("%d visits against %d; the back is %s", len(fast.Visits), len(slow.Visits), fast.Visits[0].After.Zones[timeline.Back].Kind)
	}
	if !slices.Contains(keysOf(fast.Cautions), "first.caution.bare") {
		t.Errorf("nobody says that she is bare: %v", keysOf(fast.Cautions))
	}
}

func TestThePinchTestOverrulesTheAnswers(t *testing.T) {
	s, _ := opened(t)
	d := newcomer(t, s, "Wisp", 200, nil)
	d = must(s.SaveFirst(ctx, d.ID, FirstAnswers{Rev: d.Rev, Pinched: map[timeline.Group]timeline.Ripeness{
		timeline.GroupJacket: timeline.NotReady, timeline.GroupNeck: timeline.Blown, timeline.GroupRear: timeline.Coming,
	}}))
	if d.Pinched.On != day("2026-06-10") {
		t.Errorf("tested on %s", d.Pinched.On)
	}
	v := must(s.FirstVisit(ctx, d.ID))
	if v.Can != CanPartly || !slices.Equal(keysOf(v.Why), []string{"first.can.ready", "first.can.coming", "first.can.not_ready", "first.can.untested"}) {
		t.Errorf("%s, %v", v.Can, v.Why)
	}
	again := must(coat.New(must(s.CoatFile(ctx, d.ID)))).Zone(timeline.Back).TestAgain()
	if again < v.Rhythm.First+7 {
		t.Fatalf("tested again on %s", again)
	}
	by := pulls(v)
	for _, z := range timeline.GroupJacket.Zones() {
		for on := range by[z] {
			if on < again {
				t.Errorf("the %s is not ready and is pulled on %s", z, on)
			}
		}
	}
	if by[timeline.Thigh][v.Rhythm.First] > 0.25+1e-9 {
		t.Errorf("thighs were only coming and %.2f is pulled", by[timeline.Thigh][v.Rhythm.First])
	}
	first := v.Visits[0]
	if !slices.Contains(first.Test, timeline.GroupLegs) || slices.Contains(first.Test, timeline.GroupNeck) || slices.Contains(first.Test, timeline.GroupJacket) {
		t.Errorf("to be pinched first: %v", first.Test)
	}
	// The same test said again keeps its day; nothing at all means not ready anywhere.
	none := map[timeline.Group]timeline.Ripeness{}
	for _, g := range timeline.Groups() {
		none[g] = timeline.NotReady
	}
	d = must(s.SaveFirst(ctx, d.ID, FirstAnswers{Rev: d.Rev, Pinched: none}))
	v = must(s.FirstVisit(ctx, d.ID))
	if v.Can != CanNotYet || len(pulls(FirstVisit{Visits: v.Visits[:1]})) != 0 {
		t.Errorf("%s, first visit %+v", v.Can, v.Visits[0].Work)
	}
	d = must(s.SaveFirst(ctx, d.ID, FirstAnswers{Rev: d.Rev}))
	if d.Pinched != nil {
		t.Errorf("a test taken back is still there: %+v", d.Pinched)
	}
	_, err := s.SaveFirst(ctx, d.ID, FirstAnswers{Rev: d.Rev, Pinched: map[timeline.Group]timeline.Ripeness{"wing": timeline.Ready}})
	wantFault(t, err, timeline.Invalid, "fault.word", "pinched.wing")
	_, err = s.SaveFirst(ctx, d.ID, FirstAnswers{Rev: d.Rev, Pinched: map[timeline.Group]timeline.Ripeness{timeline.GroupHead: "nearly"}})
	wantFault(t, err, timeline.Invalid, "fault.word", "pinched.head")
}

func TestTheTestOfTheDayOfASessionIsTheSessions(t *testing.T) {
	s, _ := opened(t)
	d := newcomer(t, s, "Wisp", 200, nil)
	d = must(s.SaveFirst(ctx, d.ID, FirstAnswers{Rev: d.Rev, Pinched: map[timeline.Group]timeline.Ripeness{timeline.GroupJacket: timeline.NotReady}}))
	f := must(s.CoatFile(ctx, d.ID))
	if r := f.Zones[timeline.Back].Ripeness; r == nil || r.Is != timeline.NotReady || f.Zones[timeline.Feet].Ripeness != nil || f.Zones[timeline.Skull].Ripeness != nil {
		t.Fatalf("the file says %+v", r)
	}
	v := must(s.OpenSession(ctx, d.ID, day("2026-06-10")))
	must(s.SaveSession(ctx, SessionEdit{ID: v.ID, Rev: v.Rev, Work: []timeline.ZoneWork{{Zone: timeline.Back, Do: timeline.Leave, Ripeness: timeline.Coming}}}))
	f = must(s.CoatFile(ctx, d.ID))
	if r := f.Zones[timeline.Back].Ripeness; r == nil || r.Is != timeline.Coming {
		t.Errorf("the back: %+v", r)
	}
	if r := f.Zones[timeline.Loin].Ripeness; r == nil || r.Is != timeline.NotReady {
		t.Errorf("the loin: %+v", r)
	}
}

func TestNothingIsPromisedOfACoatThatMayNotComeBack(t *testing.T) {
	outside.Alone(t)
	s, _ := opened(t)
	usual := must(s.FirstVisit(ctx, newcomer(t, s, "Usual", 200, nil).ID))
	for _, c := range []struct {
		name   string
		change func(*NewDog)
		key    string
	}{
		{"clipped", func(n *NewDog) { n.History.EverClipped = true }, "promise.ever_clipped"},
		{"neutered", func(n *NewDog) { n.History.Neutered = true }, "promise.neutered"},
		{"soft", func(n *NewDog) { n.Texture = timeline.TextureSoft }, "promise.soft"},
		{"without undercoat", func(n *NewDog) { n.Answers.Undercoat = timeline.UndercoatNone }, "promise.no_undercoat"},
		{"changed", func(n *NewDog) { n.History.CoatChange = true }, "promise.coat_change"},
	} {
		v := must(s.FirstVisit(ctx, newcomer(t, s, "Wisp "+c.name, 200, c.change).ID))
		if !slices.Contains(keysOf(v.NotSure), c.key) || slices.Contains(keysOf(usual.NotSure), c.key) {
			t.Errorf("%s: %v, usually %v", c.name, keysOf(v.NotSure), keysOf(usual.NotSure))
		}
		if asks := c.name == "changed"; (v.Can == CanAsk) != asks || v.Ready.On.IsZero() != asks {
			t.Errorf("%s: %s, ready %s", c.name, v.Can, v.Ready.On)
		}
		for _, must := range []string{"first.caution.skin", "first.caution.ill", "first.caution.stop", "first.caution.growth"} {
			if !slices.Contains(keysOf(v.Cautions), must) {
				t.Errorf("%s: no %s", c.name, must)
			}
		}
	}
}

// What an owner tells widens the band of the forecast.
func TestAHistoryOfTheCoatWidensItsForecast(t *testing.T) {
	s, _ := opened(t)
	wide := func(name string, h timeline.History) float64 {
		d := newcomer(t, s, name, 30, func(n *NewDog) { n.History, n.Answers.LongestWithersMM = h, 0 })
		f := must(s.Forecast(ctx, d.ID, day("2026-07-20"))).Zones[timeline.Back].LongestMM
		return f.P90 - f.P10
	}
	usual := wide("Usual", timeline.History{})
	for name, h := range map[string]timeline.History{"Clipped": {EverClipped: true}, "Neutered": {Neutered: true}, "Changed": {CoatChange: true}} {
		if got := wide(name, h); !(got > usual*1.05) {
			t.Errorf("%s: %.1f mm wide, usually %.1f", name, got, usual)
		}
	}
}

func TestAFreshlyPulledCoatIsLeftToGrow(t *testing.T) {
	s, _ := opened(t)
	v := must(s.FirstVisit(ctx, newcomer(t, s, "Wisp", 13, func(n *NewDog) { n.Answers.LongestWithersMM = 0 }).ID))
	if v.Can != CanNotYet || !v.Rolling {
		t.Errorf("%s, rolling %t", v.Can, v.Rolling)
	}
	for z, days := range pulls(v) {
		for on := range days {
			if on < day("2026-06-10")+14 {
				t.Errorf("the %s is pulled on %s", z, on)
			}
		}
	}
	for _, k := range keysOf(v.Why) {
		if k != "first.can.young_until" {
			t.Errorf("why: %v", v.Why)
		}
	}
}

func TestARollingCoatGivesOneLayerAtAVisit(t *testing.T) {
	s, _ := opened(t)
	v := must(s.FirstVisit(ctx, newDog(t, s, "Wisp", day("2026-06-10")).ID))
	if !v.Rolling || len(v.Visits) != 4 || v.Can != CanUntested || len(v.Later) != 0 {
		t.Errorf("%s, %d visits, rolling %t", v.Can, len(v.Visits), v.Rolling)
	}
	for z, days := range pulls(v) {
		for on, share := range days {
			if z.Group() == timeline.GroupJacket && share > 0.5 {
				t.Errorf("%.2f of the %s on %s", share, z, on)
			}
		}
	}
	for _, d := range v.Visits {
		if l := d.After.Zones[timeline.Back]; l.Kind != LookRolling || l.Cover != timeline.CoverFull {
			t.Errorf("after %s the back is %s, %s", d.On, l.Kind, l.Cover)
		}
	}
}

func TestTheSalonsPriceIsTold(t *testing.T) {
	s, _ := opened(t)
	d := newcomer(t, s, "Wisp", 200, nil)
	if v := must(s.FirstVisit(ctx, d.ID)); v.PriceCents != 0 {
		t.Errorf("a price of %d that nobody set", v.PriceCents)
	}
	set := must(s.Settings(ctx))
	set.HourCents, set.Currency = 4550, " kr "
	set = must(s.SaveSettings(ctx, set))
	if set.Currency != "kr" {
		t.Errorf("currency %q", set.Currency)
	}
	v := must(s.FirstVisit(ctx, d.ID))
	sum := 0
	for _, x := range v.Visits {
		// Whole units, to the nearest: an estimate is not told to the penny.
		if want := float64(x.Minutes) * 45.5 / 60; x.PriceCents%100 != 0 || float64(x.PriceCents)/100 < want-0.5 || float64(x.PriceCents)/100 > want+0.5 {
			t.Errorf("%d minutes cost %d", x.Minutes, x.PriceCents)
		}
		sum += x.PriceCents
	}
	if v.PriceCents != sum || sum == 0 {
		t.Errorf("together %d, want %d", v.PriceCents, sum)
	}
	for _, bad := range []struct {
		field, currency string
		cents           int
	}{{"price_hour", "kr", -1}, {"price_hour", "kr", 1 << 30}, {"currency", "doubloons of the realm", 1}} {
		wrong := set
		wrong.HourCents, wrong.Currency = bad.cents, bad.currency
		_, err := s.SaveSettings(ctx, wrong)
		if f := faultOf(err); f == nil || f.Field != bad.field {
			t.Errorf("%+v: %v", bad, err)
		}
	}
}

func TestARhythmThatCannotBeIsRefusedByName(t *testing.T) {
	s, _ := opened(t)
	d := newcomer(t, s, "Wisp", 200, nil)
	for field, r := range map[string]Rhythm{"every": {EveryDays: 1000}, "minutes": {Minutes: 2}, "next": {First: day("2026-06-09")}} {
		_, err := s.FirstVisitIf(ctx, d.ID, r)
		if f := faultOf(err); f == nil || f.Kind != timeline.Invalid || f.Field != field {
			t.Errorf("%s: %v", field, err)
		}
	}
	booked := must(s.BookFirst(ctx, d.ID, d.Rev, Rhythm{First: day("2026-06-12"), EveryDays: 7, Minutes: 75}))
	if c := booked.Cadence; c.Next != day("2026-06-12") || c.EveryDays != 7 || c.Minutes != 75 {
		t.Errorf("booked %+v", c)
	}
	if v := must(s.FirstVisit(ctx, d.ID)); v.Rhythm != (Rhythm{First: day("2026-06-12"), EveryDays: 7, Minutes: 75}) || v.Visits[0].On != day("2026-06-12") {
		t.Errorf("%+v", v.Rhythm)
	}
	_, err := s.BookFirst(ctx, d.ID, d.Rev, Rhythm{})
	wantFault(t, err, timeline.Conflict, "fault.store.changed", "")
	_, err = s.FirstVisit(ctx, "nobody")
	if timeline.KindOf(err) != timeline.NotFound {
		t.Error(err)
	}
}

// The page is also asked for later: then it begins with the coat as it is by now, not with the answers.
func TestAfterAFullStripThereIsNothingToStrip(t *testing.T) {
	s, c := opened(t)
	d := newcomer(t, s, "Wisp", 200, nil)
	v := must(s.OpenSession(ctx, d.ID, day("2026-06-10")))
	var work []timeline.ZoneWork
	for _, z := range timeline.GroupJacket.Zones() {
		work = append(work, timeline.ZoneWork{Zone: z, Do: timeline.Strip, Share: 1})
	}
	must(s.SaveSession(ctx, SessionEdit{ID: v.ID, Rev: v.Rev, Work: work}))
	c.set(day("2026-06-24"))
	first := must(s.FirstVisit(ctx, d.ID))
	if first.Can != CanPartly {
		t.Errorf("%s, %v", first.Can, first.Why)
	}
	for z, days := range pulls(first) {
		for on, share := range days {
			if z.Group() == timeline.GroupJacket && (on < day("2026-07-20") || share > timeline.ShareQuarter+1e-9) {
				t.Errorf("%.2f of the %s on %s", share, z, on)
			}
		}
	}
	if n := len(first.Open); n != 0 {
		t.Errorf("still open: %v", first.Open)
	}
}

// Whatever the answers, the test and the rhythm: every rule of the table holds.
func TestEveryFirstVisitKeepsTheRules(t *testing.T) {
	outside.Alone(t)
	s, _ := opened(t)
	rng := rand.New(rand.NewPCG(4, 8))
	pick := func(n int) int { return rng.IntN(n) }
	for i := range outside.ManyOf(t, 40) {
		d := newcomer(t, s, fmt.Sprint("Dog ", i), pick(400), func(x *NewDog) {
			x.Answers.Rolled = pick(2) == 0
			x.Answers.Undercoat = timeline.Undercoats()[pick(3)]
			x.Answers.LongestWithersMM = []float64{0, 8, 22, 38, 60}[pick(5)]
			x.Texture = timeline.Textures()[pick(3)]
			x.Profile = coat.ProfileNames()[pick(4)]
			x.EveryDays, x.Minutes = 1+pick(35), 15+pick(200)
			x.Sensitive = []timeline.Zone{timeline.Zones()[pick(22)], timeline.Zones()[pick(22)]}
		})
		is := map[timeline.Group]timeline.Ripeness{}
		for _, g := range timeline.Groups() {
			if k := pick(6); k < 4 {
				is[g] = timeline.Ripenesses()[k]
			}
		}
		d = must(s.SaveFirst(ctx, d.ID, FirstAnswers{Rev: d.Rev, Pinched: is}))
		h := must(s.history(ctx, d))
		f := h.file(h.today, h.today+1)
		m := must(coat.New(f))
		r := must(rhythmOf(Rhythm{AtOnce: pick(3) == 0}, d, h.today))
		b := newBringing(f, m, r)
		b.run()
		sum := map[timeline.Zone]float64{}
		last := map[timeline.Zone]timeline.Day{}
		before := timeline.Day(0)
		for _, v := range b.visits {
			if v.On <= before || (v.On-r.First)%timeline.Day(r.EveryDays) != 0 || v.Minutes > (r.Minutes+4)/5*5 {
				t.Errorf("dog %d: a visit on %s of %d minutes, rhythm %+v", i, v.On, v.Minutes, r)
			}
			before = v.On
			each := map[timeline.Zone]float64{}
			for _, l := range v.Work {
				zp := h.profile.Zones[l.Zone]
				each[l.Zone] += l.Minutes
				if l.Do != timeline.Take && l.Do != timeline.Strip {
					each[l.Zone] -= l.Minutes
					continue
				}
				z := b.zone(l.Zone)
				if !zp.Stripped || l.Share < timeline.ShareFew/2-1e-9 || l.Share > 1+1e-9 || z.closed(v.On) || z.coming(v.On) && l.Share > timeline.ShareQuarter+1e-9 {
					t.Errorf("dog %d: %s %.2f on %s", i, l.Zone, l.Share, v.On)
				}
				if on, ok := last[l.Zone]; ok && z.rolls && !l.Top && l.Do == timeline.Strip && float64(v.On-on) < m.Zone(l.Zone).LagDays().Median {
					t.Errorf("dog %d: %s stripped on %s and again on %s", i, l.Zone, on, v.On)
				}
				last[l.Zone] = v.On
				sum[l.Zone] += l.Share
			}
			for z, minutes := range each {
				if b.zone(z).sensitive() && minutes > h.profile.Rules.SensitiveMinutes+1e-9 {
					t.Errorf("dog %d: %.1f minutes on the sensitive %s", i, minutes, z)
				}
			}
		}
		for z, share := range sum {
			if !b.zone(z).rolls && share > 1+1e-6 {
				t.Errorf("dog %d: %.3f of the old coat of the %s", i, share, z)
			}
		}
		for _, z := range b.open() {
			if sum[z] > 1-1e-6 {
				t.Errorf("dog %d: the %s is out and still open", i, z)
			}
		}
	}
}
