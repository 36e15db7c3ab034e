package pages_test

import (
	"html"
	"math"
	"regexp"
	"strings"
	"testing"

	"thatch/server/salon"
	"thatch/timeline"
)

// fieldIn is the value of a hidden field of a form to an address: the first that has it.
func fieldIn(body, action, name string) string {
	for _, form := range regexp.MustCompile(`(?s)<form[^>]*action="`+regexp.QuoteMeta(action)+`".*?</form>`).FindAllString(body, -1) {
		if m := regexp.MustCompile(`name="` + name + `" value="([^"]*)"`).FindStringSubmatch(form); m != nil {
			return html.UnescapeString(m[1])
		}
	}
	return ""
}

// sentAgain are the fields of the form that puts hers on top.
func sentAgain(t *testing.T, body string) (action string, fields []string) {
	t.Helper()
	form := regexp.MustCompile(`(?s)<form method="post" action="([^"]*)" data-conflict>.*?</form>`).FindStringSubmatch(body)
	if form == nil {
		t.Fatal("nothing puts hers on top")
	}
	for _, m := range regexp.MustCompile(`name="([^"]*)" value="([^"]*)"`).FindAllStringSubmatch(form[0], -1) {
		fields = append(fields, html.UnescapeString(m[1]), html.UnescapeString(m[2]))
	}
	return form[1], fields
}

func TestTwoPhonesAtOneZoneLoseNothing(t *testing.T) {
	x, _ := dated(t)
	_, v := x.onTheTable()
	at := "/sessions/" + string(v.ID) + "/work"
	l := x.lines(v.ID)[0]
	saw := fieldIn(x.get(at+"?at="+string(l.Zone)).Body.String(), at, "saw")
	if saw == "" {
		t.Fatal("the card does not say what it saw")
	}
	x.goes(x.post(at, "rev", rev(v.Rev), "at", string(l.Zone), "saw", saw, "action", "done", "skin", "fine"), at)
	w := x.post(at, "rev", rev(v.Rev), "at", string(l.Zone), "saw", saw, "action", "done", "hair_check", "cut", "remark", "Blunt <here> & there")
	x.refuses("the other phone", w, 409, "What stands", "What you said", html.EscapeString("Blunt <here> & there"), "cut", "fine")
	action, fields := sentAgain(t, w.Body.String())
	x.goes(x.post(action, fields...), at)
	if got := x.session(v.ID).Work; len(got) != 1 || got[0].HairCheck != timeline.HairCut || got[0].Skin != timeline.SkinFine || got[0].Remark != "Blunt <here> & there" {
		t.Errorf("both are not in the log: %+v", got)
	}
}

func TestTwoPhonesAtTwoZonesAreInNobodysWay(t *testing.T) {
	x, _ := dated(t)
	_, v := x.onTheTable()
	at := "/sessions/" + string(v.ID) + "/work"
	lines := x.lines(v.ID)
	for _, l := range lines[:3] { // all from the version that the first phone saw
		saw := fieldIn(x.get(at+"?at="+string(l.Zone)).Body.String(), at, "saw")
		x.goes(x.post(at, "rev", rev(v.Rev), "at", string(l.Zone), "saw", saw, "action", "done"), at)
	}
	if n := len(x.session(v.ID).Work); n != 3 {
		t.Errorf("%d lines", n)
	}
	// The end of the visit too, unless somebody has ended it.
	saw := fieldIn(x.get(at+"?at=end").Body.String(), "/sessions/"+string(v.ID)+"/finish", "saw")
	x.goes(x.post("/sessions/"+string(v.ID)+"/finish", "rev", rev(v.Rev), "at", "end", "saw", saw, "minutes", "40", "tolerance", "restless", "add", "From the old page."), "/sessions/")
	x.refuses("a second end", x.post("/sessions/"+string(v.ID)+"/finish", "rev", rev(v.Rev), "at", "end", "saw", saw, "add", "Too late"), 409, "Too late")
	if now := x.session(v.ID); now.Tolerance != timeline.Restless || now.Note != "From the old page." || now.Minutes != 40 {
		t.Errorf("%+v", now)
	}
}

func TestTheVisitsFactsFromTwoPhonesAreBothKept(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	v := x.opens(d, wednesday)
	at := "/sessions/" + string(v.ID)
	v = must(x.s.SaveSession(t.Context(), salon.SessionEdit{ID: v.ID, Rev: v.Rev, Note: "First."}))
	x.goes(x.post(at+"/facts", "rev", rev(v.Rev), "minutes", "80", "note_was", "First.", "note", "First. And more."), at)
	w := x.post(at+"/facts", "rev", rev(v.Rev), "minutes", "90", "loft", "some", "note_was", "First.", "note", "First.\nOther phone.", "add", "Spoken.")
	x.refuses("the other phone", w, 409, "Other phone.", "Spoken.", "First. And more.")
	action, fields := sentAgain(t, w.Body.String())
	x.goes(x.post(action, fields...), at)
	now := x.session(v.ID)
	for _, part := range []string{"First. And more.", "Other phone.", "Spoken."} {
		if !strings.Contains(now.Note, part) {
			t.Errorf("%q is lost: %q", part, now.Note)
		}
	}
	if now.Minutes != 90 || now.Loft != timeline.LoftSome {
		t.Errorf("%+v", now)
	}
}

func TestNotTodayAsLastTimeAndUndoByFormsAlone(t *testing.T) {
	x, c := dated(t)
	d := x.rolled()
	must(x.s.AddShow(t.Context(), timeline.Show{Dog: d.ID, Name: "Hall Show", On: wednesday + 60}))
	first := x.opens(d, wednesday-14)
	must(x.s.SaveSession(t.Context(), salon.SessionEdit{ID: first.ID, Rev: first.Rev, Work: []timeline.ZoneWork{
		{Zone: timeline.Back, Do: timeline.Take, Share: 0.25}, {Zone: timeline.Loin, Do: timeline.Take, Share: 0.25}, {Zone: timeline.Tail, Do: timeline.Tidy}}}))
	v := x.opens(d, wednesday)
	at := "/sessions/" + string(v.ID)
	page := x.get(at)
	x.sound("the session", page)
	if b := page.Body.String(); strings.Count(b, `name="zones" value="tail" checked`) != 1 || !strings.Contains(b, "As last time") {
		t.Error("the last visit's work is not offered")
	}
	repeated := x.follows(x.post(at+"/repeat", "rev", rev(v.Rev), "zones", "back", "zones", "tail"))
	x.sound("as last time", repeated)
	if n := len(x.session(v.ID).Work); n != 2 || !strings.Contains(repeated.Body.String(), "As last time: 2 zones") {
		t.Errorf("%d zones are repeated, or no undo is offered", n)
	}
	x.refuses("no zone", x.post(at+"/repeat", "rev", rev(x.session(v.ID).Rev)), 422)
	x.refuses("not today when something is logged", x.post(at+"/off", "rev", rev(x.session(v.ID).Rev), "not_today", "ill"), 422, "stopped early")
	x.goes(x.post(at+"/undo", "rev", rev(x.session(v.ID).Rev)), at)
	if n := len(x.session(v.ID).Work); n != 0 {
		t.Errorf("undone: %d zones", n)
	}
	x.refuses("a reason that is none", x.post(at+"/off", "rev", rev(x.session(v.ID).Rev), "not_today", "bored"), 422)
	off := x.follows(x.post(at+"/off", "rev", rev(x.session(v.ID).Rev), "not_today", "sore_skin", "add", "Red at the flank.", "again", (wednesday + 7).String()))
	x.sound("not today", off)
	for _, says := range []string{"Not worked today", "Sore skin", "veterinarian", "Red at the flank.", "Not today: noted"} {
		if !strings.Contains(strings.ToLower(off.Body.String()), strings.ToLower(says)) {
			t.Errorf("the page does not say %q", says)
		}
	}
	list := x.get("/dogs/" + string(d.ID) + "/sessions/new").Body.String()
	if !strings.Contains(list, "not today: sore skin") || must(x.s.Dog(t.Context(), d.ID)).Cadence.Next != wednesday+7 {
		t.Error("it does not count in her history, or the next day is not booked")
	}
	for _, path := range []string{"/", "/dogs/" + string(d.ID), "/dogs/" + string(d.ID) + "/plan", "/dogs/" + string(d.ID) + "/sheet"} {
		w := x.get(path)
		if w.Code != 200 {
			t.Errorf("%s: %d", path, w.Code)
		}
		x.sound(path, w)
		if says := "sore skin"; (path == "/" || path == "/dogs/"+string(d.ID)) && !strings.Contains(w.Body.String(), says) {
			t.Errorf("%s does not say why she was not worked", path)
		}
	}
	x.goes(x.post(at+"/reopen", "rev", rev(x.session(v.ID).Rev)), at+"/work")
	x.sound("worked after all", x.get(at+"/work"))
	_ = c
}

func TestBreaksAndNotesFromTheCardNeedNoVersion(t *testing.T) {
	x, _ := dated(t)
	_, v := x.onTheTable()
	at := "/sessions/" + string(v.ID) + "/work"
	for range 2 {
		x.goes(x.post(at, "at", "care", "action", "break"), at+"?at=care")
	}
	x.goes(x.post(at, "rev", rev(v.Rev), "at", "care", "action", "note", "add", "Stands better today."), at+"?at=care")
	x.refuses("a note of nothing", x.post(at, "at", "care", "action", "note", "add", " "), 422)
	if now := x.session(v.ID); now.Breaks != 2 || now.Note != "Stands better today." {
		t.Errorf("%d breaks, %q", now.Breaks, now.Note)
	}
	l := x.lines(v.ID)[0]
	x.goes(x.post(at, "rev", rev(x.session(v.ID).Rev), "at", string(l.Zone), "action", "group", "group", string(l.Zone.Group())), at+"?at=look-"+string(l.Zone.Group()))
	for _, w := range x.session(v.ID).Work {
		if w.Zone.Group() != l.Zone.Group() {
			t.Errorf("%s is of another group", w.Zone)
		}
	}
	x.refuses("a group that is none", x.post(at, "rev", rev(x.session(v.ID).Rev), "at", string(l.Zone), "action", "group", "group", "wings"), 409)
}

func TestAZoneIsMeasuredOnACardByFormsAlone(t *testing.T) {
	for _, c := range []struct {
		name, last, more, typed string
		inches                  bool
		typedMM                 float64
	}{
		{"millimetres", "24.5", "25.5", "27", false, 27},
		{"inches", "15⁄16", "1", "1 1/16", true, 1.0625 * 25.4}, // 24.5 mm is nearest to fifteen sixteenths
	} {
		x, _ := dated(t)
		if c.inches {
			x.inches()
		}
		d := x.rolled()
		must(x.s.AddReadings(t.Context(), d.ID, "", wednesday-7, map[timeline.Zone]float64{timeline.Back: 24.5}, true))
		page, at := "/dogs/"+string(d.ID)+"/readings", "/dogs/"+string(d.ID)+"/measure"
		card := x.get(page)
		x.sound(c.name, card)
		asked := fieldIn(card.Body.String(), at, "zone")
		if !timeline.Zone(asked).Known() {
			t.Fatalf("%s: no zone is asked for", c.name)
		}
		chosen := x.get(page + "?zone=back").Body.String()
		if fieldIn(chosen, at, "zone") != "back" || !holds(chosen, "mm", c.last) {
			t.Errorf("%s: the last value is not where she starts", c.name)
		}
		nudged := x.follows(x.post(at, "zone", "back", "day", wednesday.String(), "mm", c.last, "action", "more")).Body.String()
		if !holds(nudged, "mm", c.more) || len(x.readings(d)) != 1 {
			t.Errorf("%s: one more is not %s, or it was stored", c.name, c.more)
		}
		skipped := x.follows(x.post(at, "zone", asked, "day", wednesday.String(), "action", "skip")).Body.String()
		if next := fieldIn(skipped, at, "zone"); next == asked || next == "" {
			t.Errorf("%s: passed over, %q is asked for again", c.name, next)
		}
		x.refuses(c.name+": nothing typed", x.post(at, "zone", "back", "day", wednesday.String(), "mm", "", "action", "save"), 422)
		x.refuses(c.name+": in words", x.post(at, "zone", "back", "day", wednesday.String(), "mm", "long", "action", "save"), 422, `value="long"`)
		slip := "250"
		if c.inches {
			slip = "9"
		}
		x.refuses(c.name+": a slip of ten", x.post(at, "zone", "back", "day", wednesday.String(), "mm", slip, "action", "save"), 422, `value="confirm"`)
		saved := x.follows(x.post(at, "zone", "back", "day", wednesday.String(), "mm", c.typed, "action", "save"))
		x.sound(c.name+": saved", saved)
		all := x.readings(d)
		if len(all) != 2 || math.Abs(all[1].LengthMM-c.typedMM) > 1e-9 || all[1].SDMM != 1 || all[1].On != wednesday {
			t.Errorf("%s: kept are %+v", c.name, all)
			continue
		}
		b := saved.Body.String()
		if !strings.Contains(b, "measure-taught") || !strings.Contains(b, "Its range on") || fieldIn(b, at, "read") != string(all[1].ID) {
			t.Errorf("%s: what it changed is not said", c.name)
		}
		x.goes(x.post(at, "zone", "back", "day", wednesday.String(), "mm", c.typed, "read", string(all[1].ID), "action", "undo"), page+"?")
		if n := len(x.readings(d)); n != 1 {
			t.Errorf("%s: undone, %d readings", c.name, n)
		}
	}
}

func TestPhotosOfASessionComeAloneForAnOpenPage(t *testing.T) {
	x, _ := dated(t)
	d, v := x.onTheTable()
	at := "/sessions/" + string(v.ID) + "/photos"
	if n := strings.Count(x.get(at).Body.String(), "<img"); n != 0 {
		t.Errorf("%d photos before one is there", n)
	}
	x.snap(d.ID, 90, wednesday.Time().Add(9*60*60*1e9))
	w := x.get(at)
	if n := strings.Count(w.Body.String(), "<img"); n != 1 || strings.Contains(w.Body.String(), "<html") {
		t.Errorf("%d photos: %s", n, w.Body.String())
	}
	if !strings.Contains(x.get("/sessions/"+string(v.ID)+"/work").Body.String(), `class="work-tiles" data-work-tiles><a`) {
		t.Error("the card does not show it")
	}
}
