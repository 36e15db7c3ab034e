package pages_test

import (
	"fmt"
	"strings"
	"testing"

	"thatch/server/salon"
	"thatch/timeline"
	"thatch/timeline/outside"
)

func TestCareIsOneTapOnEveryPageThatShowsIt(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	must(x.s.BookNext(t.Context(), d.ID, d.Rev, wednesday))
	at := "/dogs/" + string(d.ID)
	if strings.Contains(x.get("/").Body.String(), "care-tap") {
		t.Error("care that nobody ever noted stands in the way on the first page")
	}
	if err := x.s.NoteCareOn(t.Context(), d.ID, "nails", wednesday-40); err != nil {
		t.Fatal(err)
	}
	for _, page := range []string{"/", at, at + "/care"} {
		w := x.get(page)
		x.sound(page, w)
		if !strings.Contains(w.Body.String(), `name="done" value="nails"`) {
			t.Errorf("%s has no tap for the nails", page)
		}
	}
	w := x.post(at+"/care", "done", "nails", "care_back", "/#d-"+string(d.ID))
	if to := x.goes(w, "/#d-"); to != "/#d-"+string(d.ID) {
		t.Errorf("the tap leads to %q", to)
	}
	page := x.get(at + "/care").Body.String()
	if !strings.Contains(page, `name="undo" value="nails"`) || strings.Contains(page, `name="done" value="nails"`) {
		t.Error("what was done is not shown so, with its undo")
	}
	x.goes(x.post(at+"/care", "undo", "nails"), at+"/care")
	if page := x.get(at + "/care").Body.String(); !strings.Contains(page, `name="done" value="nails"`) {
		t.Error("it was not taken back")
	}
	for _, wrong := range [][]string{{"done", "wings"}, {"done", ""}, {"undo", "lesson_"}, {}} {
		if w := x.post(at+"/care", wrong...); w.Code != 422 {
			t.Errorf("%v: %d", wrong, w.Code)
		}
	}
	// Nobody is led to another site by a form.
	if to := x.goes(x.post(at+"/care", "done", "ears", "care_back", "//elsewhere.example/"), "/"); to != "/" {
		t.Errorf("the tap leads to %q", to)
	}
}

func TestIntervalsBirthdayAndHeightAreKeptOrRefusedBesideTheirField(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	at := "/dogs/" + string(d.ID) + "/care"
	x.goes(x.post(at+"/every", "every_nails", "21", "every_eyes", "0", "every_ears", ""), at)
	lines := must(x.s.Care(t.Context(), d.ID)).Lines
	for _, l := range lines {
		want := map[timeline.Care]int{timeline.CareNails: 21, timeline.CareEyes: 0, timeline.CareEars: 28, timeline.CarePads: 28}[l.What]
		if l.Every != want {
			t.Errorf("%s every %d days, want %d", l.What, l.Every, want)
		}
	}
	x.refuses("an interval of two years", x.post(at+"/every", "every_nails", "700"), 422, `value="700"`)
	x.refuses("born tomorrow", x.post(at+"/size", "rev", rev(d.Rev), "born", (wednesday+1).String()), 422, (wednesday + 1).String())
	x.refuses("as high as a horse", x.post(at+"/size", "rev", rev(d.Rev), "withers_mm", "1600"), 422, `value="1600"`)
	x.refuses("from an older page", x.post(at+"/size", "rev", "99", "born", "2026-01-15"), 409, "2026-01-15")
	x.goes(x.post(at+"/size", "rev", rev(d.Rev), "born", "2026-01-15", "withers_mm", "260"), at)
	now := must(x.s.Dog(t.Context(), d.ID))
	if now.Born != timeline.Date(2026, 1, 15) || now.WithersMM != 260 || now.WithersOn != wednesday {
		t.Errorf("%+v", now)
	}
	page := x.get(at)
	x.sound(at, page)
	if !strings.Contains(page.Body.String(), `value="lesson_lift"`) {
		t.Error("a puppy has no lessons")
	}
}

func TestWhatWasSeenIsForAVeterinarianAndCanBeTakenBack(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	at := "/dogs/" + string(d.ID)
	x.goes(x.post(at+"/care", "done", "sign_thinning"), at+"/care")
	for _, page := range []string{at, at + "/care"} {
		if body := x.get(page).Body.String(); !strings.Contains(body, "forvet") || !strings.Contains(body, "veterinarian") {
			t.Errorf("%s does not say that somebody should look", page)
		}
	}
	x.goes(x.post(at+"/care", "undo", "sign_thinning"), at+"/care")
	if strings.Contains(x.get(at).Body.String(), "forvet") {
		t.Error("it is still said after it was taken back")
	}
}

func TestTheLimitOfTheHandsIsTypedAsPeopleTypeHours(t *testing.T) {
	x, _ := dated(t)
	for text, minutes := range map[string]int{"5": 300, "4.5": 270, "4,5": 270, "4:30": 270, "0:45": 45, "": 0} {
		x.goes(x.post("/hands", "hours", text), "/hands")
		if got := must(x.s.HandsOf(t.Context())).LimitMin; got != minutes {
			t.Errorf("%q is kept as %d minutes, want %d", text, got, minutes)
		}
	}
	for _, text := range []string{"much", "-1", "25", "4:75", "17", "NaN", "1e9", "4:3:2"} {
		x.refuses(text, x.post("/hands", "hours", text), 422, `value="`+text+`"`)
	}
	x.post("/hands", "hours", "4:05")
	if page := x.get("/hands").Body.String(); !strings.Contains(page, `value="4:05"`) {
		t.Error("the field does not show what is kept")
	}
	x.sound("/hands", x.get("/hands"))
}

func TestTheBagOfAShowIsOneTapALine(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	show := must(x.s.AddShow(t.Context(), timeline.Show{Dog: d.ID, Name: "Fair", On: wednesday + 5}))
	at := "/shows/" + string(show.ID)
	x.goes(x.post(at+"/bag", "tick", "lead"), at+"#bag")
	if page := x.get(at).Body.String(); !strings.Contains(page, `name="untick" value="lead"`) || !strings.Contains(page, "kennel club") {
		t.Error("the line is not ticked, or nobody says whose rules decide")
	}
	far := must(x.s.AddShow(t.Context(), timeline.Show{Dog: d.ID, Name: "Far fair", On: wednesday + 50}))
	for path, first := range map[string]bool{at: true, "/shows/" + string(far.ID): false} {
		if page := x.get(path).Body.String(); (strings.Index(page, `id="bag"`) < strings.Index(page, `name="priority"`)) != first {
			t.Errorf("%s: the bag comes before the form: want %v", path, first)
		}
	}
	if page := x.get("/dogs/" + string(d.ID)).Body.String(); !strings.Contains(page, at+"#bag") {
		t.Error("a show in five days, and her page has no way to its bag")
	}
	x.goes(x.post(at+"/bag", "untick", "lead"), at+"#bag")
	if page := x.get(at).Body.String(); !strings.Contains(page, `name="tick" value="lead"`) {
		t.Error("the tick is still there")
	}
	if w := x.post(at+"/bag", "tick", "brandy"); w.Code != 422 {
		t.Errorf("an unknown line: %d", w.Code)
	}
}

func TestAReaderSeesCareAndChangesNothing(t *testing.T) {
	outside.Alone(t)
	x := openedToPeople(t)
	d, _ := x.furnished()
	must(x.s.BookNext(t.Context(), d.ID, must(x.s.Dog(t.Context(), d.ID)).Rev, must(x.s.Today(t.Context()))))
	if err := x.s.NoteCareOn(t.Context(), d.ID, "nails", must(x.s.Today(t.Context()))-40); err != nil {
		t.Fatal(err)
	}
	x.in("Cy", cys)
	at := "/dogs/" + string(d.ID)
	for _, page := range []string{"/", at, at + "/care", "/hands"} {
		body := x.call(page).Body.String()
		if strings.Contains(body, `action="`+at+`/care`) || strings.Contains(body, `action="/hands"`) || strings.Contains(body, at+`/sessions"`) {
			t.Errorf("%s shows a reader a form", page)
		}
		if page != "/hands" && !strings.Contains(body, "care-tap") {
			t.Errorf("%s hides from a reader how care stands", page)
		}
	}
}

// A large salon's first page stays short: it is fetched over a bad line every morning.
func TestTheFirstPageOfALargeSalonStaysShort(t *testing.T) {
	outside.Alone(t)
	x, c := dated(t)
	c.set(wednesday - 40)
	for i := range 60 {
		d := must(x.s.CreateDog(t.Context(), salon.NewDog{Name: fmt.Sprintf("Dog %02d", i), Client: "Somebody", Next: wednesday + timeline.Day(max(0, i-4))}))
		must(x.s.AddShow(t.Context(), timeline.Show{Dog: d.ID, Name: "Fair", On: wednesday + 50}))
		if err := x.s.NoteCare(t.Context(), d.ID, "nails", false); err != nil {
			t.Fatal(err)
		}
	}
	c.set(wednesday)
	w := x.get("/")
	body := w.Body.String()
	x.sound("/", w)
	if n := len(body); n > 40<<10 {
		t.Errorf("%d bytes", n)
	}
	for what, most := range map[string]int{`class="today-days"`: 6, `/care"><b>`: 6, `class="dogcard tablecard"`: 5, "<img": 60} {
		if n := strings.Count(body, what); n > most || n == 0 && what != "<img" {
			t.Errorf("%s: %d times, want 1 to %d", what, n, most)
		}
	}
	if !strings.Contains(body, `href="/dogs?care=due"`) {
		t.Error("no way to the rest of the care that is due")
	}
	if rest := x.get("/dogs?care=due").Body.String(); strings.Count(rest, "<li>") < 50 {
		t.Errorf("the list of care that is due has %d lines", strings.Count(rest, "<li>"))
	}
}

func TestThePageOfADogPutsFirstWhatSheNeedsNow(t *testing.T) {
	x := opened(t)
	d, _ := x.furnished()
	at := "/dogs/" + string(d.ID)
	w := x.get(at)
	x.sound(at, w)
	body := w.Body.String()
	if n := len(body); n > 110<<10 {
		t.Errorf("%d bytes", n)
	}
	last := 0
	for _, part := range []string{`class="dog-head"`, `dog-before`, `id="stands"`, `id="zone"`, `id="next"`, `id="care"`, `id="timeline"`} {
		i := strings.Index(body, part)
		if i < last {
			t.Errorf("%s stands at %d, before what should come first (%d)", part, i, last)
		}
		last = max(last, i)
	}
	if !strings.Contains(body, `data-laid="`) {
		t.Error("no picture of the strip is laid over the others, though points are placed")
	}
	for _, zone := range []string{"back", "beard"} {
		w := x.get(at + "?zone=" + zone)
		x.sound(at+"?zone="+zone, w)
		if w.Code != 200 || !strings.Contains(w.Body.String(), `/growth?zone=`+zone) {
			t.Errorf("%s: %d", zone, w.Code)
		}
	}
	if w := x.get(at + "?zone=wing"); w.Code != 404 {
		t.Errorf("an unknown zone: %d", w.Code)
	}
}
