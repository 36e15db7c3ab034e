package browsed

import (
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// stop is what has the focus after a press of the tabulator: its name, and what is wrong with it.
type stop struct{ Is, Name, Wrong string }

// A stop must be named, be seen to have the focus, and not lie under a bar that sticks to the window (WCAG 2.2, 2.4.7 and
// 2.4.11). A box or chip shows its ring on the face beside it.
const stopOf = `(async () => {
	const e = document.activeElement;
	if (!e || e === document.body) return { Is: "", Name: "", Wrong: "" };
	const named = e.getAttribute("aria-label") || [...(e.labels ?? [])].map(l => l.innerText).join(" ") || e.innerText || e.querySelector("img[alt]")?.alt || e.value || "";
	const seen = () => {
		const face = e.matches("input[type=checkbox], input[type=radio], input[type=file]") && e.closest("label") || e;
		const r = face.getBoundingClientRect(), x = Math.max(1, r.left + Math.min(r.width / 2, 20)), y = r.top + Math.min(r.height / 2, 40);
		const at = document.elementFromPoint(x, y);
		if (!at) return "is not in the window: " + Math.round(r.left) + " to " + Math.round(r.right) + ", " + Math.round(r.top);
		return at === face || face.contains(at) || at.contains(face) ? "" : "lies under " + at.outerHTML.slice(0, 60);
	};
	let wrong = "", tries = 0;
	while ((wrong = seen()) && tries++ < 20) await new Promise(r => setTimeout(r, 25)); // a window that still scrolls
	const ring = [e, e.nextElementSibling, e.parentElement, e.closest("label"), e.closest("fieldset, .measure-field")].some(x => x && getComputedStyle(x).outlineStyle !== "none");
	if (!ring && e !== window.stoppedAt) wrong += " shows no ring";
	if (!named.trim()) wrong += " has no name";
	window.stoppedAt = e; // a day's field has stops inside it, whose rings are the browser's
	return { Is: e.tagName.toLowerCase() + "." + e.className, Name: named.trim().replace(/\s+/g, " ").slice(0, 60), Wrong: wrong.trim() };
})().then(s => { window.stopped = s }), ''`

// walkedByKey goes through pages by the tabulator alone: each from its beginning to its end, and out of it again.
func (b *browser) walkedByKey(pages ...string) {
	b.t.Helper()
	for _, page := range pages {
		b.open(page)
		walked := 0
		for first := ""; walked < 200; walked++ {
			b.do(chromedp.KeyEvent(kb.Tab))
			js[string](b, stopOf)
			b.until("a stop", "!!window.stopped")
			s := js[stop](b, "(s => (delete window.stopped, s))(window.stopped)")
			if walked == 0 {
				first = s.Name
			}
			if s.Is == "" || walked > 0 && s.Name == first {
				break
			}
			if s.Wrong != "" {
				b.t.Errorf("%s, stop %d, %s %q: %s", page, walked+1, s.Is, s.Name, s.Wrong)
			}
		}
		if walked < 15 || walked == 200 {
			b.t.Errorf("%s is gone through in %d stops", page, walked)
		}
		b.t.Logf("%s: %d stops", page, walked)
	}
}
