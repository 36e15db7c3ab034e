package browsed

import (
	"context"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// A groomer with chalk on her hands: the sheet by a clicker's keys alone, then by taps alone, on a phone.
func TestTheSheetIsWorkedByKeysAndByTaps(t *testing.T) {
	t.Parallel()
	base, _ := demo(t, "")
	b := newBrowser(t, base, 390, "light")
	dogs := b.demoDogs()

	b.open(dogs["Bramble"] + "/sessions/new")
	b.follow(`form[action$="/sessions"] button`)
	session := strings.TrimPrefix(b.where(), b.base)
	if !js[bool](b, `document.querySelector("[data-work]").getBoundingClientRect().top < 700 && !!document.querySelector("[data-work-done]")`) {
		t.Error("the card is not the first thing on today's session")
	}
	b.seen("sheet-session")
	b.open(session + "/work")
	b.seen("sheet-first")

	b.settled()
	// A photo goes up without leaving the line.
	photos, _ := grainyPhotos(t, 1)
	b.do(chromedp.SetUploadFiles(chromedp.CSS("[data-work-photos] input"), photos))
	b.until("the photo of the line", `document.querySelector("[data-work-photos] p").innerText.includes("stored") && !!document.querySelector("[data-work-tiles] img")`)
	// By keys: Enter is Done, arrows step, U undoes.
	lines := js[int](b, `document.querySelector(".work-bar").max`)
	first := b.text(".work-zone")
	b.keyed(kb.ArrowRight)
	second := b.text(".work-zone")
	b.keyed(kb.ArrowLeft)
	if got := b.text(".work-zone"); got != first || second == first {
		t.Errorf("right and left lead from %q over %q to %q", first, second, got)
	}
	b.keyed(kb.Enter)
	b.keyed("u")
	if got := b.text(".work-zone"); got != first {
		t.Errorf("after Done and undo the card is %q, it was %q", got, first)
	}
	keys, looked := 0, map[string]bool{}
	for ; keys < 60 && !b.has(".work-finish"); keys++ {
		if kind := b.text(".work-group"); !looked[kind] {
			looked[kind] = true
			b.fits("the card of " + kind)
			b.axe("the card of " + kind)
		}
		b.keyed(kb.Enter)
	}
	if got := js[int](b, `document.querySelector(".work-bar").value`); got != lines {
		t.Errorf("%d of %d lines are logged after %d presses of Enter", got, lines, keys)
	}
	b.seen("sheet-end")
	b.press(kb.Enter) // all done
	if !strings.Contains(b.text(".session-finished"), "All done") {
		t.Errorf("the visit is not ended: %s", b.text("main"))
	}
	t.Logf("by keys: %d presses for %d lines and the steps between, and one for all done", keys, lines)

	// By taps, on the rolling dog.
	b.open(dogs["Teasel"] + "/sessions/new")
	b.follow(`.sessions-open a`)
	session = strings.TrimPrefix(b.where(), b.base)
	b.follow(`[data-work-done]`)
	b.settled()
	taps := 1
	for ; taps < 60 && !b.has(".work-finish"); taps++ {
		for _, tap := range []string{"[data-work-done]", "[data-work-next]", "[data-work-back]", "[data-work-photo]", ".work-notready", "[data-work-undo]", ".work-found .chip"} {
			if h := js[float64](b, `(e => e ? e.getBoundingClientRect().height : 99)(document.querySelector(`+quoted(tap)+`))`); h < 44 {
				t.Errorf("%s is %.0f px high", tap, h)
			}
		}
		if b.has(".work-found") && taps%5 == 0 {
			b.click(`label:has([name="skin"][value="fine"])`)
		}
		b.tapped(`[data-work-done]`)
	}
	t.Logf("by taps: %d", taps)
	b.open(session)
	if n := js[int](b, `document.querySelectorAll("#sheet .sheet li.sheet-done").length`); n != js[int](b, `document.querySelectorAll("#sheet .sheet li").length`) {
		t.Errorf("%d lines are logged", n)
	}
	// Undo from the list.
	b.click(`#sheet > details > summary`)
	b.follow(`#sheet .sheet-loggedline button`)
	if js[int](b, `document.querySelectorAll("#sheet .sheet li:not(.sheet-done)").length`) != 1 {
		t.Error("one undo does not open one line")
	}

	// Her own order: by a button, and dragged by its grip.
	b.open(session + "/arrange")
	b.seen("sheet-order")
	order := func() []string {
		return js[[]string](b, `[...document.querySelectorAll(".arrange li")].map(l => l.dataset.zone)`)
	}
	was := order()
	b.follow(`#line-` + was[1] + ` button[value="-1"]`)
	if now := order(); now[0] != was[1] {
		t.Errorf("one up: %v", now[:2])
	}
	js[bool](b, `window.thatchOld = true`)
	b.drag("#line-"+was[1]+" [data-grip]", "#line-"+was[2], 0, 12)
	b.until("the page with the new order", "!window.thatchOld && document.readyState === 'complete'")
	if now := order(); now[0] != was[0] || now[2] != was[1] {
		t.Errorf("dragged: %v", now[:3])
	}

	// One page of paper.
	for _, name := range []string{"Bramble", "Teasel", "Sorrel"} {
		b.open(dogs[name] + "/sheet")
		if name == "Bramble" {
			b.seen("sheet-print")
		}
		if n := b.pages(); n != 1 {
			t.Errorf("%s’s sheet prints on %d pages", name, n)
		}
	}
}

func TestAVisitIsMovedAlongTheWeeksByKeysAndByDragging(t *testing.T) {
	t.Parallel()
	base, _ := demo(t, "")
	b := newBrowser(t, base, 1280, "light")
	dog := b.demoDogs()["Teasel"]
	b.open(dog + "/plan")
	marks := js[int](b, `document.querySelectorAll("[data-mark]").length`)
	if marks < 4 {
		t.Fatalf("%d marks", marks)
	}
	js[bool](b, `document.querySelector("[data-mark].strip-show").focus(), true`)
	at := js[string](b, `document.activeElement.getAttribute("aria-valuetext")`)
	b.do(chromedp.KeyEvent(kb.ArrowLeft, chromedp.KeyModifiers(8))) // Shift: a week
	if js[string](b, `document.activeElement.getAttribute("aria-valuetext")`) == at {
		t.Error("the show does not move by keys")
	}
	b.press(kb.Enter)
	if got := b.text(".tried"); !strings.Contains(got, "Not saved") || !strings.Contains(got, "Copperbeech Terrier Day on") {
		t.Errorf("moved by keys: %s", got)
	}
	b.seen("whatif")
	b.follow(`.tried a.button-big`)
	js[bool](b, `window.thatchOld = true`)
	b.drag(`[data-mark]:not(.strip-show) ~ [data-mark]:not(.strip-show) .strip-dot`, "", 48, 0)
	b.until("the plan as it would be", "!window.thatchOld && document.readyState === 'complete'")
	if got := b.text(".tried"); !strings.Contains(got, "The visit of") {
		t.Errorf("dragged: %s", got)
	}
	b.follow(`.tried form button`)
	if got := b.text(".plan-undo"); !strings.Contains(got, "You kept:") {
		t.Errorf("kept: %s", b.text("main"))
	}
	b.follow(`.plan-undo button`)
	if b.has(".plan-undo") {
		t.Error("it is not undone")
	}
}

// demoDogs are the pages of the invented salon's dogs by name.
func (b *browser) demoDogs() map[string]string {
	b.t.Helper()
	b.open("/")
	out := map[string]string{}
	for _, d := range js[[]string](b, `[...new Set([...document.querySelectorAll(".dogcard-main")].map(a => a.getAttribute("href") + "|" + a.querySelector(".dogcard-name").textContent))]`) {
		href, name, _ := strings.Cut(d, "|")
		out[name] = href
	}
	return out
}

// press sends a key to the page and waits for the page that it leads to.
func (b *browser) press(key string) {
	b.t.Helper()
	js[bool](b, "window.thatchOld = true")
	b.do(chromedp.KeyEvent(key))
	b.until("another page after a key", "!window.thatchOld && document.readyState === 'complete'")
}

// drag pulls the middle of one thing onto another, or by so many pixels.
func (b *browser) drag(from, to string, dx, dy float64) {
	b.t.Helper()
	js[bool](b, "document.querySelector("+quoted(from)+").scrollIntoView({block: 'center', inline: 'center'}), true")
	middle := func(css string) []float64 {
		return js[[]float64](b, "(r => [r.left + r.width / 2, r.top + r.height / 2])(document.querySelector("+quoted(css)+").getBoundingClientRect())")
	}
	a := middle(from)
	z := []float64{a[0] + dx, a[1] + dy}
	if to != "" {
		m := middle(to)
		z = []float64{a[0] + dx, m[1] + dy}
	}
	b.do(chromedp.MouseEvent(chromedp.MousePressed, a[0], a[1], chromedp.ButtonLeft, chromedp.ClickCount(1)))
	for i := 1; i <= 8; i++ {
		k := float64(i) / 8
		b.do(chromedp.MouseEvent(chromedp.MouseMoved, a[0]+k*(z[0]-a[0]), a[1]+k*(z[1]-a[1]), chromedp.ButtonLeft))
		time.Sleep(10 * time.Millisecond)
	}
	b.do(chromedp.MouseEvent(chromedp.MouseReleased, z[0], z[1], chromedp.ButtonLeft, chromedp.ClickCount(1)))
}

var pdfPage = regexp.MustCompile(`/Type\s*/Page[^s]`)

// pages is on how many sheets of A4 the page prints.
func (b *browser) pages() int {
	b.t.Helper()
	n := 0
	b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		res, err := cdp.Call(ctx, t, page.PrintToPDF, page.PrintToPDFParams{PaperWidth: 8.27, PaperHeight: 11.69}) // A4, inches
		if err == nil {
			n = len(pdfPage.FindAll(res.Data, -1))
			if *pictures != "" {
				_ = os.MkdirAll(*pictures, 0o755)
				_ = os.WriteFile(filepath.Join(*pictures, path.Base(b.where())+path.Base(path.Dir(b.where()))+".pdf"), res.Data, 0o644)
			}
		}
		return err
	}))
	return n
}
