package salon

import (
	"reflect"
	"testing"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// valueAt is a value of a kind of coat as its page shows it.
func valueAt(t testing.TB, k KindPage, path string) KindValue {
	t.Helper()
	for _, p := range k.Parts {
		for _, v := range p.Values {
			if v.Path == path {
				return v
			}
		}
	}
	t.Fatalf("no value %s", path)
	return KindValue{}
}

func TestEveryValueOfEveryBuiltInKindIsShownWithItsSource(t *testing.T) {
	s, _ := opened(t)
	for _, name := range coat.ProfileNames() {
		k := must(s.Kind(ctx, name))
		if k.Own || k.Changed != 0 || len(k.Parts) != 3+len(timeline.Zones()) {
			t.Errorf("%s: %+v", name, k.CoatKind)
		}
		// Every leaf of the document but names, sources and what the page leaves out on purpose has a line of its own.
		leaves := map[string]bool{}
		walkTree("", treeOf(must(coat.ProfileNamed(name))), leaves)
		for _, p := range k.Parts {
			for _, v := range p.Values {
				delete(leaves, v.Path)
				if v.Source == "" || v.Label == "" || v.Changed || v.Value != v.BuiltIn {
					t.Errorf("%s: %+v", name, v)
				}
			}
		}
		delete(leaves, "growth.spread_factor.harsh") // 1: what the others are measured against
		for path := range leaves {
			t.Errorf("%s: %s is not shown", name, path)
		}
	}
}

func walkTree(at string, v any, out map[string]bool) {
	m, ok := v.(map[string]any)
	if !ok {
		if v != nil {
			out[at] = true
		}
		return
	}
	for k, x := range m {
		if at == "" && (k == "name" || k == "sources" || k == "base") || k == "source" {
			continue
		}
		path := k
		if at != "" {
			path = at + "." + k
		}
		walkTree(path, x, out)
	}
}

func TestACopiedKindIsChangedValueByValueAndGivenBack(t *testing.T) {
	s, _ := opened(t)
	made := must(s.CopyKind(ctx, "rough", " Short  jacket "))
	if !made.Own || made.Base != "rough" || made.Changed != 0 || made.Rev != 1 {
		t.Fatalf("%+v", made)
	}
	id := timeline.ID(made.Key)
	changed := must(s.ChangeKind(ctx, id, 1, map[string]any{
		"zones.back.target.max_mm": 25.0, "zones.back.minutes.take": 26.0, "zones.ears.target.max_mm": 0.0, "zones.ears.target.in_hair": 0.0,
		"growth.lag_days.median": 21.0, "rules.tidy_only_days": 5.0, "zones.belly.stripped": true, "growth.lie.mean": 0.45, // 0.45 is what it was
	}, ""))
	if changed.Changed != 7 || changed.Rev != 2 {
		t.Errorf("%+v", changed)
	}
	k := must(s.Kind(ctx, made.Key))
	for path, want := range map[string]any{
		"zones.back.target.max_mm": 25.0, "zones.back.target.min_mm": 12.0, "zones.back.minutes.take": 26.0, "zones.ears.target.max_mm": 0.0,
		"growth.lag_days.median": 21.0, "growth.lag_days.sd_log": 0.35, "rules.tidy_only_days": 5.0, "zones.belly.stripped": true,
	} {
		if v := valueAt(t, k, path); v.Value != want {
			t.Errorf("%s is %v, want %v", path, v.Value, want)
		}
	}
	for path, want := range map[string]string{
		"zones.back.target.max_mm": coat.SalonsOwn, "zones.back.target.min_mm": "judgement, no source, except where the zone names a breed standard",
		"growth.lag_days.median": coat.SalonsOwn, "growth.lie.mean": "judgement, no source", "rules.tidy_only_days": coat.SalonsOwn,
	} {
		if v := valueAt(t, k, path); v.Source != want {
			t.Errorf("source of %s is %q, want %q", path, v.Source, want)
		}
	}
	if v := valueAt(t, k, "zones.back.target.max_mm"); v.BuiltIn != 40.0 || !v.Changed {
		t.Errorf("%+v", v)
	}
	// One value back: its zone's other change stays; then that one too, and the zone is as built in again, its source too.
	_ = must(s.ResetKind(ctx, id, 2, "zones.back.target.max_mm"))
	back := must(s.ResetKind(ctx, id, 3, "zones.back.minutes.take", "zones.ears.target.max_mm", "zones.ears.target.in_hair", "growth.lag_days.median", "rules.tidy_only_days", "zones.belly.stripped"))
	if back.Changed != 0 {
		t.Errorf("after giving everything back %d values differ", back.Changed)
	}
	p, _, err := s.profileOf(ctx, made.Key)
	ok(err)
	base := must(coat.ProfileNamed("rough"))
	if !reflect.DeepEqual(p.Zones, base.Zones) || !reflect.DeepEqual(p.Growth, base.Growth) || !reflect.DeepEqual(p.Rules, base.Rules) || !reflect.DeepEqual(p.Sources, base.Sources) {
		t.Error("given back, but not as built in")
	}
	// All at once.
	_ = must(s.ChangeKind(ctx, id, 4, map[string]any{"zones.back.target.max_mm": 25.0}, "measured on nine dogs"))
	if v := valueAt(t, must(s.Kind(ctx, made.Key)), "zones.back.target.max_mm"); v.Source != "measured on nine dogs" {
		t.Errorf("source %q", v.Source)
	}
	if all := must(s.ResetKind(ctx, id, 5)); all.Changed != 0 || all.Name != "Short jacket" {
		t.Errorf("%+v", all)
	}
}

func TestAValueThatNoCoatHasIsNamedAndNothingIsKept(t *testing.T) {
	s, _ := opened(t)
	made := must(s.CopyKind(ctx, "broken", "Mine"))
	id := timeline.ID(made.Key)
	for _, c := range []struct {
		path string
		v    any
		key  string
	}{
		{"zones.back.target.max_mm", 5.0, "fault.coat.band"}, // below the shortest
		{"zones.back.length_max_mm.mean", 1000.0, "fault.coat.positive"},
		{"zones.back.minutes.take", 0.0, "fault.coat.positive"},
		{"growth.rate_mm_per_day", -1.0, "fault.coat.positive"},
		{"growth.dog_cv", 9.0, "fault.coat.number"},
		{"growth.curve", "logistic", "fault.coat.word"},
		{"rules.tidy_only_days", 1.5, "fault.coat.want_whole_number"},
		{"zones.wing.target.max_mm", 5.0, "fault.kind.value"},
		{"name", "Other", "fault.kind.value"},
		{"growth.evidence.ripe_at.ready", 0.1, "fault.coat.number"}, // ripe before it is coming
	} {
		_, err := s.ChangeKind(ctx, id, 1, map[string]any{c.path: c.v}, "")
		wantFault(t, err, timeline.Invalid, c.key, c.path)
	}
	if k := must(s.Kind(ctx, made.Key)); k.Rev != 1 || k.Changed != 0 {
		t.Errorf("%+v", k.CoatKind)
	}
	_, err := s.ChangeKind(ctx, id, 7, map[string]any{"zones.back.target.max_mm": 30.0}, "")
	wantFault(t, err, timeline.Conflict, "fault.store.changed", "")
	_, err = s.ChangeKind(ctx, "rough", 1, nil, "")
	wantFault(t, err, timeline.NotFound, "fault.store.not_found.profile", "")
	_, err = s.CopyKind(ctx, "broken", "  ")
	wantFault(t, err, timeline.Invalid, "fault.kind.name", "name")
	_, err = s.CopyKind(ctx, "broken", "MINE")
	wantFault(t, err, timeline.Conflict, "fault.store.profile_exists", "name")
	_, err = s.CopyKind(ctx, "smooth", "Other")
	wantFault(t, err, timeline.Invalid, "fault.coat.profile", "profile")
}

func TestADogsOwnKindOfCoatDecidesHerForecastHerTargetsAndHerPlan(t *testing.T) {
	s, _ := opened(t)
	d := newDog(t, s, "Wisp", day("2026-06-10"))
	was := must(s.Forecast(ctx, d.ID, day("2026-07-20"))).Zones[timeline.Back]
	made := must(s.CopyKind(ctx, "rough", "Slow"))
	_ = must(s.ChangeKind(ctx, timeline.ID(made.Key), 1, map[string]any{"growth.rate_mm_per_day": 0.2, "zones.back.target.max_mm": 22.0}, ""))
	d.Profile = made.Key
	d = must(s.UpdateDog(ctx, d))
	now := must(s.Forecast(ctx, d.ID, day("2026-07-20"))).Zones[timeline.Back]
	// Her reading at the withers pulls both towards itself; the slower kind stays behind.
	if !(now.RateMMPerDay.Median < was.RateMMPerDay.Median-0.02) {
		t.Errorf("rate %v, was %v", now.RateMMPerDay, was.RateMMPerDay)
	}
	if got := must(s.UsualTargets(ctx, d.ID))[timeline.Back]; got == nil || got.Max == nil || *got.Max != 22 {
		t.Errorf("target %+v", got)
	}
	must(s.AddShow(ctx, timeline.Show{Dog: d.ID, Name: "Lantern", On: day("2026-08-15")}))
	must(s.Plan(ctx, d.ID))
	if k := must(s.Kinds(ctx)); len(k) != 5 || k[4].Name != "Slow" || len(k[4].Dogs) != 1 || k[4].Changed != 2 {
		t.Errorf("%+v", k)
	}
	// Put aside, it is not offered any more, and she keeps it.
	ok(s.TrashKind(ctx, timeline.ID(made.Key)))
	if k := must(s.Kinds(ctx)); len(k) != 4 {
		t.Errorf("%d kinds", len(k))
	}
	if k := must(s.Kind(ctx, made.Key)); !k.Trashed || len(k.Dogs) != 1 {
		t.Errorf("%+v", k.CoatKind)
	}
	must(s.Plan(ctx, d.ID))
	ok(s.Restore(ctx, "profile", timeline.ID(made.Key)))
	if k := must(s.Kinds(ctx)); len(k) != 5 {
		t.Errorf("%d kinds", len(k))
	}
	d.Profile = "castle"
	_, err := s.UpdateDog(ctx, d)
	wantFault(t, err, timeline.Invalid, "fault.coat.profile", "profile")
}
