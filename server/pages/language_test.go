package pages_test

import (
	"strings"
	"testing"
)

func TestAKeptPageIsInTheLanguageOfTheBrowserThatAsks(t *testing.T) {
	x := openedToPeople(t)
	d := x.dog()
	page := "/dogs/" + string(d.ID)
	x.in("Ada", adas)
	x.call(page)
	for _, c := range [][2]string{{"de", "Verlauf"}, {"en", "Timeline"}, {"de", "Verlauf"}} {
		if w := x.call("/lang", "lang", c[0], "back", page); w.Code != 303 || w.Header().Get("Location") != page {
			t.Fatal(w.Code, w.Header().Get("Location"))
		}
		for range 2 {
			if body := x.call(page).Body.String(); !strings.Contains(body, `<html lang="`+c[0]+`"`) || !strings.Contains(body, c[1]) {
				t.Errorf("the page is not in %s", c[0])
			}
		}
	}
}

func TestTheSalonsLanguageIsChosenInItsSettings(t *testing.T) {
	x := opened(t)
	set := must(x.s.Settings(t.Context()))
	fields := func(lang string) []string {
		return []string{"rev", rev(must(x.s.Settings(t.Context())).Rev), "salon_name", set.SalonName, "zone", set.Zone, "units", set.Units, "lang", lang}
	}
	x.goes(x.post("/settings", fields("de")...), "/settings")
	if body := x.get("/settings").Body.String(); !strings.Contains(body, `<html lang="de"`) || !strings.Contains(body, `value="de" checked`) || !strings.Contains(body, "Einstellungen") {
		t.Error("the salon does not speak German after it was told to")
	}
	if w := x.post("/settings", fields("xx")...); w.Code != 422 {
		t.Errorf("a language that is none is answered %d", w.Code)
	}
	x.goes(x.post("/settings", fields("")...), "/settings")
	if got := must(x.s.Settings(t.Context())).Lang; got != "" {
		t.Errorf("as each browser asks: %q", got)
	}
}

// A browser's own choice is not saved with the settings that it shows.
func TestABrowsersLanguageDoesNotBecomeTheSalons(t *testing.T) {
	x := openedToPeople(t)
	x.in("Ada", adas)
	x.call("/lang", "lang", "de", "back", "/settings")
	x.call("/theme", "theme", "dark", "back", "/settings")
	if body := x.call("/settings").Body.String(); strings.Contains(body, `value="de" checked`) {
		t.Error("the settings show the browser's language as the salon's")
	}
	if got := must(x.s.Settings(t.Context())).Lang; got != "" {
		t.Errorf("the salon speaks %q now", got)
	}
}
