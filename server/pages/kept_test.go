package pages_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"thatch/server/salon"
	"thatch/timeline"
)

// Pages are kept rendered while nothing changes; every change must be seen at once.
func TestAPageThatIsKeptShowsEveryChangeAtOnce(t *testing.T) {
	x, clock := dated(t)
	d := x.rolled()
	v := x.opens(d, wednesday)
	added := must(x.s.AddPhoto(t.Context(), d.ID, "side.jpg", strings.NewReader(string(jpegOf(90, at(wednesday, 9, 0)))), ""))
	for range 2 {
		for x.get("/photos/"+string(added.Photo.ID)+"/picture/thumb").Code != 200 { // makes the derivatives
			t.Fatal("no picture")
		}
	}
	if err := x.st.SetPhotoReady(t.Context(), added.Photo.SHA256, ""); err != nil {
		t.Fatal(err)
	}
	dog, session, photo, plan := "/dogs/"+string(d.ID), "/sessions/"+string(v.ID), "/photos/"+string(added.Photo.ID), "/dogs/"+string(d.ID)+"/plan"
	for _, c := range []struct {
		name, page, sees string
		change           func()
	}{
		{"her notes on her page", dog, "Does not like the dryer", func() {
			e := must(x.s.Dog(t.Context(), d.ID))
			e.Notes = "Does not like the dryer"
			must(x.s.UpdateDog(t.Context(), e))
		}},
		{"a log on the session's page", session, "quick at the hip", func() {
			x.goes(x.post(session+"/log", "rev", rev(x.session(v.ID).Rev), "zones", "rump", "do", "tidy", "remark", "quick at the hip"), "/sessions/")
		}},
		{"a log on her page", dog, "scissor", func() {
			x.goes(x.post(session+"/log", "rev", rev(x.session(v.ID).Rev), "zones", "feet", "do", "scissor"), "/sessions/")
		}},
		{"the salon's name on any page", photo, "The Other Room", func() {
			set := must(x.s.Settings(t.Context()))
			set.SalonName = "The Other Room"
			must(x.s.SaveSettings(t.Context(), set))
		}},
		{"her name on the photo's page", photo, "Whisper", func() {
			e := must(x.s.Dog(t.Context(), d.ID))
			e.Name = "Whisper"
			must(x.s.UpdateDog(t.Context(), e))
		}},
		{"a show on her plan", plan, "The Winter Show", func() {
			must(x.s.AddShow(t.Context(), timeline.Show{Dog: d.ID, Name: "The Winter Show", On: wednesday + 60, Priority: 1}))
		}},
		{"the days to it, tomorrow", dog, ">59<", func() { clock.set(wednesday + 1) }},
		{"the unit of length", dog, "\u00a0in</span>", func() { x.inches() }},
	} {
		before := x.get(c.page)
		if again := x.get(c.page); again.Code != 200 || again.Body.String() != before.Body.String() || again.Header().Get("Cache-Control") != before.Header().Get("Cache-Control") || again.Header().Get("Content-Type") != before.Header().Get("Content-Type") {
			t.Errorf("%s: asked again without a change the page differs (%d)", c.name, again.Code)
		}
		if strings.Contains(before.Body.String(), c.sees) {
			t.Errorf("%s: %q stands there before the change", c.name, c.sees)
		}
		c.change()
		if after := x.get(c.page); after.Code != 200 || !strings.Contains(after.Body.String(), c.sees) {
			t.Errorf("%s: %q does not stand there after it (%d)", c.name, c.sees, after.Code)
		}
	}
	if err := x.s.TrashDog(t.Context(), d.ID); err != nil {
		t.Fatal(err)
	}
	for _, page := range []string{dog, plan} {
		if w := x.get(page); w.Code != 404 {
			t.Errorf("%s of a dog in the trash: %d", page, w.Code)
		}
	}
}

func TestAKeptPageIsNobodyElses(t *testing.T) {
	x := openedToPeople(t)
	d := x.dog()
	page := "/dogs/" + string(d.ID)
	for _, p := range [][2]string{{"Ada", adas}, {"Bo", bos}, {"Cy", cys}, {"Ada", adas}} {
		x.in(p[0], p[1])
		body := x.call(page).Body.String()
		for _, name := range []string{"Ada", "Bo", "Cy"} {
			if got := strings.Contains(body, ">"+name+"<"); got != (name == p[0]) {
				t.Errorf("%s's page names %s: %t", p[0], name, got)
			}
		}
		if body != x.call(page).Body.String() {
			t.Errorf("%s's page differs when it is asked for again", p[0])
		}
	}
}

func TestAKeptPageHasTheLookOfTheBrowserThatAsks(t *testing.T) {
	x := openedToPeople(t)
	d := x.dog()
	page := "/dogs/" + string(d.ID)
	x.in("Ada", adas)
	for _, look := range []string{"dark", "light", "dark"} {
		if w := x.call("/theme", "theme", look, "back", page); w.Code != 303 {
			t.Fatal(w.Code)
		}
		x.call(page) // says what was done, once
		for range 2 {
			if body := x.call(page).Body.String(); !strings.Contains(body, `data-theme="`+look+`"`) {
				t.Errorf("the page is not %s", look)
			}
		}
	}
}

func TestWhatWasJustDoneIsSaidOnceOnAKeptPage(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	v := x.opens(d, wednesday)
	page := "/sessions/" + string(v.ID)
	x.get(page)
	w := x.post(page+"/log", "rev", rev(x.session(v.ID).Rev), "zones", "rump", "do", "tidy")
	told := x.follows(w).Body.String()
	if plain := x.get(page).Body.String(); len(plain) >= len(told) || !strings.Contains(told, `role="status"`) {
		t.Errorf("told %d bytes, then %d", len(told), len(plain))
	}
}

func TestALargeSalonsFirstPageIsShort(t *testing.T) {
	x, _ := dated(t)
	for i := range 40 {
		must(x.s.CreateDog(t.Context(), salon.NewDog{Name: fmt.Sprintf("Dog %02d", i), Client: fmt.Sprintf("Door %02d", i)}))
	}
	home, all := x.get("/"), x.get("/dogs")
	if n := strings.Count(home.Body.String(), `<li><a href="/dogs/`); n != 30 || !strings.Contains(home.Body.String(), "All 40 dogs") {
		t.Errorf("the first page lists %d dogs", n)
	}
	if n := strings.Count(all.Body.String(), `<li><a href="/dogs/`); n != 40 {
		t.Errorf("the list of all has %d", n)
	}
	for find, want := range map[string]int{"dog 3": 10, "DOOR 07": 1, " nobody ": 0} {
		if w := x.get("/dogs?q=" + strings.ReplaceAll(find, " ", "+")); strings.Count(w.Body.String(), `<li><a href="/dogs/`) != want {
			t.Errorf("%q finds %d", find, strings.Count(w.Body.String(), `<li><a href="/dogs/`))
		}
	}
	x.sound("the first page", home)
	x.sound("all dogs", all)
}

func TestYearsOfVisitsComePageByPage(t *testing.T) {
	x, _ := dated(t)
	d := must(x.s.CreateDog(t.Context(), salon.NewDog{Name: "Wisp", Answers: timeline.Answers{On: wednesday - 400, LastWorked: wednesday - 500}}))
	for i := range 20 {
		must(x.s.OpenSession(t.Context(), d.ID, wednesday-timeline.Day(14*i)))
	}
	for k := range 8 {
		must(x.s.AddPhoto(t.Context(), d.ID, "side.jpg", strings.NewReader(string(jpegOf(uint8(40+9*k), at(wednesday, 9, 5*k).Add(time.Second)))), ""))
	}
	page, seen := "/dogs/"+string(d.ID), 0
	for next := page; next != ""; {
		w := x.get(next)
		if w.Code != 200 {
			t.Fatalf("%s: %d", next, w.Code)
		}
		x.sound(next, w)
		body := w.Body.String()
		seen += strings.Count(body, `<li class="visit">`)
		if next == page && !strings.Contains(body, "8 photos") {
			t.Error("eight photos of a day are not told")
		}
		next = ""
		if _, rest, ok := strings.Cut(body, `href="`+page+"?before="); ok {
			next = page + "?before=" + rest[:10]
		}
	}
	if seen != 20 {
		t.Errorf("%d of 20 visits are shown", seen)
	}
	if w := x.get(page + "?before=soon"); w.Code != 422 && w.Code != 400 {
		t.Errorf("a day that is none: %d", w.Code)
	}
}
