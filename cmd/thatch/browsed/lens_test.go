package browsed

import (
	"bufio"
	"bytes"
	"context"
	"encoding/base64"
	"fmt"
	"image"
	"image/color"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/deviceorientation"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"thatch/imaging"
	"thatch/imaging/align/marker"
	"thatch/imaging/phantom"
	"thatch/server/jobs"
	"thatch/server/salon"
	"thatch/store"
	"thatch/timeline"

	"thatch/cmd/thatch/tested"
)

// seenOften is a salon with one drawn dog photographed from the left at three visits, points placed and the back read with a
// ruler, and twice from the front.
func seenOften(t *testing.T) (base string, dog timeline.ID, photos []timeline.ID) {
	t.Helper()
	ctx, dir := t.Context(), t.TempDir()
	check := func(err error) {
		if err != nil {
			t.Fatal(err)
		}
	}
	st, err := store.Open(ctx, dir, store.Options{})
	check(err)
	s := salon.New(st, salon.Options{})
	today, err := s.Today(ctx)
	check(err)
	body := phantom.Dog{Seed: 7, WithersMM: 350}
	d, err := s.CreateDog(ctx, salon.NewDog{
		Name: "Wisp", WithersMM: 350, Answers: timeline.Answers{On: today - 60, LastWorked: today - 200, Undercoat: timeline.UndercoatSome, LongestWithersMM: 40},
	})
	check(err)
	_, err = s.AddShow(ctx, timeline.Show{Dog: d.ID, Name: "Paper Lantern Show", On: today + 40})
	check(err)
	for i, coat := range []phantom.Coat{phantom.Overgrown(40), phantom.RingReady(18), phantom.RingReady(26), nil, nil} {
		on := today - timeline.Day(42-14*(i%3)) - 1
		w, h := 1200, 900
		side := timeline.SideLeft
		if coat == nil {
			coat, side = phantom.RingReady(20), timeline.SideFront
		}
		cam := phantom.Frame(body, w, h)
		cam.Seed, cam.RollDeg, cam.CenterXMM = int64(i), float64(i%3)-1, cam.CenterXMM+float64(8*i)
		img, truth := phantom.Render(body, coat, phantom.Pose{Facing: timeline.SideLeft}, cam, phantom.Rooms()[0])
		var b bytes.Buffer
		check(imaging.EncodeJPEG(&b, img, 85))
		jpeg, err := imaging.InsertEXIF(b.Bytes(), imaging.EXIFFields{TakenLocal: on.Time().Add(time.Duration(9*60+i) * time.Minute), Offset: "+00:00"})
		check(err)
		v, err := s.OpenSession(ctx, d.ID, on)
		check(err)
		a, err := s.AddPhoto(ctx, d.ID, fmt.Sprintf("%d.jpg", i), bytes.NewReader(jpeg), "")
		check(err)
		p, err := s.SetPhotoFacts(ctx, a.Photo.ID, a.Photo.Rev, salon.PhotoEdit{Side: side, CoatState: timeline.CoatBrushedDown})
		check(err)
		if side == timeline.SideLeft {
			_, err = s.SavePoints(ctx, p.ID, p.Rev, truth.Landmarks)
			check(err)
			_, err = s.AddReadings(ctx, d.ID, v.ID, on, map[timeline.Zone]float64{timeline.Back: []float64{40, 18, 26}[i], timeline.Loin: 30, timeline.Withers: []float64{38, 33, 30}[i]}, true)
			check(err)
		}
		photos = append(photos, p.ID)
	}
	check(jobs.Drain(ctx, st, s, jobs.Options{}))
	check(st.Close())
	base, _ = tested.Start(t, "serve", "--data", dir)
	return base, d.ID, photos
}

// bigEnough fails for everything that one can tap and is smaller than 44 px either way. What is hidden or a word in a sentence
// is none of it.
func (b *browser) bigEnough(what, within string) {
	b.t.Helper()
	small := js[[]string](b, `[...document.querySelectorAll(`+quoted(within)+`)].flatMap(root => [...root.querySelectorAll("button, a, select, summary, input:not([type=hidden]), label.chip, label.linekey")]).filter(e => {
		if (!e.checkVisibility() || e.closest("p.help, .lede, dialog")) return false;
		const field = e.matches("input[type=checkbox], input[type=radio]") ? e.closest("label") ?? e : e;
		const r = field.getBoundingClientRect();
		return r.width < 43.5 || r.height < 43.5;
	}).map(e => (e.outerHTML.slice(0, 90) + " " + Math.round(e.getBoundingClientRect().width) + "×" + Math.round(e.getBoundingClientRect().height)))`)
	for _, s := range small {
		b.t.Errorf("%s: too small for a chalky finger: %s", what, s)
	}
}

func (b *browser) key(keys ...string) {
	b.t.Helper()
	for _, k := range keys {
		b.do(chromedp.KeyEvent(k))
	}
}

func (b *browser) shifted(k string) {
	b.t.Helper()
	b.do(chromedp.KeyEvent(k, chromedp.KeyModifiers(8)))
}

// pinch spreads two fingers about the middle of something, from so many px apart to so many.
func (b *browser) pinch(css string, from, to float64) {
	b.t.Helper()
	js[bool](b, "document.querySelector("+quoted(css)+").scrollIntoView({block: 'center'}), true")
	at := js[[]float64](b, "(r => [r.left + r.width / 2, r.top + r.height / 2])(document.querySelector("+quoted(css)+").getBoundingClientRect())")
	send := func(kind input.DispatchTouchEventType, apart float64) {
		b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
			p := input.DispatchTouchEventParams{Type: kind, TouchPoints: []*input.TouchPoint{}}
			if kind != input.DispatchTouchEventTypeTouchEnd {
				for i, side := range []float64{-1, 1} {
					id := float64(i)
					p.TouchPoints = append(p.TouchPoints, &input.TouchPoint{X: at[0] + side*apart/2, Y: at[1], ID: &id})
				}
			}
			_, err := cdp.Call(ctx, t, input.DispatchTouchEvent, p)
			return err
		}))
	}
	send(input.DispatchTouchEventTypeTouchStart, from)
	for i := 1; i <= 8; i++ {
		send(input.DispatchTouchEventTypeTouchMove, from+(to-from)*float64(i)/8)
	}
	send(input.DispatchTouchEventTypeTouchEnd, to)
}

func (b *browser) css(of, property string) string {
	b.t.Helper()
	return js[string](b, `getComputedStyle(document.querySelector(`+quoted(of)+`)).getPropertyValue(`+quoted(property)+`).trim()`)
}

func TestTwoPhotosAreComparedByKeysAloneAndByTapsAlone(t *testing.T) {
	base, dog, photos := seenOften(t)
	b := newBrowser(t, base, 390, "light")
	b.open("/compare?dog=" + string(dog))
	b.until("the pair in the address", `location.search.includes("b=")`)
	if at := b.where(); !strings.Contains(at, "a="+string(photos[0])) || !strings.Contains(at, "b="+string(photos[2])) {
		t.Fatalf("first against last is %s", at)
	}
	b.until("both pictures", `[...document.querySelectorAll(".cmp-pane img")].every(i => i.complete && i.naturalWidth > 0)`)
	how := func() string {
		return b.css(".cmp", "--at") + " " + js[string](b, `document.querySelector(".cmp").dataset.how`)
	}
	zoom := func() float64 {
		v, _ := strconv.ParseFloat(b.css(".cmp", "--zoom"), 64)
		return v
	}
	// By keys alone.
	if how() != "50% slider" {
		t.Fatalf("it begins as %q", how())
	}
	b.key(kb.ArrowRight, kb.ArrowRight, kb.ArrowLeft)
	if how() != "52% slider" {
		t.Errorf("right, right, left: %q", how())
	}
	for key, want := range map[string]string{"d": "side", "g": "ghost", "b": "blink", "s": "slider"} {
		b.key(key)
		if got := js[string](b, `document.querySelector(".cmp").dataset.how`); got != want {
			t.Errorf("%s shows %s", key, got)
		}
	}
	b.key("g", kb.ArrowLeft, kb.ArrowLeft)
	if got := b.css(".cmp", "--strength"); got != "46%" {
		t.Errorf("the ghost is %s strong", got)
	}
	b.key("b", " ")
	if b.css(".cmp-pane-b", "visibility") != "hidden" {
		t.Error("the space bar does not take turns")
	}
	b.key(" ", "a")
	b.until("turns by itself", `document.querySelector(".cmp").classList.contains("cmp-before")`)
	b.key("a", "s")
	b.key("+", "+")
	if zoom() < 2 {
		t.Errorf("two nearer: %v times", zoom())
	}
	left := b.css(".cmp", "--left")
	b.shifted(kb.ArrowRight)
	if b.css(".cmp", "--left") == left || b.css(".cmp-pane-a .cmp-sheet", "transform") != b.css(".cmp-pane-b .cmp-sheet", "transform") {
		t.Error("Shift and an arrow do not move both photos")
	}
	b.until("the sharper pictures", `[...document.querySelectorAll(".cmp-pane img")].every(i => i.complete && i.naturalWidth > 1100)`)
	b.key("0", "-")
	if zoom() != 1 {
		t.Errorf("whole and farther: %v times", zoom())
	}
	off := func(line string) bool {
		return js[bool](b, `[...document.querySelectorAll('.cmp-pane [data-of="`+line+`"]')].every(e => e.classList.contains("line-off"))`)
	}
	if off("diff") || off("expected") || !off("skin") {
		t.Error("at first differences and what is expected are drawn, the skin is not")
	}
	b.key("1")
	if !off("diff") {
		t.Error("1 does not take the differences away")
	}
	b.key("l")
	if !off("expected") {
		t.Error("L does not take all lines away")
	}
	b.key("l")
	if off("expected") || off("skin") {
		t.Error("L does not bring all lines back")
	}
	b.key("f")
	b.until("the whole screen", `document.querySelector(".cmp").getBoundingClientRect().height >= innerHeight - 1 && getComputedStyle(document.querySelector(".cmp")).position === "fixed"`)
	b.bigEnough("full screen", ".cmp")
	b.key(kb.Escape)
	b.until("the page again", `getComputedStyle(document.querySelector(".cmp")).position !== "fixed"`)
	b.key("?")
	if !js[bool](b, `document.querySelector("[data-keys]").open`) {
		t.Fatal("? does not list the keys")
	}
	b.axe("keys of compare")
	b.key(kb.Escape)
	// The address keeps it, and another pair is looked at in the same way.
	b.key("d", "+")
	b.until("the address", `location.search.includes("how=side") && location.search.includes("zoom=1.5")`)
	at := b.where()
	b.open(at)
	if got := js[string](b, `document.querySelector(".cmp").dataset.how`); got != "side" || zoom() != 1.5 {
		t.Errorf("opened again it is %s at %v", got, zoom())
	}
	b.press("x")
	if at := b.where(); !strings.Contains(at, "a="+string(photos[2])+"&b="+string(photos[0])) || !strings.Contains(at, "how=side") {
		t.Errorf("swapped: %s", at)
	}

	// By taps alone: each of what was dragged, moved or pressed above.
	b.open("/compare?a=" + string(photos[0]) + "&b=" + string(photos[2]))
	b.seen("compare")
	b.bigEnough("compare", "main")
	b.click(`[data-cmp-to="100"]`)
	if how() != "100% slider" {
		t.Errorf("tapped Before: %q", how())
	}
	b.click(`label:has([data-cmp-how][value="ghost"])`)
	b.click(`[data-cmp-step="strength 10"]`)
	if got := b.css(".cmp", "--strength"); got != "60%" {
		t.Errorf("stronger: %s", got)
	}
	b.click(`[data-cmp-do="nearer"]`)
	top := b.css(".cmp", "--top")
	b.click(`[data-cmp-do="down"]`)
	if zoom() != 1.5 || b.css(".cmp", "--top") == top {
		t.Errorf("nearer and down: %v, %s", zoom(), b.css(".cmp", "--top"))
	}
	b.click(`[data-cmp-do="whole"]`)
	b.click(`label:has([data-cmp-how][value="blink"])`)
	b.bigEnough("in turn", ".cmp")
	b.click(`[data-cmp-turn]`)
	if b.css(".cmp-pane-b", "visibility") != "hidden" {
		t.Error("a tap does not take turns")
	}
	b.click(`label:has([data-cmp-line="diff"])`)
	if !off("diff") {
		t.Error("a tap does not take the differences away")
	}
	b.click(`label:has([data-cmp-how][value="slider"])`)
	b.drag(".cmp-pane-a .cmp-window", "", -60, 0)
	if n := js[float64](b, `Number(document.querySelector("[data-cmp-at]").value)`); n > 45 || n < 15 {
		t.Errorf("dragged to %v", n)
	}
	// Two fingers bring both nearer; a double tap shows the whole again.
	b.pinch(".cmp-pane-a .cmp-window", 40, 120)
	if got := zoom(); got < 2 || b.css(".cmp-pane-a .cmp-sheet", "transform") != b.css(".cmp-pane-b .cmp-sheet", "transform") {
		t.Errorf("pinched to %v times", got)
	}
	b.click(`[data-cmp-do="whole"]`)
	// Another day, by its button.
	b.follow(`.cmp-day:nth-child(2) .tap:last-child`)
	if at := b.where(); !strings.Contains(at, "b="+string(photos[1])) {
		t.Errorf("the second day leads to %s", at)
	}
	if got := b.text(".cmp-change"); !strings.Contains(b.text("main table"), "−22 mm") {
		t.Errorf("forty less eighteen is told as %q", got)
	}
	// From the front there are no figures, and the page says why.
	b.open("/compare?a=" + string(photos[3]) + "&b=" + string(photos[4]))
	b.until("both pictures", `[...document.querySelectorAll(".cmp-pane img")].every(i => i.complete && i.naturalWidth > 0)`)
	if got := b.text("main"); !strings.Contains(got, "Only left and right sides are measured") || b.has(".diff-figure") || js[string](b, `document.querySelector(".cmp").dataset.how`) != "side" {
		t.Errorf("from the front: %s", got)
	}
	b.key("g")
	if js[string](b, `document.querySelector(".cmp").dataset.how`) != "ghost" {
		t.Error("photos from the front cannot be laid over each other")
	}
	b.fits("compare from the front")
	b.axe("compare from the front")
}

func TestTheCoatIsPlayedThroughTime(t *testing.T) {
	base, dog, photos := seenOften(t)
	b := newBrowser(t, base, 390, "light")
	b.open("/dogs/" + string(dog) + "/time")
	nth := func() string { return b.text("[data-time-nth]") }
	if nth() != "3 / 3" {
		t.Fatalf("it begins with %s", nth())
	}
	b.seen("time")
	b.bigEnough("through time", "main")
	b.key(kb.ArrowLeft)
	b.until("the one before", `document.querySelector("[data-time-nth]").textContent === "2 / 3" && document.querySelector("[data-time-picture]").currentSrc.includes("`+string(photos[1])+`")`)
	if got := b.text(".time-says"); !strings.Contains(got, "days before Paper Lantern Show") {
		t.Errorf("it says %q", got)
	}
	b.key(kb.Home)
	b.until("the first", `document.querySelector("[data-time-nth]").textContent === "1 / 3"`)
	// It plays only when it is asked to, and ends with the last.
	time.Sleep(300 * time.Millisecond)
	if nth() != "1 / 3" {
		t.Error("it plays by itself")
	}
	b.key("+", "+", " ")
	b.until("the last", `document.querySelector("[data-time-nth]").textContent === "3 / 3"`)
	b.until("the end of playing", `document.querySelector("[data-time-play]").getAttribute("aria-pressed") === "false"`)
	js[bool](b, `(r => { r.value = "0"; r.dispatchEvent(new Event("input", {bubbles: true})); return true })(document.querySelector("[data-time-range]"))`)
	b.until("scrubbed", `document.querySelector("[data-time-nth]").textContent === "1 / 3"`)
	b.click(`[data-time-step="1"]`)
	b.until("stepped by a tap", `document.querySelector("[data-time-nth]").textContent === "2 / 3"`)
	if at := b.where(); !strings.Contains(at, "at="+string(photos[1])) {
		t.Errorf("the address is %s", at)
	}
	b.follow(`[data-time-pair]`)
	if at := b.where(); !strings.Contains(at, "/compare?a="+string(photos[0])+"&b="+string(photos[1])) {
		t.Errorf("compare this one leads to %s", at)
	}
}

// film writes an uncompressed film of one picture, which Chromium plays as a camera.
func film(t *testing.T, img image.Image, frames int) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "camera.y4m")
	f, err := os.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	out := bufio.NewWriter(f)
	w, h := img.Bounds().Dx(), img.Bounds().Dy()
	fmt.Fprintf(out, "YUV4MPEG2 W%d H%d F10:1 Ip A1:1 C420jpeg\n", w, h)
	var y, cb, cr []byte
	for r := range h {
		for c := range w {
			p := color.YCbCrModel.Convert(img.At(c, r)).(color.YCbCr)
			y = append(y, p.Y)
			if r%2 == 0 && c%2 == 0 {
				cb, cr = append(cb, p.Cb), append(cr, p.Cr)
			}
		}
	}
	for range frames {
		fmt.Fprint(out, "FRAME\n")
		for _, plane := range [][]byte{y, cb, cr} {
			_, _ = out.Write(plane)
		}
	}
	if err := out.Flush(); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	return name
}

func TestAPhotoIsTakenInThePageAfterTheLastOne(t *testing.T) {
	base, dog, photos := seenOften(t)
	// The camera sees her facing the other way than in her last photo, with her marker behind her.
	pic, w, h, err := marker.Card(marker.Text{Dog: dog, SizeMM: marker.DefaultSizeMM}, marker.Labels{Name: "Wisp"}, 6)
	if err != nil {
		t.Fatal(err)
	}
	body := phantom.Dog{Seed: 7, WithersMM: 350}
	cam := phantom.Frame(body, 1280, 960)
	cam.CenterXMM += 55
	cam.MMPerPX *= 1.1
	cam.DistanceMM = 2600
	room := phantom.Rooms()[0]
	room.Board = &phantom.Board{Image: pic, WidthMM: w, HeightMM: h, YMM: 18}
	img, _ := phantom.Render(body, phantom.RingReady(22), phantom.Pose{Facing: timeline.SideLeft}, cam, room)
	b := newBrowser(t, base, 390, "light", chromedp.Flag("use-fake-device-for-media-stream", true), chromedp.Flag("use-fake-ui-for-media-stream", true), chromedp.Flag("use-file-for-fake-video-capture", film(t, img, 2)))
	b.open("/dogs/" + string(dog) + "/camera?side=left")
	js[bool](b, `document.querySelector("[data-cam-start]").click(), true`) // it starts by itself where the browser let it before
	b.until("the live picture", `document.querySelector("[data-cam-video]").videoWidth >= 960 && !document.querySelector("[data-cam-stage]").hidden`)
	b.until("her last photo as a ghost", `(g => g.complete && g.naturalWidth > 0 && g.currentSrc.includes("`+string(photos[2])+`/over/`+string(photos[0])+`"))(document.querySelector("[data-cam-ghost]"))`)
	b.until("the marker's box", `document.querySelector("[data-cam-stage]").classList.contains("cam-read") && document.querySelector("[data-cam-box]").points.length === 4`)
	if got := b.css(".cam-ghost", "opacity"); got != "0.4" {
		t.Errorf("the ghost is %s strong", got)
	}
	b.click(`[data-cam-shade="10"]`)
	b.key("+")
	if got := b.css(".cam-ghost", "opacity"); got != "0.6" {
		t.Errorf("stronger twice: %s", got)
	}
	b.click("[data-cam-flip]")
	if got := b.css(".cam-ghost", "transform"); !strings.HasPrefix(got, "matrix(-1") {
		t.Errorf("mirrored: %s", got)
	}
	b.key("m")
	if got := b.css(".cam-ghost", "transform"); got != "none" {
		t.Errorf("and back: %s", got)
	}
	// The level: upright first, then leaning by 10° to the right and looking down.
	hold := func(beta, gamma float64) {
		b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
			_, err := cdp.Call(ctx, t, deviceorientation.SetDeviceOrientationOverride, deviceorientation.SetDeviceOrientationOverrideParams{Beta: beta, Gamma: gamma})
			return err
		}))
	}
	hold(90, 0)
	b.until("the level", `document.querySelector("[data-cam-level]").checkVisibility() && document.querySelector("[data-cam-level]").classList.contains("cam-plumb")`)
	hold(60, 0)
	b.until("a phone that looks down", `document.querySelector("[data-cam-hint]").textContent.includes("looks down")`)
	hold(90, 0)
	b.until("nothing to say", `document.querySelector("[data-cam-hint]").hidden`)
	b.seen("camera")
	b.be(390, "light")
	b.bigEnough("camera", "main")

	// By a clicker: page down takes it, page up takes it again, page down keeps it.
	js[bool](b, `document.activeElement.blur(), true`)
	before := time.Now()
	b.key(kb.PageDown)
	b.until("the shot", `document.querySelectorAll("[data-cam-shots] img").length === 1 && document.querySelector("[data-cam-shots] img").naturalWidth >= 960`)
	b.axe("a shot")
	b.bigEnough("a shot", "[data-cam-review]")
	js[bool](b, `document.activeElement.blur(), true`)
	b.key(kb.PageUp)
	b.until("the camera again", `document.querySelector("[data-cam-review]").hidden && !document.querySelector("[data-cam-stage]").hidden`)
	if b.has("[data-cam-rows] li") {
		t.Error("a shot that was not kept went up")
	}
	js[bool](b, `document.activeElement.blur(), true`)
	b.key(kb.PageDown)
	b.until("the second shot", `!document.querySelector("[data-cam-review]").hidden`)
	js[bool](b, `document.activeElement.blur(), true`)
	b.key(kb.PageDown)
	b.until("stored by the server", `document.querySelectorAll("[data-cam-rows] .up-state").length === 1`)
	after := time.Now()
	row := b.text("[data-cam-rows] li")
	if !strings.Contains(row, "from the camera, with its time zone") {
		t.Errorf("the row says %q", row)
	}
	// The file says itself when it was taken.
	id := strings.TrimPrefix(js[string](b, `document.querySelector("[data-cam-rows] a.up-sign").getAttribute("href")`), "/photos/")
	res, err := http.Get(base + "/photos/" + id + "/picture/original")
	if err != nil {
		t.Fatal(err)
	}
	file, _ := io.ReadAll(res.Body)
	res.Body.Close()
	facts, err := imaging.Inspect(bytes.NewReader(file), int64(len(file)), "", imaging.InspectOptions{Now: after})
	if err != nil || facts.TakenSource != imaging.SourceExifOffset || facts.TakenAt.Before(before.Add(-2*time.Second)) || facts.TakenAt.After(after) || len(facts.Flags) > 0 || facts.WidthPX < 960 {
		t.Errorf("taken %v by %s (between %v and %v), flags %v, %d px wide: %v", facts.TakenAt, facts.TakenSource, before, after, facts.Flags, facts.WidthPX, err)
	}
	// Three in a row, by taps, one of them dropped.
	b.click("label:has([data-cam-burst])")
	b.click("[data-cam-shutter]")
	b.until("three shots", `document.querySelectorAll("[data-cam-shots] img").length === 3`)
	b.click("[data-cam-shots] li:nth-child(2) input")
	b.click("[data-cam-keep]")
	b.until("two more", `document.querySelectorAll("[data-cam-rows] .up-state").length === 3 || document.querySelectorAll("[data-cam-rows] li").length === 3`)

	// Nobody is filmed by a page that is not looked at.
	js[bool](b, `window.film = document.querySelector("[data-cam-video]").srcObject, Object.defineProperty(document, "hidden", {value: true, configurable: true}), document.dispatchEvent(new Event("visibilitychange")), true`)
	if !js[bool](b, `window.film.getTracks().every(t => t.readyState === "ended") && document.querySelector("[data-cam-video]").srcObject === null`) {
		t.Error("the camera goes on behind a page that is hidden")
	}
	js[bool](b, `Object.defineProperty(document, "hidden", {value: false, configurable: true}), document.dispatchEvent(new Event("visibilitychange")), true`)
	b.until("the camera once more", `document.querySelector("[data-cam-video]").srcObject?.active && document.querySelector("[data-cam-video]").videoWidth > 0`)
	datesAreWritten(t, b)
}

// datesAreWritten has the page's own writer of EXIF date a small JPEG, and our reader read it.
func datesAreWritten(t *testing.T, b *browser) {
	var small bytes.Buffer
	if err := imaging.EncodeJPEG(&small, image.NewNRGBA(image.Rect(0, 0, 16, 16)), 80); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ local, offset, want string }{
		{"2026:03:29 02:30:00", "+01:00", "2026-03-29T01:30:00Z"}, {"2026:12:31 23:59:59", "-03:30", "2027-01-01T03:29:59Z"}, {"2026:06:01 00:00:00", "+05:45", "2026-05-31T18:15:00Z"},
	} {
		js[string](b, `window.dated = "", import(document.querySelector('script[src*="camera.js"]').src.replace("camera.js", "exifdate.js")).then(m => { const jpeg = Uint8Array.from(atob("`+base64.StdEncoding.EncodeToString(small.Bytes())+`"), c => c.charCodeAt(0)); const block = m.block({local: "`+c.local+`", offset: "`+c.offset+`"}); window.dated = btoa(String.fromCharCode(...jpeg.slice(0, 2), ...block, ...jpeg.slice(2))) }), ""`)
		b.until("a dated JPEG", `window.dated !== ""`)
		jpeg, err := base64.StdEncoding.DecodeString(js[string](b, `window.dated`))
		if err != nil {
			t.Fatal(err)
		}
		f, err := imaging.Inspect(bytes.NewReader(jpeg), int64(len(jpeg)), "", imaging.InspectOptions{})
		if err != nil || f.TakenSource != imaging.SourceExifOffset || f.TakenAt.UTC().Format(time.RFC3339) != c.want {
			t.Errorf("%s %s is read as %v by %s: %v", c.local, c.offset, f.TakenAt.UTC(), f.TakenSource, err)
		}
		if _, err := imaging.Decode(context.Background(), bytes.NewReader(jpeg), int64(len(jpeg)), f); err != nil {
			t.Errorf("the picture itself: %v", err)
		}
	}
}

func TestWithoutACameraThePhonesOwnTakesItsPlace(t *testing.T) {
	base, dog, _ := seenOften(t)
	b := newBrowser(t, base, 390, "dark") // no camera at all in this browser
	b.open("/dogs/" + string(dog) + "/camera?side=rear")
	if b.has(".cam-ghost") {
		t.Error("a ghost of a side that was never photographed")
	}
	b.click("[data-cam-start]")
	b.until("the reason", `!document.querySelector("[data-cam-refused]").hidden`)
	if got := js[string](b, `document.querySelector("#f-phone").getAttribute("capture")`); got != "environment" {
		t.Errorf("capture is %q", got)
	}
	b.fits("no camera")
	b.axe("no camera")
	b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
		return err
	}))
	b.open("/dogs/" + string(dog) + "/camera?side=left")
	shown, err := chromedp.Run(b.ctx, chromedp.Text(chromedp.CSS("main")))
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(shown, "needs a script") {
		t.Errorf("without a script: %s", shown)
	}
}
