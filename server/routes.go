// Package server puts the program on an address: routes, middleware, assets, graceful end.
//
// It owns HTTP and nothing of the trade: pages, JSON and the clients' pages live in packages of their own, and all of
// them call server/salon.
package server

import (
	"errors"
	"log/slog"
	"net/http"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"

	"thatch/server/cert"
	"thatch/server/guard"
	"thatch/server/login"
	"thatch/server/pages"
	"thatch/server/salon"
	"thatch/timeline"
	"thatch/web"
)

// Options of the whole server.
type Options struct {
	Log   *slog.Logger     // nil: slog.Default
	Hosts *Hosts           // nil: localhost and the loopback addresses
	HSTS  bool             // every browser trusts the certificate
	Own   *cert.Own        // the authority that phones have to be told to trust; nil: none
	Login Login            // nil: no accounts, whoever asks is the owner
	API   API              // under /api/v1; nil: none
	Share http.Handler     // under /share, what clients see; nil: none
	Now   func() time.Time // for counting how often somebody asks; nil: time.Now
}

// Login puts into the context who asks (timeline.WithVisitor).
type Login interface {
	Middleware(next http.Handler) http.Handler
}

// API is the salon as JSON, and says no in JSON too.
type API interface {
	http.Handler
	Refuse(w http.ResponseWriter, r *http.Request, err error)
}

// signInPage is where strangers are sent.
const signInPage = "/signin"

// New is the salon over HTTP. It fails where a template does not parse, or a route and the table of who may do what do not
// agree: better at the start than before a client.
func New(s *salon.Salon, opt Options) (http.Handler, error) {
	log := opt.Log
	if log == nil {
		log = slog.Default()
	}
	hosts := opt.Hosts
	if hosts == nil {
		hosts = LoopbackHosts()
	}
	if opt.Login == nil && !hosts.loopback() {
		return nil, errors.New("server: what other devices reach needs accounts")
	}
	site, err := pages.New(s, log)
	if err != nil {
		return nil, err
	}
	if m, ok := opt.Login.(*login.Manager); ok {
		site.SignIns(m)
	}
	outside, err := newStrangers(s, opt.Own)
	if err != nil {
		return nil, err
	}
	who := everybodyOwns
	if opt.Login != nil {
		who = opt.Login.Middleware
	}
	say := refuser{site, outside, opt.API}
	g := guard.New(guard.Options{Log: log, SignIn: signInPage, Refuse: say.refuse, Now: opt.Now})

	r := chi.NewRouter()
	// Half a hundred kilobytes of page are a third of a second on a shop's network; what is kept comes squeezed already.
	small := middleware.NewCompressor(pages.Squeezing, "text/html", "application/json", "application/manifest+json")
	small.SetEncoder("gzip", pages.NewSqueezer)
	r.Use(watched(log), secure(opt.HSTS), small.Handler, onlyHosts(hosts.Ours), sameOrigin(http.HandlerFunc(say.elsewhere)), who, g.Middleware)
	r.Get("/assets/{hash}/*", asset)
	r.Get("/sw.js", worker)
	r.Get("/manifest.webmanifest", manifest)
	r.Get("/trust", outside.trust)
	r.Get("/trust/authority.crt", outside.authority)
	var absent []string
	if opt.API != nil {
		r.Mount("/api/v1", opt.API)
	} else {
		absent = append(absent, "/api/v1/")
	}
	if opt.Share != nil {
		r.Mount("/share", opt.Share)
	} else {
		absent = append(absent, "/share/")
	}
	site.Routes(r)
	if err := g.Watch(r, absent...); err != nil {
		return nil, err
	}
	return r, nil
}

// refuser says no in the form and to the ears that fit.
type refuser struct {
	site    *pages.Site
	outside *strangers
	api     API
}

func (s refuser) refuse(w http.ResponseWriter, r *http.Request, row guard.Row, in bool, err error) {
	switch {
	case row.Answer == guard.JSON && s.api != nil:
		s.api.Refuse(w, r, err)
	case in:
		s.site.Refuse(w, r, err)
	default:
		s.outside.fault(w, r, err)
	}
}

// elsewhere answers what a page of another site makes a browser send. Who is signed in is not known yet, nor to be told.
func (s refuser) elsewhere(w http.ResponseWriter, r *http.Request) {
	err := timeline.NewFault(timeline.Forbidden, "fault.guard.origin")
	if s.api != nil && strings.HasPrefix(r.URL.Path, "/api/v1/") {
		s.api.Refuse(w, r, err)
		return
	}
	s.outside.fault(w, r, err)
}

func asset(w http.ResponseWriter, r *http.Request) {
	a, ok := web.FindAsset(chi.URLParam(r, "hash"), chi.URLParam(r, "*"))
	if !ok {
		http.NotFound(w, r)
		return
	}
	h := w.Header()
	h.Set("Content-Type", a.Type)
	h.Set("Cache-Control", "public, max-age=31536000, immutable")
	h.Set("Vary", "Accept-Encoding")
	body := a.Bytes
	if a.Gzip != nil && strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") {
		h.Set("Content-Encoding", "gzip")
		body = a.Gzip
	}
	_, _ = w.Write(body) // the browser went away: nobody to tell
}
