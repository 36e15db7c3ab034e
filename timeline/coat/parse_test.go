package coat

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"reflect"
	"sort"
	"strings"
	"testing"

	"thatch/timeline"
)

const goodFile = `{"dog":{"name":"Bracken","withers_mm":280,"undercoat":"some","texture":"harsh","ever_clipped":true,"neutered":false,"coat_change":false},"profile":"rough","own_profile":{"name":"Salon's rough","growth":{"lie":{"mean":0.5}}},"today":"2026-05-01",
"zones":{"back":{"mode":"keep_rolling","layers":[{"pulled":"2026-03-01","share":0.5,"length_mm":12},{"pulled":"2026-03-15","share":0.3},{"pulled":"2026-03-29","share":0.2}],
"work":[{"on":"2026-04-12","do":"take","share":0.25},{"on":"2026-04-12","do":"card","loft":"some"}],"measured":[{"on":"2026-04-12","length_mm":10,"sd_mm":1}],
"ripeness":{"on":"2026-04-12","is":"coming"},"depth":[{"on":"2026-04-13","depth_mm":9,"sd_mm":1}],"pinched":[{"on":"2026-04-01","is":"not_ready"}],
"cover":[{"on":"2026-04-14","is":"thin"}],"new_hair":[{"pulled":"2026-04-02","not_out":"2026-04-16","out":"2026-04-25"}],"lie":0.5,"sensitive":false},"ears":{"ripeness":null}},
"shows":[{"name":"Spring","on":"2026-06-10","priority":1,"targets":{"back":{"min_mm":12,"max_mm":40,"in_hair":0.5}}}],
"sessions":{"every_days":14,"first":"2026-05-03","minutes":90},"minutes":{"back":{"take":20}},
"priors":{"back":{"rate_mm_per_day":{"mean":0.4,"sd":0.1},"lag_days":{"median":18,"sd_log":0.3},"length_max_mm":{"mean":45,"sd":5},"season":{"alpha":0.05,"beta":0}}}}`

func TestAGoodFileIsReadWhole(t *testing.T) {
	f, err := Parse(strings.NewReader(goodFile))
	if err != nil {
		t.Fatal(err)
	}
	b := f.Zones[timeline.Back]
	if len(b.Layers) != 3 || *b.Layers[0].LengthMM != 12 || b.Work[1].Loft != timeline.LoftSome || *b.Lie != 0.5 || b.Ripeness.Is != timeline.Coming {
		t.Errorf("back read as %+v", b)
	}
	if f.Zones[timeline.Ears].Ripeness != nil || f.Sessions.EveryDays != 14 || f.Minutes[timeline.Back][timeline.Take] != 20 || f.Priors[timeline.Back].Season.Alpha != 0.05 {
		t.Errorf("file read as %+v", f)
	}
	out, err := json.Marshal(f)
	if err != nil {
		t.Fatal(err)
	}
	again, err := Parse(strings.NewReader(string(out)))
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(f, again) {
		t.Errorf("written and read again:\n%+v\n%+v", f, again)
	}
}

func TestASlipIsNamedWithItsPlace(t *testing.T) {
	cases := []struct{ name, old, new, field, key string }{
		{"a log in the future", `{"on":"2026-04-12","do":"take"`, `{"on":"2026-05-12","do":"take"`, "zones.back.work[0].on", "fault.coat.future"},
		{"a reading in the future", `"measured":[{"on":"2026-04-12"`, `"measured":[{"on":"2026-05-02"`, "zones.back.measured[0].on", "fault.coat.future"},
		{"a layer in the future", `"pulled":"2026-03-29"`, `"pulled":"2027-03-29"`, "zones.back.layers[2].pulled", "fault.coat.future"},
		{"a pinch in the future", `"ripeness":{"on":"2026-04-12"`, `"ripeness":{"on":"2026-06-12"`, "zones.back.ripeness.on", "fault.coat.future"},
		{"shares that do not add up", `"share":0.2}]`, `"share":0.21}]`, "zones.back.layers", "fault.coat.shares"},
		{"a share of zero", `"share":0.3}`, `"share":0}`, "zones.back.layers[1].share", "fault.coat.share"},
		{"a share above one", `"share":0.3}`, `"share":1.3}`, "zones.back.layers[1].share", "fault.coat.share"},
		{"a negative share", `"share":0.3}`, `"share":-0.3}`, "zones.back.layers[1].share", "fault.coat.share"},
		{"a take without a share", `"do":"take","share":0.25`, `"do":"take"`, "zones.back.work[0].share", "fault.coat.share"},
		{"NaN", `"share":0.3}`, `"share":NaN}`, "zones.back.layers[1].share", "fault.coat.syntax"},
		{"a number too large for a number", `"length_mm":10`, `"length_mm":1e999`, "zones.back.measured[0].length_mm", "fault.coat.want_number"},
		{"a number in quotes", `"length_mm":10`, `"length_mm":"10"`, "zones.back.measured[0].length_mm", "fault.coat.want_number"},
		{"half a day of cadence", `"every_days":14`, `"every_days":14.5`, "sessions.every_days", "fault.coat.want_whole_number"},
		{"minutes of zero", `"minutes":90`, `"minutes":0`, "sessions.minutes", "fault.coat.positive"},
		{"negative minutes", `"take":20`, `"take":-1`, "minutes.back.take", "fault.coat.positive"},
		{"a work of no minutes", `"take":20`, `"take":0`, "minutes.back.take", "fault.coat.positive"},
		{"a show before today", `"on":"2026-06-10"`, `"on":"2026-04-30"`, "shows[0].on", "fault.plan.show_past"},
		{"minutes of an unknown work", `"take":20`, `"pluck":20`, "minutes.back.pluck", "fault.coat.word"},
		{"a negative length", `"length_mm":10`, `"length_mm":-10`, "zones.back.measured[0].length_mm", "fault.coat.number"},
		{"a hair of a metre", `"length_mm":12`, `"length_mm":1000`, "zones.back.layers[0].length_mm", "fault.coat.number"},
		{"an unknown zone", `"ears":{`, `"wing":{`, "zones.wing", "fault.coat.zone"},
		{"a target of an unknown zone", `"targets":{"back"`, `"targets":{"bak"`, "shows[0].targets.bak", "fault.coat.zone"},
		{"a prior of an unknown zone", `"priors":{"back"`, `"priors":{"bak"`, "priors.bak", "fault.coat.zone"},
		{"an unknown field", `"sensitive":false`, `"sensitiv":false`, "zones.back.sensitiv", "fault.coat.field"},
		{"a field in another case", `"today":`, `"Today":`, "Today", "fault.coat.field"},
		{"the same field twice", `"lie":0.5,`, `"lie":0.5,"lie":0.6,`, "zones.back.lie", "fault.coat.twice"},
		{"an unknown work", `"do":"take"`, `"do":"shave"`, "zones.back.work[0].do", "fault.coat.word"},
		{"an unknown loft", `"loft":"some"`, `"loft":"lots"`, "zones.back.work[1].loft", "fault.coat.word"},
		{"an unknown ripeness", `"is":"coming"`, `"is":"perhaps"`, "zones.back.ripeness.is", "fault.coat.word"},
		{"an unknown mode", `"mode":"keep_rolling"`, `"mode":"roll"`, "zones.back.mode", "fault.coat.word"},
		{"an unknown undercoat", `"undercoat":"some"`, `"undercoat":"lots"`, "dog.undercoat", "fault.coat.word"},
		{"an unknown texture", `"texture":"harsh"`, `"texture":"curly"`, "dog.texture", "fault.coat.word"},
		{"an unknown profile", `"profile":"rough"`, `"profile":"smooth"`, "profile", "fault.coat.word"},
		{"a day that is none", `"2026-03-15"`, `"2026-02-30"`, "zones.back.layers[1].pulled", "fault.coat.day"},
		{"a layer without a day", `"pulled":"2026-03-15",`, ``, "zones.back.layers[1].pulled", "fault.coat.no_day"},
		{"a show without a day", `"on":"2026-06-10",`, ``, "shows[0].on", "fault.coat.no_day"},
		{"a band upside down", `"min_mm":12`, `"min_mm":50`, "shows[0].targets.back.max_mm", "fault.coat.band"},
		{"in hair above one", `"in_hair":0.5`, `"in_hair":50`, "shows[0].targets.back.in_hair", "fault.coat.number"},
		{"a priority of nine", `"priority":1`, `"priority":9`, "shows[0].priority", "fault.coat.number"},
		{"a lie of zero", `"lie":0.5,`, `"lie":0,`, "zones.back.lie", "fault.coat.positive"},
		{"a rate of zero", `"mean":0.4`, `"mean":0`, "priors.back.rate_mm_per_day.mean", "fault.coat.positive"},
		{"a negative spread", `"sd":0.1`, `"sd":-0.1`, "priors.back.rate_mm_per_day.sd", "fault.coat.number"},
		{"a season that turns growth back", `"alpha":0.05`, `"alpha":1.5`, "priors.back.season.alpha", "fault.coat.number"},
		{"a list where an object belongs", `"ears":{"ripeness":null}`, `"ears":[]`, "zones.ears", "fault.coat.want_object"},
		{"an object where a list belongs", `"shows":[`, `"shows":{},"x":[`, "shows", "fault.coat.want_list"},
		{"a null where a number belongs", `"length_mm":10`, `"length_mm":null`, "zones.back.measured[0].length_mm", "fault.coat.want_number"},
		{"no zones", `"zones":{`, `"zones":{},"x":{`, "x", "fault.coat.field"},
		{"no today", `"today":"2026-05-01",`, ``, "today", "fault.coat.missing"},
		{"no dog", `"dog":{"name":"Bracken","withers_mm":280,"undercoat":"some","texture":"harsh","ever_clipped":true,"neutered":false,"coat_change":false},`, ``, "dog", "fault.coat.missing"},
		{"a giant", `"withers_mm":280`, `"withers_mm":28000`, "dog.withers_mm", "fault.coat.number"},
		{"a depth in the future", `"depth":[{"on":"2026-04-13"`, `"depth":[{"on":"2026-05-13"`, "zones.back.depth[0].on", "fault.coat.future"},
		{"a negative depth", `"depth_mm":9`, `"depth_mm":-9`, "zones.back.depth[0].depth_mm", "fault.coat.number"},
		{"an earlier pinch in the future", `"pinched":[{"on":"2026-04-01"`, `"pinched":[{"on":"2026-06-01"`, "zones.back.pinched[0].on", "fault.coat.future"},
		{"an earlier pinch of an unknown ripeness", `"is":"not_ready"`, `"is":"raw"`, "zones.back.pinched[0].is", "fault.coat.word"},
		{"cover in the future", `"cover":[{"on":"2026-04-14"`, `"cover":[{"on":"2026-05-14"`, "zones.back.cover[0].on", "fault.coat.future"},
		{"an unknown cover", `"is":"thin"`, `"is":"patchy"`, "zones.back.cover[0].is", "fault.coat.word"},
		{"new hair seen before it was pulled", `"not_out":"2026-04-16"`, `"not_out":"2026-04-01"`, "zones.back.new_hair[0].not_out", "fault.coat.before"},
		{"tips before there were none", `"out":"2026-04-25"`, `"out":"2026-04-16"`, "zones.back.new_hair[0].out", "fault.coat.before"},
		{"tips in the future", `"out":"2026-04-25"`, `"out":"2026-05-25"`, "zones.back.new_hair[0].out", "fault.coat.future"},
		{"new hair of which nothing was seen", `"not_out":"2026-04-16","out":"2026-04-25"`, `"not_out":null`, "zones.back.new_hair[0]", "fault.coat.new_hair"},
		{"a clipped that is neither", `"ever_clipped":true`, `"ever_clipped":"once"`, "dog.ever_clipped", "fault.coat.want_true_false"},
		{"an own profile with an unknown field", `"growth":{"lie"`, `"growth":{"lye"`, "own_profile.growth.lye", "fault.coat.field"},
		{"an own profile with a lie of nine", `"lie":{"mean":0.5}`, `"lie":{"mean":9}`, "own_profile.growth.lie.mean", "fault.coat.positive"},
		{"a comma too many", `"lie":0.5,`, `"lie":0.5,,`, "zones.back", "fault.coat.syntax"},
	}
	words := catalogue(t)
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			if !strings.Contains(goodFile, c.old) {
				t.Fatalf("the good file has no %s", c.old)
			}
			_, err := Parse(strings.NewReader(strings.Replace(goodFile, c.old, c.new, 1)))
			var f *timeline.Fault
			if !errors.As(err, &f) || f.Kind != timeline.Invalid {
				t.Fatalf("error %v, want a fault of invalid input", err)
			}
			if f.Say.Key != c.key || !strings.HasPrefix(f.Field, c.field) {
				t.Errorf("%s in %q, want %s in %q", f.Say.Key, f.Field, c.key, c.field)
			}
			said(t, words, f.Say)
		})
	}
	for name, text := range map[string]string{"nothing": "", "half a file": goodFile[:200], "two files": goodFile + goodFile, "a list": "[]", "a number": "3", "deep": strings.Repeat("[", 5000)} {
		t.Run(name, func(t *testing.T) {
			_, err := Parse(strings.NewReader(text))
			var f *timeline.Fault
			if !errors.As(err, &f) || f.Kind != timeline.Invalid {
				t.Fatalf("error %v, want a fault of invalid input", err)
			}
			said(t, words, f.Say)
		})
	}
}

func catalogue(t *testing.T) map[string]string {
	t.Helper()
	words := map[string]string{}
	for _, name := range []string{"coat", "plan"} {
		b, err := os.ReadFile("../../web/words/en/" + name + ".json")
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(b, &words); err != nil {
			t.Fatal(err)
		}
	}
	return words
}

// said checks that a phrase has its sentence, and the sentence all its values.
func said(t *testing.T, words map[string]string, p timeline.Phrase) {
	t.Helper()
	s, ok := words[p.Key]
	if !ok {
		t.Errorf("no sentence for %s", p.Key)
	}
	for name := range p.Args {
		s = strings.ReplaceAll(s, "{"+name+"}", "…")
	}
	if strings.Contains(s, "{") {
		t.Errorf("%s lacks a value: %s", p, s)
	}
}

func TestNaNInAValueIsRefused(t *testing.T) {
	p := mustDay(t, "2026-01-01")
	nan := math.NaN()
	for name, f := range map[string]File{
		"zones.back.layers[0].share":       oneZone(p, Zone{Layers: []Layer{{Pulled: p, Share: nan}}}, Priors{}),
		"zones.back.layers[0].length_mm":   oneZone(p, Zone{Layers: []Layer{{Pulled: p, Share: 1, LengthMM: &nan}}}, Priors{}),
		"zones.back.measured[0].length_mm": oneZone(p, Zone{Measured: []Measured{{On: p, LengthMM: nan}}}, Priors{}),
		"zones.back.lie":                   oneZone(p, Zone{Lie: &nan}, Priors{}),
		"priors.back.rate_mm_per_day.mean": oneZone(p, Zone{}, Priors{RateMMPerDay: &MeanSD{nan, 0}}),
		"priors.back.lag_days.sd_log":      oneZone(p, Zone{}, Priors{LagDays: &MedianSD{18, math.Inf(1)}}),
		"priors.back.season.beta":          oneZone(p, Zone{}, Priors{Season: &Season{0, nan}}),
	} {
		_, err := New(f)
		var fault *timeline.Fault
		if !errors.As(err, &fault) || fault.Field != name {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(goodFile))
	f.Add([]byte(`{"dog":{},"today":"2026-01-01","zones":{"back":{}}}`))
	f.Add([]byte(`{"dog":{"coat_change":true},"own_profile":{"base":"broken","growth":{"evidence":{"lag_sd_days":0.1},"curve":"monomolecular"},"zones":{"back":{"target":null}}},"today":"2026-01-01","zones":{"back":{"layers":[{"pulled":"2025-10-01","share":0.5},{"pulled":"2025-10-02","share":0.5,"length_mm":0}],"work":[{"on":"2025-12-01","do":"take","share":1}],"cover":[{"on":"2025-12-01","is":"full"}],"depth":[{"on":"2025-12-02","depth_mm":400}],"pinched":[{"on":"2025-12-03","is":"blown"}],"new_hair":[{"pulled":"2025-10-01","out":"2025-10-02"},{"pulled":"1950-01-01","not_out":"2025-10-02"}],"measured":[{"on":"2025-12-02","length_mm":400},{"on":"2025-12-09","length_mm":0,"confirmed":true}]}}}`))
	f.Add([]byte(`{"dog":{},"today":"2199-12-31","zones":{"back":{"layers":[{"pulled":"1900-01-01","share":1,"length_mm":400}],"work":[{"on":"1950-01-01","do":"clip"}],"measured":[{"on":"1960-01-01","length_mm":0}]}}}`))
	f.Add([]byte(`{"dog":{"undercoat":"none"},"today":"2026-01-01","zones":{"ears":{"layers":[{"pulled":"2025-01-01","share":0.5},{"pulled":"2025-01-01","share":0.5,"length_mm":3}],"work":[{"on":"2025-06-01","do":"strip"},{"on":"2025-06-01","do":"tidy"}]}},"priors":{"ears":{"lag_days":{"median":0,"sd_log":2},"length_max_mm":{"mean":0.001,"sd":400}}}}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		file, err := Parse(strings.NewReader(string(b)))
		if err != nil {
			var fault *timeline.Fault
			if !errors.As(err, &fault) || fault.Say.IsZero() {
				t.Fatalf("not a fault: %v", err)
			}
			return
		}
		m, err := New(file)
		if err != nil {
			t.Fatalf("parsed but refused: %v", err)
		}
		for _, on := range []timeline.Day{file.Today - 30, file.Today, file.Today + 60} {
			for name, z := range m.Forecast(on).Zones {
				checkSane(t, string(name), z)
			}
		}
	})
}

// checkSane checks what holds of every forecast whatever the file.
func checkSane(t *testing.T, name string, z ZoneForecast) {
	t.Helper()
	for _, v := range z.values() {
		if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
			t.Fatalf("%s: %v in %+v", name, v, z)
		}
	}
	for _, d := range []Dist{z.LongestMM, z.VisibleMM, z.MeanMM, z.DepthMM, z.InHair, z.RateMMPerDay, z.LagDays} {
		if !sort.Float64sAreSorted([]float64{d.P10, d.Median, d.P90}) {
			t.Fatalf("%s: quantiles out of order %+v", name, d)
		}
	}
	if z.InHair.P90 > 1 || (z.Readiness != nil && *z.Readiness > 1) {
		t.Fatalf("%s: a share above 1 in %+v", name, z)
	}
	if z.VisibleMM.Median > z.LongestMM.Median+1e-9 || z.MeanMM.Median > z.LongestMM.Median+1e-9 {
		t.Fatalf("%s: longer than the longest: %+v", name, z)
	}
}
