package pages_test

import (
	"strings"
	"testing"

	"thatch/server/salon"
)

func TestCombReadingsAreTypedSeveralToAZone(t *testing.T) {
	x := opened(t)
	d := must(x.s.CreateDog(t.Context(), salon.NewDog{Name: "Bracken"}))
	path := "/dogs/" + string(d.ID) + "/combs"
	w := x.post(path, "on", must(x.s.Today(t.Context())).String(), "mm_back", "9 10,5; 11", "mm_loin", "8", "phase", "end")
	if w.Code != 303 {
		t.Fatalf("%d: %s", w.Code, w.Body)
	}
	all := must(x.s.Combs(t.Context(), d.ID))
	if len(all.Readings) != 4 || all.Readings[1].LengthMM != 10.5 || all.Readings[0].Phase != "end" {
		t.Errorf("kept %+v", all.Readings)
	}
	x.sound(path, x.get(path))
	w = x.post(path, "on", must(x.s.Today(t.Context())).String(), "mm_back", "9 much")
	if w.Code != 422 && w.Code != 400 || !strings.Contains(w.Body.String(), `value="9 much"`) {
		t.Errorf("words for a number: %d, and what was typed is lost: %t", w.Code, !strings.Contains(w.Body.String(), "9 much"))
	}
	if n := len(must(x.s.Combs(t.Context(), d.ID)).Readings); n != 4 {
		t.Errorf("%d readings after a refused form", n)
	}
}

func TestACheckWithoutPhotosIsRefusedInWords(t *testing.T) {
	x := opened(t)
	w := x.post("/check")
	if w.Code != 422 && w.Code != 400 || !strings.Contains(w.Body.String(), "5 to 12 photos") {
		t.Errorf("%d: %.300s", w.Code, w.Body)
	}
	x.sound("/check", w)
	if w = x.post("/check/nothing/trash"); w.Code != 404 {
		t.Errorf("a check that is not there: %d", w.Code)
	}
}
