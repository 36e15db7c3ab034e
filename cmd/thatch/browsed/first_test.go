package browsed

import (
	"strings"
	"testing"

	"thatch/cmd/thatch/tested"
)

// A groomer meets a dog, pinches, tells the owner what to expect, books; and makes a kind of coat of her own for her.
func TestAGroomerAnswersAtAFirstVisit(t *testing.T) {
	t.Parallel()
	base, stop := tested.Start(t, "serve", "--data", t.TempDir())
	b := newBrowser(t, base, 390, "light")
	open := func() { js[bool](b, `document.querySelectorAll("details").forEach(d => d.open = true), true`) }

	b.open("/dogs/new")
	b.fill(`[name="name"]`, "Wisp")
	b.fill(`[name="longest_withers_mm"]`, "46")
	b.follow(`form[action="/dogs"] button`)
	b.follow(`.first-card a`)
	if got := b.text(".first-verdict"); !strings.Contains(got, "Pinch before you promise it") || !strings.Contains(got, "visits,") {
		t.Errorf("the first visit says:\n%s", got)
	}
	b.click(`label:has([name="pinch_jacket"][value="ready"])`)
	b.click(`label:has([name="pinch_legs"][value="not_ready"])`)
	b.click(`label:has([name="neutered"])`)
	b.follow(`.first-asks form button`)
	if got := b.text(".first-verdict"); !strings.Contains(got, "egs: not ready") || !strings.Contains(got, "acket: the pinch test says ready") {
		t.Errorf("after the pinch test it says:\n%s", got)
	}
	b.follow(`.first-every a[href*="every=21"]`)
	b.follow(`form[action$="/first/booking"] button`)
	if b.has(`form[action$="/first/booking"]`) {
		t.Error("it is booked and offered again")
	}
	if fills := js[int](b, `new Set([...document.querySelectorAll(".first-day .look")].map(u => getComputedStyle(u).getPropertyValue("--look-area").trim())).size`); fills < 4 {
		t.Errorf("the small dogs are drawn in %d colours", fills)
	}
	open()
	b.seen("first-told")

	b.open("/kinds/rough")
	open()
	b.seen("kind-read")
	b.fill(`form[action$="/copy"] [name="name"]`, "Our terriers")
	b.follow(`form[action$="/copy"] button`)
	b.click(`#part-back summary`)
	b.follow(`#part-back a.button`)
	b.fill(`[name="zones.back.target.max_mm"]`, "30")
	b.follow(`main form button.button-big`)
	if got := b.text("main"); !strings.Contains(got, "1 value changed") {
		t.Errorf("the kind says:\n%s", got)
	}
	open()
	b.seen("kind-own")
	b.follow(`#part-back a.button`)
	b.seen("kind-change")
	b.follow(`button[name="reset"][value="zones.back.target.max_mm"]`)
	if got := js[string](b, `document.querySelector('[name="zones.back.target.max_mm"]').value`); got != "40" {
		t.Errorf("given back, the longest wanted is %s", got)
	}
	b.open("/settings")
	b.seen("settings-price")
	if err := stop(); err != nil {
		t.Errorf("the program did not end cleanly: %v", err)
	}
}
