package pages_test

import (
	"regexp"
	"strings"
	"testing"

	"thatch/server/salon"
	"thatch/timeline"
	"thatch/timeline/outside"
)

func (x *house) newcomer(change func(*salon.NewDog)) timeline.Dog {
	n := salon.NewDog{Name: "Moss", Answers: timeline.Answers{On: wednesday, LastWorked: wednesday - 200, Undercoat: timeline.UndercoatSome, LongestWithersMM: 46}}
	if change != nil {
		change(&n)
	}
	return must(x.s.CreateDog(x.t.Context(), n))
}

func TestAFirstVisitIsToldRightAfterTheFourAnswers(t *testing.T) {
	outside.Alone(t)
	for _, units := range []string{"mm", "in"} {
		x, _ := dated(t)
		if units == "in" {
			x.inches()
		}
		page := x.follows(x.post("/dogs", "name", "Moss", "last_worked", "2025-11-20", "undercoat", "some"))
		id := regexp.MustCompile(`href="(/dogs/[^"/]+/first)"`).FindStringSubmatch(page.Body.String())
		if id == nil {
			t.Fatal("her page does not lead to the first visit")
		}
		w := x.get(id[1])
		x.sound("first visit", w)
		body := w.Body.String()
		for _, want := range []string{
			"By the answers she can be stripped", "4 visits, Wed 10 Jun 2026 to", "take half", "jacket", "Ready for a show at the earliest about",
			"the skin shows", "What cannot be promised", "a veterinarian", "As a message", `class="look look-bare"`, `class="look look-thinned"`,
		} {
			if !strings.Contains(body, want) {
				t.Errorf("%s: the page does not say %q", units, want)
			}
		}
		looks := strings.Join(regexp.MustCompile(`(?s)<dl class="first-looks">.*?</dl>`).FindAllString(body, -1), "")
		lengths := map[string]*regexp.Regexp{"mm": regexp.MustCompile(`\d[\x{a0}\x{202f} ]mm\b`), "in": regexp.MustCompile(`[\d¼½¾⅛⅜⅝⅞][\x{a0}\x{202f} ]in\b`)}
		if other := map[string]string{"mm": "in", "in": "mm"}[units]; lengths[other].MatchString(looks) || !lengths[units].MatchString(looks) {
			t.Errorf("%s: lengths in another unit: %.300s", units, looks)
		}
		if strings.Contains(body, "an hour.") {
			t.Errorf("%s: a price that nobody set", units)
		}
	}
}

func TestThePinchTestAndTheHistoryAreKeptAndHeard(t *testing.T) {
	x, _ := dated(t)
	d := x.newcomer(nil)
	at := "/dogs/" + string(d.ID) + "/first"
	page := x.follows(x.post(at, "rev", rev(d.Rev), "pinch_jacket", "not_ready", "pinch_neck", "blown", "ever_clipped", "yes"))
	x.sound("first visit", page)
	body := page.Body.String()
	for _, want := range []string{"not all of it at once", "jacket: not ready", "neck: the pinch test says ready", "She has been clipped before", "Tested on Wed 10 Jun 2026"} {
		if !strings.Contains(body, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if !checked(body, "pinch_jacket", "not_ready") || !checked(body, "ever_clipped", "yes") || checked(body, "neutered", "yes") {
		t.Error("the answers are not shown as they were given")
	}
	d = must(x.s.Dog(t.Context(), d.ID))
	if d.Pinched == nil || len(d.Pinched.Is) != 2 || !d.History.EverClipped {
		t.Errorf("%+v, %+v", d.Pinched, d.History)
	}
	x.refuses("a test that no hand makes", x.post(at, "rev", rev(d.Rev), "pinch_jacket", "nearly"), 422)
	x.refuses("a test of an older dog", x.post(at, "rev", "1", "pinch_jacket", "ready", "neutered", "yes"), 409, `name="neutered" value="yes" checked`)
}

func TestAnotherRhythmIsTriedAndBooked(t *testing.T) {
	outside.Alone(t)
	x, _ := dated(t)
	d := x.newcomer(nil)
	at := "/dogs/" + string(d.ID) + "/first"
	w := x.get(at + "?every=7&minutes=90&next=2026-06-15&how=at_once")
	x.sound("tried", w)
	body := w.Body.String()
	if !strings.Contains(body, "Mon 15 Jun 2026") || !strings.Contains(body, "Where the skin shows she needs shade") || !strings.Contains(body, `action="`+at+`/booking"`) {
		t.Errorf("the rhythm is not tried")
	}
	if c := must(x.s.Dog(t.Context(), d.ID)).Cadence; c.EveryDays != 14 || !c.Next.IsZero() {
		t.Errorf("looking booked her: %+v", c)
	}
	page := x.follows(x.post(at+"/booking", "rev", rev(d.Rev), "next", "2026-06-15", "every", "7", "minutes", "90"))
	if c := must(x.s.Dog(t.Context(), d.ID)).Cadence; c.EveryDays != 7 || c.Minutes != 90 || c.Next != timeline.Date(2026, 6, 15) {
		t.Errorf("%+v", c)
	}
	if strings.Contains(page.Body.String(), `action="`+at+`/booking"`) {
		t.Error("what is booked is offered again")
	}
	for query, field := range map[string]string{"every=0": "every", "minutes=3": "minutes", "next=soon": "next", "next=2026-06-01": "next", "every=two": "every"} {
		w := x.get(at + "?" + query)
		x.refuses(query, w, 422)
		if !wrong(w.Body.String(), field) {
			t.Errorf("%s: not said beside its field", query)
		}
	}
	x.refuses("booked from an older version", x.post(at+"/booking", "rev", rev(d.Rev), "next", "2026-06-15", "every", "7", "minutes", "90"), 409)
}

func TestTheFirstVisitTellsThePriceInTheSalonsOwnWords(t *testing.T) {
	outside.Alone(t)
	for _, c := range []struct{ price, currency, hour, text string }{
		{"45", "£", "£45", "£90"}, {"45,50", "kr", "45.50\u00a0kr", "91\u00a0kr"}, {"60", "", "60", "120"},
	} {
		x, _ := dated(t)
		set := must(x.s.Settings(t.Context()))
		x.goes(x.post("/settings", "rev", rev(set.Rev), "salon_name", "The Shed", "zone", "Europe/London", "units", "mm", "price_hour", c.price, "currency", c.currency), "/settings")
		body := x.get("/dogs/" + string(x.newcomer(nil).ID) + "/first").Body.String()
		if !strings.Contains(body, "at "+c.hour+" an hour.") || !strings.Contains(body, "about "+c.text) || !strings.Contains(body, "The Shed") {
			t.Errorf("%s %s: not told as %s and %s", c.price, c.currency, c.hour, c.text)
		}
		if settings := x.get("/settings").Body.String(); !holds(settings, "currency", c.currency) {
			t.Errorf("%s is not shown again", c.currency)
		}
	}
	x, _ := dated(t)
	for _, price := range []string{"-4", "a lot", "4.555", "1e9", "99999999999"} {
		w := x.post("/settings", "rev", "1", "salon_name", "", "zone", "UTC", "units", "mm", "price_hour", price)
		x.refuses("a price of "+price, w, 422)
		if !wrong(w.Body.String(), "price_hour") || !holds(w.Body.String(), "price_hour", price) {
			t.Errorf("%s: not beside its field, or lost", price)
		}
	}
}

func TestEveryFirstVisitReadsWithoutNonsense(t *testing.T) {
	outside.Alone(t)
	x, _ := dated(t)
	for i, change := range []func(*salon.NewDog){
		func(n *salon.NewDog) { n.Answers = timeline.Answers{On: wednesday} },
		func(n *salon.NewDog) {
			n.Answers.LastWorked, n.Answers.Rolled, n.Answers.LongestWithersMM = wednesday-14, true, 26
		},
		func(n *salon.NewDog) { n.Answers.LastWorked, n.Answers.LongestWithersMM = wednesday-10, 0 },
		func(n *salon.NewDog) { n.Answers.Undercoat, n.Texture = timeline.UndercoatNone, timeline.TextureSoft },
		func(n *salon.NewDog) { n.History.CoatChange = true },
		func(n *salon.NewDog) { n.Minutes = 20 },
		func(n *salon.NewDog) { n.EveryDays = 60 },
		func(n *salon.NewDog) { n.Answers.LongestWithersMM = 2 },
	} {
		d := x.newcomer(func(n *salon.NewDog) { n.Name = "Moss " + string(rune('a'+i)); change(n) })
		w := x.get("/dogs/" + string(d.ID) + "/first")
		if w.Code != 200 {
			t.Fatalf("%s: %d: %s", d.Name, w.Code, x.log)
		}
		x.sound(d.Name, w)
		for _, nonsense := range []string{"about 0 mm", "0 visits", "NaN", ": .", "about 0 min", " ,"} {
			if strings.Contains(w.Body.String(), nonsense) {
				t.Errorf("%s: the page says %q", d.Name, nonsense)
			}
		}
	}
}
