package pages_test

import (
	"fmt"
	"html"
	"net/http/httptest"
	"regexp"
	"slices"
	"strings"
	"testing"

	"thatch/server/salon"
	"thatch/timeline"
)

// onTheTable is a rolled dog with a show in sixty days and today's session open.
func (x *house) onTheTable() (timeline.Dog, timeline.Session) {
	x.t.Helper()
	d := x.rolled()
	must(x.s.AddShow(x.t.Context(), timeline.Show{Dog: d.ID, Name: "Hall Show", On: wednesday + 60}))
	return d, x.opens(d, wednesday)
}

func (x *house) lines(id timeline.ID) []salon.SheetLine {
	return must(x.s.Sheet(x.t.Context(), id)).Lines()
}

func TestTheSheetIsWorkedByFormsAlone(t *testing.T) {
	x, _ := dated(t)
	_, v := x.onTheTable()
	at := "/sessions/" + string(v.ID) + "/work"
	taps := 0
	for {
		sheet := must(x.s.Sheet(t.Context(), v.ID))
		st := sheet.NextOpen("")
		if st.Kind == salon.StepEnd {
			break
		}
		w := x.get(at)
		x.sound("the work view at "+st.Code, w)
		if !holds(w.Body.String(), "at", st.Code) {
			t.Fatalf("the card is not %s", st.Code)
		}
		x.goes(x.post(at, "rev", rev(x.session(v.ID).Rev), "at", st.Code, "action", "done"), at+"?at=")
		if taps++; taps > 60 {
			t.Fatal("it never ends")
		}
	}
	for _, l := range x.lines(v.ID) {
		want := timeline.ZoneWork{Zone: l.Zone, Do: l.Plan.Do, Share: l.Plan.Share, TopLayer: l.Plan.Top, Tool: l.Tool}
		if l.Logged == nil || *l.Logged != want {
			t.Errorf("%s: logged %+v, the line is %+v", l.Zone, l.Logged, want)
		}
	}
	x.sound("the end", x.get(at+"?at=end"))
	w := x.post("/sessions/"+string(v.ID)+"/finish", "rev", rev(x.session(v.ID).Rev), "minutes", "50", "next", (wednesday + 14).String())
	page := x.follows(w)
	x.sound("the session when all is done", page)
	if now := x.session(v.ID); now.Sheet.Done.IsZero() || now.Minutes != 50 || !strings.Contains(page.Body.String(), "All done") {
		t.Errorf("not ended: %+v", now.Sheet)
	}
	t.Logf("%d taps on Done for %d lines, and one to end", taps, len(x.lines(v.ID)))
}

func TestTheEndAsksWhere(t *testing.T) {
	x, _ := dated(t)
	_, v := x.onTheTable()
	at := "/sessions/" + string(v.ID)
	v = must(x.s.SaveSession(t.Context(), salon.SessionEdit{ID: v.ID, Rev: v.Rev, Work: []timeline.ZoneWork{
		{Zone: timeline.Back, Do: timeline.Strip}, {Zone: timeline.Loin, Do: timeline.Strip}, {Zone: timeline.Belly, Do: timeline.Scissor}, {Zone: timeline.Throat, Do: timeline.Leave}}}))
	end := x.get(at + "/work?at=end").Body.String()
	var got []string
	for _, m := range regexp.MustCompile(`name="(skin_at|hair_at)" value="(\w+)"`).FindAllStringSubmatch(end, -1) {
		got = append(got, m[1]+" "+m[2])
	}
	slices.Sort(got)
	if want := []string{"hair_at back", "hair_at loin", "skin_at back", "skin_at belly", "skin_at loin"}; !slices.Equal(got, want) {
		t.Errorf("it asks for %v, want %v", got, want)
	}
	finish := func(more ...string) *httptest.ResponseRecorder {
		return x.post(at+"/finish", append([]string{"rev", rev(v.Rev), "minutes", "40", "add", "Kept <text>"}, more...)...)
	}
	x.refuses("sore somewhere", finish("skin", "broken"), 422, "say where", html.EscapeString("Kept <text>"))
	x.goes(finish("skin", "broken", "skin_at", "loin", "hair_check", "whole"), at)
	page := x.get(at).Body.String()
	if stop := regexp.MustCompile(`Leave alone: ([^<]*)<`).FindStringSubmatch(page); stop == nil || strings.ToLower(stop[1]) != "loin" {
		t.Errorf("left alone: %q", stop)
	}
}

func TestTheStepOfCareGoesOnAndClaimsNothing(t *testing.T) {
	x, _ := dated(t)
	_, v := x.onTheTable()
	at := "/sessions/" + string(v.ID) + "/work"
	button := func(code string) string {
		m := regexp.MustCompile(`(?s)<button[^>]*data-work-done[^>]*>(.*?)</button>`).FindStringSubmatch(x.get(at + "?at=" + code).Body.String())
		if m == nil {
			t.Fatalf("%s has no button to go on", code)
		}
		return m[1]
	}
	if b := button("care"); !strings.Contains(b, "On to brushing") || strings.Contains(b, "Done") {
		t.Errorf("the button of care says %q", b)
	}
	if b := button("brush"); !strings.Contains(b, "Done") {
		t.Errorf("the button of brushing says %q", b)
	}
	x.goes(x.post(at, "rev", rev(v.Rev), "at", "care", "action", "done"), at+"?at=brush")
	for _, c := range must(x.s.Care(t.Context(), v.Dog)).Lines {
		if c.State == salon.CareDone {
			t.Errorf("%s counts as done", c.What)
		}
	}
	if back := x.get(at + "?at=care").Body.String(); strings.Contains(back, "sheet-tick") {
		t.Error("the step that was passed says that it was done")
	}
}

func TestTheRestIsOfferedAfterThePinchTestAndSaysHowMany(t *testing.T) {
	x, _ := dated(t)
	d, v := x.onTheTable()
	at := "/sessions/" + string(v.ID)
	last := x.opens(d, wednesday-14)
	must(x.s.SaveSession(t.Context(), salon.SessionEdit{ID: last.ID, Rev: last.Rev, Work: []timeline.ZoneWork{{Zone: timeline.Feet, Do: timeline.Scissor}, {Zone: timeline.Back, Do: timeline.Tidy}}}))
	if !strings.Contains(x.get(at).Body.String(), "data-repeat") {
		t.Error("last time's work is not offered")
	}
	n := len(x.lines(v.ID))
	zone := string(x.lines(v.ID)[0].Zone)
	offer := fmt.Sprintf("The other %d zones done as planned", n)
	offered := func() int {
		return strings.Count(x.get(at).Body.String(), offer) + strings.Count(x.get(at+"/work?at="+zone).Body.String(), offer) + strings.Count(x.get(at+"/work?at=end").Body.String(), offer)
	}
	for _, step := range []string{"care", "brush", "card", "pinch"} {
		if is := offered(); is != 0 {
			t.Errorf("before %s it is offered %d times", step, is)
		}
		if sheet := must(x.s.Sheet(t.Context(), v.ID)); sheet.Step(step).Code == step {
			x.goes(x.post(at+"/work", "rev", rev(x.session(v.ID).Rev), "at", step, "action", "done"), at+"/work")
		}
	}
	if is := offered(); is < 3 {
		t.Errorf("after the pinch test it is offered on %d of the three pages", is)
	}
	x.goes(x.post(at+"/work", "rev", rev(x.session(v.ID).Rev), "at", zone, "action", "rest"), at+"/work")
	if r := must(x.s.Repeat(t.Context(), v.ID)); r == nil || len(r.Zones()) == 0 {
		t.Error("all of last time's work is on the sheet: the next line says nothing")
	}
	if got := len(x.session(v.ID).Work); got < n || strings.Contains(x.get(at).Body.String(), "data-repeat") {
		t.Errorf("%d of %d zones are logged, or last time's work is offered on top", got, n)
	}
}

func TestNothingIsCalledChangedOrGoneOnWithBeforeSomethingIsLogged(t *testing.T) {
	x, _ := dated(t)
	d, v := x.onTheTable()
	at := "/sessions/" + string(v.ID)
	says := func(path, text string) bool { return strings.Contains(x.get(path).Body.String(), text) }
	const changed, begin, goOn = "What this visit changed in the plan", "Start today’s session", "Go on with today’s session"
	must(x.s.AddReadings(t.Context(), d.ID, "", wednesday, map[timeline.Zone]float64{timeline.Back: 24.5}, true)) // measured, but not worked
	if says(at, changed) {
		t.Error("a visit of which nothing is logged has changed the plan")
	}
	if dog := "/dogs/" + string(d.ID); !says(dog, begin) || says(dog, goOn) {
		t.Error("the dog's page goes on with what was not begun")
	}
	l := x.lines(v.ID)[0]
	x.goes(x.post(at+"/work", "rev", rev(v.Rev), "at", string(l.Zone), "zone", string(l.Zone), "action", "notready"), at+"/work")
	if !says(at, changed) {
		t.Error("what the visit changed is not told")
	}
	if dog := "/dogs/" + string(d.ID); says(dog, begin) || !says(dog, goOn) {
		t.Error("the dog's page starts what was begun")
	}
}

func TestEachTapOffersItsUndo(t *testing.T) {
	x, _ := dated(t)
	_, v := x.onTheTable()
	at := "/sessions/" + string(v.ID) + "/work"
	l := x.lines(v.ID)[0]
	w := x.post(at, "rev", rev(v.Rev), "at", string(l.Zone), "action", "done", "ripeness", "ready", "hair_check", "whole", "skin", "fine")
	if got := x.session(v.ID).Work[0]; got.Ripeness != timeline.Ready || got.HairCheck != timeline.HairWhole || got.Skin != timeline.SkinFine {
		t.Errorf("what was tapped on the line is not logged: %+v", got)
	}
	body := x.follows(w).Body.String()
	if !strings.Contains(body, "work-undo") || !holds(body, "action", "undo") {
		t.Fatal("no undo is offered")
	}
	x.goes(x.post(at, "rev", rev(x.session(v.ID).Rev), "action", "undo"), at+"?at="+string(l.Zone))
	if n := len(x.session(v.ID).Work); n != 0 {
		t.Errorf("%d lines after the undo", n)
	}
	x.refuses("an undo of an undo", x.post(at, "rev", rev(x.session(v.ID).Rev), "action", "undo"), 409)
	// A line that was there before comes back as it was.
	was := timeline.ZoneWork{Zone: l.Zone, Do: timeline.Leave, Ripeness: timeline.Coming, Remark: "later & <b>"}
	v = must(x.s.SaveSession(t.Context(), salon.SessionEdit{ID: v.ID, Rev: x.session(v.ID).Rev, Work: []timeline.ZoneWork{was}}))
	x.goes(x.post(at, "rev", rev(v.Rev), "at", string(l.Zone), "action", "done"), at)
	x.goes(x.post(at, "rev", rev(x.session(v.ID).Rev), "action", "undo"), at)
	if got := x.session(v.ID).Work; len(got) != 1 || got[0] != was {
		t.Errorf("it came back as %+v", got)
	}
	// Next alone logs nothing.
	x.get(at + "?at=" + string(x.lines(v.ID)[2].Zone))
	if n := len(x.session(v.ID).Work); n != 1 {
		t.Errorf("looking at a card logged something: %d lines", n)
	}
}

func TestASecondTapOfTheSameCardIsRefusedAndLogsOnce(t *testing.T) {
	x, _ := dated(t)
	_, v := x.onTheTable()
	at := "/sessions/" + string(v.ID) + "/work"
	l := x.lines(v.ID)[0]
	x.goes(x.post(at, "rev", rev(v.Rev), "at", string(l.Zone), "action", "done"), at)
	x.refuses("the same tap again", x.post(at, "rev", rev(v.Rev), "at", string(l.Zone), "action", "done"), 409)
	if n := len(x.session(v.ID).Work); n != 1 {
		t.Errorf("%d lines", n)
	}
	x.refuses("a share that is none", x.post(at, "rev", rev(x.session(v.ID).Rev), "at", string(l.Zone), "action", "done", "how", "most"), 422)
}

func TestAnAssistantsSheetOnScreen(t *testing.T) {
	x, _ := dated(t)
	_, v := x.onTheTable()
	lines := x.lines(v.ID)
	at := "/sessions/" + string(v.ID)
	x.goes(x.post(at+"/assist", "rev", rev(v.Rev), "mode", "on", "zones", string(lines[0].Zone)), at)
	page := x.get(at).Body.String()
	if strings.Contains(page, `id="log"`) || strings.Contains(page, `aria-label="Done: `+string(lines[1].Zone)) || !strings.Contains(page, "For the teacher") {
		t.Error("the assistant sees more than her zones")
	}
	end := x.get(at + "/work?at=end")
	x.sound("an assistant's end", end)
	if !regexp.MustCompile(`work-go" disabled`).MatchString(end.Body.String()) {
		t.Error("all done is not held back")
	}
	x.refuses("an end without a look", x.post(at+"/finish", "rev", rev(x.session(v.ID).Rev)), 422)
	x.goes(x.post(at+"/looked", "rev", rev(x.session(v.ID).Rev)), at+"/work?at=end")
	x.goes(x.post(at+"/finish", "rev", rev(x.session(v.ID).Rev)), at)
}

func TestTheSheetsOrderAndItsPrint(t *testing.T) {
	x, _ := dated(t)
	d, v := x.onTheTable()
	at := "/sessions/" + string(v.ID)
	x.sound("her own order", x.get(at+"/arrange"))
	lines := x.lines(v.ID)
	x.goes(x.post(at+"/order", "rev", rev(v.Rev), "zone", string(lines[1].Zone), "by", "-1"), at+"/arrange")
	if now := x.lines(v.ID); now[0].Zone != lines[1].Zone || now[1].Zone != lines[0].Zone {
		t.Errorf("after one step up: %s, %s", now[0].Zone, now[1].Zone)
	}
	var fields []string
	for i := len(lines) - 1; i >= 0; i-- {
		fields = append(fields, "order", string(lines[i].Zone))
	}
	x.goes(x.post(at+"/order", append(fields, "rev", rev(x.session(v.ID).Rev))...), at+"/arrange")
	if now := x.lines(v.ID); now[0].Zone != lines[len(lines)-1].Zone {
		t.Error("the dragged order is not kept")
	}
	w := x.get("/dogs/" + string(d.ID) + "/sheet")
	x.sound("the sheet to print", w)
	if n := strings.Count(w.Body.String(), "sheetpage-box"); n != len(must(x.s.Sheet(t.Context(), v.ID)).Steps)-1 {
		t.Errorf("%d boxes to tick", n)
	}
	x.sound("a day without a visit", x.get("/dogs/"+string(d.ID)+"/sheet?on="+(wednesday+1).String()))
	if w := x.get("/dogs/" + string(d.ID) + "/sheet?on=soon"); w.Code != 422 {
		t.Errorf("a sheet of soon: %d", w.Code)
	}
}

func TestWhatIfIsReadKeptAndUndoneOnThePlan(t *testing.T) {
	x, _ := dated(t)
	d, _ := x.onTheTable()
	at := "/dogs/" + string(d.ID) + "/plan"
	plain := x.get(at)
	x.sound("the plan", plain)
	for _, q := range regexp.MustCompile(`plan\?(if=[^"]+)"`).FindAllStringSubmatch(plain.Body.String(), -1) {
		w := x.get(at + "?" + strings.ReplaceAll(q[1], "&amp;", "&"))
		if w.Code != 200 && w.Code != 422 {
			t.Errorf("%s: %d", q[1], w.Code)
		}
	}
	w := x.get(at + "?if=every_days&every=7")
	x.sound("weekly", w)
	if b := w.Body.String(); !strings.Contains(b, "Not saved") || !strings.Contains(b, "cell-changed") || strings.Contains(b, "data-strip") {
		t.Error("the plan under a change does not say so")
	}
	x.refuses("a change that cannot be", x.get(at+"?if=session_skipped&on="+(wednesday+1).String()), 422)
	if d := must(x.s.Dog(t.Context(), d.ID)); d.Cadence.EveryDays != 14 {
		t.Error("looking saved it")
	}
	kept := x.follows(x.post("/dogs/"+string(d.ID)+"/whatif", "rev", rev(d.Rev), "if", "every_days", "every", "7"))
	x.sound("weekly, kept", kept)
	now := must(x.s.Dog(t.Context(), d.ID))
	if now.Cadence.EveryDays != 7 || !strings.Contains(kept.Body.String(), "/whatif/undo") {
		t.Fatal("not kept, or no undo")
	}
	back := x.follows(x.post("/dogs/"+string(d.ID)+"/whatif/undo", "rev", rev(now.Rev)))
	if strings.Contains(back.Body.String(), "/whatif/undo") || must(x.s.Dog(t.Context(), d.ID)).Cadence.EveryDays != 14 {
		t.Error("not undone")
	}
}

func TestTheGridGoesByWeeks(t *testing.T) {
	x, _ := dated(t)
	d, _ := x.onTheTable()
	body := x.get("/dogs/" + string(d.ID) + "/plan").Body.String()
	weeks := regexp.MustCompile(`colspan="(\d+)" class="grid-week`).FindAllString(body, -1)
	if len(weeks) != 9 { // from the Monday before wednesday to that before the show, sixty days on
		t.Errorf("%d weeks", len(weeks))
	}
	if !strings.Contains(body, "week of 8 Jun") {
		t.Error("the first week is not that of Monday 8 June")
	}
}
