package browsed

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"thatch/server"
	"thatch/server/cert"
	"thatch/server/guard"
	"thatch/server/salon"
	"thatch/store"

	"thatch/cmd/thatch/tested"
)

// look is one way in which a page is met.
type look struct {
	width int
	theme string
	lang  string
}

func (l look) String() string { return fmt.Sprintf("%d-%s-%s", l.width, l.theme, l.lang) }

// looks are all of them with THATCH_MANY. Else two, in which every page is met in every size, every theme and every language
// once, and which two depends on the page, so that every pair of them is met somewhere.
func looks(page int) []look {
	if os.Getenv("THATCH_MANY") != "" {
		var all []look
		for _, w := range []int{390, 1280} {
			for _, th := range []string{"light", "dark"} {
				for _, lang := range []string{"en", "de"} {
					all = append(all, look{w, th, lang})
				}
			}
		}
		return all
	}
	themes, langs := []string{"light", "dark"}, []string{"en", "de"}
	return []look{{390, themes[page%2], langs[page/2%2]}, {1280, themes[1-page%2], langs[1-page/2%2]}}
}

// speaks chooses a language as the foot of every page does.
func (b *browser) speaks(lang string) {
	b.t.Helper()
	at, err := url.Parse(b.base)
	if err != nil {
		b.t.Fatal(err)
	}
	b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, network.SetCookie, network.SetCookieParams{Name: "thatch_lang", Value: lang, Domain: at.Hostname(), Path: "/"})
		return err
	}))
}

// walked are what a page of the table is called in the walk, filled in with things of the invented salon.
type walked struct {
	pattern string
	path    string
}

// ids are what a page of the salon links to.
func (b *browser) ids(path, pattern string) []string {
	b.t.Helper()
	var out []string
	for _, m := range regexp.MustCompile(pattern).FindAllStringSubmatch(js[string](b, `fetch(`+quoted(path)+`).then(r => r.text()).then(s => { window.fetched = s }), ''`)+b.fetched(), -1) {
		if !slices.Contains(out, m[1]) {
			out = append(out, m[1])
		}
	}
	return out
}

func (b *browser) fetched() string {
	b.t.Helper()
	b.until("an answer", "typeof window.fetched === 'string'")
	return js[string](b, "(s => (delete window.fetched, s))(window.fetched)")
}

// TestEveryPageInEveryLanguageAndLook opens every page of the table of routes: axe-core finds nothing, nothing is wider than
// the window, everything that is tapped has 44 px, the page is in its language. A page that is not in the table is not served,
// and one that this walk does not know how to fill in fails it.
func TestEveryPageInEveryLanguageAndLook(t *testing.T) {
	t.Parallel()
	data := t.TempDir() + "/salon"
	base, _ := demo(t, data)
	b := newBrowser(t, base, 390, "light")

	// An owner with an account: without accounts some pages have nothing to show.
	b.open("/owner")
	b.fill(`[name="code"]`, tested.OwnersCodeOf(t, data))
	b.fill(`[name="name"]`, "Ada Lovage")
	b.fill(`[name="password"]`, "a heron on the weir")
	b.follow(`form[action="/owner"] button:not([type])`)
	b.fill(`[name="for"]`, "Bo")
	b.follow(`form[action="/people/invitations"] button`)
	invitation := strings.TrimPrefix(js[string](b, `document.querySelector("#f-link").value`), base)
	me := b.ids("/people", `/people/([0-9a-z]{10,})"`)[0]

	var dog string
	for _, id := range b.ids("/dogs", `href="/dogs/([0-9a-z]{10,})"`) {
		b.open("/dogs/" + id)
		if b.text("h1") == "Teasel" {
			dog = id
		}
	}
	home := "/dogs/" + dog
	photo := b.ids(home, `/photos/([0-9a-z]{10,})`)[0]
	session := b.ids(home, `/sessions/([0-9a-z]{10,})`)[0]
	show := b.ids(home+"/shows", `/shows/([0-9a-z]{10,})`)[0]
	pair := js[string](b, `fetch(`+quoted(home)+`).then(r => r.text()).then(s => { window.fetched = new DOMParser().parseFromString(s, "text/html").querySelector('a[href^="/compare?a="]').getAttribute("href") }), ''`) + b.fetched()
	b.open("/kinds/rough")
	b.fill(`[name="name"]`, "Ours")
	b.follow(`form[action="/kinds/rough/copy"] button`)
	kind := strings.TrimPrefix(b.where(), base+"/kinds/")
	b.open(home + "/client")
	if !b.has(`[name="for"]`) {
		b.follow(`form[action$="/share"] button`)
	}
	b.fill(`[name="for"]`, "Owner")
	b.follow(`form[action$="/links"] button`)
	shared := strings.TrimPrefix(js[string](b, `document.querySelector("#f-link").value`), base)
	// A photo that waits for its dog.
	b.open("/heap")
	b.do(chromedp.SetUploadFiles(chromedp.CSS("#f-many"), []string{phonePhotos(t)[0].file}))
	b.until("a stored photo", `document.querySelectorAll("[data-upload-rows] .up-state").length === 1`)
	heap := b.ids("/heap", `href="/heap/([0-9a-z]{10,})"`)[0]

	path := func(row guard.Row) string {
		if filled, ok := map[string]string{"/compare": pair, "/share/{token}": shared, "/join/{token}": invitation}[row.Pattern]; ok {
			return filled
		}
		id := map[string]string{"dogs": dog, "photos": photo, "sessions": session, "shows": show, "heap": heap, "people": me}[strings.Split(row.Pattern, "/")[1]]
		out := strings.NewReplacer("{id}", id, "{key}", kind, "{part}", "growth").Replace(row.Pattern)
		if strings.ContainsAny(out, "{}") || strings.Contains(out, "//") {
			t.Fatalf("this walk does not know how to fill in %s", row.Pattern)
		}
		return out
	}
	var inside, outside []walked
	for _, row := range guard.Table() {
		switch {
		case row.Answer != guard.Page || row.Method != http.MethodGet:
		case row.Pattern == "/sessions/{id}/photos": // a part of a page
		case row.Least == guard.Anyone:
			outside = append(outside, walked{row.Pattern, path(row)})
		default:
			inside = append(inside, walked{row.Pattern, path(row)})
		}
	}
	inside = append(inside, walked{"a dog that is none", "/dogs/zzzzzzzzzzzzzzzz"}, walked{"no page", "/nowhere"})
	outside = append(outside, walked{"a dead link", "/share/" + strings.Repeat("q", 43)}, walked{"refused to a stranger", "/ahead"}, walked{"a dead invitation", "/join/" + strings.Repeat("q", 43)})
	if len(inside) < 45 || len(outside) < 8 {
		t.Fatalf("only %d pages inside and %d outside", len(inside), len(outside))
	}
	began, met := time.Now(), 0
	walk := func(pages []walked) {
		for i, p := range pages {
			for _, l := range looks(i) {
				met++
				b.meet(p, l)
			}
		}
	}
	walk(inside)
	b.be(390, "light")
	b.walkedByKey("/", home, "/sessions/"+session, "/sessions/"+session+"/work", home+"/plan", pair, home+"/photos/new")
	b.printed(home)
	b.open("/")
	b.follow(`form[action="/signout"] button`)
	walk(outside)

	// The page that explains the certificate of our own making has nothing to explain where there is none.
	b.base = withOwnCertificate(t)
	walk([]walked{{"/trust with a certificate", "/trust"}})
	t.Logf("%d pages met %d times in %.0f s", len(inside)+len(outside)+1, met, time.Since(began).Seconds())
}

// meet looks at a page in one way.
func (b *browser) meet(p walked, l look) {
	b.t.Helper()
	what := p.pattern + " " + l.String()
	if b.width != l.width || b.theme != l.theme {
		b.be(l.width, l.theme)
	}
	b.speaks(l.lang)
	b.open(p.path)
	if got := js[string](b, "document.documentElement.lang"); got != l.lang {
		b.t.Errorf("%s is in %q", what, got)
	}
	js[bool](b, `document.querySelectorAll("details").forEach(d => { d.open = true }), true`)
	b.fits(what)
	b.axe(what)
	b.touchable(what)
	b.unfiltered(what)
	b.shot("walk" + strings.NewReplacer("/", "-", "{", "", "}", "", " ", "-", ",", "").Replace(p.pattern) + "-" + l.String())
}

// printed looks at what paper gets, in German, whose words are the longer ones: a sheet on one page, and a dog's page that is her
// timeline, every visit with its day and its photo, and nothing that is tapped.
func (b *browser) printed(home string) {
	b.t.Helper()
	b.speaks("de")
	b.open(home + "/sheet")
	if n := b.pages(); n != 1 {
		b.t.Errorf("the sheet prints on %d pages in German", n)
	}
	b.open(home)
	medium := func(name string) {
		b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
			_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: name})
			return err
		}))
	}
	medium("print")
	if left := js[[]string](b, `[...document.querySelectorAll("nav, header.band, footer, button, form, input, summary, .button")].filter(e => e.checkVisibility()).map(e => e.outerHTML.slice(0, 80))`); len(left) > 0 {
		b.t.Errorf("paper shows what is tapped: %q", left[:min(len(left), 5)])
	}
	if n := js[[]int](b, `(v => [v.length, v.filter(e => e.querySelector("h3").checkVisibility() && e.querySelector("img")?.checkVisibility() && e.querySelector(".visit-work, .soft")?.checkVisibility()).length])([...document.querySelectorAll(".visit")])`); n[0] < 3 || n[1] != n[0] {
		b.t.Errorf("of %d visits paper shows %d with day, photo and work", n[0], n[1])
	}
	medium("")
	b.be(b.width, b.theme)
}

// touchable fails for what is tapped and smaller than 44 px either way, in the whole page. Excused are words in a sentence or
// in a line of figures (WCAG 2.2, 2.5.8, "inline"), and what is only for the keyboard until it has the focus.
func (b *browser) touchable(what string) {
	b.t.Helper()
	small := js[[]string](b, `[...document.querySelectorAll("a[href], button, select, summary, textarea, input:not([type=hidden])")].filter(e => {
		if (!e.checkVisibility({visibilityProperty: true}) || e.matches(".skip, .unseen") || e.closest("[inert], svg")) return false;
		if (getComputedStyle(e).display === "inline" && e.matches("a") && [...e.parentElement.childNodes].some(n => n !== e && n.textContent.trim())) return false;
		let r = e.getBoundingClientRect();
		if (e.matches("input[type=checkbox], input[type=radio], input[type=file]")) {
			const label = e.closest("label") ?? document.querySelector('label[for="' + CSS.escape(e.id) + '"]');
			if (label && label.getBoundingClientRect().height > r.height) r = label.getBoundingClientRect();
		}
		return r.width > 0 && (r.width < 43.5 || r.height < 43.5);
	}).slice(0, 5).map(e => e.outerHTML.replace(/\s+/g, " ").slice(0, 120) + " " + Math.round(e.getBoundingClientRect().width) + "×" + Math.round(e.getBoundingClientRect().height))`)
	for _, s := range small {
		b.t.Errorf("%s: too small for a chalky finger: %s", what, s)
	}
}

// unfiltered fails for a photo that is shown otherwise than it was taken: through a filter or a blend, of itself or of what it
// lies in; and for one on a ground that is not neutral, beside which its colours would look other.
func (b *browser) unfiltered(what string) {
	b.t.Helper()
	for _, s := range js[[]string](b, `[...document.querySelectorAll("main img")].flatMap(img => {
		const wrong = [];
		for (let e = img; e && e !== document.body; e = e.parentElement) {
			const c = getComputedStyle(e);
			if (c.filter !== "none" || c.mixBlendMode !== "normal" || c.backdropFilter && c.backdropFilter !== "none") wrong.push("is filtered by " + e.className);
		}
		for (let e = img; e && e !== img.closest("figure, li, article, section, main").parentElement; e = e.parentElement) {
			const [r, g, bl, a] = getComputedStyle(e).backgroundColor.match(/[\d.]+/g).map(Number);
			if (a === 0) continue;
			if (Math.max(r, g, bl) - Math.min(r, g, bl) > 8) wrong.push("lies on " + getComputedStyle(e).backgroundColor + " of " + e.tagName + "." + e.className);
			break;
		}
		return wrong.map(w => img.getAttribute("src").replace(/[0-9a-z]{16}/g, "…") + " " + w);
	}).slice(0, 4)`) {
		b.t.Errorf("%s: a photo %s", what, s)
	}
}

// withOwnCertificate serves an empty salon that has made a certificate, over plain HTTP: what is looked at is the page.
func withOwnCertificate(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	st, err := store.Open(t.Context(), dir, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { st.Close() })
	own, err := cert.Open(dir, func() cert.Names { return cert.Names{DNS: []string{"salon.local"}} }, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	h, err := server.New(salon.New(st, salon.Options{}), server.Options{Own: own})
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(h)
	t.Cleanup(srv.Close)
	return srv.URL
}
