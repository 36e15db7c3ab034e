package pages_test

import (
	"html"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"thatch/server/salon"
	"thatch/timeline"
)

// pressed reports whether a tap of that label is shown as the answer.
func pressed(body, label string) bool {
	for _, m := range regexp.MustCompile(`(?s)<button class="tap"[^>]*aria-pressed="true"[^>]*>.*?</button>`).FindAllString(body, -1) {
		if strings.Contains(m, ">"+label+"<") {
			return true
		}
	}
	return false
}

// valueOfTap is what tapping an answer sends; "" where there is none of that name and label.
func valueOfTap(body, name, label string) string {
	for _, m := range regexp.MustCompile(`(?s)<button class="tap" name="([a-z_]+)" value="([a-z_]*)"[^>]*>(.*?)</button>`).FindAllStringSubmatch(body, -1) {
		if m[1] == name && strings.Contains(m[3], ">"+label+"<") {
			return m[2]
		}
	}
	return ""
}

// seenAt is an address as a browser sends it.
func seenAt(to string) string {
	path, _, _ := strings.Cut(to, "#")
	return path
}

func TestTheCoatIsSaidWithOneTapChangedAndTakenBack(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	p := x.snap(d.ID, 90, at(wednesday, 9, 0))
	page := "/photos/" + string(p.ID)
	now := func() timeline.Photo { return must(x.s.Photo(t.Context(), p.ID)) }
	tap := func(name, value string) string {
		t.Helper()
		to := x.goes(x.post(page+"/facts", "rev", rev(now().Rev), name, value), page)
		w := x.get(seenAt(to))
		x.sound(to, w)
		return w.Body.String()
	}
	if body := x.get(page).Body.String(); pressed(body, "damp") || pressed(body, "brushed down, dry") || !strings.Contains(body, "Look only.") {
		t.Error("an answer that nobody gave")
	}
	body := tap("coat_state", "damp")
	if !pressed(body, "damp") || !strings.Contains(body, "The coat is damp: look only.") || !strings.Contains(body, "Before that: not said.") {
		t.Errorf("damp is not shown: %s", faultText(x.get(page)))
	}
	body = tap("coat_state", "brushed_down_dry")
	if !pressed(body, "brushed down, dry") || strings.Contains(body, "The coat is") || !strings.Contains(body, "Before that: damp.") || !strings.Contains(body, `name="coat_state" value="damp">`) {
		t.Error("the change is not shown with its way back")
	}
	tap("coat_state", "damp") // what undo sends
	if now().CoatState != timeline.CoatDamp {
		t.Errorf("%q", now().CoatState)
	}
	// The answer itself, tapped again, takes it back.
	again := valueOfTap(x.get(page).Body.String(), "coat_state", "damp")
	if body = tap("coat_state", again); now().CoatState != timeline.CoatUnsaid || pressed(body, "damp") {
		t.Errorf("%q sent %q", again, now().CoatState)
	}
	if body = tap("phase", "end"); now().Phase != timeline.PhaseEnd || !now().PhaseSaid || !pressed(body, "end") || !strings.Contains(body, `name="phase" value="by_time"`) {
		t.Errorf("%+v", now())
	}
	if tap("phase", "by_time"); now().PhaseSaid {
		t.Error("the word for the phase was not taken back")
	}
	if body = tap("side", "rear"); now().Side != timeline.SideRear || !strings.Contains(body, `name="side" value="left"`) {
		t.Errorf("%+v", now())
	}
	for _, forged := range []string{"coat_state.wet", "phase.never", "side.", "dog.x", "coat_state", "%00", "side.rear"} {
		if w := x.get(page + "?undo=" + url.QueryEscape(forged)); w.Code != 200 || strings.Contains(w.Body.String(), "Before that") {
			t.Errorf("%s: %d", forged, w.Code)
		}
	}
	x.refuses("a state that no coat has", x.post(page+"/facts", "rev", rev(now().Rev), "coat_state", "wet"), 422)
}

func TestTheEdgeSaysThatNothingIsMeasuredOfADampCoat(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	p, _ := x.posed(d.ID, timeline.SideLeft)
	edge := "/photos/" + string(p.ID) + "/edge"
	now := func() timeline.Photo { return must(x.s.Photo(t.Context(), p.ID)) }
	say := func(v string) string {
		t.Helper()
		to := x.goes(x.post("/photos/"+string(p.ID)+"/facts", "rev", rev(now().Rev), "coat_state", v, "back", edge), edge)
		w := x.get(seenAt(to))
		x.sound(to, w)
		return html.UnescapeString(w.Body.String())
	}
	for value, want := range map[string]string{
		"damp": "The coat is damp: look only.", "brushed_up": "The coat is brushed up: look only.", "chalked": "The coat is chalked: look only.",
		"as_came": "The coat is as she came: look only.", "unsaid": "Say how the coat lies in the photo",
	} {
		if body := say(value); !strings.Contains(body, want) || !strings.Contains(body, "no figure comes from it") || !strings.Contains(body, `name="coat_state" value="brushed_down_dry"`) {
			t.Errorf("%s: the edge does not say %q", value, want)
		}
	}
	if body := say("brushed_down_dry"); strings.Contains(body, "no figure comes from it") || !strings.Contains(body, "Before that") {
		t.Error("brushed down and dry is said not to be measured, or cannot be undone there")
	}
	if body := x.get(edge).Body.String(); strings.Contains(body, `id="says"`) {
		t.Error("the edge of a photo that can be measured asks all the same")
	}
	x.goes(x.post("/photos/"+string(p.ID)+"/facts", "rev", rev(now().Rev), "coat_state", "damp", "back", "//elsewhere.example/x"), "/photos/"+string(p.ID)+"?")
}

func TestPhotosThatHaveJustComeInAreAskedWithOneTapForAll(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	page := "/dogs/" + string(d.ID) + "/photos"
	w := x.sends(d.ID, "text/html", file{"a.jpg", jpegOf(90, at(wednesday, 9, 0))}, file{"b.jpg", jpegOf(140, at(wednesday, 9, 1))}, file{"no.txt", []byte("none")})
	x.sound(page, w)
	body := w.Body.String()
	if strings.Count(body, `class="taps-just"`) != 1 || strings.Count(body, "not said yet, look only") != 2 {
		t.Fatal("nobody asks how the coat lies")
	}
	photos := func() []timeline.Photo { return must(x.s.Photos(t.Context(), d.ID)) }
	just := string(photos()[0].ID) + "," + string(photos()[1].ID)
	one := func(i int) string { return string(photos()[i].ID) + " " + rev(photos()[i].Rev) }
	to := x.goes(x.post(page+"/state", "photo", one(0), "photo", one(1), "just", just, "coat_state", "brushed_down_dry"), page+"/new?just=")
	w = x.get(seenAt(to))
	x.sound(to, w)
	if body = w.Body.String(); strings.Count(body, `<li class="up`) != 2 || strings.Count(body, "Coat: brushed down, dry") != 2 || !pressed(body, "brushed down, dry") {
		t.Error("the list does not come back with the answer")
	}
	// One of them otherwise, as a script asks.
	r := httptest.NewRequest("POST", page+"/state", strings.NewReader(url.Values{"photo": {one(1)}, "coat_state": {"damp"}}.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Accept", "text/x-rows")
	if w = x.ask(r); w.Code != 200 || strings.Count(w.Body.String(), `<li class="up`) != 1 || !strings.Contains(w.Body.String(), "Coat: damp") || strings.Contains(w.Body.String(), "<html") {
		t.Errorf("%d: %s", w.Code, w.Body)
	}
	if a, b := photos()[0].CoatState, photos()[1].CoatState; a != timeline.CoatBrushedDown || b != timeline.CoatDamp {
		t.Errorf("%s, %s", a, b)
	}
	x.goes(x.post(page+"/state", "photo", one(0), "just", just, "coat_state", "unsaid"), page+"/new")
	if photos()[0].CoatState != timeline.CoatUnsaid {
		t.Error("an answer is not taken back")
	}
	x.goes(x.post(page+"/state", "photo", one(0), "photo", one(1), "just", just, "phase", "end"), page+"/new")
	if !photos()[0].PhaseSaid || photos()[1].Phase != timeline.PhaseEnd {
		t.Error("the phase of all is not kept")
	}
	// Whoever is late is told, and loses nothing.
	x.refuses("an older list", x.post(page+"/state", "photo", string(photos()[0].ID)+" 1", "just", just, "coat_state", "chalked"), 409)
	other := must(x.s.CreateDog(t.Context(), salon.NewDog{Name: "Other"}))
	stranger := x.snap(other.ID, 33, at(wednesday, 9, 2))
	if w := x.post(page+"/state", "photo", one(0), "photo", string(stranger.ID)+" "+rev(stranger.Rev), "coat_state", "damp"); w.Code != 404 || photos()[0].CoatState == timeline.CoatDamp {
		t.Errorf("another dog's photo: %d", w.Code)
	}
	if w := x.get(page + "/new?just=" + string(stranger.ID) + ",nobody,%27x"); w.Code != 200 || strings.Contains(w.Body.String(), `<li class="up`) {
		t.Errorf("another dog's photo is listed: %d", w.Code)
	}
	for _, bad := range []string{"", "x", "a -1", "a b"} {
		if w := x.post(page+"/state", "photo", bad, "coat_state", "damp"); w.Code != 422 {
			t.Errorf("%q: %d", bad, w.Code)
		}
	}
}
