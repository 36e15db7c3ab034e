package pages_test

import (
	"strings"
	"testing"
)

func TestHowToTakeAPhotoIsOnePageThatEveryPlaceOfPhotosLeadsTo(t *testing.T) {
	x, _ := dated(t)
	w := x.get("/protocol")
	body := w.Body.String()
	if w.Code != 200 || strings.Count(body, `role="img"`) != 6 {
		t.Fatalf("%d, %d drawings", w.Code, strings.Count(body, `role="img"`))
	}
	x.sound("/protocol", w)
	for _, says := range []string{"500\u00a0mm", "2000\u00a0mm", "by force", "alone on the table", "break", "veterinarian", "Dry, chalk out"} {
		if !strings.Contains(body, says) {
			t.Errorf("it does not say %q", says)
		}
	}
	d := x.rolled()
	p := x.snap(d.ID, 90, at(wednesday, 9, 0))
	for _, page := range []string{"/dogs/" + string(d.ID), "/dogs/" + string(d.ID) + "/photos/new", "/photos/" + string(p.ID) + "/points", "/photos/" + string(p.ID) + "/edge"} {
		if !strings.Contains(x.get(page).Body.String(), `href="/protocol"`) {
			t.Errorf("no way from %s", page)
		}
	}
	set := must(x.s.Settings(t.Context()))
	set.Units = "in"
	must(x.s.SaveSettings(t.Context(), set))
	if body := x.get("/protocol").Body.String(); strings.Contains(body, "500\u00a0mm") || strings.Contains(body, "2000\u00a0mm") {
		t.Error("a salon that measures in inches reads millimetres")
	}
}
