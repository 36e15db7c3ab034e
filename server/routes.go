// Package server puts the program on a loopback address: routes, middleware, assets, graceful end.
//
// It owns HTTP and nothing of the trade: pages, JSON and the clients' pages live in packages of their own, and all of
// them call server/salon.
package server

import (
	"log/slog"
	"net/http"
	"strings"

	"github.com/go-chi/chi/v5"

	"thatch/server/pages"
	"thatch/server/salon"
	"thatch/web"
)

// Options of the whole server.
type Options struct {
	Log   *slog.Logger // nil: slog.Default
	Hosts []string     // further names to answer to, beside localhost and the loopback addresses
	API   http.Handler // under /api/v1; nil: none
	Share http.Handler // under /share, what clients see; nil: none
}

// New is the salon over HTTP. It fails where a template does not parse: better at the start than before a client.
func New(s *salon.Salon, opt Options) (http.Handler, error) {
	log := opt.Log
	if log == nil {
		log = slog.Default()
	}
	site, err := pages.New(s, log)
	if err != nil {
		return nil, err
	}
	r := chi.NewRouter()
	r.Use(recovered(log), secure, onlyHosts(append([]string{"localhost", "127.0.0.1", "::1"}, opt.Hosts...)))
	r.Use(http.NewCrossOriginProtection().Handler)
	r.Get("/assets/{hash}/*", asset)
	if opt.API != nil {
		r.Mount("/api/v1", opt.API)
	}
	if opt.Share != nil {
		r.Mount("/share", opt.Share)
	}
	site.Routes(r)
	return r, nil
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

// routeOf is the pattern, never the path: a path may carry a client's secret token.
func routeOf(r *http.Request) string {
	if c := chi.RouteContext(r.Context()); c != nil {
		return c.RoutePattern()
	}
	return ""
}
