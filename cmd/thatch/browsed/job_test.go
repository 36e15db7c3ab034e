package browsed

import (
	"bytes"
	"flag"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"thatch/imaging"
	"thatch/imaging/phantom"
	"thatch/timeline"

	"thatch/cmd/thatch/tested"
)

// picture is a photo as a phone would bring it, with where its points truly are.
type picture struct {
	file  string
	truth phantom.Truth
}

// phonePhotos draws one dog on three occasions: two weeks ago before and after the work, and today, facing the other way.
func phonePhotos(t *testing.T) []picture {
	t.Helper()
	dir := t.TempDir()
	dog := phantom.RandomDog(4711)
	now := time.Now().UTC()
	day := func(back int, hour int) time.Time {
		return time.Date(now.Year(), now.Month(), now.Day(), hour, 10, 0, 0, time.UTC).AddDate(0, 0, -back)
	}
	shots := []struct {
		coat   phantom.Coat
		facing timeline.Side
		at     time.Time
	}{
		{phantom.Overgrown(38), timeline.SideLeft, day(14, 9)},
		{phantom.RingReady(18), timeline.SideLeft, day(14, 12)},
		{phantom.RingReady(22), timeline.SideRight, day(0, 0)},
	}
	var out []picture
	for i, s := range shots {
		cam := phantom.Frame(dog, 1200, 900)
		cam.Seed = int64(i)
		img, truth := phantom.Render(dog, s.coat, phantom.Pose{Facing: s.facing, HeadDeg: float64(2 * i)}, cam, phantom.Rooms()[0])
		var b bytes.Buffer
		if err := imaging.EncodeJPEG(&b, img, 85); err != nil {
			t.Fatal(err)
		}
		jpeg, err := imaging.InsertEXIF(b.Bytes(), imaging.EXIFFields{TakenLocal: s.at, Offset: "+00:00", Make: "Invented", Model: "Phone"})
		if err != nil {
			t.Fatal(err)
		}
		name := filepath.Join(dir, fmt.Sprintf("photo%d.jpg", i+1))
		if err := os.WriteFile(name, jpeg, 0o644); err != nil {
			t.Fatal(err)
		}
		out = append(out, picture{name, truth})
	}
	return out
}

func TestAGroomerDoesHerWholeJobOnce(t *testing.T) {
	t.Parallel()
	photos := phonePhotos(t)
	for _, size := range []struct {
		name  string
		width int
		theme string
		look  bool // at every page in both sizes and themes
	}{
		{"on a phone", 390, "light", true},
		{"at a desk", 1280, "dark", false},
	} {
		t.Run(size.name, func(t *testing.T) {
			base, stop := tested.Start(t, "serve", "--data", t.TempDir())
			b := newBrowser(t, base, size.width, size.theme)
			seen := func(what string) {
				b.fits(what)
				if size.look {
					b.seen(what)
				}
			}
			wholeJob(t, b, photos, seen)
			if err := stop(); err != nil {
				t.Errorf("the program did not end cleanly: %v", err)
			}
		})
	}
}

func wholeJob(t *testing.T, b *browser, photos []picture, seen func(string)) {
	ago := time.Now().UTC().AddDate(0, 0, -14).Format(time.DateOnly)

	// A new dog by four answers.
	b.open("/")
	seen("today-empty")
	b.follow(`a[href="/dogs/new"]`)
	seen("newdog")
	b.fill(`[name="name"]`, "Wisp")
	b.fill(`[name="last_worked"]`, time.Now().UTC().AddDate(0, 0, -200).Format(time.DateOnly))
	b.click(`label:has([name="rolled"][value="no"])`)
	b.click(`label:has([name="undercoat"][value="some"])`)
	b.fill(`[name="longest_withers_mm"]`, "38")
	b.click(`details summary`)
	b.fill(`[name="answered"]`, ago) // her photos begin two weeks ago
	b.fill(`[name="withers_mm"]`, fmt.Sprintf("%.0f mm", photos[0].truth.WithersMM))
	b.follow(`form[action="/dogs"] button`)
	if got := b.text("h1"); got != "Wisp" {
		t.Fatalf("the dog's page is headed %q", got)
	}
	dog := strings.TrimPrefix(b.where(), b.base)
	seen("dog-new")
	for what, path := range map[string]string{"first": dog + "/first", "kinds": "/kinds", "kind": "/kinds/rough"} {
		b.open(path)
		seen(what)
	}

	// Three photos through the file input.
	b.open(dog + "/photos/new")
	files := make([]string, len(photos))
	for i, p := range photos {
		files[i] = p.file
	}
	b.do(chromedp.SetUploadFiles(chromedp.CSS("#f-many"), files))
	b.until("three stored photos", `document.querySelectorAll(".ups .up-state").length === 3`)
	if got := b.text(".ups"); strings.Count(got, "from the camera, with its time zone") != 3 {
		t.Errorf("the rows do not tell the dates' source:\n%s", got)
	}
	seen("upload")
	ids := js[[]string](b, `[...document.querySelectorAll(".ups .up-sign")].map(a => a.getAttribute("href"))`)
	// The same again is told, not stored twice.
	b.do(chromedp.SetUploadFiles(chromedp.CSS("#f-many"), files[:1]))
	b.until("the fourth row", `document.querySelectorAll(".ups .up-state").length === 4`)
	if !strings.Contains(b.text(".ups li:last-child"), "Was here already") {
		t.Errorf("a photo sent twice is answered %q", b.text(".ups li:last-child"))
	}

	// Its session, opened from the photo, logged on the drawn dog.
	b.open(ids[0])
	b.follow(`form[action$="/session"] button`)
	session := strings.TrimPrefix(b.where(), b.base)
	if got := js[int](b, `document.querySelectorAll(".session .tile").length`); got != 2 {
		t.Errorf("%d photos found their way into the session of that day, want 2", got)
	}
	b.tapZone("back")
	b.tapZone("loin")
	if !js[bool](b, `document.querySelector('[data-zone-input="back"]').checked && document.querySelector('[data-zone-input="loin"]').checked`) {
		t.Error("tapping the drawn dog did not choose the zones")
	}
	b.click(`label:has([name="do"][value="take"])`)
	b.click(`label:has([name="share"][value="half"])`)
	b.click(`label:has([name="ripeness"][value="blown"])`)
	b.click(`label:has([name="skin"][value="fine"])`)
	b.follow(`form[action$="/log"] > button`)
	if got := b.text("#done"); !strings.Contains(got, "back take half") || !strings.Contains(got, "loin take half") {
		t.Errorf("the log says:\n%s", got)
	}
	// A group at once, with its own button.
	b.click(`fieldset[data-group]:nth-of-type(2) [data-group-all]`)
	b.click(`label:has([name="do"][value="strip"])`)
	b.follow(`form[action$="/log"] > button`)
	if got := strings.Count(b.text("#done"), "full strip"); got != 5 {
		t.Errorf("%d zones of the neck are logged, want 5", got)
	}
	b.fill(`[name="minutes"]`, "95")
	b.follow(`form[action$="/facts"] > button`)
	seen("session")

	// Points: on the first photo by pointer, on the others by keyboard from what is proposed.
	for i, id := range ids {
		b.open(id)
		b.follow(`.tap[name="coat_state"][value="brushed_down_dry"]`)
		b.open(id + "/points")
		b.until("the editor", `!document.querySelector("[data-tools]").hidden && document.querySelector("[data-stage] img").complete`)
		if i == 0 {
			b.placeByPointer(photos[i].truth.Landmarks)
		} else {
			b.placeByKeys(photos[i].truth.Landmarks)
		}
		if i == 1 {
			seen("points")
		}
		b.follow(`.points-save button`)
		if !strings.Contains(b.text("h1"), "202") {
			t.Fatalf("saving the points led to %q: %s", b.text("h1"), b.text(".fault"))
		}
	}
	seen("photo")

	// A ruler reading of that day.
	b.open(dog + "/readings?on=" + ago)
	b.fill(`[name="mm_withers"]`, "38")
	b.fill(`[name="mm_back"]`, "37")
	b.follow(`#many form .button-big`)
	if got := b.text("main"); !strings.Contains(got, "38 mm") {
		t.Errorf("the reading is not in the list:\n%s", got)
	}
	seen("readings")

	// Two photos compared both ways, by keyboard; the third faces the other way.
	a, z := strings.TrimPrefix(ids[0], "/photos/"), strings.TrimPrefix(ids[2], "/photos/")
	b.open("/compare?a=" + a + "&b=" + z)
	if !b.has(`.cmp[data-aligned="yes"]`) {
		t.Fatalf("the photos are not laid over each other: %s", b.text("main"))
	}
	if !strings.Contains(b.text("main"), "mirrored") {
		t.Error("nothing says that one photo is mirrored")
	}
	b.until("both pictures", `[...document.querySelectorAll(".cmp-pane img")].every(i => i.complete && i.naturalWidth > 0)`)
	if !b.has(`.cmp-stage .line-expected`) || !b.has(`.cmp-stage .line-skin`) {
		t.Error("no expected outline is drawn")
	}
	js[bool](b, `document.querySelector("[data-cmp-at]").focus(), true`)
	b.do(chromedp.KeyEvent(kb.ArrowRight), chromedp.KeyEvent(kb.ArrowRight))
	if got := js[string](b, `getComputedStyle(document.querySelector(".cmp")).getPropertyValue("--at").trim()`); got != "52%" {
		t.Errorf("two presses of the right arrow put the slider at %s", got)
	}
	seen("compare-slider")
	b.click(`label:has([name="how"][value="side"])`)
	b.until("side by side", `((a, b) => a.right <= b.left || a.bottom <= b.top)(...[...document.querySelectorAll(".cmp-window")].map(w => w.getBoundingClientRect()))`)
	seen("compare-side")

	// A show, and the plan back from it.
	b.open(dog + "/shows")
	b.fill(`[name="name"]`, "Paper Lantern Show")
	b.fill(`[name="on"]`, time.Now().UTC().AddDate(0, 0, -1).Format(time.DateOnly))
	b.follow(`form[action$="/shows"] > button`)
	if !b.has(".fault") || js[string](b, `document.querySelector('[name="name"]').value`) != "Paper Lantern Show" {
		t.Error("a show of yesterday is not refused with the input kept")
	}
	b.fill(`[name="on"]`, time.Now().UTC().AddDate(0, 0, 70).Format(time.DateOnly))
	b.follow(`form[action$="/shows"] > button`)
	seen("shows")
	b.follow(`.shows-ahead a.dog-ring`)
	seen("show")
	b.open(dog + "/plan")
	if got := b.text("main"); !strings.Contains(got, "Paper Lantern Show") || !b.has(".plan-sheet") || !b.has(".verdict") {
		t.Errorf("the plan says:\n%s", got)
	}
	seen("plan")
	b.open(dog + "/growth?zone=back")
	if !b.has("svg.growth .growth-reading") || !b.has("svg.growth .growth-target") {
		t.Error("the chart shows no reading or no target")
	}
	seen("growth")
	b.open(dog)
	seen("dog")
	b.open("/")
	seen("today")
	b.open(session)
	b.open("/settings")
	seen("settings")
	b.open(dog + "/edit")
	seen("editdog")
	b.open(dog + "/sessions/new")
	seen("sessions")

	// Put aside, and had back.
	b.open(ids[1])
	b.follow(`form[action$="/trash"] button`)
	b.open("/trash")
	seen("trash")
	b.follow(`form[action^="/restore/photo/"] button`)
	if b.has(`form[action^="/restore/photo/"]`) {
		t.Error("the photo is still in the trash")
	}

	clientLink(t, b, dog, seen)
	b.open("/style")
	seen("style")
}

// clientLink makes the client's page, opens it in a browser that never signed in, and withdraws it.
func clientLink(t *testing.T, b *browser, dog string, seen func(string)) {
	b.open(dog + "/client")
	b.follow(`form[action$="/share"] button`)
	b.fill(`[name="for"]`, "Owner")
	b.follow(`form[action$="/links"] button`)
	link := js[string](b, `document.querySelector("#f-link").value`)
	seen("client")

	owner := newBrowser(t, b.base, 390, "light")
	owner.open(link)
	if owner.text("h1") != "Wisp" || !owner.has(".share-pair") || !strings.Contains(owner.text("main"), "Paper Lantern Show") {
		t.Errorf("the client sees:\n%s", owner.text("main"))
	}
	owner.until("both pictures", `[...document.querySelectorAll(".share-pair img")].every(i => i.complete && i.naturalWidth > 0)`)
	owner.seen("share")
	pictures := js[[]string](owner, `[...document.querySelectorAll("main img")].map(i => i.src)`)
	if len(pictures) < 3 {
		t.Fatalf("%d pictures on the client's page", len(pictures))
	}
	for _, want := range []int{http.StatusOK, http.StatusNotFound} {
		for _, at := range append([]string{link}, pictures...) {
			res, err := http.Get(at)
			if err != nil {
				t.Fatal(err)
			}
			res.Body.Close()
			if res.StatusCode != want {
				t.Errorf("an address of the client's page answers %d, want %d", res.StatusCode, want)
			}
		}
		if want == http.StatusOK {
			b.open(dog + "/client")
			b.follow(`form[action$="/withdraw"] button`)
		}
	}
	owner.open(link)
	if got := owner.text("h1"); got != "Nothing here" {
		t.Errorf("after it was withdrawn the client sees %q", got)
	}
	owner.seen("share-gone")
}

// tapZone taps a zone of the drawn dog at the place that is deepest inside it.
func (b *browser) tapZone(zone string) {
	b.t.Helper()
	at := js[[]float64](b, `(z => { const s = z.ownerSVGElement; s.scrollIntoView({block: "center"}); const m = s.getScreenCTM(); return [z.dataset.x * m.a + m.e, z.dataset.y * m.d + m.f] })(document.querySelector('[data-picker] [data-zone="`+zone+`"]'))`)
	b.do(chromedp.MouseClickXY(at[0], at[1]))
}

// onStage is where a pixel of the photo lies on the screen.
func (b *browser) onStage(at timeline.XY) (x, y float64) {
	p := js[[]float64](b, fmt.Sprintf(`(() => { const f = document.querySelector("[data-points]"), r = document.querySelector("[data-stage]").getBoundingClientRect(); return [r.left + (%f + 0.5) / f.dataset.width * r.width, r.top + (%f + 0.5) / f.dataset.height * r.height] })()`, at.X, at.Y))
	return p[0], p[1]
}

// placeByPointer empties what is proposed and clicks each point in the order in which it is asked for.
func (b *browser) placeByPointer(lm timeline.Landmarks) {
	b.t.Helper()
	js[bool](b, `document.querySelectorAll(".points-xy input").forEach(i => { i.value = ""; i.dispatchEvent(new Event("input", {bubbles: true})) }), document.querySelector("[data-stage]").scrollIntoView({block: "center"}), true`)
	for _, p := range timeline.Points() {
		js[bool](b, `document.querySelector('[data-point="`+string(p)+`"] [data-pick]').click(), document.querySelector("[data-stage]").scrollIntoView({block: "center"}), true`)
		x, y := b.onStage(lm[p])
		b.do(chromedp.MouseClickXY(x, y))
	}
	b.nearTruth(lm, 8) // a pixel of a phone's screen is three of the photo
}

// placeByKeys walks every point from where it is proposed to its place, with the arrow keys alone.
func (b *browser) placeByKeys(lm timeline.Landmarks) {
	b.t.Helper()
	js[bool](b, `document.querySelector("[data-stage]").focus(), true`)
	for _, p := range timeline.Points() {
		js[bool](b, `document.querySelector('[data-point="`+string(p)+`"] [data-pick]').click(), true`)
		for range 400 {
			d := js[[]float64](b, fmt.Sprintf(`[%f - parseFloat(document.querySelector('[name="x.%s"]').value || %f), %f - parseFloat(document.querySelector('[name="y.%s"]').value || %f)]`, lm[p].X, p, lm[p].X-1, lm[p].Y, p, lm[p].Y-1))
			key, step := "", 1.0
			switch {
			case d[0] > 1:
				key, step = kb.ArrowRight, d[0]
			case d[0] < -1:
				key, step = kb.ArrowLeft, -d[0]
			case d[1] > 1:
				key, step = kb.ArrowDown, d[1]
			case d[1] < -1:
				key, step = kb.ArrowUp, -d[1]
			}
			if key == "" {
				break
			}
			if step > 10 {
				b.do(chromedp.KeyEvent(key, chromedp.KeyModifiers(8))) // Shift
			} else {
				b.do(chromedp.KeyEvent(key))
			}
		}
	}
	b.nearTruth(lm, 1.6)
}

func (b *browser) nearTruth(lm timeline.Landmarks, px float64) {
	b.t.Helper()
	for _, p := range timeline.Points() {
		at := js[[]float64](b, `[parseFloat(document.querySelector('[name="x.`+string(p)+`"]').value), parseFloat(document.querySelector('[name="y.`+string(p)+`"]').value)]`)
		if dx, dy := at[0]-lm[p].X, at[1]-lm[p].Y; dx > px || dx < -px || dy > px || dy < -px {
			b.t.Errorf("%s lies at %v, its place is %v", p, at, lm[p])
		}
	}
}

var update = flag.Bool("update", false, "write golden files and the pictures of the README anew")

// The invented salon has what one job does not bring: a coat that is too late, sheets with warnings, years of rows.
func TestEveryPageOfTheInventedSalonIsSoundAndFits(t *testing.T) {
	t.Parallel()
	base, _ := demo(t, "")
	b := newBrowser(t, base, 390, "light")
	b.open("/")
	b.until("pictures", `[...document.querySelectorAll("main img")].every(i => i.complete && i.naturalWidth > 0)`)
	dogs := js[[]string](b, `[...new Set([...document.querySelectorAll(".dogcard-main")].map(a => a.getAttribute("href")))]`)
	names := js[[]string](b, `[...new Set([...document.querySelectorAll(".dogcard-name")].map(a => a.textContent))]`)
	if len(dogs) != 4 || len(names) != 4 {
		t.Fatalf("dogs %v", names)
	}
	byName := map[string]string{}
	for _, d := range dogs {
		b.open(d)
		byName[b.text("h1")] = d
	}
	teasel := byName["Teasel"]
	if teasel == "" {
		t.Fatalf("the salon's dogs are %v", byName)
	}
	b.open(teasel)
	newest := js[string](b, `document.querySelector(".visit h3 a").getAttribute("href")`)
	oldest := js[string](b, `[...document.querySelectorAll(".visit h3 a")].at(-1).getAttribute("href")`)
	pair := js[string](b, `document.querySelector('a[href^="/compare"]').getAttribute("href")`)
	waiting := js[string](b, `document.querySelector(".visit .tile").getAttribute("href")`)
	pages := []struct{ name, path string }{
		{"demo-today", "/"}, {"demo-dog", teasel}, {"demo-session", newest}, {"demo-session-past", oldest}, {"demo-plan", teasel + "/plan"},
		{"demo-growth", teasel + "/growth?zone=back"}, {"demo-shows", teasel + "/shows"}, {"demo-compare", pair}, {"demo-points", waiting + "/points"},
		{"demo-photo", waiting}, {"demo-readings", teasel + "/readings"},
		{"demo-measured", byName["Bramble"] + "/measured"}, {"demo-check", "/check"},
		{"demo-overgrown", byName["Bramble"]}, {"demo-overgrown-plan", byName["Bramble"] + "/plan"}, {"demo-late", byName["Sorrel"]}, {"demo-late-plan", byName["Sorrel"] + "/plan"},
		{"demo-care", byName["Nettle"] + "/care"}, {"demo-puppy", byName["Nettle"]}, {"demo-hands", "/hands"},
	}
	for _, p := range pages {
		b.be(390, "light")
		b.open(p.path)
		b.fits(p.name)
		b.axe(p.name)
		b.shot(p.name + "-phone-light")
		b.be(1280, "dark")
		b.open(p.path)
		b.fits(p.name)
		b.axe(p.name)
		b.shot(p.name + "-desk-dark")
	}
	oneThumb(t, b, teasel)
	// The markers are looked for behind the pages: until all are found there is no scale for depths.
	measured := func() bool {
		b.open(byName["Bramble"] + "/measured")
		return b.has("table.measured-zones") && strings.Contains(b.text("table.measured-zones"), "±")
	}
	for deadline := time.Now().Add(time.Minute); !measured(); time.Sleep(500 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatalf("the photos with a marker tell no depth: %s", b.text("main"))
		}
	}
	if b.open(byName["Sorrel"] + "/plan"); !strings.Contains(b.text("main"), "too late") {
		t.Error("the dog whose show comes too early does not hear it")
	}
	if !*update {
		return
	}
	b.be(390, "light")
	for _, p := range []struct{ name, path, at string }{
		{"dog", teasel, ".dog-head"}, {"session", newest, "#work"}, {"compare", pair, "h1"}, {"plan", byName["Bramble"] + "/plan", "h1"}, {"growth", teasel + "/growth?zone=withers", "h1"}, {"measured", byName["Bramble"] + "/measured", "h1"},
	} {
		b.open(p.path)
		b.tour(p.name+"-phone", p.at)
	}
}

// tour writes a picture of the window for the README.
func (b *browser) tour(name, at string) {
	b.t.Helper()
	b.until("pictures", `[...document.querySelectorAll("main img")].filter(i => i.getBoundingClientRect().top < 900).every(i => i.complete && i.naturalWidth > 0)`)
	js[bool](b, `document.querySelector(`+quoted(at)+`).scrollIntoView({block: "start"}), true`)
	img, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
	if err != nil {
		b.t.Fatal(err)
	}
	decoded, err := png.Decode(bytes.NewReader(img))
	if err != nil {
		b.t.Fatal(err)
	}
	flat := image.NewNRGBA(decoded.Bounds())
	draw.Draw(flat, flat.Bounds(), decoded, decoded.Bounds().Min, draw.Src)
	var out bytes.Buffer
	if err := imaging.EncodeJPEG(&out, flat, 82); err != nil {
		b.t.Fatal(err)
	}
	if err := os.MkdirAll("../../../web/tour", 0o755); err != nil {
		b.t.Fatal(err)
	}
	if err := os.WriteFile("../../../web/tour/"+name+".jpg", out.Bytes(), 0o644); err != nil {
		b.t.Fatal(err)
	}
}
