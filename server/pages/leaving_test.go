package pages_test

import (
	"net/http"
	"strings"
	"testing"

	"thatch/timeline"
)

// RFC 6265bis, section 4.1.3.2 (E): a cookie of that prefix is taken by browsers only with Secure, Path=/ and no Domain, so
// no other host and no unencrypted page can have set it.
func TestUnderTLSEveryCookieIsOfThisHostAlone(t *testing.T) {
	x := openedToPeople(t)
	seen := map[string]bool{}
	visit := func(path string, fields ...string) {
		t.Helper()
		if w := x.call(path, fields...); w.Code >= 400 {
			t.Fatalf("%s: %d", path, w.Code)
		}
		for _, c := range x.lastSetCookie {
			name, prefixed := strings.CutPrefix(c.Name, "__Host-")
			seen[name] = true
			if tls := x.scheme == "https"; prefixed != tls || c.Secure != tls || c.Path != "/" || c.Domain != "" || !c.HttpOnly || c.SameSite < http.SameSiteLaxMode {
				t.Errorf("%s, %q: %s", path, x.scheme, c)
			}
		}
	}
	for _, x.scheme = range []string{"https", ""} {
		clear(x.cookies)
		clear(seen)
		visit("/signin", "name", "Ada", "password", adas)
		visit("/theme", "theme", "dark", "back", "/")
		visit("/people/signins/end", "x", "")
		if w := x.call("/people"); !strings.Contains(w.Body.String(), `data-theme="dark"`) || !strings.Contains(w.Body.String(), "class=\"said") {
			t.Errorf("%q: the look or the word on what was done is not remembered", x.scheme)
		}
		for _, name := range []string{"thatch_in", "thatch_browser", "thatch_theme", "thatch_said"} {
			if !seen[name] {
				t.Errorf("%q: no cookie %s", x.scheme, name)
			}
		}
	}
}

// W3C Clear Site Data (E). Not "cookies": the browser stays a known one, whose owner may try her password after others'
// failures.
func TestSigningOutLeavesNothingOfTheSalonInTheBrowser(t *testing.T) {
	x := openedToPeople(t)
	x.in("Bo", bos)
	w := x.call("/signout", "x", "")
	if got := w.Header().Get("Clear-Site-Data"); w.Code != http.StatusSeeOther || got != `"cache", "storage"` {
		t.Errorf("%d, %q", w.Code, got)
	}
	if x.cookies["thatch_in"] != "" || x.cookies["thatch_browser"] == "" {
		t.Errorf("left: %v", x.cookies)
	}
}

func TestAfterAPasswordWasGivenTheSignInHasANewToken(t *testing.T) {
	x := openedToPeople(t)
	for _, fields := range [][]string{
		{"/account/name", "rev", "1", "name", "Bob"},
		{"/account/tokens", "token_name", "camera", "scope", "read", "days", "9"},
		{"/account/signins/end"},
	} {
		name := must(x.s.Person(t.Context(), x.bo.ID)).Name
		x.in(name, bos)
		was := x.cookies["thatch_in"]
		if w := x.call(fields[0], append(fields[1:], "password", bos)...); w.Code >= 400 {
			t.Fatalf("%s: %d, %s", fields[0], w.Code, w.Body)
		}
		is := x.cookies["thatch_in"]
		if w := x.call("/account"); is == was || w.Code != http.StatusOK {
			t.Errorf("%s: the token is the old one, or is worth nothing: %d", fields[0], w.Code)
		}
		x.cookies["thatch_in"] = was
		if w := x.call("/account"); w.Code != http.StatusSeeOther {
			t.Errorf("%s: the old token goes on: %d", fields[0], w.Code)
		}
	}
	if p := must(x.s.Person(t.Context(), x.bo.ID)); p.Name != "Bob" {
		t.Errorf("she is still %q", p.Name)
	}
}

func TestEverybodyElseIsSignedOut(t *testing.T) {
	x := openedToPeople(t)
	browsers := []map[string]string{}
	for _, who := range [][2]string{{"Ada", adas}, {"Bo", bos}, {"Cy", cys}, {"Ada", adas}} {
		x.cookies = map[string]string{}
		x.in(who[0], who[1])
		browsers = append(browsers, x.cookies)
	}
	if w := x.call("/people/signins/end", "x", ""); w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/people" {
		t.Fatalf("%d to %q", w.Code, w.Header().Get("Location"))
	}
	for i, want := range []int{http.StatusSeeOther, http.StatusSeeOther, http.StatusSeeOther, http.StatusOK} {
		x.cookies = browsers[i]
		if w := x.call("/account"); w.Code != want {
			t.Errorf("browser %d: %d, want %d", i, w.Code, want)
		}
	}
	for person, want := range map[timeline.ID]int{x.ada.ID: 1, x.bo.ID: 0, x.cy.ID: 0} {
		if n := len(must(x.s.SignIns(t.Context(), person))); n != want {
			t.Errorf("%s has %d sign-ins, want %d", person, n, want)
		}
	}
}

func TestAClientsLinkIsOfTheAddressThatWasAsked(t *testing.T) {
	x := openedToPeople(t)
	d := x.dog()
	for _, x.scheme = range []string{"http", "https"} {
		x.in("Ada", adas)
		if w := x.call("/dogs/"+string(d.ID)+"/share", "rev", rev(must(x.s.Dog(t.Context(), d.ID)).Rev), "share_ok", "1"); w.Code != http.StatusSeeOther {
			t.Fatal(w.Code)
		}
		w := x.call("/dogs/"+string(d.ID)+"/links", "for", "Di")
		if w.Code != http.StatusOK || !strings.Contains(w.Body.String(), `value="`+x.scheme+`://127.0.0.1:8420/share/`) {
			t.Errorf("%s: %d, or another address", x.scheme, w.Code)
		}
	}
}
