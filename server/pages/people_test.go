package pages_test

import (
	"bytes"
	"crypto/tls"
	"database/sql"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"thatch/server"
	"thatch/server/login"
	"thatch/server/salon"
	"thatch/server/share"
	"thatch/store"
	"thatch/timeline"
)

// peopled is a house in which people sign in.
type peopled struct {
	*house
	data          string
	ada, bo, cy   timeline.Person // owner, groomer, reader
	cookies       map[string]string
	from, scheme  string
	lastSetCookie []*http.Cookie
}

const (
	adas = "a heron on the weir"
	bos  = "two otters by the mill"
	cys  = "three newts in a pail"
)

func openedToPeople(t *testing.T) *peopled {
	t.Helper()
	data := t.TempDir()
	st := must(store.Open(t.Context(), data, store.Options{}))
	t.Cleanup(func() { st.Close() })
	x := &peopled{house: &house{t: t, st: st, s: salon.New(st, salon.Options{}), log: &bytes.Buffer{}}, data: data, cookies: map[string]string{}, from: "192.0.2.9:4000"}
	log := slog.New(slog.NewTextHandler(x.log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	x.h = must(server.New(x.s, server.Options{Log: log, Share: must(share.Handler(x.s, log)), Login: login.New(x.s, login.Options{Log: log})}))
	ctx := t.Context()
	x.ada = must(x.s.OwnerByCode(ctx, must(x.s.MakeOwnerCode(ctx, time.Hour)), "Ada", adas, salon.Knock{}))
	for _, p := range []struct {
		p        *timeline.Person
		name     string
		role     timeline.Role
		password string
	}{{&x.bo, "Bo", timeline.Groomer, bos}, {&x.cy, "Cy", timeline.Reader, cys}} {
		token, _, err := x.s.Invite(ctx, p.name, p.role)
		if err != nil {
			t.Fatal(err)
		}
		*p.p = must(x.s.Join(ctx, token, p.name, p.password))
	}
	return x
}

// call is a request of a browser that keeps cookies; fields make it a POST.
func (x *peopled) call(path string, fields ...string) *httptest.ResponseRecorder {
	x.t.Helper()
	r := httptest.NewRequest("GET", path, nil)
	if len(fields) > 0 {
		v := url.Values{}
		for i := 0; i+1 < len(fields); i += 2 {
			v.Add(fields[i], fields[i+1])
		}
		r = httptest.NewRequest("POST", path, strings.NewReader(v.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	r.RemoteAddr = x.from
	if x.scheme == "https" {
		r.TLS = &tls.ConnectionState{}
	}
	for k, v := range x.cookies {
		r.AddCookie(&http.Cookie{Name: k, Value: v})
	}
	w := x.ask(r)
	x.lastSetCookie = w.Result().Cookies()
	for _, c := range x.lastSetCookie {
		if c.MaxAge < 0 {
			delete(x.cookies, c.Name)
		} else {
			x.cookies[c.Name] = c.Value
		}
	}
	return w
}

func (x *peopled) in(name, password string) {
	x.t.Helper()
	clear(x.cookies)
	if w := x.call("/signin", "name", name, "password", password); w.Code != http.StatusSeeOther {
		x.t.Fatalf("%s cannot sign in: %d, %s", name, w.Code, w.Body)
	}
}

func TestAfterTheSignInOneGoesOnWhereOneWas(t *testing.T) {
	x := openedToPeople(t)
	for next, want := range map[string]string{
		"": "/", "/dogs/new": "/dogs/new", "/changes?of=dogs": "/changes?of=dogs",
		"//elsewhere.example/": "/", `/\elsewhere.example`: "/", "https://elsewhere.example/": "/", "javascript:alert(1)": "/", "/a\r\nSet-Cookie: x=y": "/", "dogs": "/",
	} {
		clear(x.cookies)
		if w := x.call("/signin", "name", "Ada", "password", adas, "next", next); w.Code != http.StatusSeeOther || w.Header().Get("Location") != want {
			t.Errorf("next %q: %d to %q, want %q", next, w.Code, w.Header().Get("Location"), want)
		}
	}
}

func TestTooManyTriesAreToldHowLongToWait(t *testing.T) {
	x := openedToPeople(t)
	tested := 0
	for range 30 {
		w := x.call("/signin", "name", "Ada", "password", "wrong wrong wrong")
		switch w.Code {
		case http.StatusUnprocessableEntity:
			tested++
		case http.StatusTooManyRequests:
			wait, err := strconv.Atoi(w.Header().Get("Retry-After"))
			if err != nil || wait < 1 || wait > 15*60 || !strings.Contains(w.Body.String(), "Wait ") {
				t.Fatalf("Retry-After %q: %s", w.Header().Get("Retry-After"), w.Body)
			}
		default:
			t.Fatalf("%d: %s", w.Code, w.Body)
		}
	}
	if tested > 10 {
		t.Errorf("%d wrong passwords were tested", tested)
	}
	// The right one from a browser that she signed in from before, at the same address, at once.
	before := must(x.s.KnowBrowser(t.Context(), x.ada.ID, strings.Repeat("A", 43)))
	if before == strings.Repeat("A", 43) {
		t.Error("a browser keeps what somebody else may have put there")
	}
	x.cookies["thatch_browser"] = before
	if w := x.call("/signin", "name", "Ada", "password", adas); w.Code != http.StatusSeeOther {
		t.Errorf("the owner in her own browser: %d, %s", w.Code, w.Body)
	}
	if x.cookies["thatch_browser"] != before {
		t.Error("the browser is another now")
	}
	n := 0
	for range 100 { // it is written beside the answer
		n = 0
		for _, l := range must(x.s.Changes(t.Context(), salon.ChangesOf{Of: "people"})).Lines {
			if l.Op == "wrong passwords for" && l.Key == x.ada.ID {
				n++
			}
		}
		if n > 0 {
			break
		}
		time.Sleep(20 * time.Millisecond)
	}
	if n != 1 {
		t.Errorf("the burst is told %d times in the log of changes", n)
	}
}

// An unknown name and a wrong password are told in the same words.
func TestASignInTellsNotWhoHasAnAccount(t *testing.T) {
	x := openedToPeople(t)
	a, b := x.call("/signin", "name", "Ada", "password", "wrong wrong wrong"), x.call("/signin", "name", "Eve", "password", "wrong wrong wrong")
	strip := func(s string) string { return strings.NewReplacer(`value="Ada"`, "", `value="Eve"`, "").Replace(s) }
	if a.Code != b.Code || strip(a.Body.String()) != strip(b.Body.String()) {
		t.Errorf("%d %s\n%d %s", a.Code, a.Body, b.Code, b.Body)
	}
}

// A page that a reader visits writes nothing: not a row of the database changes.
func TestAVisitOfAReaderWritesNothing(t *testing.T) {
	x := openedToPeople(t)
	_, paths := x.furnished()
	x.in("Cy", cys)
	db := must(sql.Open("sqlite", "file:"+filepath.Join(x.data, "thatch.db")+"?_pragma=query_only(1)"))
	defer db.Close()
	db.SetMaxOpenConns(1)
	version := func() (n int) {
		if err := db.QueryRow("PRAGMA data_version").Scan(&n); err != nil { // changes with every commit of another connection
			t.Fatal(err)
		}
		return n
	}
	was := version()
	seen := 0
	for _, path := range append(paths, "/account", "/signin", "/owner", "/heap", "/kinds", "/protocol", "/people", "/changes") {
		w := x.call(path)
		if w.Code >= 500 {
			t.Errorf("%s: %d", path, w.Code)
		}
		if w.Code == http.StatusOK {
			seen++
		}
		if now := version(); now != was {
			t.Errorf("GET %s wrote to the database", path)
			was = now
		}
	}
	if seen < 20 {
		t.Errorf("only %d pages were seen", seen)
	}
	x.call("/signout", "x", "")
	if version() == was {
		t.Error("signing out writes nothing either: the test sees nothing")
	}
}

func TestWhoIsSignedInChoosesALookForHerselfOnly(t *testing.T) {
	x := openedToPeople(t)
	x.in("Cy", cys)
	if w := x.call("/theme", "theme", "dark", "back", "/account"); w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/account" {
		t.Fatalf("%d to %q", w.Code, w.Header().Get("Location"))
	}
	if w := x.call("/account"); !strings.Contains(w.Body.String(), `data-theme="dark"`) {
		t.Error("her look is not kept")
	}
	if set := must(x.s.Settings(t.Context())); set.Theme != "" {
		t.Errorf("a reader changed the salon's look to %q", set.Theme)
	}
	x.in("Ada", adas)
	if w := x.call("/account"); strings.Contains(w.Body.String(), `data-theme="dark"`) {
		t.Error("another person has her look")
	}
	if w := x.call("/settings"); w.Code != 200 {
		t.Fatal(w.Code)
	}
}

func TestAPasswordIsAskedForWhereSignInsAndTokensAreMadeAndEnded(t *testing.T) {
	x := openedToPeople(t)
	x.in("Bo", bos)
	other := x.cookies
	x.cookies = map[string]string{}
	x.in("Bo", bos)
	for _, c := range []struct {
		path   string
		fields []string
	}{
		{"/account/signins/end", nil}, {"/account/name", []string{"rev", "1", "name", "Bob"}}, {"/account/tokens", []string{"token_name", "camera", "scope", "read", "days", "9"}}, {"/account/password", []string{"new", "five larks over a field"}},
	} {
		w := x.call(c.path, append(c.fields, "password", "wrong wrong wrong")...)
		if w.Code != http.StatusUnprocessableEntity || strings.Contains(w.Body.String(), "wrong wrong") || strings.Contains(w.Body.String(), "five larks") {
			t.Errorf("%s with a wrong password: %d, %s", c.path, w.Code, w.Body)
		}
	}
	x.in("Bo", bos)
	if n := len(must(x.s.SignIns(t.Context(), x.bo.ID))); n != 3 {
		t.Fatalf("%d sign-ins", n)
	}
	if w := x.call("/account/signins/end", "password", bos); w.Code != http.StatusSeeOther {
		t.Fatalf("%d, %s", w.Code, w.Body)
	}
	mine := x.cookies
	x.cookies = other
	if w := x.call("/account"); w.Code != http.StatusSeeOther {
		t.Errorf("another sign-in goes on: %d", w.Code)
	}
	x.cookies = mine
	before := x.cookies["thatch_in"]
	if w := x.call("/account/password", "password", bos, "new", "five larks over a field"); w.Code != http.StatusSeeOther {
		t.Fatalf("%d, %s", w.Code, w.Body)
	}
	if x.cookies["thatch_in"] == before {
		t.Error("after a new password the sign-in has its old token")
	}
	if w := x.call("/account"); w.Code != http.StatusOK {
		t.Errorf("after a new password she is out: %d", w.Code)
	}
	x.in("Bo", "five larks over a field")
}

func TestAnOwnerMakesASpareKeyAndComesBackByIt(t *testing.T) {
	x := openedToPeople(t)
	x.in("Bo", bos)
	if w := x.call("/account"); strings.Contains(w.Body.String(), "Spare key") {
		t.Error("a groomer is offered a spare key")
	}
	x.in("Ada", adas)
	if w := x.call("/account/key", "password", "wrong wrong wrong"); w.Code != http.StatusUnprocessableEntity || strings.Contains(w.Body.String(), "f-spare") {
		t.Errorf("with a wrong password: %d", w.Code)
	}
	w := x.call("/account/key", "password", adas)
	m := regexp.MustCompile(`id="f-spare"[^>]* value="([^"]*)"`).FindStringSubmatch(w.Body.String())
	if w.Code != http.StatusOK || m == nil {
		t.Fatalf("%d, %s", w.Code, w.Body)
	}
	if w := x.call("/account"); strings.Contains(w.Body.String(), m[1]) || !strings.Contains(w.Body.String(), "You made one on") {
		t.Error("the key is shown again, or nothing says that there is one")
	}
	x.cookies = map[string]string{}
	if w := x.call("/owner"); !strings.Contains(w.Body.String(), "Spare key") {
		t.Error("nothing says where the key goes")
	}
	if w := x.call("/owner", "code", m[1], "name", "Ada", "password", "five larks over a field"); w.Code != http.StatusSeeOther {
		t.Fatalf("by the key: %d, %s", w.Code, w.Body)
	}
	w = x.call("/account")
	if w.Code != http.StatusOK || strings.Contains(w.Body.String(), "You made one on") {
		t.Errorf("%d, or the used key still counts", w.Code)
	}
	again := x.call("/account/key", "password", "five larks over a field")
	if w := x.call("/account/key/end", "password", "wrong wrong wrong"); again.Code != http.StatusOK || w.Code != http.StatusUnprocessableEntity {
		t.Errorf("%d, ended with a wrong password: %d", again.Code, w.Code)
	}
	if w := x.call("/account"); !strings.Contains(w.Body.String(), "You made one on") {
		t.Error("a wrong password ended the key")
	}
	if w := x.call("/account/key/end", "password", "five larks over a field"); w.Code != http.StatusSeeOther {
		t.Errorf("%d", w.Code)
	}
	if w := x.call("/account"); strings.Contains(w.Body.String(), "You made one on") {
		t.Error("an ended key still counts")
	}
}

func TestNobodyEndsWhatIsAnothers(t *testing.T) {
	x := openedToPeople(t)
	_, tok, err := x.s.MakeToken(t.Context(), x.ada.ID, "hers", timeline.ScopeRead, 1)
	if err != nil {
		t.Fatal(err)
	}
	x.in("Ada", adas)
	hers := must(x.s.SignIns(t.Context(), x.ada.ID))[0].ID
	x.in("Bo", bos)
	if w := x.call("/account/tokens/"+string(tok.ID)+"/end", "x", ""); w.Code != http.StatusNotFound {
		t.Errorf("another's token: %d", w.Code)
	}
	if w := x.call("/account/signins/end", "password", bos, "signin", string(hers)); w.Code != http.StatusNotFound {
		t.Errorf("another's sign-in: %d", w.Code)
	}
	if len(must(x.s.Tokens(t.Context(), x.ada.ID))) != 1 || len(must(x.s.SignIns(t.Context(), x.ada.ID))) != 1 {
		t.Error("it has ended all the same")
	}
}

func TestAReadersTokenOnlyLooks(t *testing.T) {
	x := openedToPeople(t)
	x.in("Cy", cys)
	if w := x.call("/account"); strings.Contains(w.Body.String(), `value="photos"`) {
		t.Error("a reader is offered a token that hands in photos")
	}
	if w := x.call("/account/tokens", "token_name", "x", "scope", "photos", "days", "9", "password", cys); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("%d", w.Code)
	}
}

// Every field for a password is one, may be pasted into, and tells a password manager what it is for.
func TestPasswordFieldsAreForPasswordManagers(t *testing.T) {
	x := openedToPeople(t)
	token, _, err := x.s.Invite(t.Context(), "Di", timeline.Reader)
	if err != nil {
		t.Fatal(err)
	}
	want := map[string][]string{"/signin": {"current-password"}, "/owner": {"new-password"}, "/join/" + token: {"new-password"}}
	check := func(path string, autos []string) {
		t.Helper()
		body := x.call(path).Body.String()
		fields := regexp.MustCompile(`<input[^>]*type="password"[^>]*>`).FindAllString(body, -1)
		if len(fields) != len(autos) || !strings.Contains(body, `autocomplete="username"`) || strings.Contains(body, "onpaste") {
			t.Errorf("%s: %v", path, fields)
			return
		}
		for i, f := range fields {
			if !strings.Contains(f, `autocomplete="`+autos[i]+`"`) || strings.Contains(f, "maxlength") || strings.Contains(f, "value=") {
				t.Errorf("%s: %s", path, f)
			}
		}
	}
	for path, autos := range want {
		check(path, autos)
	}
	x.in("Bo", bos)
	check("/account", []string{"current-password", "current-password", "new-password", "current-password"})
}

func TestInvitationsAreLinksOfTheAddressThatWasAsked(t *testing.T) {
	x := openedToPeople(t)
	for _, scheme := range []string{"http", "https"} {
		x.scheme = scheme
		x.in("Ada", adas)
		w := x.call("/people/invitations", "for", "Di", "role", "reader")
		m := regexp.MustCompile(`value="(` + scheme + `://127\.0\.0\.1:8420/join/[A-Za-z0-9_-]{43})"`).FindStringSubmatch(w.Body.String())
		if w.Code != http.StatusOK || m == nil {
			t.Errorf("%d, %s", w.Code, w.Body)
			continue
		}
		if strings.Contains(x.log.String(), m[1][len(m[1])-43:]) || strings.Contains(x.call("/people").Body.String(), "/join/") {
			t.Error("the link is told twice")
		}
	}
}
