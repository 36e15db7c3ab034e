package pages_test

import (
	"strings"
	"testing"

	"thatch/server/salon"
	"thatch/timeline"
)

func TestWhiteBalanceIsASwitchOfTheComparisonAndSaysWhenItIsOn(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	for i, on := range []timeline.Day{wednesday - 14, wednesday} {
		x.snap(d.ID, uint8(60+40*i), at(on, 9, i))
	}
	photos := must(x.s.Photos(t.Context(), d.ID))
	for i := range photos {
		photos[i] = must(x.s.SetPhotoFacts(t.Context(), photos[i].ID, photos[i].Rev, salon.PhotoEdit{CoatState: timeline.CoatBrushedDown}))
		photos[i] = must(x.s.SavePoints(t.Context(), photos[i].ID, photos[i].Rev, standing))
	}
	a, b := string(photos[0].ID), string(photos[1].ID)
	page := "/compare?a=" + a + "&b=" + b
	shown := func(path string) string {
		t.Helper()
		w := x.get(path)
		if w.Code != 200 {
			t.Fatalf("%s: %d", path, w.Code)
		}
		x.sound(path, w)
		return w.Body.String()
	}
	for _, path := range []string{page, page + "&balance=on"} {
		if body := shown(path); !strings.Contains(body, "No white balance: the table marker was not seen") || strings.Contains(body, "White balance is on") || strings.Contains(body, "/balanced/") || strings.Contains(body, "cmp-light") {
			t.Errorf("%s: balanced without a marker", path)
		}
	}
	if w := x.get("/photos/" + a + "/balanced/" + b); w.Code != 422 {
		t.Errorf("a balanced picture without a marker: %d", w.Code)
	}
	for _, p := range photos {
		look := timeline.MarkerLook{Seen: &timeline.MarkerSeen{SizeMM: 60, MMPerPX: 0.5, WhiteRGB: &[3]float64{210, 190, 160}}, Maker: 1}
		if err := x.st.SetMarkerLook(t.Context(), p.SHA256, look); err != nil {
			t.Fatal(err)
		}
	}
	off := shown(page)
	if strings.Contains(off, "White balance is on") || strings.Contains(off, "/balanced/") || !strings.Contains(off, "&amp;balance=on") {
		t.Error("off by default, with a switch: not so")
	}
	on := shown(page + "&balance=on")
	left, right := "/photos/"+a+"/balanced/"+b, "/photos/"+b+"/over/"+a+"?balance=on"
	if !strings.Contains(on, "White balance is on") || !strings.Contains(on, `src="`+left+`"`) || !strings.Contains(on, `src="`+right+`"`) {
		t.Error("on: not said, or not shown")
	}
	for _, path := range []string{left, right} {
		if w := x.get(path); w.Code != 200 || w.Header().Get("Content-Type") != "image/jpeg" || w.Header().Get("Cache-Control") != "private, no-cache" {
			t.Errorf("%s: %d %v", path, w.Code, w.Header())
		}
	}
	if body := shown("/photos/" + a); strings.Contains(body, "/balanced/") {
		t.Error("the photo's own page is balanced")
	}
}
