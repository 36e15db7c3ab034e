package browsed

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// settled waits until the card has been answered: nothing is on its way any more.
func (b *browser) settled() {
	b.t.Helper()
	b.until("the card's answer", `(w => document.readyState === "complete" && (!w || !w.classList.contains("work-whole") || "ready" in w.dataset && !w.hasAttribute("data-waiting") && !w.hasAttribute("aria-busy")))(document.querySelector("[data-work]"))`)
}

// keyed presses a key and waits for what it does.
func (b *browser) keyed(key string) {
	b.t.Helper()
	b.settled()
	b.do(chromedp.KeyEvent(key))
	time.Sleep(20 * time.Millisecond)
	b.settled()
}

// tapped taps and waits for what it does, in the page or on the next one.
func (b *browser) tapped(css string) {
	b.t.Helper()
	b.settled()
	b.click(css)
	time.Sleep(20 * time.Millisecond)
	b.settled()
}

// large fails for everything in the page that is tapped and lower than a fingertip.
func (b *browser) large(what string) {
	b.t.Helper()
	small := js[[]string](b, `[...document.querySelectorAll("main button, main summary, main a.button, main .chip-face, main input:not([type=hidden]):not([type=checkbox]):not([type=radio]):not([type=file]), main textarea, main select")]
		.filter(e => e.offsetParent && !e.matches(".unseen") && e.getBoundingClientRect().height < 44).map(e => e.tagName + "." + e.className + " " + e.textContent.trim().slice(0, 30) + ": " + e.getBoundingClientRect().height.toFixed(1))`)
	for _, s := range small {
		b.t.Errorf("%s: lower than 44 px: %s", what, s)
	}
}

// One salon serves all of these: to invent it takes as long as they do.
func TestOnTheTable(t *testing.T) {
	base, _ := demo(t, "")
	b := newBrowser(t, base, 390, "light")
	dogs := b.demoDogs()
	t.Run("a visit is logged in twelve taps and a minute", func(t *testing.T) { loggedInTwelveTaps(t, b.in(t)) })
	b = b.in(t)
	b.open(dogs["Bramble"] + "/sessions/new")
	b.follow(`form[action$="/sessions"] button`)
	session := strings.TrimPrefix(b.where(), b.base)
	t.Run("a tap is answered before the server answers", func(t *testing.T) { answeredAtOnce(t, b.in(t), session) })
	t.Run("two phones at one zone keep both", func(t *testing.T) { twoPhones(t, b.in(t), newBrowser(t, base, 390, "dark"), session) })
	t.Run("the card is driven by keys alone", func(t *testing.T) { byKeysAlone(t, b.in(t), session) })
	t.Run("zones are measured one after the other", func(t *testing.T) { measuredInTurn(t, b.in(t), dogs["Sorrel"]) })
}

// in is the same tab, whose failures are another test's.
func (b *browser) in(t *testing.T) *browser {
	c := *b
	c.t = t
	return &c
}

// A visit of the dog that is on the table now, from the first page to "all done": every line and step of her sheet, what was
// found, how she bore it, a note. Taps are counted one by one, at a person's pace.
func loggedInTwelveTaps(t *testing.T, b *browser) {
	const most, pace = 12, 800 * time.Millisecond
	b.open("/")
	taps, began := 0, time.Now()
	var log []string
	tap := func(css string) {
		t.Helper()
		time.Sleep(pace)
		b.tapped(css)
		taps++
		log = append(log, css)
	}
	// Today: the one who is on the table.
	mark := func(pick string) {
		t.Helper()
		if !js[bool](b, `(e => e ? (e.setAttribute("data-tapped", ""), true) : false)(`+pick+`)`) {
			t.Fatalf("there is nothing to tap: %s", pick)
		}
	}
	mark(`[...document.querySelectorAll("main article, main section li, main section")].filter(e => e.innerText.includes("Teasel")).flatMap(e => [...e.querySelectorAll("a[href*='/sessions/']")]).find(a => a.closest("article, li")?.innerText.includes("Teasel"))`)
	b.settled()
	time.Sleep(pace)
	b.follow("[data-tapped]")
	taps, log = taps+1, append(log, "Teasel on the table")
	if strings.HasSuffix(b.where(), "/sessions/new") {
		time.Sleep(pace)
		b.follow(".sessions-open a")
		taps, log = taps+1, append(log, "go on with it")
	}
	session := strings.TrimSuffix(strings.TrimPrefix(strings.Split(b.where(), "?")[0], b.base), "/work")
	b.large("the session's page")
	if where := js[string](b, `(() => { const d = document.querySelector("[data-work-done]").getBoundingClientRect(), bar = document.querySelector(".thumb").getBoundingClientRect(), at = document.elementFromPoint(d.x + d.width / 2, d.y + d.height / 2); return d.top >= 0 && d.bottom <= bar.top && at?.closest("[data-work-done]") ? "" : "Done from " + d.top + " to " + d.bottom + ", the bar from " + bar.top })()`); where != "" {
		t.Errorf("Done is out of reach: %s", where)
	}
	if n := js[int](b, `[...document.querySelectorAll(".dogbar *, .session-head *")].filter(e => e.childElementCount === 0 && e.textContent.trim() === "Teasel" && e.getBoundingClientRect().height > 1).length`); n != 1 {
		t.Errorf("the dog's name stands %d times on top of the page", n)
	}
	time.Sleep(pace)
	// What comes before the zones is tapped as it is done; only then is it offered to log the zones in one.
	if b.has("[data-work-rest]") {
		t.Error("the zones are offered as done before anybody has brushed or pinched")
	}
	b.follow(".work-form [data-work-done]")
	taps, log = taps+1, append(log, "on to the brushing")
	b.settled()
	for i := 0; !b.has("[data-work-rest]"); i++ {
		if i == 4 {
			t.Fatalf("after %v nothing logs the rest", log)
		}
		at := js[string](b, `document.querySelector("[data-work]").dataset.at`)
		if b.has(`.work-form [name="loft_now"]`) {
			tap(`.work-form label:has([name="loft_now"][value="none"])`)
		}
		tap(".work-form [data-work-done]")
		log[len(log)-1] = "done: " + at
	}
	time.Sleep(pace)
	b.tapped("[data-work-rest]") // she did it all
	taps, log = taps+1, append(log, "all the rest as planned")
	b.until("the end of the sheet", `!!document.querySelector(".work-finish")`)
	b.settled()
	b.large("the end of the sheet")
	tap(`label:has([name="tolerance"][value="stood_well"])`)
	tap(`label:has([name="hair_check"][value="whole"])`)
	tap(`label:has([name="skin"][value="fine"])`)
	tap(`label:has([name="cover"][value="full"])`)
	if b.has(`[name="loft_now"]`) && !b.has(`[name="loft_now"]:checked`) {
		tap(`label:has([name="loft_now"][value="none"])`)
	}
	tap(`.work-finish [name="add"]`)
	time.Sleep(3 * time.Second) // spoken
	b.do(chromedp.SendKeys(chromedp.CSS(`.work-finish [name="add"]`), "Stood well, looked out of the window. Dip behind the withers is filling."))
	time.Sleep(pace)
	b.follow(".work-finish [data-work-done]")
	taps, log = taps+1, append(log, "all done")
	took := time.Since(began)
	b.until("the end of the visit", `!!document.querySelector(".session-finished")`)
	t.Logf("%d taps, %.1f s at %v a tap: %s", taps, took.Seconds(), pace, strings.Join(log, "; "))
	if taps > most || took > time.Minute {
		t.Errorf("%d taps in %v, %d in a minute are allowed", taps, took, most)
	}

	b.seen("table finished")
	got := b.text("#done")
	lines := js[int](b, `document.querySelectorAll("#done .session-lines > li").length`)
	if lines < 8 || strings.Count(got, "cover full") != lines || strings.Count(got, "skin fine") != lines {
		t.Errorf("%d lines, %d of them with their cover, %d with their skin:\n%s", lines, strings.Count(got, "cover full"), strings.Count(got, "skin fine"), got)
	}
	if facts := js[string](b, `document.querySelector("#facts").textContent`); !strings.Contains(facts, "looked out of the window") || !js[bool](b, `document.querySelector('#facts [name="tolerance"][value="stood_well"]').checked`) {
		t.Error("the note, or how she bore it, is not kept")
	}
	if open := js[int](b, `document.querySelectorAll("#sheet .sheet li:not(.sheet-done)").length`); open != 0 {
		t.Errorf("%d lines of the sheet are open", open)
	}
	// And all of it comes back with one tap.
	b.follow(".session-undo button")
	if b.has(".session-finished") {
		t.Error("the end is not undone")
	}
	b.open(session)
	b.seen("table")
}

// Keys alone: the card goes from the first step to the end, and nothing fires while somebody types.
func byKeysAlone(t *testing.T, b *browser, session string) {
	b.open(session + "/work?at=care")
	b.settled()
	at := func() string { return js[string](b, `document.querySelector("[data-work]").dataset.at`) }
	done := func() int { return js[int](b, `document.querySelector(".work-bar").value`) }

	// Every key that means Done, Next or Back does.
	first := at()
	for _, key := range []string{kb.ArrowRight, "n"} {
		was := at()
		b.keyed(key)
		if at() == was {
			t.Errorf("%q is not Next", key)
		}
	}
	for i := 0; at() != first && i < 6; i++ { // Back goes to every step, Next to those that are open
		was := at()
		if b.keyed([]string{kb.ArrowLeft, kb.PageUp}[i%2]); at() == was {
			t.Fatalf("no way back from %s", was)
		}
	}
	if at() != first {
		t.Errorf("on and back lead from %s to %s", first, at())
	}
	var zones []string
	for i, key := range []string{kb.Enter, " ", kb.PageDown, kb.Enter, " ", kb.PageDown} {
		was := at()
		b.keyed(key)
		if at() == was {
			t.Errorf("press %d, %q, is not Done at %s", i, key, was)
		}
		zones = append(zones, was)
	}
	if slices.Contains(zones, at()) {
		t.Errorf("%s comes twice: %v", at(), zones)
	}
	// A camera clicker's volume key, as a browser that delivers it does.
	was := at()
	js[bool](b, `document.body.dispatchEvent(new KeyboardEvent("keydown", {key: "AudioVolumeUp", bubbles: true, cancelable: true}))`)
	time.Sleep(20 * time.Millisecond)
	b.settled()
	if at() == was {
		t.Error("the volume key is not Done")
	}
	// Undo, not ready, help.
	n := done()
	b.keyed("u")
	if done() != n-1 && at() != was {
		t.Errorf("u leads from %d lines to %d, at %s", n, done(), at())
	}
	b.keyed("?")
	if !js[bool](b, `document.querySelector(".work-keys").open`) {
		t.Error("? does not tell the keys")
	}
	b.axe("the keys")
	for i := 0; !b.has(".work-notready") && i < 30; i++ {
		b.keyed(kb.ArrowRight)
	}
	zone := at()
	b.keyed("x")
	if !strings.Contains(strings.ToLower(b.text(".work-told")), "not ready") || at() == zone {
		t.Errorf("x at %s says %q", zone, b.text(".work-told"))
	}

	// A chip tapped by a finger does not hold the arrows; a field that is typed in does.
	for i := 0; !b.has(`.work-found [name="skin"]`) && i < 30; i++ {
		b.keyed(kb.ArrowRight)
	}
	b.click(`label:has(.work-found [name="skin"][value="fine"]), .work-found label:has([name="skin"][value="fine"])`)
	was = at()
	b.keyed(kb.ArrowRight)
	if at() == was {
		t.Error("after a tap on a chip the arrow does not step on")
	}
	b.click(".work-note > summary")
	b.click(`.work-note [name="add"]`)
	n, was = done(), at()
	b.do(chromedp.SendKeys(chromedp.CSS(`.work-note [name="add"]`), "pun x? "))
	b.do(chromedp.KeyEvent(kb.PageDown), chromedp.KeyEvent(kb.ArrowRight))
	time.Sleep(100 * time.Millisecond)
	b.settled()
	if done() != n || at() != was || js[string](b, `document.querySelector(".work-note [name=add]").value`) != "pun x? " {
		t.Errorf("while typing: %d lines, at %s", done(), at())
	}
	b.tapped(`.work-note button`)
	js[bool](b, `document.activeElement.blur(), true`)

	presses := 0
	for ; presses < 60 && !b.has(".work-finish"); presses++ {
		b.keyed(kb.Enter)
	}
	b.seen("table end")
	js[bool](b, "window.thatchOld = true")
	b.do(chromedp.KeyEvent(kb.Enter))
	b.until("the session's page", "!window.thatchOld && document.readyState === 'complete'")
	if !b.has(".session-finished") || !strings.Contains(js[string](b, `document.querySelector("main").textContent`), "pun x?") {
		t.Error("the visit is not ended by keys, or its note is lost")
	}
}

// The next card is there before the server has answered, and nothing is called saved until it has.
func answeredAtOnce(t *testing.T, b *browser, session string) {
	b.open(session + "/work")
	b.settled()
	// A bad line: what is sent starts late.
	js[bool](b, `XMLHttpRequest.prototype.send = (send => function (...a) { setTimeout(() => send.apply(this, a), 700) })(XMLHttpRequest.prototype.send), true`)
	ms := js[float64](b, `(() => { const w = document.querySelector("[data-work]"), was = w.dataset.at, t = performance.now(); w.querySelector("[data-work-done]").click(); return w.dataset.at === was ? -1 : performance.now() - t })()`)
	says := b.text(".work-told")
	if ms < 0 || ms > 100 || !strings.Contains(says, "on its way") {
		t.Errorf("after %.0f ms the card says %q", ms, says)
	}
	t.Logf("the next card is up after %.1f ms, what is sent leaves after 700 ms", ms)
	if b.has(".work-told [data-work-undo]") {
		t.Error("it is called done before the server has answered")
	}
	// A second tap meanwhile waits its turn.
	js[bool](b, `document.querySelector("[data-work-done]").click(), true`)
	b.settled()
	if !b.has(".work-told [data-work-undo]") {
		t.Errorf("after the answer it says %q", b.text(".work-told"))
	}
	b.open(session + "/work")
	if got := js[string](b, `document.querySelector("[data-work]").dataset.at`); got == "care" || got == "brush" {
		t.Errorf("of two taps not both arrived: the first open step is %s", got)
	}
}

// Two phones at one zone: what stands and what was said are both shown, and one tap keeps both.
func twoPhones(t *testing.T, a, b *browser, session string) {
	a.open(session)
	zone := js[string](a, `document.querySelector('#sheet li form [name="zone"]').value`)
	at := session + "/work?at=" + zone
	for _, phone := range []*browser{a, b} {
		phone.open(at)
		phone.settled()
	}
	a.click(`.work-found label:has([name="skin"][value="fine"])`)
	a.tapped("[data-work-done]")
	b.click(`.work-found label:has([name="hair_check"][value="cut"])`)
	b.click(".work-other > summary")
	b.fill(`.work-found [name="remark"]`, "Blunt ends at the left")
	b.click("[data-work-done]")
	b.until("what stands and what was said", `!!document.querySelector(".conflict")`)
	b.settled()
	got := b.text(".conflict")
	if !strings.Contains(got, "Blunt ends at the left") || !strings.Contains(got, "fine") {
		t.Errorf("it shows:\n%s", got)
	}
	b.seen("table conflict")
	b.follow(".conflict button")
	b.open(session)
	line := js[string](b, `document.querySelector("#done").textContent`)
	for _, part := range []string{"Blunt ends at the left", "hair cut", "skin fine"} {
		if !strings.Contains(strings.Join(strings.Fields(line), " "), part) {
			t.Errorf("%q is lost: %s", part, line)
		}
	}
}

// Measuring by hand: one zone after the other on a card, with chalk on the fingers.
func measuredInTurn(t *testing.T, b *browser, dog string) {
	b.open(dog + "/readings")
	b.seen("measure card")
	b.large("the card to measure")
	zone := func() string { return b.text(".measure-zone") }
	seen := []string{zone()}
	for range 3 {
		b.fill(`#f-mm`, "20")
		b.click(`[data-nudge="1"]`)
		b.click(`[data-nudge="1"]`)
		b.click(`[data-nudge="-1"]`)
		if got := js[string](b, `document.querySelector("#f-mm").value`); got != "21" {
			t.Errorf("20, two more and one less are %q", got)
		}
		b.follow("[data-measure-save]")
		if b.has(`[value="confirm"]`) { // far from what is expected: she looks again
			b.follow(`[value="confirm"]`)
		}
		if slices.Contains(seen, zone()) {
			t.Errorf("%s is asked for again after %v", zone(), seen)
		}
		seen = append(seen, zone())
		if got := b.text(".measure-taught"); !strings.Contains(got, "21 mm") || !strings.Contains(got, "Its range on") {
			t.Errorf("what it changed: %q", got)
		}
	}
	b.seen("measure taught")
	b.follow("[data-measure-skip]")
	if slices.Contains(seen, zone()) {
		t.Errorf("passed over, %s is asked for", zone())
	}
	// One too many is taken back from the card that tells of it.
	kept := func() int { return js[int](b, `document.querySelectorAll("form[action$='/trash']").length`) }
	b.open(dog + "/readings")
	was := kept()
	b.fill(`#f-mm`, "20")
	b.do(chromedp.KeyEvent(kb.Enter)) // the key under the number pad saves
	b.until("what it taught, or a doubt", `!!document.querySelector(".measure-taught, [value='confirm']")`)
	if b.has(`[value="confirm"]`) {
		b.follow(`[value="confirm"]`)
	}
	if kept() != was+1 {
		t.Errorf("%d readings, there were %d", kept(), was)
	}
	b.follow(".measure-taught button")
	if kept() != was {
		t.Errorf("taken back: %d readings, there were %d", kept(), was)
	}
}
