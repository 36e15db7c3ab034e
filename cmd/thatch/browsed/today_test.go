package browsed

import (
	"strings"
	"testing"
)

// smallTargets are the things to tap that are smaller than 44 px, each as its text and size. Links in the middle of a sentence
// are left out, and the zones of the drawn dog: each of them is a line of a list too.
const smallTargets = `(() => {
  const out = [];
  for (const e of document.querySelectorAll("main a, main button, main summary, main input:not([type=hidden]), nav a")) {
    const r = e.getBoundingClientRect();
    if (!r.width || e.closest("svg, [inert], .unseen") || e.classList.contains("skip")) continue;
    const inText = getComputedStyle(e).display === "inline" && e.parentElement.innerText.trim().length > e.innerText.trim().length;
    if (inText) continue;
    if (r.height < 43.5 || r.width < 43.5) out.push((e.innerText.trim() || e.name || e.href) + " " + Math.round(r.width) + "×" + Math.round(r.height));
  }
  return out;
})()`

// oneThumb walks through what is done daily on a phone: Today and a dog's page, targets that a chalky finger meets, what is at
// the thumb, and care by one tap with its undo.
func oneThumb(t *testing.T, b *browser, dog string) {
	b.be(390, "light")
	for _, page := range []string{"/", dog, dog + "/care", "/hands"} {
		b.open(page)
		if small := js[[]string](b, smallTargets); len(small) > 0 {
			t.Errorf("%s has targets below 44 px: %s", page, strings.Join(small, "; "))
		}
	}
	for page, reach := range map[string][]string{
		"/": {"/heap", "/dogs", "/hands"}, dog: {"/", dog, dog + "/camera", dog + "/sessions/new", dog + "/plan"},
	} {
		b.open(page)
		for _, to := range reach {
			if !js[bool](b, `(a => { const r = a?.getBoundingClientRect(); return !!r && r.bottom <= innerHeight + 1 && r.top > innerHeight * 0.8 && r.height >= 59 })(document.querySelector('nav.thumb a[href="`+to+`"]'))`) {
				t.Errorf("%s is not at the thumb of %s", to, page)
			}
		}
	}
	b.open("/")
	if got := b.text("main"); !strings.Contains(got, "Tomorrow") || !b.has(".today-morrow .dogcard") {
		t.Errorf("tomorrow's dogs are not apart:\n%s", got)
	}
	if !b.has(`.tablecard-line`) {
		t.Error("no line says what a dog on the table needs")
	}
	before := js[int](b, `document.querySelectorAll('.tablecard button[name="done"]').length`)
	b.follow(`.tablecard button[name="done"]`)
	if after := js[int](b, `document.querySelectorAll('.tablecard button[name="done"]').length`); after != before-1 || !b.has(`.tablecard button[name="undo"]`) {
		t.Errorf("%d kinds of care were open on Today, after a tap %d", before, after)
	}
	b.open(dog + "/care")
	b.follow(`.care button[name="done"]`)
	if !b.has(`.care button[name="undo"]`) {
		t.Error("what was done on the dog's page is not shown so")
	}
	b.follow(`.care button[name="undo"]`)
	// The strip of visits steps by its buttons, and scrolls by keys.
	b.open(dog)
	if !js[bool](b, `(s => s.scrollWidth > s.clientWidth + 50 && s.tabIndex === 0)(document.querySelector("[data-dogstrip]"))`) {
		t.Fatal("the strip has nothing to scroll to")
	}
	b.click(`[data-dogstrip-keys] button[data-by="1"]`)
	b.until("the strip's second visit", `document.querySelector("[data-dogstrip]").scrollLeft > 50`)
	b.until("the way back", `!document.querySelector('[data-dogstrip-keys] button[data-by="-1"]').disabled`)
	b.click(`[data-dogstrip-keys] button[data-by="-1"]`)
	b.until("the strip's first visit", `document.querySelector("[data-dogstrip]").scrollLeft < 5`)
	if n := js[int](b, `[...document.querySelectorAll(".visit-laid img")].filter(i => i.style.transform.includes("matrix")).length`); n < 2 {
		t.Errorf("%d pictures of the strip are laid over each other", n)
	}
}
