package server_test

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"thatch/server"
	"thatch/server/guard"
	"thatch/server/login"
	"thatch/timeline"
)

// asker is who asks in the matrix: "" a stranger, a role, or a role with a token of a scope.
type asker struct {
	name  string
	role  timeline.Role
	scope timeline.Scope
}

var askers = []asker{
	{"", "", ""},
	{"reader", timeline.Reader, ""}, {"groomer", timeline.Groomer, ""}, {"owner", timeline.Owner, ""},
	{"reader read", timeline.Reader, timeline.ScopeRead}, {"reader photos", timeline.Reader, timeline.ScopePhotos},
	{"groomer photos", timeline.Groomer, timeline.ScopePhotos}, {"owner read", timeline.Owner, timeline.ScopeRead}, {"owner photos", timeline.Owner, timeline.ScopePhotos},
}

// may is the rule of the table said a second time, as plainly as it can be: what the answers are compared with.
func (a asker) may(row guard.Row) bool {
	if row.Least == guard.Anyone {
		return true
	}
	if a.name == "" {
		return false
	}
	from := map[timeline.Role]int{timeline.Reader: 0, timeline.Groomer: 1, timeline.Owner: 2}
	if from[a.role] < from[row.Least] {
		return false
	}
	switch {
	case a.scope == "":
		return true
	case row.Scope == "":
		return false
	case row.Scope == timeline.ScopeRead:
		return true
	}
	return a.scope == timeline.ScopePhotos
}

// otherwise are pages that do not answer 200 about things that exist, and why.
var otherwise = map[string]struct {
	code int
	why  string
}{
	"/trust":                        {404, "there is no certificate of our own here"},
	"/trust/authority.crt":          {404, "there is no certificate of our own here"},
	"/share/{token}/over":           {404, "two grey pictures do not align"},
	"/photos/{id}/over/{ref}":       {404, "two grey pictures do not align"},
	"/photos/{id}/balanced/{other}": {422, "two grey pictures have no marker"},
	"/photos/{id}/edge/shape":       {404, "a grey picture has no edge"},
	"/compare":                      {422, "nothing says which two photos"},
}

// TestEveryRoleGetsEveryRouteAsTheTableSays asks every route for everybody, about a thing that exists and about one that
// does not. Rows that destroy what they name come last.
func TestEveryRoleGetsEveryRouteAsTheTableSays(t *testing.T) {
	x := built(t, func(x *house) server.Login { return saidToBe{x} })
	rows := guard.Table()
	slices.SortStableFunc(rows, func(a, b guard.Row) int { return weight(a) - weight(b) })
	cells, refused, served := 0, 0, 0
	for _, row := range rows {
		for _, a := range askers {
			for _, exists := range []bool{true, false} {
				if !exists && !named(row) {
					continue
				}
				cells++
				contentType, body := x.bodyFor(row)
				resp, text := x.ask(a.name, row.Method, x.path(row, exists), contentType, body)
				what := fmt.Sprintf("%s %s by %q, exists %v", row.Method, row.Pattern, a.name, exists)
				x.isBound(what, row, resp)
				if a.may(row) {
					served++
					x.isServed(what, row, exists, resp, text)
				} else {
					refused++
					x.isRefused(what, row, a, resp, text)
				}
			}
		}
	}
	t.Logf("%d routes, %d askers, %d cells: %d refused, %d served", len(rows), len(askers), cells, refused, served)
	if strings.Contains(x.log.String(), "level=ERROR") {
		t.Errorf("trouble in the log: %.2000s", x.log.String())
	}
}

func weight(row guard.Row) int {
	last := row.Pattern[strings.LastIndex(row.Pattern, "/")+1:]
	switch {
	case row.Method == http.MethodGet:
		return 0
	case slices.Contains([]string{"trash", "withdraw", "remove", "end", "signout", "role"}, last):
		return 2
	}
	return 1
}

func (x *house) isRefused(what string, row guard.Row, a asker, resp *http.Response, text string) {
	x.t.Helper()
	to := resp.Header.Get("Location")
	switch {
	case a.name != "":
		if resp.StatusCode != http.StatusForbidden {
			x.t.Errorf("%s: %d, want 403", what, resp.StatusCode)
		}
	case row.Answer == guard.Page:
		if resp.StatusCode != http.StatusSeeOther || to != "/signin" && !strings.HasPrefix(to, "/signin?next=%2F") {
			x.t.Errorf("%s: %d to %q, want to be sent to sign in", what, resp.StatusCode, to)
		}
		return
	case resp.StatusCode != http.StatusUnauthorized:
		x.t.Errorf("%s: %d, want 401", what, resp.StatusCode)
	case row.Answer == guard.JSON && resp.Header.Get("WWW-Authenticate") == "":
		x.t.Errorf("%s: nothing says how to sign in", what)
	}
	if row.Answer == guard.JSON != strings.HasPrefix(text, `{"error":{"kind":"`) {
		x.t.Errorf("%s is told %.80q", what, text)
	}
	if a.name == "" && (strings.Contains(text, "Wisp") || strings.Contains(text, "Number Nine")) {
		x.t.Errorf("%s: a stranger is told of the salon", what)
	}
}

func (x *house) isServed(what string, row guard.Row, exists bool, resp *http.Response, text string) {
	x.t.Helper()
	code := resp.StatusCode
	switch {
	case row.Pattern == "/signout" && code == http.StatusSeeOther:
	case row.Pattern == "/signin" && row.Method == http.MethodGet && code == http.StatusSeeOther && resp.Header.Get("Location") == "/": // is in already
	case code == http.StatusForbidden || code >= 500 || strings.HasPrefix(resp.Header.Get("Location"), "/signin"):
		x.t.Errorf("%s: %d: %.200s", what, code, text)
	case code == http.StatusUnauthorized && row.Object != guard.SignIn:
		x.t.Errorf("%s: %d", what, code)
	case row.Method == http.MethodGet && exists && code != http.StatusOK:
		if code != otherwise[row.Pattern].code {
			x.t.Errorf("%s: %d", what, code)
		}
	case row.Method == http.MethodGet && !exists && code != http.StatusNotFound:
		x.t.Errorf("%s: %d, want 404", what, code)
	case row.Method != http.MethodGet && !exists && code < 400:
		x.t.Errorf("%s: %d to %q", what, code, resp.Header.Get("Location"))
	}
}

// isBound: what every answer carries, served or not (OWASP ASVS 5.0, 3.4).
func (x *house) isBound(what string, row guard.Row, resp *http.Response) {
	x.t.Helper()
	h := resp.Header
	for name, want := range map[string]string{
		"X-Content-Type-Options": "nosniff", "X-Frame-Options": "DENY", "Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Resource-Policy": "same-origin",
	} {
		if h.Get(name) != want {
			x.t.Errorf("%s: %s is %q", what, name, h.Get(name))
		}
	}
	csp := h.Get("Content-Security-Policy")
	for _, part := range []string{"default-src 'none'", "frame-ancestors 'none'", "base-uri 'none'", "form-action 'self'"} {
		if !strings.Contains(csp, part) || strings.Contains(csp, "unsafe") || strings.Contains(csp, "*") {
			x.t.Errorf("%s: content policy %q", what, csp)
		}
	}
	kept, referrer := h.Get("Cache-Control"), h.Get("Referrer-Policy")
	switch {
	case row.Object == guard.Asset && resp.StatusCode == http.StatusOK:
		if !strings.HasPrefix(kept, "public") {
			x.t.Errorf("%s: an asset is %q", what, kept)
		}
	case kept != "no-store" && !strings.HasPrefix(kept, "private"):
		x.t.Errorf("%s: may be kept: %q", what, kept)
	case row.Object == guard.Shared && (kept != "no-store" || referrer != "no-referrer" || !strings.Contains(h.Get("X-Robots-Tag"), "noindex")):
		x.t.Errorf("%s: %q, %q, %q", what, kept, referrer, h.Get("X-Robots-Tag"))
	case referrer != "same-origin" && referrer != "no-referrer" && referrer != "strict-origin":
		x.t.Errorf("%s: referrer %q", what, referrer)
	}
	if h.Get("Strict-Transport-Security") != "" || h.Get("Server") != "" || h.Get("Access-Control-Allow-Origin") != "" {
		x.t.Errorf("%s: says too much: %v", what, h)
	}
}

func TestAnAddressThatIsNoneTellsStrangersNothing(t *testing.T) {
	x := built(t, func(x *house) server.Login { return saidToBe{x} })
	for _, c := range []struct {
		as, method, path string
		want             int
	}{
		{"", "GET", "/nothing", 303}, {"", "GET", "/dogs/7/nothing", 303}, {"", "POST", "/nothing", 401}, {"", "GET", "/api/v1/nothing", 401}, {"", "DELETE", "/api/v1/dogs", 401},
		{"", "DELETE", "/", 401}, {"", "PROPFIND", "/", 401}, {"", "GET", "/share/x/y/z/w", 404}, {"", "GET", "/assets/none", 404}, {"", "GET", "/.git/config", 303}, {"", "GET", "/thatch.db", 303},
		{"reader", "GET", "/nothing", 404}, {"reader", "POST", "/nothing", 404}, {"reader", "GET", "/api/v1/nothing", 404}, {"owner", "DELETE", "/api/v1/dogs", 404}, {"owner", "DELETE", "/", 404},
		{"owner", "GET", "/api/v1", 404}, {"owner", "GET", "/api/v1/", 404}, {"owner", "GET", "/DOGS", 404}, {"owner", "GET", "/dogs/", 404}, {"owner", "GET", "//", 404},
	} {
		if resp, _ := x.ask(c.as, c.method, c.path, "", nil); resp.StatusCode != c.want {
			t.Errorf("%q %s %s: %d, want %d", c.as, c.method, c.path, resp.StatusCode, c.want)
		}
	}
}

// Whoever asks for another's own things is told what she would be told of things that are not there, the owner too.
func TestNobodyReachesWhatIsAnothersOwn(t *testing.T) {
	x := built(t, func(x *house) server.Login { return saidToBe{x} })
	asked := 0
	for _, row := range guard.Table() {
		if !row.Own || !named(row) {
			continue
		}
		for _, a := range []string{"groomer", "owner"} {
			contentType, body := x.bodyFor(row)
			got, text := x.ask(a, row.Method, x.path(row, true), contentType, body)
			contentType, body = x.bodyFor(row)
			none, noText := x.ask(a, row.Method, x.path(row, false), contentType, body)
			asked++
			if got.StatusCode != http.StatusNotFound || none.StatusCode != http.StatusNotFound || text != noText {
				t.Errorf("%s %s of another by the %s: %d; of nothing: %d", row.Method, row.Pattern, a, got.StatusCode, none.StatusCode)
			}
		}
	}
	if _, err := x.s.ByToken(t.Context(), x.secretOfTheirs); err != nil || asked == 0 {
		t.Errorf("%d asked; the token of another: %v", asked, err)
	}
}

// TestRealSignInsAndTokensAreWhoTheySayTheyAre asks all that only looks with the cookies and tokens of real people.
func TestRealSignInsAndTokensAreWhoTheySayTheyAre(t *testing.T) {
	x := built(t, func(x *house) server.Login { return login.New(x.s, login.Options{Local: true, Log: x.logger()}) })
	with := map[string][]string{"": nil}
	for _, role := range timeline.Roles() {
		with[string(role)] = []string{"Cookie", x.cookieOf(role)}
	}
	for _, a := range askers {
		if a.scope != "" && !(a.role == timeline.Reader && a.scope == timeline.ScopePhotos) { // a reader is given none of those
			secret, _ := must2(x.s.MakeToken(t.Context(), x.people[a.role].ID, a.name, a.scope, 30))
			with[a.name] = []string{"Authorization", "Bearer " + secret}
		}
	}
	cells := 0
	for _, row := range guard.Table() {
		if row.Method != http.MethodGet || row.Object == guard.Asset {
			continue
		}
		for _, a := range askers {
			if _, is := with[a.name]; !is {
				continue
			}
			cells++
			resp, text := x.ask("", row.Method, x.path(row, true), "", nil, with[a.name]...)
			what := fmt.Sprintf("%s %s by a real %q", row.Method, row.Pattern, a.name)
			switch {
			case a.scope != "" && row.Answer != guard.JSON: // a token is looked at under /api/v1 alone; elsewhere its bearer is a stranger
				if row.Least != guard.Anyone {
					x.isRefused(what, row, asker{}, resp, text)
				}
			case a.may(row):
				x.isServed(what, row, true, resp, text)
			default:
				x.isRefused(what, row, a, resp, text)
			}
		}
	}
	t.Logf("%d cells", cells)
}
