package pages_test

import (
	"net/url"
	"strings"
	"testing"

	"thatch/server/salon"
	"thatch/timeline"
)

func TestOpeningADayTwiceOpensOneSession(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	if a, b := x.opens(d, wednesday), x.opens(d, wednesday); a.ID != b.ID {
		t.Error("two sessions of one day")
	}
	if n := len(must(x.s.Sessions(t.Context(), d.ID))); n != 1 {
		t.Errorf("%d sessions", n)
	}
	page := x.get("/dogs/" + string(d.ID) + "/sessions/new").Body.String()
	if !strings.Contains(page, "/sessions/") {
		t.Error("today's session is not offered")
	}
}

func TestAGroupIsLoggedAtOnceAndSplitByOneTap(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	v := x.opens(d, wednesday)
	at := "/sessions/" + string(v.ID)
	fields := []string{"rev", rev(v.Rev), "do", "take", "share", "quarter", "ripeness", "ready", "cover", "full", "tool", "knife_fine", "hair_check", "whole", "skin", "fine"}
	for _, z := range timeline.GroupJacket.Zones() {
		fields = append(fields, "zones", string(z))
	}
	x.goes(x.post(at+"/log", fields...), at)
	work := x.session(v.ID).Work
	if len(work) != len(timeline.GroupJacket.Zones()) {
		t.Fatalf("%d lines: %v", len(work), work)
	}
	for _, l := range work {
		want := timeline.ZoneWork{Zone: l.Zone, Do: timeline.Take, Share: 0.25, Ripeness: timeline.Ready, Cover: timeline.CoverFull, Tool: "knife_fine", HairCheck: timeline.HairWhole, Skin: timeline.SkinFine}
		if l != want {
			t.Errorf("%+v, want %+v", l, want)
		}
	}
	x.goes(x.post(at+"/log", "rev", rev(x.session(v.ID).Rev), "zones", "ribs", "do", "leave", "ripeness", "not_ready", "remark", "not yet"), at)
	for _, l := range x.session(v.ID).Work {
		if ribs := l.Zone == timeline.Ribs; ribs != (l.Do == timeline.Leave) || ribs != (l.Remark == "not yet") {
			t.Errorf("after the split: %+v", l)
		}
	}
	page := x.get(at)
	x.sound("the session", page)
	if !strings.Contains(page.Body.String(), "not yet") {
		t.Error("the page does not tell the line of the ribs")
	}
}

func TestTheTopLayerIsAShareOfThatDayAndComesBackAsTheTopLayer(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	v := x.opens(d, wednesday)
	at := "/sessions/" + string(v.ID)
	x.goes(x.post(at+"/log", "rev", rev(v.Rev), "zones", "back", "do", "take", "share", "top"), at)
	was := x.session(v.ID).Work[0]
	if !was.TopLayer || was.Share <= 0 || was.Share > 1 {
		t.Fatalf("%+v", was)
	}
	to := x.goes(x.post(at+"/unlog", "rev", rev(x.session(v.ID).Rev), "zone", "back"), at)
	back := must(url.Parse(to)).Query()
	if back.Get("share") != "top" || len(x.session(v.ID).Work) != 0 {
		t.Fatalf("%v, %v", back, x.session(v.ID).Work)
	}
	x.goes(x.post(at+"/log", fieldsOf(back, "rev", rev(x.session(v.ID).Rev))...), at)
	if now := x.session(v.ID).Work[0]; now != was {
		t.Errorf("it came back as %+v, was %+v", now, was)
	}
}

func TestAShareWithoutAWordComesBackAsItWas(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	v := x.opens(d, wednesday)
	at := "/sessions/" + string(v.ID)
	was := timeline.ZoneWork{Zone: timeline.Back, Do: timeline.Take, Share: 0.4, Remark: `"quoted" & <b>`}
	v = must(x.s.SaveSession(t.Context(), salon.SessionEdit{ID: v.ID, Rev: v.Rev, Work: []timeline.ZoneWork{was}}))
	w := x.post(at+"/unlog", "rev", rev(v.Rev), "zone", "back")
	back := must(url.Parse(x.goes(w, at))).Query()
	x.sound("a remark with signs", x.follows(w))
	x.goes(x.post(at+"/log", fieldsOf(back, "rev", rev(x.session(v.ID).Rev))...), at)
	if now := x.session(v.ID).Work; len(now) != 1 || now[0] != was {
		t.Errorf("it came back as %+v", now)
	}
}

func TestALineIsLoggedAsPlannedFromTheSheet(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	must(x.s.AddShow(t.Context(), timeline.Show{Dog: d.ID, Name: "Hall Show", On: wednesday + 60}))
	v := x.opens(d, wednesday)
	at := "/sessions/" + string(v.ID)
	sheet := must(x.s.SessionPage(t.Context(), v.ID)).Sheet
	if sheet == nil {
		t.Fatal("there is no sheet")
	}
	line := sheet.Zones[len(sheet.Zones)-1]
	for _, l := range sheet.Zones {
		if l.Do == timeline.Take || l.Do == timeline.Strip {
			line = l
		}
	}
	w := x.post(at+"/planned", "rev", rev(v.Rev), "zone", string(line.Zone))
	x.goes(w, at)
	work := x.session(v.ID).Work
	if len(work) != 1 || work[0].Zone != line.Zone || work[0].Do != line.Do || work[0].Do == timeline.Take && work[0].Share != line.Share {
		t.Fatalf("%+v was planned, %+v is logged", line, work)
	}
	if body := x.follows(w).Body.String(); strings.Count(body, "sheet-tick") != 1 {
		t.Error("the sheet does not tick exactly that line")
	}
}

// A zone that is carded before it is pulled stands on the sheet twice and in the log once: the pull is what a later day must
// know.
func TestAllAsPlannedLogsThePullAndNotTheCardingBeforeIt(t *testing.T) {
	x, _ := dated(t)
	d := must(x.s.CreateDog(t.Context(), salon.NewDog{Name: "Woolly", WithersMM: 340, Minutes: 300,
		Answers: timeline.Answers{On: wednesday - 1, LastWorked: wednesday - 60, Rolled: true, Undercoat: timeline.UndercoatHeavy, LongestWithersMM: 30}}))
	must(x.s.AddShow(t.Context(), timeline.Show{Dog: d.ID, Name: "Hall Show", On: wednesday + 60}))
	v := x.opens(d, wednesday)
	sheet := must(x.s.SessionPage(t.Context(), v.ID)).Sheet
	if sheet == nil {
		t.Fatal("there is no sheet")
	}
	want, twice := map[timeline.Zone]timeline.Work{}, 0
	for _, l := range sheet.Zones {
		if was := want[l.Zone]; was == timeline.Card && l.Do != timeline.Leave || l.Do == timeline.Card && was != "" {
			twice++
		}
		if l.Do != timeline.Leave && (l.Do != timeline.Card || want[l.Zone] == "") {
			want[l.Zone] = l.Do
		}
	}
	if twice == 0 {
		t.Fatal("no zone is carded and then pulled: the test says nothing")
	}
	x.goes(x.post("/sessions/"+string(v.ID)+"/planned", "rev", rev(v.Rev)), "/sessions/")
	got := map[timeline.Zone]timeline.Work{}
	for _, l := range x.session(v.ID).Work {
		got[l.Zone] = l.Do
	}
	for z, do := range want {
		if got[z] != do {
			t.Errorf("%s: %s was planned, %q is logged", z, do, got[z])
		}
	}
	if len(got) != len(want) {
		t.Errorf("%d zones are logged, %d were planned", len(got), len(want))
	}
}

func TestAllAsPlannedLeavesAloneWhatIsLogged(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	must(x.s.AddShow(t.Context(), timeline.Show{Dog: d.ID, Name: "Hall Show", On: wednesday + 60}))
	v := x.opens(d, wednesday)
	own := timeline.ZoneWork{Zone: timeline.Back, Do: timeline.Leave, Remark: "Sore"}
	v = must(x.s.SaveSession(t.Context(), salon.SessionEdit{ID: v.ID, Rev: v.Rev, Work: []timeline.ZoneWork{own}}))
	x.goes(x.post("/sessions/"+string(v.ID)+"/planned", "rev", rev(v.Rev)), "/sessions/")
	for _, l := range x.session(v.ID).Work {
		if l.Zone == timeline.Back && l != own {
			t.Errorf("the back became %+v", l)
		}
	}
}

func TestWithoutAPlanNothingIsLoggedAsPlanned(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	v := x.opens(d, wednesday)
	x.refuses("as planned without a plan", x.post("/sessions/"+string(v.ID)+"/planned", "rev", rev(v.Rev)), 409)
	if len(x.session(v.ID).Work) != 0 {
		t.Error("something is logged")
	}
}

func TestALogFromAnOlderPageIsRefusedWithWhatWasTapped(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	v := x.opens(d, wednesday)
	at := "/sessions/" + string(v.ID)
	x.goes(x.post(at+"/log", "rev", rev(v.Rev), "zones", "back", "do", "tidy"), at)
	w := x.post(at+"/log", "rev", rev(v.Rev), "zones", "loin", "zones", "rump", "do", "take", "share", "half", "ripeness", "coming", "skin", "pink", "cover", "thin", "remark", "left side first")
	x.refuses("an older page", w, 409)
	body := w.Body.String()
	for _, c := range [][2]string{{"zones", "loin"}, {"zones", "rump"}, {"do", "take"}, {"share", "half"}, {"ripeness", "coming"}, {"skin", "pink"}, {"cover", "thin"}} {
		if !checked(body, c[0], c[1]) {
			t.Errorf("%s=%s is lost", c[0], c[1])
		}
	}
	if !holds(body, "remark", "left side first") {
		t.Error("the remark is lost")
	}
	if work := x.session(v.ID).Work; len(work) != 1 || work[0].Zone != timeline.Back {
		t.Errorf("%v", work)
	}
}

func TestTheVisitsFactsAreKeptAndTheNextIsBooked(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	v := x.opens(d, wednesday)
	at := "/sessions/" + string(v.ID)
	x.goes(x.post(at+"/log", "rev", rev(v.Rev), "zones", "back", "do", "tidy"), at)
	v = x.session(v.ID)
	x.goes(x.post(at+"/facts", "rev", rev(v.Rev), "minutes", "85", "next", "2026-06-24", "loft", "woolly", "note", "Quiet.\r\nAte well."), at)
	v = x.session(v.ID)
	if v.Minutes != 85 || v.Loft != timeline.LoftWoolly || v.Note != "Quiet.\nAte well." || len(v.Work) != 1 {
		t.Errorf("%+v", v)
	}
	if next := must(x.s.Dog(t.Context(), d.ID)).Cadence.Next; next != timeline.Date(2026, 6, 24) {
		t.Errorf("next is %s", next)
	}
	for _, c := range []struct{ name, field, value string }{
		{"a next visit before this one", "next", "2026-06-09"}, {"a next visit on a day that is none", "next", "soon"}, {"minutes in words", "minutes", "an hour"}, {"a visit of two days", "minutes", "2880"},
	} {
		fields := map[string]string{"rev": rev(v.Rev), "minutes": "90", "next": "2026-06-25", "loft": "none", "note": "Changed my mind."}
		fields[c.field] = c.value
		var list []string
		for k, val := range fields {
			list = append(list, k, val)
		}
		w := x.post(at+"/facts", list...)
		x.refuses(c.name, w, 422, "Changed my mind.")
		body := w.Body.String()
		if !wrong(body, c.field) || !holds(body, "minutes", fields["minutes"]) || !holds(body, "next", fields["next"]) || !checked(body, "loft", "none") {
			t.Errorf("%s: not beside its field, or something typed is lost", c.name)
		}
	}
	if now := x.session(v.ID); now.Minutes != 85 || now.Note != "Quiet.\nAte well." {
		t.Errorf("a refused form changed the visit: %+v", now)
	}
	if next := must(x.s.Dog(t.Context(), d.ID)).Cadence.Next; next != timeline.Date(2026, 6, 24) {
		t.Errorf("a refused form booked %s", next)
	}
}

func TestSoreSkinStopsTheZoneAndIsToldNextTime(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	old := x.opens(d, wednesday-14)
	x.goes(x.post("/sessions/"+string(old.ID)+"/log", "rev", rev(old.Rev), "zones", "throat", "do", "take", "share", "few", "skin", "broken", "remark", "Flinched"), "/sessions/")
	if body := x.get("/sessions/" + string(old.ID)).Body.String(); !strings.Contains(body, "session-stop") || !strings.Contains(strings.ToLower(body), "veterinarian") {
		t.Error("broken skin does not stop the zone and name the veterinarian")
	}
	must(x.s.AddShow(t.Context(), timeline.Show{Dog: d.ID, Name: "Hall Show", On: wednesday + 60}))
	v := x.opens(d, wednesday)
	if page := must(x.s.SessionPage(t.Context(), v.ID)); page.Sheet == nil {
		t.Fatal("there is no sheet")
	}
	if body := x.get("/sessions/" + string(v.ID)).Body.String(); !strings.Contains(body, "z-warn") {
		t.Error("two weeks later nothing warns of the throat")
	}
}

func TestAVisitPutAsideComesBackWithItsLinesAndPhotos(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	v := x.opens(d, wednesday)
	photo := x.snap(d.ID, 90, at(wednesday, 9, 0))
	x.goes(x.post("/sessions/"+string(v.ID)+"/log", "rev", rev(x.session(v.ID).Rev), "zones", "back", "do", "tidy"), "/sessions/")
	page := x.follows(x.post("/sessions/" + string(v.ID) + "/trash")).Body.String()
	if !strings.Contains(page, `action="/restore/session/`+string(v.ID)+`"`) {
		t.Error("the next page offers no way back")
	}
	if w := x.get("/sessions/" + string(v.ID)); w.Code != 404 {
		t.Errorf("put aside: %d", w.Code)
	}
	if p := must(x.s.Photo(t.Context(), photo.ID)); p.Session != "" {
		t.Error("the photo is still paired with it")
	}
	x.goes(x.post("/restore/session/"+string(v.ID), "back", "/dogs/"+string(d.ID)), "/dogs/"+string(d.ID))
	if p := must(x.s.Photo(t.Context(), photo.ID)); p.Session != v.ID || len(x.session(v.ID).Work) != 1 {
		t.Errorf("the photo is paired with %q, %d lines", p.Session, len(x.session(v.ID).Work))
	}
}
