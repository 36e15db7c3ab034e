package guard

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"thatch/imaging"
	"thatch/timeline"
)

// Options of a Guard.
type Options struct {
	Log    *slog.Logger
	SignIn string // the page that strangers are sent to
	// Refuse writes the answer to a request that is turned away; who tells a stranger from a person of the salon.
	Refuse func(w http.ResponseWriter, r *http.Request, row Row, in bool, err error)
	Now    func() time.Time // nil: time.Now
}

// Guard is the table at work. Use its Middleware first, then Watch the router when every route is in place.
type Guard struct {
	opt    Options
	rows   map[string]Row // "METHOD pattern"
	routes chi.Routes
	limits *limits
}

// New makes a guard that lets nothing through until it watches a router.
func New(opt Options) *Guard {
	if opt.Now == nil {
		opt.Now = time.Now
	}
	return &Guard{opt: opt, rows: map[string]Row{}, limits: newLimits(opt.Now)}
}

// Watch compares the router with the table: a route without a row, a row without a route and a row that says nonsense are
// errors. absent are beginnings of patterns that this server was made without.
func (g *Guard) Watch(routes chi.Routes, absent ...string) error {
	return g.watch(routes, table, absent)
}

func (g *Guard) watch(routes chi.Routes, rows []Row, absent []string) error {
	var wrong []error
	for _, row := range rows {
		key := row.Method + " " + row.Pattern
		if _, twice := g.rows[key]; twice {
			wrong = append(wrong, fmt.Errorf("guard: two rows for %s", key))
		}
		if rank(row.Least) == 0 || row.Object == "" || row.Answer == "" || row.Body <= 0 || row.Own && row.Least == Anyone {
			wrong = append(wrong, fmt.Errorf("guard: the row for %s does not say who may do what", key))
		}
		if !slices.ContainsFunc(absent, func(p string) bool { return strings.HasPrefix(row.Pattern, p) }) {
			g.rows[key] = row
		}
	}
	seen := map[string]bool{}
	err := chi.Walk(routes, func(method, pattern string, _ http.Handler, _ ...func(http.Handler) http.Handler) error {
		key := method + " " + pattern
		seen[key] = true
		if _, ok := g.rows[key]; !ok {
			wrong = append(wrong, fmt.Errorf("guard: no row says who may %s", key))
		}
		return nil
	})
	for key := range g.rows {
		if !seen[key] {
			wrong = append(wrong, fmt.Errorf("guard: no route for the row of %s", key))
		}
	}
	g.routes = routes
	return errors.Join(append(wrong, err)...)
}

// rowOf finds the row of a request as the router will route it, with a context of its own, so that asking changes nothing.
// HEAD has no routes of its own.
func (g *Guard) rowOf(r *http.Request) (Row, bool) {
	path := r.URL.RawPath
	if path == "" {
		path = r.URL.Path
	}
	if path == "" {
		path = "/"
	}
	if g.routes == nil {
		return Row{}, false
	}
	row, ok := g.rows[r.Method+" "+g.routes.Find(chi.NewRouteContext(), r.Method, path)]
	return row, ok
}

// Trace is what a log may say of a request: the pattern, for a path may hold a secret, and the person's ID.
type Trace struct {
	Pattern string
	Person  timeline.ID
}

type traceKey struct{}

// Traced lets the caller know, once the request is answered, which row it fell under and who asked.
func Traced(ctx context.Context) (context.Context, *Trace) {
	t := &Trace{}
	return context.WithValue(ctx, traceKey{}, t), t
}

// Middleware turns away who may not. It belongs behind what knows who asks and before every route.
func (g *Guard) Middleware(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		v, in := timeline.VisitorOf(r.Context())
		in = in && v.Role.Valid() && (v.Person != "" || !handedOn(r))
		row, known := g.rowOf(r)
		if t, ok := r.Context().Value(traceKey{}).(*Trace); ok {
			*t = Trace{row.Pattern, v.Person}
		}
		if wait := g.limits.take(r, v, in, row); wait > 0 {
			w.Header().Set("Retry-After", fmt.Sprint(int(wait/time.Second)+1))
			g.refuse(w, r, row, in, timeline.NewFault(timeline.TooMany, "fault.guard.many", "n", int(wait/time.Second)+1))
			return
		}
		if !known {
			g.unknown(w, r, next, in)
			return
		}
		if err := decide(row, v, in); err != nil {
			g.refuse(w, r, row, in, err)
			return
		}
		if r.ContentLength > row.Body {
			w.Header().Set("Connection", "close") // nobody waits for the rest
			g.refuse(w, r, row, in, tooLarge(row))
			return
		}
		if r.Body != nil && r.Body != http.NoBody {
			r.Body = http.MaxBytesReader(w, r.Body, row.Body)
		}
		if row.secret() {
			// A form on a page without any referrer is sent with the origin "null", which sameOrigin must refuse where the
			// browser says nothing better (Fetch, "append a request Origin header"; no Sec-Fetch-Site without encryption).
			policy := "strict-origin"
			if row.Object == Shared { // which has no form to send
				policy = "no-referrer"
			}
			w.Header().Set("Referrer-Policy", policy)
			w.Header().Set("X-Robots-Tag", "noindex, nofollow, noarchive")
		}
		if in || !row.tried() {
			next.ServeHTTP(w, r)
			return
		}
		miss := &missed{ResponseWriter: w}
		next.ServeHTTP(miss, r)
		if miss.code >= 400 {
			g.limits.missed(r)
		}
	})
}

func tooLarge(row Row) error {
	if row.Body > FormBody {
		return timeline.NewFault(timeline.TooLarge, "fault.photo.too_large_bytes", "max_mb", imaging.MaxBytes>>20)
	}
	return timeline.NewFault(timeline.TooLarge, "fault.form.large")
}

// handedOn tells that a request says of itself that it came through a proxy. Then whoever asks does not sit at this
// machine, though the proxy does, and is nobody without an account. Nothing else is believed of these headers.
func handedOn(r *http.Request) bool {
	for _, name := range []string{"Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "X-Real-Ip", "Via"} {
		if r.Header.Get(name) != "" {
			return true
		}
	}
	return false
}

// unknown is an address that is none. Under /share all are answered alike; elsewhere a stranger does not learn which
// addresses there are.
func (g *Guard) unknown(w http.ResponseWriter, r *http.Request, next http.Handler, in bool) {
	switch {
	case strings.HasPrefix(r.URL.Path, "/share/"):
		if !in {
			g.limits.missed(r)
		}
		next.ServeHTTP(w, r)
	case in, strings.HasPrefix(r.URL.Path, "/assets/"):
		next.ServeHTTP(w, r) // the router's own 404
	default:
		row := Row{Method: r.Method, Answer: Page}
		if strings.HasPrefix(r.URL.Path, "/api/") {
			row.Answer = JSON
		} else if r.Method != http.MethodGet && r.Method != http.MethodHead {
			row.Answer = Act
		}
		g.refuse(w, r, row, false, signedOut)
	}
}

var (
	signedOut = timeline.NewFault(timeline.SignedOut, "fault.guard.signed_out")
	notYours  = timeline.NewFault(timeline.Forbidden, "fault.guard.role")
	noToken   = timeline.NewFault(timeline.Forbidden, "fault.guard.token")
	noScope   = timeline.NewFault(timeline.Forbidden, "fault.guard.scope")
)

// decide is the rule: nil lets through. That a row is Own is not decided here: its use case is given the person who asks and
// finds nothing of anybody else's.
func decide(row Row, v timeline.Visitor, in bool) error {
	switch {
	case row.Least == Anyone:
		return nil
	case !in:
		return signedOut
	case rank(v.Role) < rank(row.Least):
		return notYours
	case v.Token != "" && row.Scope == "":
		return noToken
	case v.Token != "" && row.Scope == timeline.ScopePhotos && v.Scope != timeline.ScopePhotos:
		return noScope
	}
	return nil
}

// refuse sends a stranger who asks for a page to sign in, and tells everybody else in words.
func (g *Guard) refuse(w http.ResponseWriter, r *http.Request, row Row, in bool, err error) {
	w.Header().Set("Cache-Control", "no-store")
	if timeline.KindOf(err) == timeline.SignedOut {
		if row.Answer == Page && g.opt.SignIn != "" {
			to := g.opt.SignIn
			if next := r.URL.RequestURI(); next != "/" && local(next) {
				to += "?" + url.Values{"next": {next}}.Encode()
			}
			http.Redirect(w, r, to, http.StatusSeeOther)
			return
		}
		if row.Answer == JSON {
			w.Header().Set("WWW-Authenticate", `Bearer realm="thatch"`)
		}
	}
	g.opt.Refuse(w, r, row, in, err)
}

// local tells a path of ours from an address elsewhere: browsers read // and /\ as the start of another host.
func local(to string) bool {
	return len(to) > 0 && to[0] == '/' && (len(to) < 2 || to[1] != '/' && to[1] != '\\') && !strings.ContainsAny(to, "\\\r\n\t")
}

// missed remembers the status of an answer to a stranger.
type missed struct {
	http.ResponseWriter
	code int
}

func (m *missed) WriteHeader(code int) {
	if m.code == 0 {
		m.code = code
	}
	m.ResponseWriter.WriteHeader(code)
}

func (m *missed) Unwrap() http.ResponseWriter { return m.ResponseWriter }
