// Package login knows who asks: by the cookie of a sign-in, or by a program's token. It puts a timeline.Visitor into the
// request's context and decides nothing: what that visitor may do stands in one table elsewhere.
//
// Sign-ins are those of alexedwards/scs: tokens of 256 random bits that only the browser has, of which the store knows the
// SHA-256. A sign-in ends after 12 hours without a request, or 30 days after the password was given, and at once when it
// is ended: every request looks it up.
package login

import (
	"context"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"time"

	"github.com/alexedwards/scs/v2"

	"thatch/server/salon"
	"thatch/server/status"
	"thatch/store"
	"thatch/timeline"
)

const (
	idleTime    = 12 * time.Hour
	longestTime = 30 * 24 * time.Hour
	touchEvery  = time.Minute          // an expiry alone is not written more often
	browserTime = 400 * 24 * time.Hour // the longest that browsers keep a cookie

	signInCookie  = "thatch_in"
	browserCookie = "thatch_browser"
	hostPrefix    = "__Host-" // RFC 6265bis, section 4.1.3.2: Secure, of this very host, for all its paths

	apiPrefix   = "/api/v1/"
	assetPrefix = "/assets/"

	personKey = "person"
	maxAgent  = 200
)

// Options of a Manager.
type Options struct {
	// Local makes whoever asks from this computer the owner, as long as nobody has an account.
	Local bool
	Log   *slog.Logger // nil: slog.Default
}

// Manager signs people in and out. It is safe for concurrent use.
type Manager struct {
	salon *salon.Salon
	scs   *scs.SessionManager
	local bool
	log   *slog.Logger
}

// New keeps sign-ins in the salon's store.
func New(s *salon.Salon, opt Options) *Manager { return newManager(s, s.Logins(), opt) }

func newManager(s *salon.Salon, kept shelf, opt Options) *Manager {
	log := opt.Log
	if log == nil {
		log = slog.Default()
	}
	m := scs.New()
	m.Store = &shelves{shelf: kept, now: s.Now, touched: map[string]time.Time{}}
	m.HashTokenInStore = true
	m.Codec = codec{}
	m.IdleTimeout = idleTime
	m.Lifetime = longestTime
	return &Manager{salon: s, scs: m, local: opt.Local, log: log}
}

// Middleware puts the visitor into the context of every request, where there is one.
func (m *Manager) Middleware(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if strings.HasPrefix(r.URL.Path, assetPrefix) {
			next.ServeHTTP(w, r)
			return
		}
		ctx, err := m.recognise(w, r)
		if err != nil {
			m.log.Error("who asks", "error", err)
			http.Error(w, http.StatusText(status.Of(err)), status.Of(err))
			return
		}
		next.ServeHTTP(w, r.WithContext(ctx))
	})
}

func (m *Manager) recognise(w http.ResponseWriter, r *http.Request) (context.Context, error) {
	ctx := r.Context()
	if strings.HasPrefix(r.URL.Path, apiPrefix) {
		if scheme, secret, ok := strings.Cut(r.Header.Get("Authorization"), " "); ok && strings.EqualFold(scheme, "Bearer") {
			v, err := m.salon.ByToken(ctx, strings.TrimSpace(secret))
			if err == nil {
				return timeline.WithVisitor(ctx, v), nil
			}
			if timeline.KindOf(err) == timeline.SignedOut {
				return ctx, nil // a token that is worth nothing makes nobody, whatever the cookie says
			}
			return ctx, err
		}
	}
	at := &place{}
	ctx = context.WithValue(ctx, placeKey{}, at)
	ctx, err := m.scs.Load(ctx, cookieOf(r, signInCookie))
	if err != nil {
		return ctx, err
	}
	if at.row.Person != "" {
		ctx = timeline.WithVisitor(ctx, timeline.Visitor{Person: at.row.Person, Name: at.row.Name, Role: at.row.Role})
		if m.salon.Now().Sub(at.row.Seen) >= touchEvery {
			m.touch(ctx, w, r)
		}
		return ctx, nil
	}
	if m.local && addrOf(r).IsLoopback() {
		any, err := m.salon.AnyPerson(ctx)
		if err != nil {
			return ctx, err
		}
		if !any {
			ctx = timeline.WithVisitor(ctx, timeline.Visitor{Role: timeline.Owner})
		}
	}
	return ctx, nil
}

// touch says that a sign-in goes on. Where that cannot be written, on a full disk, looking goes on all the same.
func (m *Manager) touch(ctx context.Context, w http.ResponseWriter, r *http.Request) {
	token, expires, err := m.scs.Commit(ctx)
	if err != nil {
		m.log.Warn("a sign-in could not be prolonged", "error", err)
		return
	}
	setCookie(w, r, signInCookie, token, expires)
}

// SignIn begins a sign-in of p under a new token, and ends the one that the browser had before.
func (m *Manager) SignIn(w http.ResponseWriter, r *http.Request, p timeline.Person) error {
	ctx := m.loaded(r)
	if err := m.scs.RenewToken(ctx); err != nil {
		return err
	}
	m.scs.Put(ctx, personKey, string(p.ID))
	agent := strings.ToValidUTF8(r.UserAgent(), "")
	if len(agent) > maxAgent {
		agent = strings.ToValidUTF8(agent[:maxAgent], "")
	}
	now := m.salon.Now()
	ctx = context.WithValue(ctx, beginKey{}, &store.Login{SignIn: timeline.SignIn{Person: p.ID, Agent: agent, Made: now, Seen: now}})
	token, expires, err := m.scs.Commit(timeline.WithVisitor(ctx, timeline.Visitor{Person: p.ID, Name: p.Name, Role: p.Role}))
	if err != nil {
		return err
	}
	browser, err := m.salon.KnowBrowser(ctx, p.ID, cookieOf(r, browserCookie))
	if err != nil {
		return err
	}
	setCookie(w, r, signInCookie, token, expires)
	setCookie(w, r, browserCookie, browser, time.Now().Add(browserTime))
	return nil
}

// Renew goes on with the sign-in under a new token: after a password was given once more.
func (m *Manager) Renew(w http.ResponseWriter, r *http.Request) error {
	ctx := m.loaded(r)
	at, _ := ctx.Value(placeKey{}).(*place)
	if at == nil || at.row.Person == "" {
		return nil
	}
	row := at.row
	row.Seen = m.salon.Now()
	ctx = context.WithValue(ctx, renewKey{}, &renewal{was: at.hash, row: row})
	if err := m.scs.RenewToken(ctx); err != nil {
		return err
	}
	token, expires, err := m.scs.Commit(ctx)
	if err != nil {
		return err
	}
	browser, err := m.salon.KnowBrowser(ctx, row.Person, cookieOf(r, browserCookie))
	if err != nil {
		return err
	}
	setCookie(w, r, signInCookie, token, expires)
	setCookie(w, r, browserCookie, browser, time.Now().Add(browserTime))
	return nil
}

// SignOut ends the sign-in of the browser, in the store and in the browser.
func (m *Manager) SignOut(w http.ResponseWriter, r *http.Request) error {
	if err := m.scs.Destroy(m.loaded(r)); err != nil {
		return err
	}
	setCookie(w, r, signInCookie, "", time.Time{})
	return nil
}

// loaded is the request's context with the library's data in it, where Middleware has not been.
func (m *Manager) loaded(r *http.Request) context.Context {
	ctx := r.Context()
	if _, ok := ctx.Value(placeKey{}).(*place); !ok {
		ctx = context.WithValue(ctx, placeKey{}, &place{})
	}
	ctx, err := m.scs.Load(ctx, "")
	if err != nil {
		panic(err) // without a token nothing is read
	}
	return ctx
}

// Current is the sign-in of the request; "" without one.
func Current(ctx context.Context) timeline.ID {
	if at, ok := ctx.Value(placeKey{}).(*place); ok {
		return at.row.ID
	}
	return ""
}

// KnockOf is where a request comes from.
func KnockOf(r *http.Request) salon.Knock {
	return salon.Knock{Addr: addrOf(r), Browser: cookieOf(r, browserCookie)}
}

func addrOf(r *http.Request) netip.Addr {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		host = r.RemoteAddr
	}
	a, _ := netip.ParseAddr(host)
	return a.Unmap()
}

// CookieName has the prefix where the connection is encrypted: then no other host and no unencrypted page can have set it.
func CookieName(r *http.Request, name string) string {
	if r.TLS != nil {
		return hostPrefix + name
	}
	return name
}

func cookieOf(r *http.Request, name string) string {
	c, err := r.Cookie(CookieName(r, name))
	if err != nil {
		return ""
	}
	return c.Value
}

// setCookie: Lax, for with Strict a link in a mail would open a page that asks to sign in again. Nothing is changed by a
// GET, and requests that change something are refused from other origins. An empty value takes the cookie back.
func setCookie(w http.ResponseWriter, r *http.Request, name, value string, expires time.Time) {
	c := &http.Cookie{
		Name: CookieName(r, name), Value: value, Path: "/", Secure: r.TLS != nil, HttpOnly: true, SameSite: http.SameSiteLaxMode,
		Expires: expires, MaxAge: int(time.Until(expires).Seconds()) + 1,
	}
	if value == "" {
		c.Expires, c.MaxAge = time.Unix(1, 0), -1
	}
	http.SetCookie(w, c)
}
