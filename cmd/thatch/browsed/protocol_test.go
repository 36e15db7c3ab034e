package browsed

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"thatch/imaging"
)

// A groomer reads how to take a photo, prints it for the wall, says how the coat lies with one tap, and points at the marks of
// her tape.
func TestAPhotoIsTakenAsThePageSaysAndGivenItsScale(t *testing.T) {
	base, _ := demo(t, "")
	b := newBrowser(t, base, 390, "light")
	b.open("/protocol")
	b.seen("protocol")
	var pdf []byte
	b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		for name, size := range map[string][2]float64{"A4": {8.27, 11.69}, "Letter": {8.5, 11}} {
			got, err := cdp.Call(ctx, t, page.PrintToPDF, page.PrintToPDFParams{PaperWidth: size[0], PaperHeight: size[1]})
			if err != nil {
				return err
			}
			pdf = got.Data
			if n := len(regexp.MustCompile(`/Type\s*/Page\b`).FindAll(pdf, -1)); n != 1 || !bytes.HasPrefix(pdf, []byte("%PDF")) {
				return fmt.Errorf("%s: %d pages of paper, want one", name, n)
			}
		}
		return nil
	}))

	b.open(b.demoDogs()["Teasel"])
	photo := "/photos/" + js[string](b, `new URL(document.querySelector('a[href^="/compare?a="]').href).searchParams.get("a")`)
	b.open(photo)
	tap := func(label string) {
		t.Helper()
		js[bool](b, fmt.Sprintf(`([...document.querySelectorAll(".tap")].find(b => b.textContent.trim() === %q).setAttribute("data-tapped", ""), true)`, label))
		b.follow(".tap[data-tapped]")
	}
	tap("damp")
	if !strings.Contains(b.text("main"), "The coat is damp: look only.") || js[string](b, `document.querySelector('.tap[aria-pressed="true"]').textContent.trim()`) != "damp" {
		t.Error("one tap did not say that the coat is damp")
	}
	b.seen("photo taps")
	b.follow(`a[href$="/edge"]`)
	if !strings.Contains(b.text("main"), "no figure comes from it") {
		t.Error("the edge does not say that a damp coat is not measured")
	}
	b.seen("edge of a damp coat")
	tap("brushed down, dry")
	if strings.Contains(b.text("main"), "no figure comes from it") {
		t.Error("brushed down and dry is not measured")
	}

	b.open(photo + "/tape")
	b.until("the marks", `document.querySelectorAll(".tape-ring").length === 2`)
	b.seen("tape")
	if h := js[float64](b, `Math.min(...[...document.querySelectorAll(".tape button")].filter(e => e.offsetParent).map(e => e.getBoundingClientRect().height))`); h < 44 {
		t.Errorf("a button is %.0f px high", h)
	}
	value := func(name string) float64 {
		return js[float64](b, fmt.Sprintf(`Number(document.querySelector('[name=%q]').value || "-1")`, name))
	}
	touch := func(x, y float64) { // shares of the photo
		t.Helper()
		js[bool](b, `document.querySelector("[data-stage]").scrollIntoView({block: "start"}), scrollBy(0, -20), true`)
		p := js[[]float64](b, fmt.Sprintf(`(r => [r.left + %f * r.width, r.top + %f * r.height])(document.querySelector("[data-sheet]").getBoundingClientRect())`, x, y))
		b.do(chromedp.MouseEvent(chromedp.MousePressed, p[0], p[1], chromedp.ButtonLeft, chromedp.ClickCount(1)))
		time.Sleep(20 * time.Millisecond)
		b.do(chromedp.MouseEvent(chromedp.MouseReleased, p[0], p[1], chromedp.ButtonLeft, chromedp.ClickCount(1)))
	}
	if value("ax") != -1 || value("bx") != -1 {
		t.Error("a mark that nobody has touched has a place")
	}
	touch(0.2, 0.85)
	touch(0.7, 0.86)
	w, h := js[float64](b, `Number(document.querySelector("[data-tape]").dataset.width)`), js[float64](b, `Number(document.querySelector("[data-tape]").dataset.height)`)
	// A pixel of the screen is six of the photo here.
	near := func(what string, got, want float64) {
		t.Helper()
		if got < want-8 || got > want+8 {
			t.Errorf("%s: %.1f, want about %.1f", what, got, want)
		}
	}
	near("first mark from the left", value("ax"), 0.2*w)
	near("first mark from the top", value("ay"), 0.85*h)
	near("second mark from the left", value("bx"), 0.7*w)
	near("second mark from the top", value("by"), 0.86*h)
	was := value("bx")
	b.click(`[data-tool="b"]`)
	b.click(`[data-nudge="1 0"]`)
	if got := value("bx"); got <= was || got > was+3 {
		t.Errorf("nudged from %.1f to %.1f", was, got)
	}
	b.click(`.tape [data-do="undo"]`)
	if got := value("bx"); got != was {
		t.Errorf("undone: %.1f, want %.1f", got, was)
	}
	// A second touch beside a mark takes that one up: the other stays.
	first := value("ax")
	touch(0.705, 0.86)
	if value("ax") != first {
		t.Error("the wrong mark was taken up")
	}
	b.seen("tape placed")
	b.follow(".tape .button-big")
	if !strings.Contains(b.text("main"), "By these marks one pixel is") {
		t.Error("the marks are not kept")
	}
	b.follow(".tape ~ form .button-danger")
	if !strings.Contains(b.text("main"), "The marks are taken away.") {
		t.Error("the marks are still there")
	}
	b.follow(".taps-undo .button")
	if !strings.Contains(b.text("main"), "By these marks one pixel is") {
		t.Error("undo did not bring the marks back")
	}
}

// Photos that have just gone up are asked about without leaving the page.
func TestOneTapSaysHowTheCoatLiesInAllThatWentUp(t *testing.T) {
	base, _ := demo(t, "")
	b := newBrowser(t, base, 390, "light")
	dog := b.demoDogs()["Teasel"]
	b.open(dog + "/photos/new")
	if js[bool](b, `!!document.querySelector("[data-taps-all]").offsetParent`) {
		t.Error("it is asked before there is a photo")
	}
	dir := t.TempDir()
	var files []string
	for i, shade := range []uint8{70, 120, 180} {
		img := image.NewNRGBA(image.Rect(0, 0, 160, 120))
		for k := range img.Pix {
			img.Pix[k] = shade
		}
		var out bytes.Buffer
		if err := imaging.EncodeJPEG(&out, img, 85); err != nil {
			t.Fatal(err)
		}
		files = append(files, filepath.Join(dir, fmt.Sprintf("one%d.jpg", i)))
		if err := os.WriteFile(files[i], out.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	b.do(chromedp.SetUploadFiles(chromedp.CSS("#f-many"), files[:2]))
	b.until("two stored photos", `document.querySelectorAll("li[data-new]").length === 2`)
	b.seen("upload asked")
	coats := func() string {
		return js[string](b, `[...document.querySelectorAll("li[data-photo]")].map(r => r.dataset.coat || "-").join()`)
	}
	b.click(`[data-taps-all] [value="damp"]`)
	b.until("damp photos", `[...document.querySelectorAll("li[data-new]")].every(r => r.dataset.coat === "damp")`)
	if js[string](b, `[...document.querySelectorAll('[data-taps-all] [aria-pressed="true"]')].map(e => e.value).join()`) != "damp" {
		t.Error("what was said of all is not shown")
	}
	b.click(`li[data-new]:last-child summary`)
	b.click(`li[data-new]:last-child [value="brushed_down_dry"]`)
	b.until("the other answer", `document.querySelector("li[data-new]:last-child").dataset.coat === "brushed_down_dry"`)
	if got := coats(); got != "damp,brushed_down_dry" || js[bool](b, `!!document.querySelector('[data-taps-all] [name="coat_state"][aria-pressed="true"]')`) {
		t.Errorf("one of two is otherwise: %s", got)
	}
	// One that follows is not said of yet, and a photo that was here before is left as it is.
	b.do(chromedp.SetUploadFiles(chromedp.CSS("#f-many"), []string{files[2], files[0]}))
	b.until("four rows", `document.querySelectorAll("li[data-photo]").length === 4`)
	b.click(`[data-taps-all] [value="chalked"]`)
	b.until("chalked photos", `[...document.querySelectorAll("li[data-new]")].every(r => r.dataset.coat === "chalked")`)
	b.seen("upload said")
	b.open(js[string](b, `document.querySelector("li[data-photo] .up-sign").href`))
	if got := js[string](b, `document.querySelector('.tap[aria-pressed="true"]').textContent.trim()`); got != "chalked" {
		t.Errorf("the photo says %q", got)
	}
}

// Two photos that show the table marker are compared under the same light, when that is asked for.
func TestTwoPhotosWithTheMarkerAreComparedUnderTheSameLight(t *testing.T) {
	base, _ := demo(t, "")
	b := newBrowser(t, base, 390, "light")
	dog := b.demoDogs()["Bramble"]
	for _, page := range []string{"/readings", "/combs"} {
		b.open(dog + page)
		b.seen("bramble" + strings.ReplaceAll(page, "/", " "))
	}
	b.open(dog)
	js[bool](b, `(window.thatchSeen = null, Promise.all([...document.querySelectorAll("a.tile")].map(a => fetch(a.href + "/tape").then(r => r.text()).then(text => text.includes("The table marker is seen") ? a.href.split("/").pop() : ""))).then(ids => { window.thatchSeen = ids.filter(id => id) }), true)`)
	b.until("photos with the marker", "window.thatchSeen !== null")
	ids := js[[]string](b, "window.thatchSeen")
	if len(ids) < 2 {
		t.Fatalf("the demo shows its marker in %d photos", len(ids))
	}
	b.open("/compare?a=" + ids[0] + "&b=" + ids[1])
	if strings.Contains(b.text("main"), "White balance is on") {
		t.Error("it is on without having been asked for")
	}
	b.follow(`.cmp-light a:last-child`)
	b.until("both pictures", `[...document.querySelectorAll(".cmp img")].every(i => i.complete && i.naturalWidth > 0)`)
	if !strings.Contains(b.text("main"), "White balance is on") || !js[bool](b, `[...document.querySelectorAll(".cmp img")].every(i => /balance/.test(i.src))`) {
		t.Error("the light is not evened out, or nobody says so")
	}
	b.seen("compare balanced")
	b.follow(`.cmp-light a:first-child`)
	if js[bool](b, `[...document.querySelectorAll(".cmp img")].some(i => /balance/.test(i.src))`) {
		t.Error("it cannot be switched off")
	}
}
