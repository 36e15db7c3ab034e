package coat

import (
	"encoding/json"
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"

	"thatch/timeline"
)

func TestAProfileIsWrittenAndReadBackWhole(t *testing.T) {
	for _, name := range ProfileNames() {
		p := mustProfile(t, name)
		if err := p.Validate(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		mine := p.CopyAs("Mine")
		back, err := ParseProfile(mine.JSON())
		if err != nil {
			t.Fatal(err)
		}
		if mine.Base != name || !reflect.DeepEqual(mine, back) {
			t.Errorf("%s: written and read again:\n%+v\n%+v", name, mine, back)
		}
		mine.Zones[timeline.Back].Minutes[timeline.Take] = 99
		mine.Growth.LoftMM[timeline.LoftSome] = 9
		if p.Zones[timeline.Back].Minutes[timeline.Take] == 99 || p.Growth.LoftMM[timeline.LoftSome] == 9 {
			t.Errorf("%s: a change of the copy changed the profile", name)
		}
	}
}

func TestAProfileOfOnesOwnChangesWhatItNames(t *testing.T) {
	p, err := ParseProfile([]byte(`{"name":"Short jacket","base":"broken","growth":{"lag_days":{"median":21},"spread_factor":{"soft":1.5}},
		"rules":{"tidy_only_days":5},"zones":{"back":{"target":{"max_mm":15},"minutes":{"take":25},"source":"measured on nine dogs"},"ears":{"target":null}}}`))
	if err != nil {
		t.Fatal(err)
	}
	base := mustProfile(t, "broken")
	back := p.Zones[timeline.Back]
	if p.Name != "Short jacket" || p.Base != "broken" || p.Growth.LagDays != (MedianSD{21, base.Growth.LagDays.SDLog}) || p.Growth.SpreadFactor["soft"] != 1.5 ||
		p.Growth.SpreadFactor["medium"] != base.Growth.SpreadFactor["medium"] || p.Rules.TidyOnlyDays != 5 || *back.Target != (Target{MaxMM: 15}) ||
		back.Minutes[timeline.Take] != 25 || back.Minutes[timeline.Strip] != base.Zones[timeline.Back].Minutes[timeline.Strip] || p.Zones[timeline.Ears].Target != nil {
		t.Errorf("read as %+v", p)
	}
	// Every value has its source: a changed one not that of the value it replaced.
	for path, want := range map[string]string{"growth.lag_days": SalonsOwn, "growth.spread_factor": SalonsOwn, "rules.tidy_only_days": SalonsOwn, "growth.lie": base.Sources["growth.lie"]} {
		if p.Sources[path] != want {
			t.Errorf("source of %s is %q, want %q", path, p.Sources[path], want)
		}
	}
	if back.Source != "measured on nine dogs" || p.Zones[timeline.Ears].Source != SalonsOwn || p.Zones[timeline.Loin].Source != base.Zones[timeline.Loin].Source {
		t.Errorf("sources %q, %q, %q", back.Source, p.Zones[timeline.Ears].Source, p.Zones[timeline.Loin].Source)
	}
}

func TestASlipInAProfileIsNamedWithItsPlace(t *testing.T) {
	words := catalogue(t)
	for _, c := range []struct{ name, text, field, key string }{
		{"not JSON", `rough`, "", "fault.coat.unreadable"},
		{"a list", `[]`, "", "fault.coat.want_object"},
		{"two documents", `{"name":"Mine"}{}`, "", "fault.coat.trailing"},
		{"an unknown base", `{"base":"smooth"}`, "base", "fault.coat.word"},
		{"no name left", `{"name":" "}`, "name", "fault.coat.name"},
		{"an unknown field", `{"growth":{"rate":1}}`, "growth.rate", "fault.coat.field"},
		{"an unknown zone", `{"zones":{"wing":{}}}`, "zones.wing", "fault.coat.zone"},
		{"a rate of zero", `{"growth":{"rate_mm_per_day":0}}`, "growth.rate_mm_per_day", "fault.coat.positive"},
		{"a lag of no days", `{"growth":{"lag_days":{"median":0}}}`, "growth.lag_days.median", "fault.coat.positive"},
		{"a negative spread", `{"growth":{"dog_cv":-1}}`, "growth.dog_cv", "fault.coat.number"},
		{"an unknown curve", `{"growth":{"curve":"logistic"}}`, "growth.curve", "fault.coat.word"},
		{"a loft that is none", `{"growth":{"loft_mm":{"lots":3}}}`, "growth.loft_mm.lots", "fault.coat.word"},
		{"an unknown trait", `{"growth":{"spread_factor":{"old":2}}}`, "growth.spread_factor.old", "fault.coat.word"},
		{"a spread factor of nothing", `{"growth":{"spread_factor":{"soft":0}}}`, "growth.spread_factor.soft", "fault.coat.number"},
		{"ripe before it is coming", `{"growth":{"evidence":{"ripe_at":{"ready":0.1}}}}`, "growth.evidence.ripe_at.ready", "fault.coat.number"},
		{"thin above full", `{"growth":{"evidence":{"cover_at":{"thin":0.9}}}}`, "growth.evidence.cover_at.full", "fault.coat.number"},
		{"a rule of half a day", `{"rules":{"tidy_only_days":1.5}}`, "rules.tidy_only_days", "fault.coat.want_whole_number"},
		{"a session of no minutes", `{"rules":{"minutes_default":0}}`, "rules.minutes_default", "fault.coat.positive"},
		{"a band upside down", `{"zones":{"back":{"target":{"min_mm":30,"max_mm":20}}}}`, "zones.back.target.max_mm", "fault.coat.band"},
		{"a work of no minutes", `{"zones":{"back":{"minutes":{"take":0}}}}`, "zones.back.minutes.take", "fault.coat.positive"},
		{"an unknown work", `{"zones":{"back":{"minutes":{"pluck":3}}}}`, "zones.back.minutes.pluck", "fault.coat.word"},
		{"a hair of a metre", `{"zones":{"back":{"length_max_mm":{"mean":1000}}}}`, "zones.back.length_max_mm.mean", "fault.coat.positive"},
		{"no source", `{"zones":{"back":{"source":""}}}`, "zones.back.source", "fault.coat.source"},
		{"NaN", `{"growth":{"lie":{"mean":NaN}}}`, "growth.lie.mean", "fault.coat.syntax"},
	} {
		text := c.text
		if strings.HasPrefix(text, "{") && !strings.Contains(text, `"name"`) {
			text = `{"name":"Mine",` + text[1:]
		}
		_, err := ParseProfile([]byte(text))
		var f *timeline.Fault
		if !errors.As(err, &f) || f.Kind != timeline.Invalid {
			t.Errorf("%s: error %v, want a fault of invalid input", c.name, err)
			continue
		}
		if f.Say.Key != c.key || f.Field != c.field && !strings.HasPrefix(f.Field, c.field+".") {
			t.Errorf("%s: %s in %q, want %s in %q", c.name, f.Say.Key, f.Field, c.key, c.field)
		}
		said(t, words, f.Say)
	}
	p := mustProfile(t, "rough")
	delete(p.Zones, timeline.Loin)
	var f *timeline.Fault
	if err := p.Validate(); !errors.As(err, &f) || f.Field != "zones.loin" || f.Say.Key != "fault.coat.profile_zone" {
		t.Errorf("without the loin: %v", err)
	}
	p = mustProfile(t, "rough")
	p.Growth.DogCV = math.NaN()
	if err := p.Validate(); !errors.As(err, &f) || f.Field != "growth.dog_cv" {
		t.Errorf("NaN: %v", err)
	}
}

func TestAFileBringsItsOwnProfile(t *testing.T) {
	p := mustDay(t, "2026-01-01")
	f := oneZone(p+60, Zone{Layers: []Layer{{Pulled: p, Share: 1}}}, Priors{})
	usual := mustModel(t, f).Zone(timeline.Back).LagDays().Median
	f.OwnProfile = json.RawMessage(`{"name":"Slow","growth":{"lag_days":{"median":30}}}`)
	m := mustModel(t, f)
	near(t, "lag", m.Zone(timeline.Back).LagDays().Median, usual*30/18, 0.05)
	if m.Profile().Name != "Slow" {
		t.Errorf("profile %q", m.Profile().Name)
	}
	// A dog's own values win over the salon's.
	f.Priors[timeline.Back] = Priors{LagDays: &MedianSD{12, 0}}
	near(t, "lag of the dog's own", mustModel(t, f).Zone(timeline.Back).LagDays().Median, 12, 1e-9)
}

func TestHistoryWidensAndPromisesLess(t *testing.T) {
	p := mustDay(t, "2026-01-01")
	words := catalogue(t)
	width := func(d Dog) float64 {
		f := oneZone(p+60, Zone{Layers: []Layer{{Pulled: p, Share: 1}}}, Priors{})
		f.Dog = d
		z := mustModel(t, f).Forecast(p + 90).Zones[timeline.Back].LongestMM
		return z.P90 - z.P10
	}
	usual := width(Dog{})
	for _, d := range []Dog{{EverClipped: true}, {Neutered: true}, {CoatChange: true}, {Texture: timeline.TextureSoft}, {EverClipped: true, Neutered: true}} {
		if w := width(d); w <= usual*1.05 {
			t.Errorf("%+v: %.2f mm wide, usually %.2f", d, w, usual)
		}
		said := Promises(d)
		if len(said) == 0 {
			t.Errorf("%+v: nothing is taken back", d)
		}
		for _, s := range said {
			if words[s.Key] == "" {
				t.Errorf("no sentence for %s", s.Key)
			}
		}
	}
	if said := Promises(Dog{Texture: timeline.TextureHarsh, Undercoat: timeline.UndercoatSome}); len(said) != 0 {
		t.Errorf("a harsh coat: %v", said)
	}
}

func FuzzParseProfile(f *testing.F) {
	f.Add([]byte(`{"name":"Mine"}`))
	f.Add(mustProfile(f, "rough").CopyAs("Mine").JSON())
	f.Add([]byte(`{"base":"broken","zones":{"back":{"target":null,"minutes":{"take":1e-300}}},"sources":null}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		p, err := ParseProfile(b)
		if err != nil {
			var fault *timeline.Fault
			if !errors.As(err, &fault) || fault.Say.IsZero() {
				t.Fatalf("not a fault: %v", err)
			}
			return
		}
		again, err := ParseProfile(p.JSON())
		if err != nil || !reflect.DeepEqual(p, again) {
			t.Fatalf("read back as %+v, %v", again, err)
		}
	})
}
