package browsed

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image"
	"io"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/serviceworker"
	"github.com/chromedp/chromedp"

	"thatch/imaging"

	"thatch/cmd/thatch/tested"
)

// grainyPhotos are photos of some hundred kilobytes, each different.
func grainyPhotos(t *testing.T, n int) (files []string, bytesOfAll int64) {
	t.Helper()
	dir, noon := t.TempDir(), time.Now().UTC().Truncate(24*time.Hour).Add(-12*time.Hour)
	for i := range n {
		img := image.NewNRGBA(image.Rect(0, 0, 480, 360))
		r := rand.New(rand.NewPCG(7, uint64(i)))
		for p := range img.Pix {
			img.Pix[p] = uint8(r.Uint32())
		}
		var b bytes.Buffer
		if err := imaging.EncodeJPEG(&b, img, 90); err != nil {
			t.Fatal(err)
		}
		out, err := imaging.InsertEXIF(b.Bytes(), imaging.EXIFFields{TakenLocal: noon.Add(time.Duration(i) * time.Minute)})
		if err != nil {
			t.Fatal(err)
		}
		name := filepath.Join(dir, fmt.Sprintf("p%02d.jpg", i))
		if err := os.WriteFile(name, out, 0o600); err != nil {
			t.Fatal(err)
		}
		files = append(files, name)
		bytesOfAll += int64(len(out))
	}
	return files, bytesOfAll
}

// photosOf is how many photos each dog has, as the salon's computer itself says.
func photosOf(t *testing.T, base string) map[string]int {
	t.Helper()
	resp, err := http.Get(base + "/api/v1/dogs")
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	b, _ := io.ReadAll(resp.Body)
	var dogs []struct {
		Name   string
		Photos int
	}
	if err := json.Unmarshal(b, &dogs); err != nil {
		t.Fatalf("%v: %s", err, b)
	}
	out := map[string]int{}
	for _, d := range dogs {
		out[d.Name] = d.Photos
	}
	return out
}

func newDogOnPhone(b *browser, name string) (path string) {
	b.open("/dogs/new")
	b.fill(`[name="name"]`, name)
	b.follow(`form[action="/dogs"] button`)
	return strings.TrimPrefix(b.where(), b.base)
}

// comesTrue waits for a promise of true.
func (b *browser) comesTrue(what, promise string) {
	b.t.Helper()
	for end := time.Now().Add(40 * time.Second); time.Now().Before(end); time.Sleep(100 * time.Millisecond) {
		if ok, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](promise, chromedp.EvalAwaitPromise)); err == nil && ok {
			return
		}
	}
	b.shot("failed")
	b.t.Fatalf("waited in vain for %s (at %s)", what, b.where())
}

// promised is what a promise brings.
func promised[T any](b *browser, promise string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](promise, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("%s: %v (at %s)", promise, err, b.where())
	}
	return v
}

// tab is another tab of the same browser.
func (b *browser) tab() *browser {
	b.t.Helper()
	ctx, stop := chromedp.NewContext(b.ctx)
	b.t.Cleanup(stop)
	two := &browser{t: b.t, ctx: ctx, base: b.base}
	two.be(b.width, b.theme)
	return two
}

// keptPages are the paths of the pages that the service worker keeps, behind each other.
const keptPages = `caches.keys().then(async names => { const out = []; for (const n of names) if (/^thatch-(pages|pictures)/.test(n)) out.push(...(await (await caches.open(n)).keys()).map(r => new URL(r.url).pathname)); return " " + out.join(" ") + " " })`

const barText = `(document.querySelector("[data-outbox-bar]:not([hidden])")?.innerText ?? "")`

func TestTenPhotosArriveOnceThoughTheNetworkIsCutThreeTimes(t *testing.T) {
	base, _ := tested.Start(t, "serve", "--data", t.TempDir())
	w := newWire(t, base)
	b := newBrowser(t, w.base(), 390, "light")
	b.open("/outbox")
	b.until("the empty page", `!document.querySelector("[data-outbox-empty]").hidden`)
	b.seen("outbox-empty")
	dog := newDogOnPhone(b, "Wisp")
	files, size := grainyPhotos(t, 10)
	b.open(dog + "/photos/new")
	w.slow = 4 * time.Millisecond
	up := w.up.Load()
	w.cuts = []int64{up + size/4, up + size/2, up + 3*size/4}
	b.do(chromedp.SetUploadFiles(chromedp.CSS("#f-many"), files))
	b.until("photos that wait", barText+` !== ""`)
	b.until("the first cut", fmt.Sprintf(`%s.match(/\d+ photos wait to be sent/) !== null`, barText))
	for end := time.Now().Add(40 * time.Second); w.cut.Load() < 2 && time.Now().Before(end); {
		time.Sleep(20 * time.Millisecond)
	}
	if n := js[int](b, `document.querySelectorAll(".ups .up-state").length`); n >= 10 {
		t.Fatalf("%d are stored before the page is loaded again", n)
	}
	time.Sleep(w.back + 200*time.Millisecond)
	b.open(dog + "/photos/new") // all that the page knew is gone
	b.until("that nothing waits", barText+` === "" && localStorage.getItem("thatch-waiting") === null`)
	if n := w.cut.Load(); n != 3 {
		t.Errorf("the network was cut %d times", n)
	}
	if got := photosOf(t, base)["Wisp"]; got != 10 {
		t.Errorf("%d photos are stored, want 10", got)
	}
}

func TestTwoTabsSendEachPhotoOnce(t *testing.T) {
	base, _ := tested.Start(t, "serve", "--data", t.TempDir())
	w := newWire(t, base)
	var sent atomic.Int64
	w.seen = func(line string) {
		if strings.HasPrefix(line, "POST /dogs/") && strings.Contains(line, "/photos ") {
			sent.Add(1)
		}
	}
	a := newBrowser(t, w.base(), 390, "light")
	dog := newDogOnPhone(a, "Wisp")
	a.open(dog + "/photos/new")
	two := a.tab()
	two.open(dog + "/photos/new")
	files, _ := grainyPhotos(t, 4)
	w.Cut()
	a.do(chromedp.SetUploadFiles(chromedp.CSS("#f-many"), files))
	two.until("the other tab's photos", barText+`.includes("4 photos wait to be sent")`)
	a.until("that there is no network", `document.querySelector(".ups").innerText.includes("No network")`)
	w.Mend()
	js[bool](two, `dispatchEvent(new Event("online"))`)
	js[bool](a, `dispatchEvent(new Event("online"))`)
	a.until("that nothing waits", barText+` === ""`)
	two.until("that nothing waits", barText+` === ""`)
	a.until("the rows of what the other tab sent", `document.querySelectorAll(".ups .up-state").length === 4`)
	if got := photosOf(t, base)["Wisp"]; got != 4 || sent.Load() != 4 {
		t.Errorf("%d photos are stored, %d were sent, want 4 and 4", got, sent.Load())
	}
}

// fillLine fills in the form of a line that is logged by hand; it is sent by the caller.
func fillLine(b *browser, zone, do string) {
	js[bool](b, `document.querySelectorAll("details").forEach(d => d.open = true), true`)
	js[bool](b, fmt.Sprintf(`(() => { const box = document.querySelector('[data-zone-input="%s"]'); box.checked = true; box.dispatchEvent(new Event("change", {bubbles: true})); document.querySelector('form[action$="/log"] [name="do"][value="%s"]').checked = true; return true })()`, zone, do))
}

func TestALineWrittenWithoutNetworkArrivesAndAConflictIsNotLost(t *testing.T) {
	base, _ := tested.Start(t, "serve", "--data", t.TempDir())
	w := newWire(t, base)
	b := newBrowser(t, w.base(), 390, "light")
	dog := newDogOnPhone(b, "Wisp")
	b.open(dog + "/sessions/new")
	b.follow(`form[action$="/sessions"] button`)
	session := strings.TrimPrefix(b.where(), b.base)
	const kept = `(document.querySelector("[data-outbox-here]:not([hidden])")?.innerText ?? "")`

	b.comesTrue("the store", `indexedDB.databases().then(all => all.some(d => d.name === "thatch-outbox"))`)
	w.Cut()
	fillLine(b, "back", "strip")
	b.click(`form[action$="/log"] > button`)
	b.until("the line that is kept", kept+`.includes("Kept on this phone, not yet sent")`)
	if got := js[string](b, kept); !strings.Contains(got, "full strip") {
		t.Errorf("what is kept says %q", got)
	}
	b.until("the first line counted", barText+`.includes("1 line of the log waits to be sent")`) // the bar has come, and moves the page no more
	fillLine(b, "loin", "tidy")
	js[bool](b, `document.querySelector('[data-zone-input="back"]').checked = false, true`)
	b.click(`form[action$="/log"] > button`)
	b.until("both lines", barText+`.includes("2 lines of the log wait to be sent")`)
	b.axe("what is kept for a page")
	if got := lineCount(t, base, "Wisp"); got != 0 {
		t.Errorf("%d lines are logged that were not sent", got)
	}
	w.Mend()
	js[bool](b, `dispatchEvent(new Event("online"))`)
	b.until("that nothing waits", barText+` === ""`)
	b.open(session)
	if got := b.text("#done"); !strings.Contains(got, "full strip") || !strings.Contains(got, "tidy") {
		t.Errorf("the log says:\n%s", got)
	}

	// Another one logs while this phone has no network.
	w.Cut()
	fillLine(b, "rump", "strip")
	b.click(`form[action$="/log"] > button`)
	b.until("the line that is kept", barText+`.includes("1 line of the log waits")`)
	resp, err := http.PostForm(base+session+"/log", url.Values{"rev": {js[string](b, `document.querySelector('form[action$="/log"] [name="rev"]').value`)}, "zones": {"withers"}, "do": {"take"}, "share": {"half"}})
	if err != nil || resp.StatusCode >= 400 {
		t.Fatalf("the other one: %v, %v", err, resp)
	}
	resp.Body.Close()
	w.Mend()
	js[bool](b, `dispatchEvent(new Event("online"))`)
	b.until("the conflict", barText+`.includes("1 needs a word from you")`)
	b.follow("[data-outbox-bar] a")
	b.until("what stands there", `document.querySelector("[data-conflict]:not([hidden]) [data-now]")?.innerText.includes("withers: take half")`)
	if got := b.text(".outbox-item"); !strings.Contains(got, "You said:") || !strings.Contains(got, "full strip") || !strings.Contains(got, "Somebody else was first") {
		t.Errorf("the conflict says:\n%s", got)
	}
	b.seen("outbox-conflict")
	if h := js[float64](b, `Math.min(...[...document.querySelectorAll("main button, main a, [data-outbox-bar] a")].filter(e => e.offsetParent).map(e => e.getBoundingClientRect().height))`); h < 44 {
		t.Errorf("something to tap is %.0f px high", h)
	}
	// Left, it is put aside and can be had back; then it is said on top of the other's.
	b.click(`button[data-do="aside"]:not([hidden])`)
	b.until("that it is put aside", `document.querySelector(".outbox-item")?.dataset.state === "aside"`)
	b.click(`button[data-do="send"]:not([hidden])`)
	b.until("the conflict again", `document.querySelector(".outbox-item")?.dataset.state === "conflict"`)
	b.click(`button[data-do="top"]:not([hidden])`)
	b.until("that nothing waits", barText+` === "" && !document.querySelector("[data-outbox-empty]").hidden`)
	b.open(session)
	if got := b.text("#done"); !strings.Contains(got, "take half") || strings.Count(got, "full strip") != 2 {
		t.Errorf("in the end the log says:\n%s", got)
	}
}

// lineCount is how many lines are logged of a dog, as the salon's computer itself says.
func lineCount(t *testing.T, base, dog string) (n int) {
	t.Helper()
	resp, err := http.Get(base + "/api/v1/dogs")
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	var dogs []struct{ ID, Name string }
	if err := json.NewDecoder(resp.Body).Decode(&dogs); err != nil {
		t.Fatal(err)
	}
	for _, d := range dogs {
		if d.Name != dog {
			continue
		}
		resp, err := http.Get(base + "/api/v1/dogs/" + d.ID + "/timeline")
		if err != nil {
			t.Fatal(err)
		}
		defer resp.Body.Close()
		var line struct {
			Sessions []struct{ Work []struct{ Zone string } }
		}
		if err := json.NewDecoder(resp.Body).Decode(&line); err != nil {
			t.Fatal(err)
		}
		for _, v := range line.Sessions {
			n += len(v.Work)
		}
	}
	return n
}

func TestTodaysSheetIsReadWithoutNetworkAndSigningOutTakesItAway(t *testing.T) {
	const owners = "a heron on the weir"
	data := t.TempDir()
	base, _ := tested.Start(t, "serve", "--data", data)
	w := newWire(t, base)
	b := newBrowser(t, w.base(), 390, "light")
	b.open("/owner")
	b.fill(`[name="code"]`, tested.OwnersCodeOf(t, data))
	b.fill(`[name="name"]`, "Ada Lovage")
	b.fill(`[name="password"]`, owners)
	b.follow(`form[action="/owner"] button:not([type])`)
	dog := newDogOnPhone(b, "Wisp")
	b.open(dog + "/sessions/new")
	b.follow(`form[action$="/sessions"] button`)
	session := strings.TrimPrefix(b.where(), b.base)
	files, _ := grainyPhotos(t, 1)
	b.open(dog + "/photos/new")
	b.do(chromedp.SetUploadFiles(chromedp.CSS("#f-many"), []string{photoBeside(t, t.TempDir(), "wall.jpg", "", time.Now().UTC().Add(-time.Hour))}))
	b.until("a stored photo", `document.querySelectorAll(".ups .up-state").length === 1`)
	photo := js[string](b, `document.querySelector(".ups .up-sign").getAttribute("href")`)
	b.comesTrue("its small picture", `fetch("`+photo+`/picture/thumb").then(a => a.ok)`)
	b.open("/people")
	b.fill(`[name="for"]`, "Bo")
	b.follow(`form[action="/people/invitations"] button`)
	invitation := js[string](b, `document.querySelector("#f-link").value`)

	// What is fetched ahead is fetched anew, as if ten minutes were over.
	promised[bool](b, `navigator.serviceWorker.ready.then(() => caches.open("thatch-about")).then(c => c.delete("/ahead"))`)
	b.open("/")
	b.comesTrue("her picture", keptPages+`.then(kept => kept.includes(" `+photo+`/picture/thumb "))`)
	b.comesTrue("the pages of the table", keptPages+`.then(kept => ["/", "/outbox", "/offline", "`+dog+`", "`+dog+`/sheet", "`+session+`"].every(p => kept.includes(" " + p + " ")))`)

	w.Cut()
	b.open(dog + "/sheet")
	if got := b.text("body"); !strings.Contains(got, "without network") || !strings.Contains(got, "As of ") || !strings.Contains(got, "Wisp") {
		t.Errorf("the sheet without network:\n%s", got)
	}
	b.axe("a kept sheet")
	b.open("/settings")
	b.until("the list of what is kept", `document.querySelectorAll("[data-offline-list] a").length >= 4`)
	if got := b.text("main"); !strings.Contains(got, "No network") || !strings.Contains(got, "Today") {
		t.Errorf("a page that is not kept:\n%s", got)
	}
	b.seen("offline")
	b.open(dog + "/photos/new")
	b.do(chromedp.SetUploadFiles(chromedp.CSS("#f-many"), files))
	b.until("the photo that waits", barText+`.includes("1 photo waits to be sent")`)
	b.open("/outbox")
	b.until("the photo in the list", `document.querySelectorAll(".outbox-item").length === 1`)
	b.shot("outbox-waiting")

	// What was never kept: pages about people and settings.
	w.deaf.Store(true) // it must not be sent before she signs out
	w.Mend()
	b.open("/people")
	if got := promised[string](b, keptPages); strings.Contains(got, "/people") || strings.Contains(got, "/settings") || !strings.Contains(got, "/sheet") {
		t.Errorf("kept: %s", got)
	}
	js[bool](b, `document.querySelector('form[action="/signout"] button').click(), true`)
	b.until("the door", `location.pathname === "/signin"`)
	w.deaf.Store(false)
	b.comesTrue("that no page is kept", keptPages+`.then(kept => !kept.includes("dogs") && !kept.includes("sessions"))`)
	b.until("the word on what waits", `!document.querySelector("[data-outbox-door]").hidden`)
	w.Cut()
	b.open(dog + "/sheet")
	if got := b.text("body"); strings.Contains(got, "Wisp") {
		t.Errorf("signed out, the sheet is still read without network:\n%s", got)
	}
	w.Mend()

	// Another one on the same phone neither sees nor sends what is Ada's.
	const photos = `fetch("/api/v1/dogs").then(a => a.json()).then(dogs => dogs[0].photos)`
	b.open(strings.Replace(invitation, base, w.base(), 1))
	b.fill(`[name="password"]`, "two otters by the mill")
	b.follow(`form[action^="/join/"] button:not([type])`)
	b.open("/outbox")
	b.until("an empty list", `!document.querySelector("[data-outbox-empty]").hidden`)
	b.open(dog)
	time.Sleep(time.Second)
	if got := js[string](b, barText); got != "" || promised[int](b, photos) != 1 {
		t.Errorf("for another one the phone says %q, and %d photos are stored", got, promised[int](b, photos))
	}
	b.comesTrue("that what is kept is of another one", `fetch("/").then(a => a.headers.get("Thatch-Account")).then(me => caches.keys().then(names => names.filter(n => n.startsWith("thatch-pages-")).every(n => n.endsWith(me))))`)
	js[bool](b, `document.querySelector('form[action="/signout"] button').click(), true`)
	b.until("the door", `location.pathname === "/signin"`)

	b.fill(`[name="name"]`, "Ada Lovage")
	b.fill(`[name="password"]`, owners)
	b.follow(`form[action="/signin"] button:not([type])`)
	b.until("that the photo went", barText+` === "" && localStorage.getItem("thatch-waiting") === null`)
	b.comesTrue("both photos", photos+`.then(n => n === 2)`)
}

// What waits goes when the browser says that the network is back, though every page is closed: the service worker sends it.
func TestThePhoneSendsThoughNoPageIsOpen(t *testing.T) {
	base, _ := tested.Start(t, "serve", "--data", t.TempDir())
	w := newWire(t, base)
	b := newBrowser(t, w.base(), 390, "light")
	worker := make(chan serviceworker.RegistrationID, 16)
	if err := chromedp.Listen(b.ctx, func(ev any) {
		if ev, ok := ev.(*serviceworker.EventWorkerRegistrationUpdated); ok {
			for _, r := range ev.Registrations {
				select {
				case worker <- r.RegistrationID:
				default:
				}
			}
		}
	}); err != nil {
		t.Fatal(err)
	}
	dog := newDogOnPhone(b, "Wisp")
	b.comesTrue("the service worker", `navigator.serviceWorker.ready.then(() => !!navigator.serviceWorker.controller)`)
	b.open(dog + "/photos/new")
	b.comesTrue("the page of photos", keptPages+`.then(kept => kept.includes(" `+dog+`/photos/new "))`)
	b.open(dog + "/sessions/new")
	b.follow(`form[action$="/sessions"] button`)
	b.comesTrue("the store", `indexedDB.databases().then(all => all.some(d => d.name === "thatch-outbox"))`)
	w.Cut()
	fillLine(b, "back", "strip")
	b.click(`form[action$="/log"] > button`)
	b.until("the line that waits", barText+`.includes("1 line of the log waits")`)
	b.open(dog + "/photos/new")
	files, _ := grainyPhotos(t, 2)
	b.do(chromedp.SetUploadFiles(chromedp.CSS("#f-many"), files))
	b.until("the photos that wait", barText+`.includes("2 photos wait")`)
	b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, serviceworker.Enable, cdp.Empty{})
		return err
	}))
	var id serviceworker.RegistrationID
	select {
	case id = <-worker:
	case <-time.After(20 * time.Second):
		t.Fatal("no service worker is known")
	}
	b.do(chromedp.Navigate("about:blank"))
	w.Mend()
	b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, serviceworker.DispatchSyncEvent, serviceworker.DispatchSyncEventParams{Origin: w.base() + "/", RegistrationID: id, Tag: "thatch-outbox"})
		return err
	}))
	for end := time.Now().Add(40 * time.Second); (photosOf(t, base)["Wisp"] < 2 || lineCount(t, base, "Wisp") < 1) && time.Now().Before(end); {
		time.Sleep(100 * time.Millisecond)
	}
	if photos, lines := photosOf(t, base)["Wisp"], lineCount(t, base, "Wisp"); photos != 2 || lines != 1 {
		t.Errorf("%d photos and %d lines arrived, want 2 and 1", photos, lines)
	}
	b.open("/outbox")
	b.until("an empty list", `!document.querySelector("[data-outbox-empty]").hidden`)
}

// Where the browser keeps nothing, photos go as they always did, and the page says so.
func TestWithoutAStorePhotosGoStraightUp(t *testing.T) {
	base, _ := tested.Start(t, "serve", "--data", t.TempDir())
	b := newBrowser(t, base, 390, "light")
	dog := newDogOnPhone(b, "Wisp")
	b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: `Object.defineProperty(window, "indexedDB", { value: undefined })`})
		return err
	}))
	b.open(dog + "/photos/new")
	files, _ := grainyPhotos(t, 2)
	b.do(chromedp.SetUploadFiles(chromedp.CSS("#f-many"), files))
	b.until("two stored photos", `document.querySelectorAll(".ups .up-state").length === 2`)
	if !js[bool](b, `!document.querySelector("[data-upload-nostore]").hidden`) {
		t.Error("nothing says that the browser keeps no photos")
	}
	b.open("/outbox")
	b.until("the word on it", `!document.querySelector("[data-outbox-nostore]").hidden`)
	b.open(dog + "/sessions/new")
	b.follow(`form[action$="/sessions"] button`)
	fillLine(b, "back", "strip")
	b.follow(`form[action$="/log"] > button`)
	if got := lineCount(t, base, "Wisp"); got != 1 {
		t.Errorf("%d lines are logged, want 1", got)
	}
}
