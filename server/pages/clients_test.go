package pages_test

import (
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"github.com/go-chi/chi/v5"

	"thatch/server/pages"
	"thatch/server/salon"
)

func TestALinkNeedsConsentIsToldOnceAndIsWithdrawnByOneTap(t *testing.T) {
	x, _ := dated(t)
	d := must(x.s.CreateDog(t.Context(), salon.NewDog{Name: "Moss", Client: "Number Nine"}))
	at := "/dogs/" + string(d.ID)
	if body := x.get(at + "/client").Body.String(); strings.Contains(body, at+"/links") || !strings.Contains(body, `name="share_ok"`) {
		t.Error("a link is offered before the client agreed, or the question is missing")
	}
	x.refuses("a link without consent", x.post(at+"/links", "for", "Owner"), 422)
	if n := len(must(x.s.Links(t.Context(), d.ID))); n != 0 {
		t.Fatalf("%d links without consent", n)
	}
	x.goes(x.post(at+"/share", "rev", rev(d.Rev), "share_ok", "yes"), at+"/client")
	x.refuses("an older page", x.post(at+"/share", "rev", rev(d.Rev)), 409)
	long := strings.Repeat("o", 100)
	x.refuses("a name of a hundred signs", x.post(at+"/links", "for", long), 422, long)

	w := x.post(at+"/links", "for", "Owner")
	x.sound("the new link", w)
	address := ""
	if m := regexp.MustCompile(`http://127\.0\.0\.1:8420(` + pages.SharePath + `[A-Za-z0-9_-]{43})"`).FindStringSubmatch(w.Body.String()); m != nil {
		address = m[1]
	}
	if w.Code != 200 || address == "" || w.Header().Get("Cache-Control") != "no-store" {
		t.Fatalf("%d, %q, no address", w.Code, w.Header().Get("Cache-Control"))
	}
	token := strings.TrimPrefix(address, pages.SharePath)
	if shown := x.get(address); shown.Code != 200 || !strings.Contains(shown.Body.String(), "Moss") {
		t.Errorf("the link: %d", shown.Code)
	}
	later := x.get(at + "/client")
	if body := later.Body.String(); strings.Contains(body, token) || !strings.Contains(body, "Owner") {
		t.Error("the address is told again, or the link is not listed")
	}
	id := string(must(x.s.Links(t.Context(), d.ID))[0].ID)
	page := x.follows(x.post("/links/"+id+"/withdraw", "back", at+"/client"))
	if body := page.Body.String(); page.Code != 200 || strings.Contains(body, "/links/"+id+"/withdraw") {
		t.Errorf("%d; a link withdrawn can be withdrawn", page.Code)
	}
	x.sound("after the link was withdrawn", page)
	if gone := x.get(address); gone.Code != 404 {
		t.Errorf("the link withdrawn: %d", gone.Code)
	}
	if strings.Contains(x.log.String(), token) {
		t.Error("the log tells the token")
	}
}

func TestALinkPastItsTimeSaysSo(t *testing.T) {
	x, c := dated(t)
	d := x.rolled()
	token, _, err := x.s.MakeLink(t.Context(), d.ID, "Owner")
	if err != nil {
		t.Fatal(err)
	}
	c.set(wednesday + 90)
	if w := x.get(pages.SharePath + token); w.Code != 404 {
		t.Errorf("past its time: %d", w.Code)
	}
	page := x.get("/dogs/" + string(d.ID) + "/client")
	if strings.Contains(page.Body.String(), "/withdraw") {
		t.Error("it can still be withdrawn")
	}
	x.sound("a link past its time", page)
}

// Every route of the salon is tried, so that a new action cannot be forgotten.
func TestNoActionCanBeSetOffByAnotherSite(t *testing.T) {
	x, _ := dated(t)
	router, ok := x.h.(chi.Routes)
	if !ok {
		t.Fatal("the server is no router")
	}
	tried := 0
	err := chi.Walk(router, func(method, route string, _ http.Handler, _ ...func(http.Handler) http.Handler) error {
		if method == "GET" || method == "HEAD" || method == "OPTIONS" || method == "TRACE" || strings.Contains(route, "*") {
			return nil
		}
		tried++
		path := regexp.MustCompile(`\{[^}]+\}`).ReplaceAllString(route, "x1")
		for name, set := range map[string]func(*http.Request){
			"another origin":                   func(r *http.Request) { r.Header.Set("Origin", "https://elsewhere.example") },
			"another port of this machine":     func(r *http.Request) { r.Header.Set("Origin", "http://127.0.0.1:9999") },
			"fetched across sites":             func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") },
			"fetched from a name beside ours":  func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "same-site") },
			"an origin that nobody would name": func(r *http.Request) { r.Header.Set("Origin", "null") },
		} {
			r := httptest.NewRequest(method, path, nil)
			set(r)
			if w := x.ask(r); w.Code != http.StatusForbidden {
				t.Errorf("%s %s, %s: %d", method, route, name, w.Code)
			}
		}
		r := httptest.NewRequest(method, path, nil)
		w := httptest.NewRecorder()
		r.Host = "elsewhere.example"
		if x.h.ServeHTTP(w, r); w.Code != http.StatusMisdirectedRequest {
			t.Errorf("%s %s under another name: %d", method, route, w.Code)
		}
		return nil
	})
	if err != nil || tried < 20 {
		t.Errorf("%d actions tried, %v", tried, err)
	}
	r := httptest.NewRequest("POST", "/dogs", strings.NewReader("name=Moss"))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Origin", "http://127.0.0.1:8420")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	if w := x.ask(r); w.Code != 303 {
		t.Errorf("our own page is refused: %d", w.Code)
	}
}

func TestEveryIDThatIsNoneIsAMissingPage(t *testing.T) {
	x, _ := dated(t)
	tried := 0
	err := chi.Walk(x.h.(chi.Routes), func(method, route string, _ http.Handler, _ ...func(http.Handler) http.Handler) error {
		if method != "GET" || !strings.Contains(route, "{") || strings.HasPrefix(route, "/assets") || strings.HasPrefix(route, "/share") {
			return nil
		}
		tried++
		path := strings.ReplaceAll(route, "{kind}", "thumb")
		for _, id := range []string{"nobody", "0", "%2e%2e", "%00", "a'b", strings.Repeat("z", 300)} {
			p := regexp.MustCompile(`\{[^}]+\}`).ReplaceAllString(path, strings.ReplaceAll(id, "$", "$$"))
			w := x.get(p)
			if w.Code != 404 {
				t.Errorf("%s with %.12q: %d", route, id, w.Code)
			}
			x.sound(route, w)
		}
		return nil
	})
	if err != nil || tried < 15 {
		t.Errorf("%d pages tried, %v", tried, err)
	}
}

func TestAFormLargerThanAnyIsRefused(t *testing.T) {
	x, _ := dated(t)
	w := x.post("/dogs", "name", strings.Repeat("n", 2<<20))
	x.refuses("two megabytes of a name", w, 413)
}

func TestAForgedMemoryOfTheLastActionShowsNothingOfItsOwn(t *testing.T) {
	x, _ := dated(t)
	for _, value := range []string{"<script>alert(1)</script>~~", "dog.saved~castle~1", `show.trashed~show~"><b>`, "show.trashed~show~../../x", "~~~~", ""} {
		r := httptest.NewRequest("GET", "/", nil)
		r.Header.Set("Cookie", `thatch_said=`+value)
		w := x.ask(r)
		if body := w.Body.String(); w.Code != 200 || strings.Contains(body, "alert(1)") || strings.Contains(body, "/restore/") {
			t.Errorf("%q: %d, or it is believed", value, w.Code)
		}
		x.sound(value, w)
	}
}
