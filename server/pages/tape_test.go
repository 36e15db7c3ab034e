package pages_test

import (
	"math"
	"net/url"
	"strings"
	"testing"

	"thatch/timeline"
)

func TestMarksOnTheTapeArePutInWithoutAScriptAndTakenAwayWithAWayBack(t *testing.T) {
	x, _ := dated(t)
	d := x.rolled()
	p, _ := x.posed(d.ID, timeline.SideLeft)
	photo := "/photos/" + string(p.ID)
	page := photo + "/tape"
	now := func() timeline.Photo { return must(x.s.Photo(t.Context(), p.ID)) }
	shown := func(path string) string {
		t.Helper()
		w := x.get(path)
		if w.Code != 200 {
			t.Fatalf("%s: %d: %s", path, w.Code, x.log)
		}
		x.sound(path, w)
		return w.Body.String()
	}
	if body := shown(photo); !strings.Contains(body, `href="`+page+`"`) {
		t.Error("no way from the photo")
	}
	body := shown(page)
	if !holds(body, "mm", "500") || !holds(body, "ax", "") || !holds(body, "by", "") || strings.Contains(body, "/tape/remove") {
		t.Error("a mark that nobody has pointed at has a place")
	}
	marks := []string{"ax", "100.5", "ay", "500", "bx", "600,5", "by", "500", "mm", "50 cm"}
	x.goes(x.post(page, append(marks, "rev", rev(now().Rev))...), page)
	if got := now().Tape; got == nil || got.A != (timeline.XY{X: 100.5, Y: 500}) || got.B != (timeline.XY{X: 600.5, Y: 500}) || math.Abs(got.MM-500) > 1e-9 {
		t.Fatalf("kept: %+v", got)
	}
	if body = shown(page); !holds(body, "bx", "600.5") || !strings.Contains(body, "one pixel is 1.00 mm") || !strings.Contains(body, page+"/remove") {
		t.Error("what is kept is not shown")
	}
	for name, c := range map[string]struct{ field, value string }{
		"a mark left out": {"by", ""}, "a place in words": {"ax", "left"}, "no length": {"mm", "far"}, "nothing between them": {"mm", "0"}, "no number": {"bx", "NaN"},
	} {
		fields := append([]string{}, marks...)
		for i := 0; i < len(fields); i += 2 {
			if fields[i] == c.field {
				fields[i+1] = c.value
			}
		}
		w := x.post(page, append(fields, "rev", rev(now().Rev))...)
		x.refuses(name, w, 422)
		if !wrong(w.Body.String(), c.field) || !holds(w.Body.String(), "ay", "500") {
			t.Errorf("%s: not beside its field, or what was typed is lost: %s", name, faultText(w))
		}
	}
	x.refuses("an older page", x.post(page, append(marks, "rev", "0")...), 409)

	to := x.goes(x.post(page+"/remove", "rev", rev(now().Rev)), page+"?")
	if now().Tape != nil {
		t.Fatal("the marks are still there")
	}
	back := must(url.Parse(to)).Query()
	if body = shown(to); !strings.Contains(body, "The marks are taken away.") || !strings.Contains(body, `name="ax" value="100.5"`) {
		t.Error("no way back")
	}
	fields := []string{"rev", rev(now().Rev)}
	for k := range back {
		fields = append(fields, k, back.Get(k))
	}
	x.goes(x.post(page, fields...), page)
	if got := now().Tape; got == nil || got.B.X != 600.5 || math.Abs(got.MM-500) > 1e-9 {
		t.Errorf("put back: %+v", got)
	}
	if body = shown(to); strings.Contains(body, `type="hidden" name="ax"`) {
		t.Error("what is there is offered back")
	}
	// In inches the 500 mm of the protocol stay 500 mm, though their sixteenths are not exact.
	x.inches()
	if body = shown(page); !strings.Contains(body, "19 11⁄16") {
		t.Error("an inch salon is not shown 500 mm in inches")
	}
	x.goes(x.post(page, append(append([]string{}, marks[:8]...), "mm", "19 11⁄16", "rev", rev(now().Rev))...), page)
	if got := now().Tape.MM; got != 500 {
		t.Errorf("%.3f mm", got)
	}
	x.goes(x.post(page, append(append([]string{}, marks[:8]...), "mm", "20", "rev", rev(now().Rev))...), page)
	if got := now().Tape.MM; math.Abs(got-508) > 1e-9 { // E: one inch is 25.4 mm, ISO 31-1
		t.Errorf("twenty inches: %.3f mm", got)
	}
	now2 := now()
	x.goes(x.post(photo+"/facts", "rev", rev(now2.Rev), "side", "rear"), photo)
	if body = shown(page); strings.Contains(body, "data-tape") || !strings.Contains(body, "marks are not needed here") {
		t.Error("a photo from behind asks for marks")
	}
}
