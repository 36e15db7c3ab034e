package browsed

import (
	"context"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"thatch/timeline"
)

// A groomer looks at the edge of a photo on her phone, paints out what is no dog, and says what is right.
func TestTheEdgeIsCorrectedWithAFingerAndKept(t *testing.T) {
	t.Parallel()
	base, _ := demo(t, "")
	b := newBrowser(t, base, 390, "light")
	b.open(b.demoDogs()["Teasel"])
	photo := "/photos/" + js[string](b, `new URL(document.querySelector('a[href^="/compare?a="]').href).searchParams.get("a")`)
	b.open(photo)
	if !strings.Contains(b.text("main"), "No edge yet") {
		t.Error("the photo does not say that it has no edge")
	}
	b.follow(`a[href$="/edge"]`)
	b.until("the edge", `!document.querySelector("[data-right-part]").hidden && document.querySelectorAll("[data-run]").length > 3`)
	b.seen("edge")
	if h := js[float64](b, `Math.min(...[...document.querySelectorAll(".edge button")].filter(e => e.offsetParent).map(e => Math.max(e.getBoundingClientRect().height, e.matches("[data-show]") ? 44 : 0)))`); h < 44 {
		t.Errorf("a button is %.0f px high", h)
	}

	rev := func() int { return js[int](b, `+document.querySelector('[data-zones] [name="rev"]').value`) }
	back := func() string {
		return js[string](b, `[...document.querySelectorAll('[data-lines] [data-run="back"]')].map(p => p.getAttribute("d")).join()`)
	}
	kept := func(was int) {
		t.Helper()
		b.until("a kept correction", fmt.Sprintf(`+document.querySelector('[data-zones] [name="rev"]').value > %d && !document.querySelector("[data-edge]").hasAttribute("aria-busy")`, was))
	}
	// middle is where the middle of the back's edge lies on the screen.
	middle := func() (x, y float64) {
		js[bool](b, `document.querySelector("[data-stage]").scrollIntoView({block: "start"}), scrollBy(0, -20), true`)
		p := js[[]float64](b, `(p => { const q = p.getPointAtLength(p.getTotalLength() / 2).matrixTransform(p.getScreenCTM()); return [q.x, q.y] })(document.querySelector('[data-lines] [data-run="back"]'))`)
		return p[0], p[1]
	}
	stroke := func(x0, y0, x1, y1 float64) {
		t.Helper()
		b.do(chromedp.MouseEvent(chromedp.MousePressed, x0, y0, chromedp.ButtonLeft, chromedp.ClickCount(1)))
		for i := 1; i <= 6; i++ {
			k := float64(i) / 6
			b.do(chromedp.MouseEvent(chromedp.MouseMoved, x0+k*(x1-x0), y0+k*(y1-y0), chromedp.ButtonLeft))
			time.Sleep(10 * time.Millisecond)
		}
		b.do(chromedp.MouseEvent(chromedp.MouseReleased, x1, y1, chromedp.ButtonLeft, chromedp.ClickCount(1)))
	}

	// A blob is painted out of the back, undone, and done again.
	found, was := back(), rev()
	b.click(`[data-tool="out"]`)
	x, y := middle()
	stroke(x-12, y+10, x+12, y+10)
	kept(was)
	painted := back()
	if apart(painted, found) < 3 {
		t.Fatal("painting out changed nothing")
	}
	was = rev()
	b.click(`[data-do="undo"]`)
	kept(was)
	if d := apart(back(), found); d > 0.3 {
		t.Errorf("undo brings the edge back %.1f px from where it was", d)
	}
	was = rev()
	b.click(`[data-do="redo"]`)
	kept(was)

	// Two fingers zoom; the stroke that the first of them began is no correction.
	was = rev()
	finger := [2]float64{0, 1}
	wide := js[float64](b, `document.querySelector("[data-sheet]").getBoundingClientRect().width`)
	x, y = middle()
	for i := range 9 {
		d := float64(6 * i)
		kind, fingers := input.DispatchTouchEventTypeTouchMove, []*input.TouchPoint{{X: x - 20 - d, Y: y, ID: &finger[0]}, {X: x + 20 + d, Y: y, ID: &finger[1]}}
		switch i {
		case 0:
			kind, fingers = input.DispatchTouchEventTypeTouchStart, fingers[:1]
		case 1:
			kind = input.DispatchTouchEventTypeTouchStart
		case 8:
			kind, fingers = input.DispatchTouchEventTypeTouchEnd, []*input.TouchPoint{}
		}
		b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
			_, err := cdp.Call(ctx, t, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: kind, TouchPoints: fingers})
			return err
		}))
	}
	if now := js[float64](b, `document.querySelector("[data-sheet]").getBoundingClientRect().width`); now < 1.5*wide {
		t.Errorf("two fingers zoom from %.0f to %.0f px", wide, now)
	}
	time.Sleep(300 * time.Millisecond)
	if rev() != was || b.has("[data-lines] .edge-stroke") {
		t.Error("a pinch was taken for a stroke")
	}
	b.click(`[data-do="whole"]`)

	// The topline with one tap, one zone as looked at only, and all of it is there after a reload.
	b.click(`[data-topline]`)
	b.until("the topline", `["withers", "back", "loin", "rump"].every(z => document.querySelector('[data-zone="' + z + '"]').dataset.state === "right")`)
	b.click(`#zone-crest details summary`)
	b.click(`#zone-crest [data-reason="lead"]`)
	b.until("the crest", `document.querySelector('[data-zone="crest"]').dataset.state === "look"`)
	now := back()
	b.open(photo + "/edge")
	b.until("the editor", `!document.querySelector("[data-tools]").hidden && document.querySelectorAll("[data-run]").length > 3`)
	if got := b.text("#zone-back"); !strings.Contains(got, "right") || !strings.Contains(b.text("#zone-crest"), "lead across it") || apart(back(), now) > 0 {
		t.Errorf("after a reload: %q, %q, the edge is %.1f px off", got, b.text("#zone-crest"), apart(back(), now))
	}
	b.seen("edge-right")

	// Pulling the back: only what was moved is to be looked at again.
	was = rev()
	b.click(`[data-tool="drag"]`)
	x, y = middle()
	stroke(x, y, x, y-14)
	kept(was)
	b.until("the back to look at", `document.querySelector('[data-zone="back"]').dataset.state === "open"`)
	if got := js[string](b, `document.querySelector('[data-zone="rump"]').dataset.state`); got != "right" {
		t.Errorf("the rump, which was not touched, is %q", got)
	}

	// By keys: a place is chosen and nudged; ten presses are one correction.
	was = rev()
	js[bool](b, `document.querySelector("[data-stage]").focus(), true`)
	for range 9 {
		b.do(chromedp.KeyEvent(kb.ArrowUp, chromedp.KeyModifiers(8)))
	}
	kept(was)
	if got := rev(); got != was+1 {
		t.Errorf("nine presses are %d corrections", got-was)
	}

	b.open(photo)
	if got := b.text("main"); !strings.Contains(got, "zones are right") && !strings.Contains(got, "One zone is right") {
		t.Errorf("the photo does not say how far its edge is looked at: %s", got)
	}
}

// edgeNear is the place of a photo's edge that is nearest to where a point of the points page lies, px of the photo.
func (b *browser) edgeNear(photo, point string) (x, y float64) {
	b.t.Helper()
	js[bool](b, `window.near = null, fetch("`+photo+`/edge/shape").then(a => a.json()).then(s => {
		const px = +document.querySelector('[name="x.`+point+`"]').value, py = +document.querySelector('[name="y.`+point+`"]').value;
		let d = 1e9;
		for (let i = 0; i < s.polygon.length; i += 2) { const q = Math.hypot(s.polygon[i] - px, s.polygon[i + 1] - py); if (q < d) { d = q; window.near = [s.polygon[i], s.polygon[i + 1]]; } }
	}), true`)
	b.until("the edge near the "+point, "!!window.near")
	p := js[[]float64](b, "window.near")
	return p[0], p[1]
}

func TestATapBesideTheEdgeGoesOntoIt(t *testing.T) {
	base, _ := demo(t, "")
	b := newBrowser(t, base, 1280, "light")
	b.open(b.demoDogs()["Teasel"])
	photo := "/photos/" + js[string](b, `new URL(document.querySelector('a[href^="/compare?a="]').href).searchParams.get("a")`)
	b.open(photo + "/edge")
	b.until("the edge", `!document.querySelector("[data-right-part]").hidden && document.querySelectorAll("[data-run]").length > 3`)

	b.open(photo + "/points")
	b.until("the editor", `!document.querySelector("[data-tools]").hidden && document.querySelector("[data-stage] img").complete`)
	x, y := b.edgeNear(photo, "mid_back")
	at := func() (x, y float64) {
		p := js[[]float64](b, `[+document.querySelector('[name="x.mid_back"]').value, +document.querySelector('[name="y.mid_back"]').value]`)
		return p[0], p[1]
	}
	tap := func() {
		t.Helper()
		js[bool](b, `document.querySelector('[data-point="mid_back"] [data-pick]').click(), document.querySelector("[data-stage]").scrollIntoView({block: "center"}), true`)
		sx, sy := b.onStage(timeline.XY{X: x, Y: y - 6})
		b.do(chromedp.MouseClickXY(sx, sy))
	}
	js[bool](b, `document.querySelector('[data-point="mid_back"] [data-pick]').click(), document.querySelector('[data-do="clear"]').click(), true`)
	tap()
	if px, py := at(); math.Hypot(px-x, py-y) > 3 {
		t.Errorf("tapped 6 px above the edge it lies at %.1f, %.1f; the edge is at %.1f, %.1f", px, py, x, y)
	}
	if got := b.text("[data-moved]"); !strings.Contains(got, "onto the edge") {
		t.Errorf("nothing says that it was moved: %q", got)
	}
	b.seen("points-moved")
	b.click(`[data-do="undo"]`)
	if _, py := at(); math.Abs(py-(y-6)) > 2.5 {
		t.Errorf("undo does not give the tap back: %.1f, it was %.1f", py, y-6)
	}
	tap()
	if _, py := at(); math.Abs(py-(y-6)) > 2.5 {
		t.Errorf("a second tap does not override: %.1f, it was %.1f", py, y-6)
	}
}

func TestTheWantedOutlineIsBentAndKept(t *testing.T) {
	base, _ := demo(t, "")
	b := newBrowser(t, base, 390, "light")
	dog := b.demoDogs()["Teasel"]
	b.open(dog)
	photo := "/photos/" + js[string](b, `new URL(document.querySelector('a[href^="/compare?a="]').href).searchParams.get("a")`)
	b.open(photo + "/edge")
	b.until("the edge", `!document.querySelector("[data-right-part]").hidden && document.querySelectorAll("[data-run]").length > 3`)
	b.open(dog + "/target")
	b.until("the editor", `!document.querySelector("[data-tools]").hidden`)
	b.seen("target")
	value := func() string { return js[string](b, `document.querySelector('[name="line1"]').value`) }
	was := value()
	js[bool](b, `document.querySelector("[data-stage]").scrollIntoView({block: "start"}), scrollBy(0, -20), true`)
	p := js[[]float64](b, `(p => { const q = p.getPointAtLength(p.getTotalLength() / 2).matrixTransform(p.getScreenCTM()); return [q.x, q.y] })(document.querySelector("[data-drawn] .target-line"))`)
	b.do(chromedp.MouseEvent(chromedp.MousePressed, p[0], p[1], chromedp.ButtonLeft, chromedp.ClickCount(1)),
		chromedp.MouseEvent(chromedp.MouseMoved, p[0], p[1]-8, chromedp.ButtonLeft), chromedp.MouseEvent(chromedp.MouseMoved, p[0], p[1]-16, chromedp.ButtonLeft),
		chromedp.MouseEvent(chromedp.MouseReleased, p[0], p[1]-16, chromedp.ButtonLeft, chromedp.ClickCount(1)))
	bent := value()
	if bent == was {
		t.Fatal("pulling the line changed nothing")
	}
	b.click(`[data-do="undo"]`)
	if value() != was {
		t.Error("undo does not straighten it")
	}
	b.click(`[data-do="redo"]`)
	b.follow(`.target .button-big`)
	if got := b.text(".said"); !strings.Contains(got, "kept") || value() != bent {
		t.Errorf("after saving: %q, the same line: %v", got, value() == bent)
	}
	b.seen("target-kept")
}

var pathNumber = regexp.MustCompile(`-?\d+(\.\d+)?`)

// apart is how far a place of one path is from the nearest of the other, at most; very large where one has none.
func apart(a, b string) float64 {
	x, y := pathNumber.FindAllString(a, -1), pathNumber.FindAllString(b, -1)
	if len(x) < 4 || len(y) < 4 {
		return 1e6
	}
	most := 0.0
	for _, pair := range [2][2][]string{{x, y}, {y, x}} {
		for i := 0; i+1 < len(pair[0]); i += 2 {
			px, _ := strconv.ParseFloat(pair[0][i], 64)
			py, _ := strconv.ParseFloat(pair[0][i+1], 64)
			near := math.Inf(1)
			for k := 0; k+1 < len(pair[1]); k += 2 {
				qx, _ := strconv.ParseFloat(pair[1][k], 64)
				qy, _ := strconv.ParseFloat(pair[1][k+1], 64)
				near = min(near, math.Hypot(px-qx, py-qy))
			}
			most = max(most, near)
		}
	}
	return most
}
