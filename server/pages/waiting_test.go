package pages

import (
	"fmt"
	"net/http/httptest"
	"testing"

	"thatch/timeline"
)

func TestAWholeGalleryThatWaitsIsShownSomeAtATime(t *testing.T) {
	var all []*timeline.Photo
	for i := range 2*waitingShown + 1 {
		all = append(all, &timeline.Photo{File: fmt.Sprint(i)})
	}
	seen := map[string]bool{}
	at := 0
	for page := range 4 {
		w := waitingOf(httptest.NewRequest("GET", fmt.Sprint("/dogs/x?waiting=", at), nil), all)
		for _, p := range w.Shown {
			if seen[p.File] {
				t.Errorf("photo %s stands on two pages", p.File)
			}
			seen[p.File] = true
		}
		if page == 0 && w.Shown[0].File != fmt.Sprint(len(all)-1) {
			t.Errorf("the first is photo %s, not the newest", w.Shown[0].File)
		}
		if at = w.Next; at == 0 {
			break
		}
	}
	if len(seen) != len(all) {
		t.Errorf("%d of %d photos are found by going on", len(seen), len(all))
	}
	for _, text := range []string{"", "-3", "x", "99999999999999999999", "25"} {
		if w := waitingOf(httptest.NewRequest("GET", "/dogs/x?waiting="+text, nil), all); w.From != 0 || len(w.Shown) != waitingShown {
			t.Errorf("waiting=%q begins at %d with %d photos", text, w.From, len(w.Shown))
		}
	}
	if w := waitingOf(httptest.NewRequest("GET", "/dogs/x", nil), nil); len(w.Shown) != 0 || w.More != 0 {
		t.Errorf("none wait: %v", w)
	}
}
