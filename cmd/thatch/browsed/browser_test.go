package browsed

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"thatch/timeline/outside"
)

var pictures = flag.String("pictures", "", "folder for pictures of every page that a browser test sees")

// browser is one tab of a real browser of a given size and theme.
type browser struct {
	t     testing.TB
	ctx   context.Context
	width int
	theme string
	base  string
}

func newBrowser(t testing.TB, base string, width int, theme string, more ...chromedp.ExecAllocatorOption) *browser {
	t.Helper()
	exe := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			exe = p
			break
		}
	}
	if exe == "" {
		outside.Skip(t, "no Chromium on this machine (.ci/run installs it)")
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(exe), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.Flag("disable-quic", true),
		chromedp.Flag("accept-lang", "en-GB")) // else the machine's own
	opts = append(opts, more...)
	alloc, stopAlloc := chromedp.NewExecAllocator(context.Background(), opts...)
	ctx, stop := chromedp.NewContext(alloc)
	t.Cleanup(func() { stop(); stopAlloc() })
	b := &browser{t: t, ctx: ctx, base: base}
	b.be(width, theme)
	if err := chromedp.Listen(ctx, func(ev any) {
		switch ev := ev.(type) {
		case *runtime.EventExceptionThrown:
			t.Errorf("script error at %s: %v", b.at(), ev.ExceptionDetails)
		}
	}); err != nil {
		t.Fatal(err)
	}
	return b
}

func (b *browser) at() string { return b.base }

// be changes the size of the window and the theme of the device.
func (b *browser) be(width int, theme string) {
	b.t.Helper()
	b.width, b.theme = width, theme
	view := chromedp.EmulateViewport(int64(width), 844)
	if width < 500 {
		view = chromedp.EmulateViewport(int64(width), 844, chromedp.EmulateMobile, chromedp.EmulateTouch)
	}
	b.do(view, chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: theme}, {Name: "prefers-reduced-motion", Value: "reduce"}},
		})
		return err
	}))
}

// do runs steps; each test has as long as it needs, but a step that hangs fails.
func (b *browser) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		ctx, stop := context.WithTimeout(ctx, 40*time.Second)
		defer stop()
		return chromedp.Steps(steps...)(ctx, t)
	}); err != nil {
		b.shot("failed")
		b.t.Fatalf("%v (at %s)", err, b.where())
	}
}

func (b *browser) where() string {
	at, _ := chromedp.Run(b.ctx, chromedp.Location())
	return at
}

func (b *browser) open(path string) {
	b.t.Helper()
	if !strings.HasPrefix(path, "http") {
		path = b.base + path
	}
	b.do(chromedp.Navigate(path))
}

// js evaluates an expression of type T.
func js[T any](b *browser, expr string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expr))
	if err != nil {
		b.t.Fatalf("%s: %v (at %s)", expr, err, b.where())
	}
	return v
}

func quoted(s string) string {
	b, _ := json.Marshal(s)
	return string(b)
}

// click presses what the selector finds, and waits for the next page if it leads to one.
func (b *browser) click(css string) {
	b.t.Helper()
	b.do(chromedp.WaitReady(chromedp.CSS(css)))
	js[bool](b, "document.querySelector("+quoted(css)+").scrollIntoView({block:'center'}), true")
	b.do(chromedp.Click(chromedp.CSS(css)))
}

// follow clicks and waits until another document is loaded.
func (b *browser) follow(css string) {
	b.t.Helper()
	js[bool](b, "window.thatchOld = true")
	b.click(css)
	b.until("another page after "+css, "!window.thatchOld && document.readyState === 'complete'")
}

// until waits for an expression to be true.
func (b *browser) until(what, expr string) {
	b.t.Helper()
	deadline := time.Now().Add(40 * time.Second)
	for time.Now().Before(deadline) {
		if ok, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](expr)); err == nil && ok {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	b.shot("failed")
	b.t.Fatalf("waited in vain for %s (at %s)", what, b.where())
}

// fill types into a field after emptying it.
func (b *browser) fill(css, text string) {
	b.t.Helper()
	b.do(chromedp.WaitReady(chromedp.CSS(css)))
	if kind := js[string](b, "document.querySelector("+quoted(css)+").type"); kind == "date" || kind == "datetime-local" {
		// The order of a date field's parts is the browser's; a person picks from its calendar.
		js[bool](b, "(e => { e.value = "+quoted(text)+"; e.dispatchEvent(new Event('input', {bubbles: true})); e.dispatchEvent(new Event('change', {bubbles: true})); return true })(document.querySelector("+quoted(css)+"))")
		return
	}
	js[bool](b, "(document.querySelector("+quoted(css)+").value = '', true)")
	b.do(chromedp.SendKeys(chromedp.CSS(css), text))
}

// text is what is read there; a space that does not break is read as a space.
func (b *browser) text(css string) string {
	b.t.Helper()
	return js[string](b, "(e => e ? e.innerText.replaceAll('\\u00a0', ' ') : '')(document.querySelector("+quoted(css)+"))")
}

func (b *browser) has(css string) bool {
	b.t.Helper()
	return js[bool](b, "!!document.querySelector("+quoted(css)+")")
}

// axe runs axe-core (Deque, 4.14.1) on the page as it stands and fails on every violation.
func (b *browser) axe(what string) {
	b.t.Helper()
	b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, page.SetBypassCSP, page.SetBypassCSPParams{Enabled: true})
		return err
	}))
	if !js[bool](b, "!!window.axe") {
		js[bool](b, axeSource(b.t)+"; true")
	}
	js[string](b, `window.axeFound = '', axe.run(document, {resultTypes: ['violations']}).then(r => { window.axeFound = JSON.stringify(r.violations.map(v => v.id + ': ' + v.help + ' — ' + v.nodes.map(n => n.target.join(' ') + ' ' + (n.failureSummary || '')).slice(0, 4).join(' | '))) }), ''`)
	b.until("axe-core", "window.axeFound !== ''")
	found := js[string](b, "window.axeFound")
	var list []string
	if err := json.Unmarshal([]byte(found), &list); err != nil {
		b.t.Fatal(err)
	}
	for _, v := range list {
		b.t.Errorf("%s at %d px, %s: %s", what, b.width, b.theme, v)
	}
}

func axeSource(t testing.TB) string {
	t.Helper()
	src, err := os.ReadFile("../../../web/testdata/vendor/axe-core/4.14.1/axe.min.js")
	if err != nil {
		t.Fatal(err)
	}
	sums, err := os.ReadFile("../../../web/testdata/vendor/axe-core/4.14.1/SHA256SUMS")
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(src)
	if !strings.Contains(string(sums), hex.EncodeToString(sum[:])+"  axe.min.js") {
		t.Fatal("axe.min.js is not the file that SHA256SUMS lists")
	}
	return string(src)
}

// fits fails where the page is wider than the window: a phone would scroll sideways.
func (b *browser) fits(what string) {
	b.t.Helper()
	// A phone's own window grows with what overflows it: the width that was asked for is what counts.
	if over := js[int](b, "document.documentElement.scrollWidth") - b.width; over > 0 {
		b.t.Errorf("%s is %d px wider than the window of %d px", what, over, b.width)
	}
}

// shot keeps a picture of the whole page where pictures were asked for.
func (b *browser) shot(name string) {
	if *pictures == "" {
		return
	}
	_, _ = chromedp.Run(b.ctx, chromedp.Evaluate[bool]("document.querySelectorAll('img').forEach(i => i.loading = 'eager'), true"))
	time.Sleep(300 * time.Millisecond)
	img, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	if err == nil {
		_ = os.MkdirAll(*pictures, 0o755)
		_ = os.WriteFile(filepath.Join(*pictures, name+".png"), img, 0o644)
	}
}

// seen looks at the page as it stands in both sizes and themes: axe-core, no sideways scrolling, a picture.
func (b *browser) seen(what string) {
	b.t.Helper()
	width, theme := b.width, b.theme
	for _, w := range []int{390, 1280} {
		for _, th := range []string{"light", "dark"} {
			b.be(w, th)
			b.fits(what)
			b.axe(what)
			b.shot(what + "-" + map[int]string{390: "phone", 1280: "desk"}[w] + "-" + th)
		}
	}
	b.be(width, theme)
}
