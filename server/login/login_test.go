package login

import (
	"context"
	"crypto/tls"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"thatch/server/salon"
	"thatch/store"
	"thatch/timeline"
)

// counted counts what is written for sign-ins.
type counted struct {
	shelf
	touches, others atomic.Int64
}

func (c *counted) TouchLogin(ctx context.Context, hash string, data []byte, expires time.Time) error {
	c.touches.Add(1)
	return c.shelf.TouchLogin(ctx, hash, data, expires)
}

func (c *counted) CreateLogin(ctx context.Context, hash string, v store.Login) (store.Login, error) {
	c.others.Add(1)
	return c.shelf.CreateLogin(ctx, hash, v)
}

// house is a salon with an owner, a groomer, and a clock.
type house struct {
	t          *testing.T
	s          *salon.Salon
	m          *Manager
	writes     *counted
	now        atomic.Pointer[time.Time]
	owner, bo  timeline.Person
	boPassword string
}

const ownersPassword = "a heron on the weir"

func opened(t *testing.T, local, peopled bool) *house {
	t.Helper()
	x := &house{t: t, boPassword: "two otters by the mill"}
	now := time.Now()
	x.now.Store(&now)
	clock := func() time.Time { return *x.now.Load() }
	st, err := store.Open(t.Context(), t.TempDir(), store.Options{Now: clock})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { st.Close() })
	x.s = salon.New(st, salon.Options{Now: clock})
	x.writes = &counted{shelf: st}
	x.m = newManager(x.s, x.writes, Options{Local: local})
	if !peopled {
		return x
	}
	ctx := t.Context()
	code, err := x.s.MakeOwnerCode(ctx, time.Hour)
	if err == nil {
		x.owner, err = x.s.OwnerByCode(ctx, code, "Ada", ownersPassword, salon.Knock{})
	}
	if err != nil {
		t.Fatal(err)
	}
	invitation, _, err := x.s.Invite(ctx, "Bo", timeline.Groomer)
	if err == nil {
		x.bo, err = x.s.Join(ctx, invitation, "Bo", x.boPassword)
	}
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func (x *house) later(d time.Duration) {
	now := x.now.Load().Add(d)
	x.now.Store(&now)
}

// browser keeps cookies as a browser does.
type browser struct {
	x       *house
	from    string
	tls     bool
	cookies map[string]string
}

func (x *house) browser() *browser {
	return &browser{x: x, from: "127.0.0.1:4000", cookies: map[string]string{}}
}

// ask sends a request through the middleware to h, and tells who the visitor was there.
func (b *browser) ask(path string, headers map[string]string, h func(w http.ResponseWriter, r *http.Request) error) (who *timeline.Visitor, answer *http.Response) {
	b.x.t.Helper()
	r := httptest.NewRequest("GET", path, nil)
	r.RemoteAddr = b.from
	if b.tls {
		r.TLS = &tls.ConnectionState{}
	}
	for k, v := range b.cookies {
		r.AddCookie(&http.Cookie{Name: k, Value: v})
	}
	for k, v := range headers {
		r.Header.Set(k, v)
	}
	w := httptest.NewRecorder()
	b.x.m.Middleware(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if v, ok := timeline.VisitorOf(r.Context()); ok {
			who = &v
		}
		if h != nil {
			if err := h(w, r); err != nil {
				b.x.t.Error(err)
			}
		}
	})).ServeHTTP(w, r)
	answer = w.Result()
	for _, c := range answer.Cookies() {
		if c.MaxAge < 0 {
			delete(b.cookies, c.Name)
		} else {
			b.cookies[c.Name] = c.Value
		}
	}
	return who, answer
}

func (b *browser) who() *timeline.Visitor {
	b.x.t.Helper()
	v, _ := b.ask("/", nil, nil)
	return v
}

func (b *browser) signIn(p timeline.Person) *http.Response {
	b.x.t.Helper()
	_, answer := b.ask("/signin", nil, func(w http.ResponseWriter, r *http.Request) error { return b.x.m.SignIn(w, r, p) })
	return answer
}

func TestASignedInBrowserIsKnownUntilItSignsOut(t *testing.T) {
	x := opened(t, false, true)
	b := x.browser()
	if v := b.who(); v != nil {
		t.Fatalf("a stranger is %+v", v)
	}
	b.signIn(x.bo)
	want := timeline.Visitor{Person: x.bo.ID, Name: "Bo", Role: timeline.Groomer}
	if v := b.who(); v == nil || *v != want {
		t.Fatalf("%+v, want %+v", v, want)
	}
	stolen := b.cookies[signInCookie]
	b.ask("/signout", nil, x.m.SignOut)
	if b.cookies[signInCookie] != "" || b.who() != nil {
		t.Error("still signed in")
	}
	b.cookies[signInCookie] = stolen
	if v := b.who(); v != nil {
		t.Errorf("the cookie of a sign-in that has ended is %+v", v)
	}
}

func TestEverySignInHasATokenOfItsOwn(t *testing.T) {
	x := opened(t, false, true)
	b := x.browser()
	b.cookies[signInCookie] = strings.Repeat("A", 43) // somebody put it there before
	b.signIn(x.bo)
	first := b.cookies[signInCookie]
	if first == strings.Repeat("A", 43) || len(first) != 43 {
		t.Fatalf("the token is %q", first)
	}
	b.signIn(x.owner)
	if b.cookies[signInCookie] == first {
		t.Error("the token is the one before")
	}
	old := x.browser()
	old.cookies[signInCookie] = first
	if v := old.who(); v != nil {
		t.Errorf("the token before the second sign-in is %+v", v)
	}
	second := b.cookies[signInCookie]
	b.ask("/account/password", nil, x.m.Renew)
	old.cookies[signInCookie] = second
	if v := old.who(); v != nil {
		t.Errorf("the token before the new password is %+v", v)
	}
	if v := b.who(); v == nil || v.Person != x.owner.ID {
		t.Errorf("after the new token %+v", v)
	}
}

func TestCookiesAreAsTightAsTheConnectionAllows(t *testing.T) {
	x := opened(t, false, true)
	for _, c := range []struct {
		tls    bool
		prefix string
	}{{false, ""}, {true, "__Host-"}} {
		b := x.browser()
		b.tls = c.tls
		got := b.signIn(x.bo).Cookies()
		names := []string{}
		for _, k := range got {
			names = append(names, k.Name)
			if !k.HttpOnly || k.SameSite != http.SameSiteLaxMode || k.Path != "/" || k.Domain != "" || k.Secure != c.tls {
				t.Errorf("%+v", k)
			}
		}
		if want := []string{c.prefix + signInCookie, c.prefix + browserCookie}; !slices.Equal(names, want) {
			t.Errorf("%v, want %v", names, want)
		}
		if v := b.who(); v == nil {
			t.Error("not signed in")
		}
		b.tls = !c.tls
		if v := b.who(); v != nil {
			t.Error("a cookie of one connection signs in on the other")
		}
	}
}

func TestASignInEnds(t *testing.T) {
	for _, c := range []struct {
		name string
		do   func(*house)
	}{
		{"after 12 hours without a request", func(x *house) { x.later(12*time.Hour + time.Minute) }},
		{"when it is ended by its person", func(x *house) {
			v, err := x.s.SignIns(context.Background(), x.bo.ID)
			if err == nil {
				err = x.s.EndSignIn(context.Background(), x.bo.ID, v[0].ID)
			}
			if err != nil {
				x.t.Fatal(err)
			}
		}},
		{"with the account", func(x *house) { _, _ = x.s.EndPerson(context.Background(), x.bo.ID) }},
		{"with another role", func(x *house) { _, _ = x.s.ChangeRole(context.Background(), x.bo.ID, x.bo.Rev, timeline.Reader) }},
		{"with a new password, elsewhere", func(x *house) {
			if err := x.s.ChangePassword(context.Background(), x.bo.ID, x.boPassword, "three newts in a pail", salon.Knock{}, ""); err != nil {
				x.t.Fatal(err)
			}
		}},
	} {
		x := opened(t, false, true)
		b := x.browser()
		b.signIn(x.bo)
		if b.who() == nil {
			t.Fatal("not signed in")
		}
		c.do(x)
		if v := b.who(); v != nil {
			t.Errorf("%s: %+v", c.name, v)
		}
	}
}

// Its own clock is the library's: the last day is in the data that the library wrote.
func TestASignInLivesThirtyDaysAtMost(t *testing.T) {
	x := opened(t, false, true)
	b := x.browser()
	b.signIn(x.bo)
	row, err := x.s.Logins().Login(t.Context(), hashOf(t, x, b))
	if err != nil {
		t.Fatal(err)
	}
	deadline, _, err := x.m.scs.Codec.Decode(row.Data)
	if d := time.Until(deadline); err != nil || d > 30*24*time.Hour || d < 30*24*time.Hour-time.Minute {
		t.Errorf("%v, %v", d, err)
	}
	if d := time.Until(row.Expires); d > 12*time.Hour || d < 12*time.Hour-time.Minute {
		t.Errorf("idle time %v", d)
	}
}

func hashOf(t *testing.T, x *house, b *browser) (hash string) {
	t.Helper()
	b.ask("/", nil, func(_ http.ResponseWriter, r *http.Request) error {
		hash = r.Context().Value(placeKey{}).(*place).hash
		return nil
	})
	return hash
}

func TestAnExpiryAloneIsWrittenOnceAMinute(t *testing.T) {
	x := opened(t, false, true)
	b := x.browser()
	b.signIn(x.bo)
	for range 100 {
		b.who()
	}
	if n := x.writes.touches.Load(); n != 0 {
		t.Errorf("%d writes in the first minute", n)
	}
	x.later(61 * time.Second)
	for range 100 {
		b.who()
	}
	if n := x.writes.touches.Load(); n != 1 {
		t.Errorf("%d writes in the second minute", n)
	}
	for range 600 { // ten minutes at a request a second
		x.later(time.Second)
		b.who()
	}
	if n := x.writes.touches.Load(); n < 10 || n > 11 {
		t.Errorf("%d writes in eleven minutes", n)
	}
}

func TestAVisitWithoutASignInWritesNothing(t *testing.T) {
	x := opened(t, false, true)
	b := x.browser()
	b.cookies[signInCookie] = strings.Repeat("x", 43)
	for range 10 {
		if _, answer := b.ask("/signin", nil, nil); len(answer.Cookies()) > 0 {
			t.Fatal("a stranger was given a cookie")
		}
	}
	if x.writes.touches.Load()+x.writes.others.Load() > 0 {
		t.Error("a stranger's visit was written down")
	}
}

func TestWithoutAccountsThisComputerIsTheOwners(t *testing.T) {
	for _, c := range []struct {
		name           string
		local, peopled bool
		from           string
		owner          bool
	}{
		{"here, nobody has an account", true, false, "127.0.0.1:1", true},
		{"here by IPv6", true, false, "[::1]:1", true},
		{"from the shop's network", true, false, "192.0.2.7:1", false}, // E: documentation address, RFC 5737
		{"served to the network", false, false, "127.0.0.1:1", false},
		{"somebody has an account", true, true, "127.0.0.1:1", false},
	} {
		x := opened(t, c.local, c.peopled)
		b := x.browser()
		b.from = c.from
		v := b.who()
		if c.owner != (v != nil) || v != nil && *v != (timeline.Visitor{Role: timeline.Owner}) {
			t.Errorf("%s: %+v", c.name, v)
		}
	}
}

func TestATokenIsGoodForTheInterfaceOfProgramsOnly(t *testing.T) {
	x := opened(t, false, true)
	secret, tok, err := x.s.MakeToken(t.Context(), x.bo.ID, "camera", timeline.ScopePhotos, 1)
	if err != nil {
		t.Fatal(err)
	}
	bearer := map[string]string{"Authorization": "Bearer " + secret}
	want := timeline.Visitor{Person: x.bo.ID, Name: "Bo", Role: timeline.Groomer, Token: tok.ID, Scope: timeline.ScopePhotos}
	b := x.browser()
	if v, _ := b.ask("/api/v1/dogs", bearer, nil); v == nil || *v != want {
		t.Errorf("%+v, want %+v", v, want)
	}
	for path, header := range map[string]string{
		"/": "Bearer " + secret, "/api/v1": "Bearer " + secret, "/api/v1/a": "Bearer " + secret + "x", "/api/v1/b": "Bearer ", "/api/v1/c": "Basic " + secret, "/api/v1/d": secret,
	} {
		if v, _ := b.ask(path, map[string]string{"Authorization": header}, nil); v != nil {
			t.Errorf("%s %s: %+v", path, header, v)
		}
	}
	b.signIn(x.owner)
	if v, _ := b.ask("/api/v1/dogs", map[string]string{"Authorization": "Bearer thatch_wrong"}, nil); v != nil {
		t.Errorf("a wrong token fell back on the cookie: %+v", v)
	}
	if v, _ := b.ask("/api/v1/dogs", bearer, nil); v == nil || v.Person != x.bo.ID {
		t.Errorf("beside a cookie the token is %+v", v)
	}
	if err := x.s.EndToken(t.Context(), x.bo.ID, tok.ID); err != nil {
		t.Fatal(err)
	}
	if v, _ := b.ask("/api/v1/dogs", bearer, nil); v != nil {
		t.Errorf("an ended token is %+v", v)
	}
}

func TestATokenEndsWithItsDaysAndWithItsPerson(t *testing.T) {
	for _, c := range []struct {
		name string
		do   func(*house)
	}{
		{"its day is over", func(x *house) { x.later(24 * time.Hour) }},
		{"the account ends", func(x *house) { _, _ = x.s.EndPerson(context.Background(), x.bo.ID) }},
	} {
		x := opened(t, false, true)
		secret, _, err := x.s.MakeToken(t.Context(), x.bo.ID, "camera", timeline.ScopeRead, 1)
		if err != nil {
			t.Fatal(err)
		}
		c.do(x)
		if v, _ := x.browser().ask("/api/v1/dogs", map[string]string{"Authorization": "Bearer " + secret}, nil); v != nil {
			t.Errorf("%s: %+v", c.name, v)
		}
	}
}

func BenchmarkARequestOfASignedInBrowser(b *testing.B) {
	st, err := store.Open(b.Context(), b.TempDir(), store.Options{})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { st.Close() })
	s := salon.New(st, salon.Options{})
	m := New(s, Options{})
	code, err := s.MakeOwnerCode(b.Context(), time.Hour)
	if err != nil {
		b.Fatal(err)
	}
	ada, err := s.OwnerByCode(b.Context(), code, "Ada", ownersPassword, salon.Knock{})
	if err != nil {
		b.Fatal(err)
	}
	w := httptest.NewRecorder()
	if err := m.SignIn(w, httptest.NewRequest("POST", "/signin", nil), ada); err != nil {
		b.Fatal(err)
	}
	r := httptest.NewRequest("GET", "/", nil)
	for _, c := range w.Result().Cookies() {
		r.AddCookie(c)
	}
	known := false
	h := m.Middleware(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) { _, known = timeline.VisitorOf(r.Context()) }))
	for b.Loop() {
		h.ServeHTTP(httptest.NewRecorder(), r)
	}
	if !known {
		b.Fatal("not signed in")
	}
}
