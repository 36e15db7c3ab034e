package pages_test

import (
	"reflect"
	"strings"
	"testing"

	"thatch/server/salon"
	"thatch/timeline"
	"thatch/timeline/outside"
)

func TestADogStartsWithFourAnswers(t *testing.T) {
	for _, c := range []struct {
		name, longest string
		inches        bool
		wantMM        float64
	}{
		{"in millimetres", "24", false, 24},
		{"in inches", "1", true, 25.4}, // X: one inch is 25.4 mm, ISO 31-1
	} {
		x, _ := dated(t)
		if c.inches {
			x.inches()
		}
		w := x.post("/dogs", "name", " Moss ", "last_worked", "2026-04-20", "rolled", "yes", "undercoat", "heavy", "longest_withers_mm", c.longest)
		id := timeline.ID(strings.TrimPrefix(x.goes(w, "/dogs/"), "/dogs/"))
		d := must(x.s.Dog(t.Context(), id))
		a := d.Answers
		if d.Name != "Moss" || a.LastWorked != timeline.Date(2026, 4, 20) || !a.Rolled || a.Undercoat != timeline.UndercoatHeavy || a.LongestWithersMM != c.wantMM || a.On != wednesday {
			t.Errorf("%s: %+v", c.name, d)
		}
		page := x.follows(w)
		if page.Code != 200 || !strings.Contains(page.Body.String(), "Moss") {
			t.Errorf("%s: her page: %d", c.name, page.Code)
		}
		x.sound("her page", page)
	}
}

func TestADogIsUsefulWithANameAlone(t *testing.T) {
	x, _ := dated(t)
	page := x.follows(x.post("/dogs", "name", "Moss"))
	if page.Code != 200 {
		t.Fatal(page.Code)
	}
	if home := x.get("/").Body.String(); !strings.Contains(home, "Moss") {
		t.Error("the first page does not show her")
	}
}

func TestAWrongAnswerIsSaidBesideItsFieldAndNothingTypedIsLost(t *testing.T) {
	outside.Alone(t)
	good := map[string]string{
		"name": "Moss", "client": "Number Nine", "last_worked": "2026-04-20", "rolled": "yes", "undercoat": "heavy", "longest_withers_mm": "24",
		"withers_mm": "340", "texture": "soft", "next": "2026-06-20", "share_ok": "yes",
	}
	for _, c := range []struct{ name, field, value string }{
		{"a length that is none", "longest_withers_mm", "long"},
		{"a hair longer than any", "longest_withers_mm", "4000"},
		{"a hair of less than nothing", "longest_withers_mm", "-3"},
		{"a dog as high as a horse", "withers_mm", "1600"},
		{"a dog as high as a mouse", "withers_mm", "34"},
		{"a day that is none", "last_worked", "20 April"},
		{"a day that no month has", "last_worked", "2026-02-30"},
		{"work to come", "last_worked", "2026-06-11"},
		{"a next visit that has been", "next", "2026-06-01"},
		{"a name of a hundred signs", "name", strings.Repeat("n", 100)},
		{"a client of a hundred signs", "client", strings.Repeat("c", 100)},
		{"no name", "name", "  "},
	} {
		x, _ := dated(t)
		var fields []string
		for k, v := range good {
			if k == c.field {
				v = c.value
			}
			fields = append(fields, k, v)
		}
		w := x.post("/dogs", fields...)
		x.refuses(c.name, w, 422)
		body := w.Body.String()
		if !wrong(body, c.field) || !strings.Contains(body, `id="wrong-`+c.field+`"`) {
			t.Errorf("%s: not said beside its field: %s", c.name, faultText(w))
		}
		for k, v := range good {
			if k == c.field {
				v = c.value
			}
			switch k {
			case "rolled", "undercoat", "texture", "share_ok":
				if !checked(body, k, v) {
					t.Errorf("%s: the answer %s=%s is lost", c.name, k, v)
				}
			default:
				if !holds(body, k, v) {
					t.Errorf("%s: %s=%q is lost", c.name, k, v)
				}
			}
		}
		if dogs := must(x.s.HomePage(t.Context())).Dogs; len(dogs) != 0 {
			t.Errorf("%s: a dog was stored", c.name)
		}
	}
}

func TestWordsThatNoFormHasAreRefused(t *testing.T) {
	x, _ := dated(t)
	for _, c := range [][]string{{"undercoat", "plenty"}, {"texture", "velvet"}, {"every_days", "0.5"}, {"minutes", "100000"}, {"answered", "soon"}} {
		x.refuses(c[0], x.post("/dogs", "name", "Moss", c[0], c[1]), 422, `value="Moss"`)
	}
	if dogs := must(x.s.HomePage(t.Context())).Dogs; len(dogs) != 0 {
		t.Error("a dog was stored")
	}
}

func TestAChangeMadeFromAnOlderDogIsRefusedWithWhatWasTyped(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	at := "/dogs/" + string(d.ID) + "/edit"
	form := func(r timeline.Rev, client string) []string {
		return []string{"rev", rev(r), "name", "Wisp", "client", client, "texture", "harsh", "undercoat", "some", "rolled", "yes",
			"last_worked", d.Answers.LastWorked.String(), "answered", d.Answers.On.String(), "longest_withers_mm", "24 mm", "withers_mm", "340 mm", "sensitive", "throat", "notes", "Slow at the door."}
	}
	x.goes(x.post(at, form(d.Rev, "First")...), "/dogs/")
	x.refuses("the second hand", x.post(at, form(d.Rev, "Second")...), 409, `value="Second"`, "Slow at the door.")
	now := must(x.s.Dog(t.Context(), d.ID))
	if now.Client != "First" || len(now.Sensitive) != 1 || now.WithersMM != 340 {
		t.Errorf("%+v", now)
	}
}

func TestSavingADogUntouchedChangesNoLength(t *testing.T) {
	for _, units := range []string{"mm", "in"} {
		x, _ := dated(t)
		if units == "in" {
			x.inches()
		}
		d := x.rolled()
		page := x.get("/dogs/" + string(d.ID) + "/edit").Body.String()
		fields := []string{"name", "Wisp", "texture", "harsh", "undercoat", "some", "rolled", "yes"}
		for _, name := range []string{"rev", "withers_mm", "longest_withers_mm", "last_worked", "answered"} {
			fields = append(fields, name, valueOf(page, name))
		}
		x.goes(x.post("/dogs/"+string(d.ID)+"/edit", fields...), "/dogs/")
		now := must(x.s.Dog(t.Context(), d.ID))
		if now.WithersMM != d.WithersMM || now.Answers != d.Answers {
			t.Errorf("%s: %v, %+v; was %v, %+v", units, now.WithersMM, now.Answers, d.WithersMM, d.Answers)
		}
	}
}

func TestADogPutAsideTakesHerPagesAlongAndComesBackWhole(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	v := x.opens(d, wednesday)
	photo := x.snap(d.ID, 90, at(wednesday, 9, 0))
	paths := []string{"/dogs/" + string(d.ID), "/dogs/" + string(d.ID) + "/plan", "/dogs/" + string(d.ID) + "/readings", "/sessions/" + string(v.ID), "/photos/" + string(photo.ID)}
	w := x.post("/dogs/" + string(d.ID) + "/trash")
	page := x.follows(w).Body.String()
	if !strings.Contains(page, `action="/restore/dog/`+string(d.ID)+`"`) {
		t.Error("the next page offers no way back")
	}
	for _, p := range paths {
		if w := x.get(p); w.Code != 404 {
			t.Errorf("%s of a dog put aside: %d", p[:7], w.Code)
		}
	}
	if trash := x.get("/trash").Body.String(); !strings.Contains(trash, "Wisp") {
		t.Error("the trash does not show her")
	}
	x.goes(x.post("/restore/dog/"+string(d.ID), "back", "/trash"), "/trash")
	for _, p := range paths {
		if w := x.get(p); w.Code != 200 {
			t.Errorf("%s after she is back: %d", p[:7], w.Code)
		}
	}
}

func TestWhatWasNeverPutAsideCannotBeHadBack(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	for path, want := range map[string]int{"/restore/dog/nobody": 404, "/restore/castle/" + string(d.ID): 422, "/restore/show/none": 404, "/dogs/nobody/trash": 404, "/shows/none/trash": 404, "/sessions/none/trash": 404, "/photos/none/trash": 404, "/readings/none/trash": 404, "/links/none/withdraw": 404} {
		w := x.post(path)
		if w.Code != want {
			t.Errorf("%s: %d, want %d", path, w.Code, want)
		}
		x.sound(path, w)
	}
}

func TestTheNextVisitIsBookedFromThePlan(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	at := "/dogs/" + string(d.ID) + "/booking"
	x.goes(x.post(at, "rev", rev(d.Rev), "next", "2026-06-24", "every_days", "21", "minutes", "75"), "/dogs/"+string(d.ID)+"/plan")
	now := must(x.s.Dog(t.Context(), d.ID))
	if c := now.Cadence; c.Next != timeline.Date(2026, 6, 24) || c.EveryDays != 21 || c.Minutes != 75 || len(c.Days) != 0 {
		t.Errorf("%+v", now.Cadence)
	}
	book := func(r timeline.Rev, field, value string) []string {
		out := []string{"rev", rev(r)}
		for k, v := range map[string]string{"next": "2026-07-01", "every_days": "14", "minutes": "60"} {
			if k == field {
				v = value
			}
			out = append(out, k, v)
		}
		return out
	}
	for name, c := range map[string][2]string{
		"a day that has been": {"next", "2026-06-09"}, "every thousand days": {"every_days", "1000"}, "a table of no time": {"minutes", "0"}, "minutes in words": {"minutes", "an hour"},
	} {
		w := x.post(at, book(now.Rev, c[0], c[1])...)
		x.refuses(name, w, 422)
		if !wrong(w.Body.String(), c[0]) || !holds(w.Body.String(), c[0], c[1]) {
			t.Errorf("%s: not beside its field, or lost", name)
		}
	}
	x.refuses("a booking made from an older version", x.post(at, book(d.Rev, "", "")...), 409, `value="2026-07-01"`)
	if again := must(x.s.Dog(t.Context(), d.ID)); !reflect.DeepEqual(again.Cadence, now.Cadence) {
		t.Errorf("%+v", again.Cadence)
	}
}

func TestAPlanWithoutAShowSaysWhatIsMissing(t *testing.T) {
	x, _ := dated(t)
	bare := must(x.s.CreateDog(t.Context(), salon.NewDog{Name: "Bare"}))
	for _, d := range []timeline.Dog{x.rolled(), bare} {
		w := x.get("/dogs/" + string(d.ID) + "/plan")
		body := w.Body.String()
		if w.Code != 200 || !strings.Contains(body, "No plan yet") || !strings.Contains(body, `href="/dogs/`+string(d.ID)+`/shows"`) {
			t.Errorf("%s: %d; no plan is not told, or no way to a show", d.Name, w.Code)
		}
		x.sound("a plan without a show", w)
	}
}

// A form that was refused has the address of its action; the look is chosen there too, and the browser comes back by GET.
func TestTheLookCanBeChosenOnARefusedPage(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	v := x.opens(d, wednesday)
	photo := x.snap(d.ID, 90, at(wednesday, 9, 0))
	for _, path := range []string{"/dogs", "/dogs/" + string(d.ID) + "/booking", "/sessions/" + string(v.ID) + "/log", "/photos/" + string(photo.ID) + "/date"} {
		w := x.post(path, "rev", "0", "next", "soon", "taken", "soon")
		if w.Code < 400 {
			t.Fatalf("%s: %d", path, w.Code)
		}
		back := valueOf(w.Body.String(), "back")
		if page := x.follows(x.post("/theme", "theme", "dark", "back", back)); page.Code != 200 {
			t.Errorf("%s: back to %q: %d", path, back, page.Code)
		}
	}
}

func TestTheLookAndTheUnitAreTheSalons(t *testing.T) {
	x, _ := dated(t)
	x.goes(x.post("/theme", "theme", "dark", "back", "/trash"), "/trash")
	if !strings.Contains(x.get("/").Body.String(), `data-theme="dark"`) {
		t.Error("dark was not kept")
	}
	x.goes(x.post("/theme", "theme", "purple", "back", "https://elsewhere.example/"), "/")
	set := must(x.s.Settings(t.Context()))
	if set.Theme != "dark" {
		t.Errorf("theme %q", set.Theme)
	}
	x.goes(x.post("/settings", "rev", rev(set.Rev), "salon_name", "The Shed", "zone", "Europe/Oslo", "units", "in"), "/settings")
	w := x.post("/settings", "rev", rev(set.Rev), "salon_name", "Another", "zone", "Europe/Oslo", "units", "mm")
	x.refuses("settings made from older ones", w, 409, `value="Another"`)
	now := must(x.s.Settings(t.Context()))
	if now.SalonName != "The Shed" || now.Zone != "Europe/Oslo" || now.Units != "in" || now.Theme != "dark" {
		t.Errorf("%+v", now)
	}
}

func valueOf(body, name string) string {
	_, after, ok := strings.Cut(inputOf(body, name, "-"), ` value="`)
	if !ok {
		return ""
	}
	v, _, _ := strings.Cut(after, `"`)
	return strings.NewReplacer("&#34;", `"`, "&amp;", "&", "&#39;", "'").Replace(v)
}
