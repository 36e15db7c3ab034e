package pages_test

import (
	"math"
	"strings"
	"testing"

	"thatch/timeline"
	"thatch/timeline/outside"
)

func (x *house) readings(d timeline.Dog) []timeline.Reading {
	return must(x.s.Readings(x.t.Context(), d.ID))
}

func TestRulerReadingsAreKeptInTheUnitOfTheSalon(t *testing.T) {
	outside.Alone(t)
	for _, c := range []struct {
		name, withers, back string
		inches              bool
		withersMM, backMM   float64
	}{
		{"millimetres", "27", "24.5", false, 27, 24.5},
		{"a comma, and the unit beside it", "2,7 cm", "24,5 mm", false, 27, 24.5},
		{"inches as a fraction and as a decimal", "1 1/16", "0.95", true, 1.0625 * 25.4, 0.95 * 25.4}, // X: one inch is 25.4 mm, ISO 31-1
	} {
		x, _ := dated(t)
		if c.inches {
			x.inches()
		}
		d := x.rolled()
		v := x.opens(d, wednesday)
		at := "/dogs/" + string(d.ID) + "/readings"
		w := x.post(at, "on", wednesday.String(), "mm_withers", c.withers, "mm_back", c.back)
		x.goes(w, at)
		got := map[timeline.Zone]float64{}
		for _, r := range x.readings(d) {
			got[r.Zone] = r.LengthMM
			if r.Session != v.ID || r.On != wednesday {
				t.Errorf("%s: it belongs to %q on %s", c.name, r.Session, r.On)
			}
		}
		if len(got) != 2 || math.Abs(got[timeline.Withers]-c.withersMM) > 1e-9 || math.Abs(got[timeline.Back]-c.backMM) > 1e-9 {
			t.Errorf("%s: %v", c.name, got)
		}
		for _, path := range []string{at, "/sessions/" + string(v.ID), "/dogs/" + string(d.ID), "/dogs/" + string(d.ID) + "/growth?zone=back"} {
			page := x.get(path)
			if page.Code != 200 {
				t.Errorf("%s: %s: %d", c.name, path, page.Code)
			}
			x.sound(path, page)
		}
	}
}

func TestASlipOfTenIsDoubtedAndStoredOnlyWhenConfirmed(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	at := "/dogs/" + string(d.ID) + "/readings"
	fields := []string{"on", wednesday.String(), "mm_withers", "27", "mm_back", "250"}
	w := x.post(at, fields...)
	x.refuses("a slip of ten", w, 422, `name="confirmed"`)
	if body := w.Body.String(); !holds(body, "mm_withers", "27") || !holds(body, "mm_back", "250") || !holds(body, "on", wednesday.String()) {
		t.Error("what was typed is lost")
	}
	if n := len(x.readings(d)); n != 0 {
		t.Fatalf("%d readings are stored before anyone confirmed", n)
	}
	x.goes(x.post(at, append(fields, "confirmed", "yes")...), at)
	if n := len(x.readings(d)); n != 2 {
		t.Errorf("%d readings after it was confirmed", n)
	}
}

func TestAReadingThatCannotBeIsSaidBesideItsField(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	at := "/dogs/" + string(d.ID) + "/readings"
	for _, c := range []struct{ name, field, value string }{
		{"longer than any hair", "mm_back", "900"}, {"less than nothing", "mm_back", "-1"}, {"in words", "mm_back", "long"}, {"tomorrow", "on", "2026-06-11"}, {"on a day that is none", "on", "soon"},
	} {
		fields := map[string]string{"on": wednesday.String(), "mm_back": "25", "mm_loin": "24"}
		fields[c.field] = c.value
		w := x.post(at, "on", fields["on"], "mm_back", fields["mm_back"], "mm_loin", fields["mm_loin"], "confirmed", "yes")
		x.refuses(c.name, w, 422)
		body := w.Body.String()
		if !wrong(body, c.field) || wrong(body, "mm_loin") {
			t.Errorf("%s: not beside its field: %s", c.name, faultText(w))
		}
		for k, v := range fields {
			if !holds(body, k, v) {
				t.Errorf("%s: %s=%q is lost", c.name, k, v)
			}
		}
	}
	if n := len(x.readings(d)); n != 0 {
		t.Errorf("%d readings are stored", n)
	}
}

func TestAReadingPutAsideComesBack(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	at := "/dogs/" + string(d.ID) + "/readings"
	x.goes(x.post(at, "on", wednesday.String(), "mm_back", "25"), at)
	id := string(x.readings(d)[0].ID)
	page := x.follows(x.post("/readings/"+id+"/trash", "back", at)).Body.String()
	if !strings.Contains(page, `action="/restore/reading/`+id+`"`) || len(x.readings(d)) != 0 {
		t.Error("it is still there, or there is no way back")
	}
	x.goes(x.post("/restore/reading/"+id, "back", at), at)
	if len(x.readings(d)) != 1 {
		t.Error("it is not back")
	}
}

func TestAShowIsSetAndRefusedBesideTheFieldThatIsWrong(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	at := "/dogs/" + string(d.ID) + "/shows"
	for _, c := range []struct {
		name, field string
		form        map[string]string
	}{
		{"a day that has been", "on", map[string]string{"name": "Hall Show", "on": "2026-06-09", "priority": "2"}},
		{"no day", "on", map[string]string{"name": "Hall Show", "on": "", "priority": "2"}},
		{"a day that is none", "on", map[string]string{"name": "Hall Show", "on": "31 June", "priority": "2"}},
		{"a day of another life", "on", map[string]string{"name": "Hall Show", "on": "2099-01-01", "priority": "2"}},
		{"no name", "name", map[string]string{"name": " ", "on": "2026-08-01", "priority": "2"}},
	} {
		w := x.post(at, "name", c.form["name"], "on", c.form["on"], "priority", c.form["priority"])
		x.refuses(c.name, w, 422)
		body := w.Body.String()
		if !wrong(body, c.field) || !holds(body, "name", c.form["name"]) || !holds(body, "on", c.form["on"]) || !checked(body, "priority", "2") {
			t.Errorf("%s: not beside its field, or lost: %s", c.name, faultText(w))
		}
	}
	x.refuses("a weight that is none", x.post(at, "name", "Hall Show", "on", "2026-08-01", "priority", "9"), 422, `value="Hall Show"`)
	if n := len(must(x.s.Shows(t.Context(), d.ID))); n != 0 {
		t.Fatalf("%d shows are stored", n)
	}
	for _, on := range []timeline.Day{wednesday, wednesday + 52} {
		page := x.follows(x.post(at, "name", "Hall Show", "on", on.String(), "priority", "1"))
		if page.Code != 200 || !strings.Contains(page.Body.String(), "Hall Show") {
			t.Errorf("a show on %s: %d", on, page.Code)
		}
		x.sound("the shows", page)
	}
	page := x.get("/dogs/" + string(d.ID) + "/plan")
	x.sound("the plan", page)
	if page.Code != 200 || strings.Contains(page.Body.String(), "No plan yet") {
		t.Errorf("the plan: %d", page.Code)
	}
}

func TestWantedLengthsAreKeptInTheUnitOfTheSalon(t *testing.T) {
	for _, c := range []struct {
		name, min, max string
		inches         bool
		minMM, maxMM   float64
	}{
		{"millimetres", "12", "30", false, 12, 30},
		{"inches", "1/2", "1 3/16", true, 12.7, 1.1875 * 25.4}, // X: one inch is 25.4 mm, ISO 31-1
		{"no upper bound", "15 mm", "", true, 15, 0},
	} {
		x, _ := dated(t)
		if c.inches {
			x.inches()
		}
		d := x.rolled()
		show := must(x.s.AddShow(t.Context(), timeline.Show{Dog: d.ID, Name: "Hall Show", On: wednesday + 60}))
		at := "/shows/" + string(show.ID)
		w := x.post(at, "rev", rev(show.Rev), "name", "Hall Show", "on", show.On.String(), "priority", "1", "min_back", c.min, "max_back", c.max)
		x.goes(w, "/dogs/"+string(d.ID)+"/plan")
		now := must(x.s.Show(t.Context(), show.ID))
		got := now.Targets[timeline.Back]
		if len(now.Targets) != 1 || math.Abs(got.MinMM-c.minMM) > 1e-9 || math.Abs(got.MaxMM-c.maxMM) > 1e-9 {
			t.Errorf("%s: %v", c.name, now.Targets)
		}
		x.sound(c.name, x.follows(w))
	}
}

func TestSavingAShowUntouchedChangesNoTarget(t *testing.T) {
	for _, units := range []string{"mm", "in"} {
		x, _ := dated(t)
		if units == "in" {
			x.inches()
		}
		d := x.rolled()
		show := must(x.s.AddShow(t.Context(), timeline.Show{Dog: d.ID, Name: "Hall Show", On: wednesday + 60,
			Targets: map[timeline.Zone]timeline.Range{timeline.Back: {MinMM: 12, MaxMM: 30}, timeline.Skull: {MaxMM: 7.3}}}))
		at := "/shows/" + string(show.ID)
		page := x.get(at).Body.String()
		fields := []string{"priority", "2"}
		for _, name := range []string{"rev", "name", "on", "min_back", "max_back", "min_skull", "max_skull"} {
			fields = append(fields, name, valueOf(page, name))
		}
		x.goes(x.post(at, fields...), "/dogs/")
		now := must(x.s.Show(t.Context(), show.ID))
		for z, was := range show.Targets {
			if now.Targets[z] != was {
				t.Errorf("%s: %s became %v, was %v", units, z, now.Targets[z], was)
			}
		}
		if now.Priority != 2 {
			t.Errorf("priority %d", now.Priority)
		}
	}
}

func TestWantedLengthsThatCannotBeAreRefusedWithTheirFieldMarked(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	show := must(x.s.AddShow(t.Context(), timeline.Show{Dog: d.ID, Name: "Hall Show", On: wednesday + 60}))
	at := "/shows/" + string(show.ID)
	send := func(more ...string) []string {
		return append([]string{"name", "Hall Show", "on", show.On.String(), "priority", "1"}, more...)
	}
	for name, c := range map[string][2]string{"the wrong way round": {"30", "12"}, "longer than the hair gets": {"200", ""}, "in words": {"short", "30"}, "less than nothing": {"-4", "30"}} {
		w := x.post(at, send("rev", rev(show.Rev), "min_back", c[0], "max_back", c[1])...)
		x.refuses(name, w, 422)
		body := w.Body.String()
		if !wrong(body, "min_back") || !holds(body, "min_back", c[0]) || !holds(body, "max_back", c[1]) {
			t.Errorf("%s: not beside its field, or lost: %s", name, faultText(w))
		}
	}
	x.refuses("moved into the past", x.post(at, "rev", rev(show.Rev), "name", "Hall Show", "on", "2026-06-01", "priority", "1"), 422, `value="2026-06-01"`)
	x.goes(x.post(at, send("rev", rev(show.Rev), "min_back", "10", "max_back", "20")...), "/dogs/")
	w := x.post(at, send("rev", rev(show.Rev), "min_back", "11", "max_back", "21")...)
	x.refuses("an older version", w, 409, `value="11"`, `value="21"`)
	if now := must(x.s.Show(t.Context(), show.ID)); now.Targets[timeline.Back] != (timeline.Range{MinMM: 10, MaxMM: 20}) || now.On != show.On {
		t.Errorf("%+v", now)
	}
}
