package plan

import (
	"math"
	"slices"
	"testing"

	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/timeline/outside"
)

// A: the rules of planning, read back from finished plans.
func TestEveryRuleHoldsInRandomPlans(t *testing.T) {
	pulled, littles, closed, cases := 0, 0, 0, outside.ManyOf(t, 300)
	for seed := range cases {
		r := rng(1_000_000 + seed)
		f := randomFile(r, caseSize{zones: 1 + r.IntN(8), sessions: 1 + r.IntN(6), shows: 1 + r.IntN(3)})
		if r.IntN(3) == 0 { // so short that hardly anything fits
			f.Sessions.Minutes = 1 + 8*r.Float64()
		}
		p := mustMake(t, f)
		m, err := coat.New(f)
		if err != nil {
			t.Fatal(err)
		}
		rules := m.Profile().Rules
		bad := func(format string, args ...any) {
			t.Helper()
			t.Errorf("case %d: "+format, append([]any{seed}, args...)...)
		}
		if !slices.IsSortedFunc(p.Sessions, func(a, b Session) int { return int(a.On - b.On) }) {
			bad("sessions out of order")
		}
		coats := map[timeline.Zone][]coat.Layer{}
		for z, fz := range f.Zones {
			coats[z] = slices.Clone(fz.Layers)
			slices.SortFunc(coats[z], func(a, b coat.Layer) int { return int(a.Pulled - b.Pulled) })
		}
		for i, s := range p.Sessions {
			sum := 0.0
			seen := map[timeline.Zone]float64{}
			for _, l := range s.Zones {
				sum += l.Minutes
				seen[l.Zone] += l.Minutes
				if l.Why.IsZero() {
					bad("%s on %s: no reason", l.Zone, s.On)
				}
				if l.Do != timeline.Take && l.Do != timeline.Strip {
					if l.Share != 0 {
						bad("%s on %s: a share without a pull", l.Zone, s.On)
					}
					continue
				}
				pulled++
				zp, fz := m.Profile().Zones[l.Zone], f.Zones[l.Zone]
				if !zp.Stripped {
					bad("%s is not a stripped zone", l.Zone)
				}
				if fz.Ripeness != nil && fz.Ripeness.Is == timeline.NotReady && s.On < fz.Ripeness.On+7 {
					bad("%s pulled on %s, not ready on %s", l.Zone, s.On, fz.Ripeness.On)
				}
				for _, show := range f.Shows {
					days := int(show.On - s.On)
					if days > 0 && days <= rules.TidyOnlyDays && !zp.LittleEach {
						bad("%s pulled %d days before a show", l.Zone, days)
					}
					if days > 0 && zp.FlatByDays > 0 && days < rules.FlatByDaysUnknown {
						bad("%s pulled flat %d days before a show", l.Zone, days)
					}
				}
				// Longest first; nothing of the session before, nothing too short.
				lag := int(math.Round(m.Zone(l.Zone).LagDays().Median))
				left := l.Share
				var after []coat.Layer
				for _, layer := range coats[l.Zone] {
					n := math.Min(left, layer.Share)
					if n > 1e-6 {
						if i > 0 && layer.Pulled == p.Sessions[i-1].On {
							bad("%s: hair born at the previous session pulled on %s", l.Zone, s.On)
						}
						if int(s.On-layer.Pulled) < lag+10 {
							bad("%s: hair of %d days pulled on %s", l.Zone, s.On-layer.Pulled, s.On)
						}
					}
					left -= n
					if layer.Share -= n; layer.Share > 1e-9 {
						after = append(after, layer)
					}
				}
				if left > 1e-6 {
					bad("%s: more pulled than there is on %s", l.Zone, s.On)
				}
				coats[l.Zone] = append(after, coat.Layer{Pulled: s.On, Share: l.Share})
				if fz.Mode == timeline.KeepRolling && l.Share > 0.5+1e-9 && !zp.HeadFlat && zp.FlatByDays == 0 {
					// Only a zone that is kept flat gives so much at once on a rolling coat.
					if t := targetFor(f, zp, l.Zone); t.MinMM > 0 {
						bad("%s: %.2f of a rolling coat in one go", l.Zone, l.Share)
					}
				}
				if fz.Mode == timeline.KeepRolling && !zp.HeadFlat && zp.FlatByDays == 0 && targetFor(f, zp, l.Zone).MinMM > 0 {
					covered := 0.0
					for _, layer := range coats[l.Zone] {
						if int(s.On-layer.Pulled) >= lag {
							covered += layer.Share
						}
					}
					if covered < rules.WarnCoverBelow-1e-6 {
						bad("%s: a rolling coat is %.2f covered after %s", l.Zone, covered, s.On)
					}
				}
				if zp.LittleEach && l.Share <= 0.1+1e-9 {
					littles++
				}
			}
			if sum > f.Sessions.Minutes+1e-6 || math.Abs(sum-s.Minutes) > 1e-6 {
				bad("%s: %.3f minutes of %.3f, said to be %.3f", s.On, sum, f.Sessions.Minutes, s.Minutes)
			}
			for z, fz := range f.Zones {
				minutes, ok := seen[z]
				if !ok {
					bad("%s has no line on %s", z, s.On)
				}
				if fz.Sensitive && minutes > rules.SensitiveMinutes+1e-6 {
					bad("%s is sensitive and worked %.1f minutes on %s", z, minutes, s.On)
				}
			}
			for _, show := range f.Shows {
				if show.On == s.On {
					bad("a session on the show day %s", s.On)
				}
			}
			if s.On < f.Today {
				bad("a session in the past")
			}
		}
		for z, o := range p.Zones {
			if o.Readiness == nil {
				closed++
				continue
			}
			if *o.BestAlone-*o.Readiness > p.LargestRegret+1e-12 {
				bad("%s: regret %.6f above the largest, %.6f", z, *o.BestAlone-*o.Readiness, p.LargestRegret)
			}
		}
	}
	if 3*pulled < 2*cases || 15*littles < cases || 15*closed < cases { // of 300: 200, 20, 20
		t.Errorf("the cases try too little: %d pulls, %d littles, %d zones without a band", pulled, littles, closed)
	}
}

func targetFor(f coat.File, zp coat.ZoneProfile, z timeline.Zone) coat.Target {
	first := f.Shows[0]
	for _, s := range f.Shows {
		if s.On < first.On {
			first = s
		}
	}
	if t, ok := first.Targets[z]; ok {
		return t
	}
	if zp.Target != nil {
		return *zp.Target
	}
	return coat.Target{}
}

// A: what was possible stays possible. Regret is measured against the zones' best, which itself grows with what is
// permitted, so both plans are judged against the same bests: those of the poorer case.
func TestMorePermittedIsNeverWorse(t *testing.T) {
	widened := 0
	for seed := range outside.ManyOf(t, 400) {
		r := rng(2_000_000 + seed)
		f := randomFile(r, caseSize{zones: 1 + r.IntN(3), sessions: 1 + r.IntN(3), shows: 1 + r.IntN(2), noLittle: true})
		poor := taskOf(t, f)
		before := poor.choose(poor.allOptions())
		for name, richer := range map[string]coat.File{"a session more": withSession(r, f), "more minutes": withMinutes(r, f), "wider bands": withBands(f)} {
			rich := taskOf(t, richer)
			opts := rich.allOptions()
			for i := range opts {
				if opts[i].best < before.options[i].best-1e-12 {
					t.Errorf("case %d, %s: %s alone could be %.6f ready, now %.6f", seed, name, rich.zones[i].name, before.options[i].best, opts[i].best)
				}
				if opts[i].best > before.options[i].best+1e-12 {
					widened++
				}
				opts[i].best = before.options[i].best
				for _, q := range opts[i].list { // readier than the poorer case's best is no regret either
					q.ready = min(q.ready, opts[i].best)
				}
				opts[i].usual.ready = min(opts[i].usual.ready, opts[i].best)
			}
			after := rich.choose(opts)
			worse := after.regret > before.regret+1e-9
			if math.Abs(after.regret-before.regret) <= 1e-9 {
				worse = after.mean < before.mean-1e-9 || math.Abs(after.mean-before.mean) <= 1e-9 && minutesOf(after) > minutesOf(before)+1e-6
			}
			if worse {
				t.Errorf("case %d, %s: regret %.6f, mean %.3f, minutes %.2f became %.6f, %.3f, %.2f", seed, name, before.regret, before.mean, minutesOf(before), after.regret, after.mean, minutesOf(after))
			}
		}
	}
	if widened == 0 {
		t.Error("nothing that was permitted made a difference")
	}
}

func taskOf(t *testing.T, f coat.File) *task {
	t.Helper()
	m, err := coat.New(f)
	if err != nil {
		t.Fatal(err)
	}
	tk, err := newTask(f, m.Profile(), func(z timeline.Zone) zoneModel { return m.Zone(z) }, 0)
	if err != nil {
		t.Fatal(err)
	}
	return tk
}

func minutesOf(f found) float64 {
	sum := 0.0
	for _, s := range f.picked {
		sum += s.total
	}
	return sum
}

func withSession(r interface{ IntN(int) int }, f coat.File) coat.File {
	s := *f.Sessions
	end := f.Today
	for _, show := range f.Shows {
		end = max(end, show.On)
	}
	s.Dates = append(slices.Clone(s.Dates), f.Today+timeline.Day(r.IntN(int(end-f.Today))))
	f.Sessions = &s
	return f
}

func withMinutes(r interface{ IntN(int) int }, f coat.File) coat.File {
	s := *f.Sessions
	s.Minutes += float64(1 + r.IntN(30))
	f.Sessions = &s
	return f
}

// withBands widens every band, none of them past the point where the zone would count as flat.
func withBands(f coat.File) coat.File {
	p, _ := coat.ProfileNamed(f.Profile)
	f.Shows = slices.Clone(f.Shows)
	for i, s := range f.Shows {
		targets := map[timeline.Zone]coat.Target{}
		for z := range f.Zones {
			t, ok := s.Targets[z]
			if !ok && p.Zones[z].Target != nil {
				t = *p.Zones[z].Target
			}
			if t.HasBand() {
				t.MinMM *= 0.6
				if t.MaxMM > 0 {
					t.MaxMM += 4
				}
				t.InHair *= 0.9
			}
			targets[z] = t
		}
		f.Shows[i].Targets = targets
	}
	return f
}
