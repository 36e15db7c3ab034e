package pages_test

import (
	"strings"
	"testing"

	"thatch/timeline"
)

func TestTheOneDepthWorthACombIsProposedOnTheDay(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	today, old := x.snap(d.ID, 90, at(wednesday, 9, 0)), x.snap(d.ID, 150, at(wednesday-14, 9, 0))
	dog := "/dogs/" + string(d.ID)
	says := func(path string) bool {
		t.Helper()
		w := x.get(path)
		x.sound(path, w)
		return strings.Contains(w.Body.String(), "Measure the loin with a comb today")
	}
	for _, path := range []string{dog + "/readings", dog + "/combs", "/photos/" + string(today.ID)} {
		if !says(path) {
			t.Errorf("%s does not propose it", path)
		}
	}
	if says("/photos/" + string(old.ID)) {
		t.Error("a coat of a fortnight ago is to be combed")
	}
	for _, path := range []string{dog + "/readings", dog + "/combs"} {
		if body := x.get(path).Body.String(); !strings.Contains(body, "Length: the longest hair") || !strings.Contains(body, "Depth: how far") {
			t.Errorf("%s does not say which is which", path)
		}
	}
	x.goes(x.post(dog+"/combs", "on", wednesday.String(), "mm_"+string(timeline.Loin), "9", "confirmed", "yes"), dog)
	for _, path := range []string{dog + "/readings", dog + "/combs", "/photos/" + string(today.ID)} {
		if says(path) {
			t.Errorf("%s proposes it again", path)
		}
	}
}
