package guard

import (
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"strings"
	"testing"
	"time"

	"github.com/go-chi/chi/v5"

	"thatch/timeline"
)

func routerOf(keys ...string) *chi.Mux {
	r := chi.NewRouter()
	sub := map[string]*chi.Mux{}
	for _, k := range keys {
		method, pattern, _ := strings.Cut(k, " ")
		h := func(w http.ResponseWriter, r *http.Request) {
			if b, err := io.ReadAll(r.Body); err != nil {
				w.WriteHeader(http.StatusRequestEntityTooLarge)
			} else {
				fmt.Fprintf(w, "%s took %d", chi.RouteContext(r.Context()).RoutePattern(), len(b))
			}
		}
		if rest, under := strings.CutPrefix(pattern, "/api/v1"); under {
			if sub["api"] == nil {
				sub["api"] = chi.NewRouter()
			}
			sub["api"].MethodFunc(method, rest, h)
			continue
		}
		r.MethodFunc(method, pattern, h)
	}
	for range sub {
		r.Mount("/api/v1", sub["api"])
	}
	return r
}

func TestARouteWithoutARowARowWithoutARouteAndARowThatSaysNothingAreErrors(t *testing.T) {
	good := []Row{page("/", Salon, reader), act("/dogs", Dog, groomer), api("GET", "/dogs", Dog, reader, timeline.ScopeRead, NoBody)}
	all := []string{"GET /", "POST /dogs", "GET /api/v1/dogs"}
	for name, c := range map[string]struct {
		rows   []Row
		routes []string
		absent []string
		want   string // "": no error
	}{
		"all declared":                         {good, all, nil, ""},
		"a route without a row":                {good, append(all, "POST /"), nil, "no row says who may POST /"},
		"a mounted route without a row":        {good, append(all, "PUT /api/v1/dogs"), nil, "no row says who may PUT /api/v1/dogs"},
		"a row without a route":                {good, all[:2], nil, "no route for the row of GET /api/v1/dogs"},
		"a row of a part that was left out":    {good, all[:2], []string{"/api/v1/"}, ""},
		"two rows for one route":               {append(good, page("/", Salon, owner)), all, nil, "two rows for GET /"},
		"a row that does not say who may":      {[]Row{page("/", Salon, "")}, all[:1], nil, "does not say who"},
		"a role that is none":                  {[]Row{page("/", Salon, "everyone")}, all[:1], nil, "does not say who"},
		"a row that does not say what it is":   {[]Row{page("/", "", reader)}, all[:1], nil, "does not say who"},
		"a stranger's own, who has nothing":    {[]Row{own(page("/", SignIn, Anyone))}, all[:1], nil, "does not say who"},
		"a row that does not bound its bodies": {[]Row{{Method: "GET", Pattern: "/", Object: Salon, Least: reader, Answer: Page}}, all[:1], nil, "does not say who"},
	} {
		t.Run(name, func(t *testing.T) {
			err := New(Options{}).watch(routerOf(c.routes...), c.rows, c.absent)
			if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
				t.Errorf("%v, want %q", err, c.want)
			}
		})
	}
}

func TestAGuardThatWatchesNothingLetsNothingThrough(t *testing.T) {
	g := New(Options{Refuse: func(w http.ResponseWriter, r *http.Request, row Row, in bool, err error) { w.WriteHeader(401) }})
	w := httptest.NewRecorder()
	g.Middleware(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { t.Error("a handler ran") })).ServeHTTP(w, httptest.NewRequest("GET", "/", nil))
	if w.Code != 401 {
		t.Errorf("%d", w.Code)
	}
}

// watched is a guard at work over rows, with a clock.
type watched struct {
	h   http.Handler
	now time.Time
	g   *Guard
}

func watchOver(t *testing.T, rows ...Row) *watched {
	t.Helper()
	x := &watched{now: time.Date(2026, 6, 10, 11, 0, 0, 0, time.UTC)}
	var keys []string
	for _, r := range rows {
		keys = append(keys, r.Method+" "+r.Pattern)
	}
	x.g = New(Options{SignIn: "/signin", Now: func() time.Time { return x.now }, Refuse: func(w http.ResponseWriter, r *http.Request, row Row, in bool, err error) {
		w.WriteHeader(map[timeline.Kind]int{timeline.SignedOut: 401, timeline.Forbidden: 403, timeline.NotFound: 404, timeline.TooLarge: 413, timeline.TooMany: 429}[timeline.KindOf(err)])
	}})
	r := routerOf(keys...)
	if err := x.g.watch(r, rows, nil); err != nil {
		t.Fatal(err)
	}
	x.h = x.g.Middleware(r)
	return x
}

func (x *watched) ask(v *timeline.Visitor, from, method, path, body string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, path, strings.NewReader(body))
	r.RemoteAddr = from
	if v != nil {
		r = r.WithContext(timeline.WithVisitor(r.Context(), *v))
	}
	w := httptest.NewRecorder()
	x.h.ServeHTTP(w, r)
	return w
}

func TestATokenReachesWhatItsScopeSaysAndNeverMoreThanItsPerson(t *testing.T) {
	x := watchOver(t, page("/", Salon, reader), api("GET", "/dogs", Dog, reader, timeline.ScopeRead, NoBody), api("PUT", "/dogs", Photo, groomer, timeline.ScopePhotos, NoBody))
	for _, c := range []struct {
		role      timeline.Role
		scope     timeline.Scope
		key       string
		wantCode  int
		wantWords string
	}{
		{timeline.Owner, timeline.ScopeRead, "GET /", 403, "a page"}, {timeline.Owner, timeline.ScopeRead, "GET /api/v1/dogs", 200, ""},
		{timeline.Owner, timeline.ScopeRead, "PUT /api/v1/dogs", 403, "more than its scope"}, {timeline.Owner, timeline.ScopePhotos, "PUT /api/v1/dogs", 200, ""},
		{timeline.Reader, timeline.ScopePhotos, "PUT /api/v1/dogs", 403, "more than its person"}, {timeline.Reader, timeline.ScopePhotos, "GET /api/v1/dogs", 200, ""},
		{timeline.Owner, "", "GET /api/v1/dogs", 200, ""},
	} {
		method, path, _ := strings.Cut(c.key, " ")
		if w := x.ask(&timeline.Visitor{Person: "p", Role: c.role, Token: "t", Scope: c.scope}, "192.0.2.1:1", method, path, ""); w.Code != c.wantCode {
			t.Errorf("%s of %s, %s: %d, want %d (%s)", c.scope, c.role, c.key, w.Code, c.wantCode, c.wantWords)
		}
	}
}

func TestStrangersAreSentToSignInWithAWayBackThatIsOurs(t *testing.T) {
	x := watchOver(t, page("/", Salon, reader), page("/dogs/{id}", Dog, reader), file("/pictures/{id}", Photo, reader), act("/dogs", Dog, groomer))
	for _, c := range []struct{ method, path, to string }{
		{"GET", "/", "/signin"}, {"GET", "/dogs/7?tab=plan&x=1", "/signin?next=%2Fdogs%2F7%3Ftab%3Dplan%26x%3D1"},
		{"GET", "/nothing/here", "/signin?next=%2Fnothing%2Fhere"}, {"HEAD", "/", "/signin"},
		{"GET", "//example.org/", "/signin"}, {"GET", "/\\example.org", "/signin?next=%2F%255Cexample.org"}, {"GET", "/%09/example.org", "/signin?next=%2F%2509%2Fexample.org"},
	} {
		w := x.ask(nil, "192.0.2.1:1", c.method, c.path, "")
		if w.Code != 303 || w.Header().Get("Location") != c.to || w.Header().Get("Cache-Control") != "no-store" {
			t.Errorf("%s %s: %d to %q, want %q", c.method, c.path, w.Code, w.Header().Get("Location"), c.to)
		}
	}
	for _, key := range []string{"GET /pictures/7", "POST /dogs", "POST /nothing", "DELETE /dogs", "BREW /"} {
		method, path, _ := strings.Cut(key, " ")
		if w := x.ask(nil, "192.0.2.1:1", method, path, ""); w.Code != 401 {
			t.Errorf("%s: %d", key, w.Code)
		}
	}
}

func TestABodyIsTakenUpToItsRoutesBound(t *testing.T) {
	x := watchOver(t, act("/small", Dog, groomer))
	me := &timeline.Visitor{Role: timeline.Owner}
	if w := x.ask(me, "", "POST", "/small", strings.Repeat("x", FormBody)); w.Code != 200 {
		t.Errorf("at the bound: %d", w.Code)
	}
	if w := x.ask(me, "", "POST", "/small", strings.Repeat("x", FormBody+1)); w.Code != 413 {
		t.Errorf("a byte more, told before: %d", w.Code)
	}
	r := httptest.NewRequest("POST", "/small", io.MultiReader(strings.NewReader(strings.Repeat("x", FormBody+1)))) // of untold length
	r = r.WithContext(timeline.WithVisitor(r.Context(), *me))
	w := httptest.NewRecorder()
	x.h.ServeHTTP(w, r)
	if w.Code != 413 {
		t.Errorf("a byte more, not told: %d", w.Code)
	}
}

// A whole salon stands behind one address: a hundred people at five requests a second pass, one stranger does not.
func TestPeopleAreCountedEachStrangersByAddress(t *testing.T) {
	x := watchOver(t, page("/", Salon, reader), page("/share/{token}", Shared, Anyone))
	for second := range 120 {
		for n := range 100 {
			for range 5 {
				if w := x.ask(&timeline.Visitor{Person: timeline.ID(fmt.Sprint(n)), Role: timeline.Reader}, "192.0.2.1:1", "GET", "/", ""); w.Code != 200 {
					t.Fatalf("person %d in second %d: %d", n, second, w.Code)
				}
			}
		}
		x.now = x.now.Add(time.Second)
	}
	refused := 0
	for range 1000 {
		if w := x.ask(nil, "192.0.2.1:9", "GET", "/share/x", ""); w.Code == 429 {
			refused++
			if w.Header().Get("Retry-After") == "" {
				t.Fatal("no word on how long to wait")
			}
		}
	}
	if refused != 1000-strangerBurst {
		t.Errorf("%d of a thousand requests of a stranger in one instant were refused", refused)
	}
	if w := x.ask(nil, "192.0.2.2:9", "GET", "/share/x", ""); w.Code != 200 {
		t.Errorf("another address: %d", w.Code)
	}
	if w := x.ask(&timeline.Visitor{Person: "1", Role: timeline.Reader}, "192.0.2.1:9", "GET", "/", ""); w.Code != 200 {
		t.Errorf("a person behind the stranger's address: %d", w.Code)
	}
	x.now = x.now.Add(time.Second)
	if w := x.ask(nil, "192.0.2.1:9", "GET", "/share/x", ""); w.Code != 200 {
		t.Errorf("a second later: %d", w.Code)
	}
}

func TestMissesOfAStrangerRunOutFarSooner(t *testing.T) {
	x := watchOver(t, act("/signin", SignIn, Anyone), page("/dogs", Dog, reader))
	x.h = x.g.Middleware(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Header.Get("Good") == "" {
			w.WriteHeader(422)
		}
	}))
	n := 0
	for ; x.ask(nil, "[2001:db8:1:2::7]:9", "POST", "/signin", "").Code == 422; n++ {
		x.now = x.now.Add(time.Millisecond * 200)
	}
	if n < missBurst || n > missBurst+2 {
		t.Errorf("%d misses went through", n)
	}
	// RFC 6177: the neighbour in the same /64 is the same home, the next /64 is not.
	if c := x.ask(nil, "[2001:db8:1:2:ffff::1]:9", "POST", "/signin", "").Code; c != 429 {
		t.Errorf("the same home: %d", c)
	}
	if c := x.ask(nil, "[2001:db8:1:3::7]:9", "POST", "/signin", "").Code; c != 422 {
		t.Errorf("another home: %d", c)
	}
	x.now = x.now.Add(6 * time.Second)
	if c := x.ask(nil, "[2001:db8:1:2::7]:9", "POST", "/signin", "").Code; c != 422 {
		t.Errorf("six seconds later: %d", c)
	}
}

func TestNoHeaderSaysWhereARequestComesFrom(t *testing.T) {
	x := watchOver(t, page("/share/{token}", Shared, Anyone))
	for i := range strangerBurst + 5 {
		r := httptest.NewRequest("GET", "/share/x", nil)
		r.RemoteAddr = "192.0.2.1:9"
		for _, name := range []string{"X-Forwarded-For", "X-Real-IP", "Forwarded", "CF-Connecting-IP", "True-Client-IP"} {
			r.Header.Set(name, fmt.Sprintf("198.51.100.%d", i%250))
		}
		w := httptest.NewRecorder()
		x.h.ServeHTTP(w, r)
		if want := i < strangerBurst; (w.Code == 200) != want {
			t.Fatalf("request %d: %d", i, w.Code)
		}
	}
}

// A proxy on this machine hands on what comes from anywhere: its loopback address makes nobody the owner.
func TestWhoComesThroughAProxyDoesNotSitAtTheMachine(t *testing.T) {
	x := watchOver(t, page("/", Salon, reader))
	for _, c := range []struct {
		v      timeline.Visitor
		header string
		want   int
	}{
		{timeline.Visitor{Role: timeline.Owner}, "", 200}, {timeline.Visitor{Role: timeline.Owner}, "X-Forwarded-For", 303}, {timeline.Visitor{Role: timeline.Owner}, "Forwarded", 303},
		{timeline.Visitor{Role: timeline.Owner}, "Via", 303}, {timeline.Visitor{Role: timeline.Owner}, "X-Real-IP", 303}, {timeline.Visitor{Role: timeline.Owner}, "X-Forwarded-Proto", 303},
		{timeline.Visitor{Person: "p", Role: timeline.Owner}, "X-Forwarded-For", 200},
	} {
		r := httptest.NewRequest("GET", "/", nil)
		if c.header != "" {
			r.Header.Set(c.header, "127.0.0.1")
		}
		w := httptest.NewRecorder()
		x.h.ServeHTTP(w, r.WithContext(timeline.WithVisitor(r.Context(), c.v)))
		if w.Code != c.want {
			t.Errorf("%q with %q: %d, want %d", c.v.Person, c.header, w.Code, c.want)
		}
	}
}

func TestCountersAreBounded(t *testing.T) {
	now := time.Unix(0, 0)
	l := newLimits(func() time.Time { return now })
	for i := range 100_000 {
		a := netip.AddrFrom4([4]byte{10, byte(i >> 16), byte(i >> 8), byte(i)})
		l.of("s "+a.String(), strangerRate, strangerBurst)
		if n := len(l.here) + len(l.old); n > 2*remembered {
			t.Fatalf("%d counters are kept", n)
		}
	}
}

func TestAnAskerIsNotForgottenWhileItAsks(t *testing.T) {
	now := time.Unix(0, 0)
	l := newLimits(func() time.Time { return now })
	lim := l.of("s 192.0.2.1", strangerRate, strangerBurst)
	for range 10 {
		now = now.Add(generation + time.Second)
		l.of("s 192.0.2.9", strangerRate, strangerBurst)
		if l.of("s 192.0.2.1", strangerRate, strangerBurst) != lim {
			t.Fatal("its counter is another")
		}
	}
}
