package pages_test

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"thatch/server/salon"
	"thatch/timeline"
	"thatch/timeline/plan"
)

var (
	oneTally = regexp.MustCompile(`<li><b>(\d+)</b> <span class="verdict verdict-(\w+)"`)
	oneZone  = regexp.MustCompile(`<li id="plan-(\w+)"><details><summary>.*?verdict verdict-(\w+)"`)
	oneRow   = regexp.MustCompile(`(?s)<tr[^>]*>.*?</tr>`)
	oneCell  = regexp.MustCompile(`(?s)<t[hd][^>]*>.*?</t[hd]>`)
)

// rowsOf are the cells of every row of a page's tables, without their tags.
func rowsOf(body string) [][]string {
	var out [][]string
	for _, r := range oneRow.FindAllString(body, -1) {
		var cells []string
		for _, c := range oneCell.FindAllString(r, -1) {
			cells = append(cells, strings.Join(strings.Fields(tag.ReplaceAllString(c, "")), " "))
		}
		out = append(out, cells)
	}
	return out
}

func rowOf(body, first string) []string {
	for _, r := range rowsOf(body) {
		if r[0] == first {
			return r
		}
	}
	return nil
}

func TestThePlanPageCountsWhatItShows(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	must(x.s.AddShow(t.Context(), timeline.Show{Dog: d.ID, Name: "Soon Show", On: wednesday + 12}))
	page := must(x.s.PlanPage(t.Context(), d.ID))
	if page.Plan == nil {
		t.Fatal(page.PlanFault)
	}
	w := x.get("/dogs/" + string(d.ID) + "/plan")
	x.sound("the plan", w)
	body := w.Body.String()
	if page.Late || strings.Contains(body, "Still being worked out") {
		t.Errorf("late %v; the page says that it is of before the newest change: %v", page.Late, strings.Contains(body, "Still being worked out"))
	}
	sign := map[plan.Verdict]string{plan.OnTrack: "on", plan.Tight: "tight", plan.TooLate: "late"}
	want, late := map[string]int{}, 0
	for z, o := range page.Plan.Zones {
		if o.Verdict == plan.NoBand {
			continue
		}
		want[sign[o.Verdict]]++
		if o.Verdict == plan.TooLate {
			late++
			if by := o.ReadyBy; !by.IsZero() && !regexp.MustCompile(`(?s)id="plan-`+string(z)+`"><details><summary>[^\n]*?could be ready by `).MatchString(body) {
				t.Errorf("%s is too late, and its line does not say when it would be", z)
			}
		}
	}
	if late == 0 {
		t.Fatal("a show in twelve days is no trouble: this test looks at nothing")
	}
	told, listed := map[string]int{}, map[string]int{}
	for _, m := range oneTally.FindAllStringSubmatch(body, -1) {
		told[m[2]], _ = strconv.Atoi(m[1])
	}
	for _, m := range oneZone.FindAllStringSubmatch(body, -1) {
		listed[m[2]]++
	}
	for _, v := range sign {
		if told[v] != want[v] || listed[v] != want[v] {
			t.Errorf("%s: %d told, %d listed, %d planned", v, told[v], listed[v], want[v])
		}
	}
	for _, say := range page.Plan.Warnings {
		if say.Key == "warn.plan.too_late" && !strings.Contains(body, "not possible for Soon Show. It could be ready by") {
			t.Error("what is not possible is not said with its day")
		}
	}
	do, leave := 0, 0
	for _, v := range page.Plan.Sessions {
		for _, l := range v.Zones {
			if l.Do == timeline.Leave {
				leave++
			} else {
				do++
			}
		}
	}
	if n := strings.Count(body, `class="sheet-why"`); n != do {
		t.Errorf("%d lines have their reason, %d are planned", n, do)
	}
	if n := len(regexp.MustCompile(`<li><b>[^<]+</b>: \S`).FindAllString(body, -1)); n != leave {
		t.Errorf("%d zones are left with their reason, %d are planned so", n, leave)
	}
}

func TestGrowthShowsTheNewestReadingTheTargetAndTheWorkOfItsZone(t *testing.T) {
	x, clock := dated(t)
	d := x.rolled()
	at := "/dogs/" + string(d.ID) + "/growth?zone="
	v := x.opens(d, wednesday)
	must(x.s.SaveSession(t.Context(), salon.SessionEdit{ID: v.ID, Rev: v.Rev, Minutes: 30, Work: []timeline.ZoneWork{{Zone: timeline.Back, Do: timeline.Take, Share: 0.3, TopLayer: true}}}))
	must(x.s.AddReadings(t.Context(), d.ID, "", wednesday-9, map[timeline.Zone]float64{timeline.Back: 21}, true))
	must(x.s.AddReadings(t.Context(), d.ID, v.ID, wednesday, map[timeline.Zone]float64{timeline.Back: 26}, true))
	must(x.s.AddShow(t.Context(), timeline.Show{Dog: d.ID, Name: "Hall Show", On: wednesday + 60, Targets: map[timeline.Zone]timeline.Range{timeline.Back: {MinMM: 13, MaxMM: 31}}}))
	clock.set(wednesday + 7)
	w := x.get(at + "back")
	x.sound("growth of the back", w)
	body := w.Body.String()
	if r := rowOf(body, "back"); len(r) != 6 || !strings.HasPrefix(r[2], "26 ") || r[3] != "13–31" {
		t.Errorf("today: %q; the newest reading is 26 mm, the target 13–31", r)
	}
	if n := strings.Count(body, `class="growth-reading"`); n != 4 {
		t.Errorf("%d readings are drawn, not two in each of two charts", n)
	}
	if n := strings.Count(body, `class="growth-session growth-pulled"`); n != 2 {
		t.Errorf("%d pulls are drawn, not one in each of two charts", n)
	}
	if !strings.Contains(body, ">Hall Show</text>") || !strings.Contains(body, `class="growth-planned"`) {
		t.Error("the show or the plan is not drawn")
	}
	rows := rowsOf(body)
	told := map[string]bool{}
	for _, r := range rows {
		if len(r) == 5 {
			told[r[1]] = true
		}
	}
	for _, what := range []string{"take the top layer", "measured", "Hall Show"} {
		if !told[what] {
			t.Errorf("the table does not tell %q: %v", what, told)
		}
	}
	page := must(x.s.PlanPage(t.Context(), d.ID))
	planned := 0
	for _, r := range rows {
		if len(r) == 5 && strings.HasPrefix(r[1], "planned: ") {
			planned++
			if r[2] != "–" || r[4] == "–" {
				t.Errorf("%q: an expectation without the plan's own work beside it", r)
			}
		}
	}
	if planned != len(page.Plan.Sessions) {
		t.Errorf("%d planned days are told, the plan has %d", planned, len(page.Plan.Sessions))
	}
	for _, z := range timeline.Zones() {
		if link := fmt.Sprintf(`href="/dogs/%s/growth?zone=%s"`, d.ID, z); strings.Count(body, link) < 2 {
			t.Errorf("%s is not a link on the drawn dog and in the table", z)
		}
	}
	if status := x.get(at + "wing").Code; status != 422 {
		t.Errorf("growth of a wing: %d", status)
	}
}

func TestAShowThatHasBeenIsListedApartAndCanBePutAside(t *testing.T) {
	x, clock := dated(t)
	d := x.rolled()
	show := must(x.s.AddShow(t.Context(), timeline.Show{Dog: d.ID, Name: "Hall Show", On: wednesday + 3}))
	clock.set(wednesday + 10)
	at := "/dogs/" + string(d.ID) + "/shows"
	w := x.get(at)
	x.sound("the shows", w)
	_, past, ok := strings.Cut(w.Body.String(), "Shows that have been")
	if !ok || !strings.Contains(past, `href="/shows/`+string(show.ID)+`"`) || !strings.Contains(w.Body.String(), "No show ahead") {
		t.Error("a show that has been is not listed apart")
	}
	x.sound("the show", x.get("/shows/"+string(show.ID)))
	page := x.follows(x.post("/shows/" + string(show.ID) + "/trash"))
	if strings.Contains(page.Body.String(), "Shows that have been") || !strings.Contains(page.Body.String(), "/restore/show/"+string(show.ID)) {
		t.Error("it is still there, or cannot be had back")
	}
	x.goes(x.post("/restore/show/"+string(show.ID)), "/")
	if !strings.Contains(x.get(at).Body.String(), "Shows that have been") {
		t.Error("it is not back")
	}
}
