package server

import (
	"log/slog"
	"net/http"
	"net/url"
	"runtime/debug"
	"strings"
	"time"

	"thatch/server/guard"
	"thatch/timeline"
)

// contentPolicy lets a page load what this server serves, and nothing else; blob: and data: are for pictures that a
// script has just read from a chosen file.
const contentPolicy = "default-src 'none'; img-src 'self' blob: data:; style-src 'self'; script-src 'self'; connect-src 'self'; " +
	"form-action 'self'; frame-ancestors 'none'; base-uri 'none'; font-src 'self'; manifest-src 'self'; worker-src 'self'"

// nothingOfTheDevice: a page that needs camera or sensors asks for them itself.
const nothingOfTheDevice = "camera=(), accelerometer=(), gyroscope=(), magnetometer=(), microphone=(), geolocation=(), interest-cohort=()"

// hstsAge is a year, in seconds. Names below ours are not bound by it: they may be other machines of the shop.
const hstsAge = "max-age=31536000"

// secure sets what every answer carries. Nothing is kept by a cache unless its handler says so. hsts is only for a
// certificate that every browser trusts anyway: with one of our own making, a phone that has not been told to trust it
// could no longer be let through to the page that explains how, and the address may be another machine's tomorrow.
func secure(hsts bool) func(http.Handler) http.Handler {
	return func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			h := w.Header()
			h.Set("Content-Security-Policy", contentPolicy)
			h.Set("X-Content-Type-Options", "nosniff")
			h.Set("Referrer-Policy", "same-origin")
			h.Set("Cross-Origin-Opener-Policy", "same-origin")
			h.Set("Cross-Origin-Resource-Policy", "same-origin")
			h.Set("Permissions-Policy", nothingOfTheDevice)
			h.Set("X-Frame-Options", "DENY")
			h.Set("Cache-Control", "no-store")
			if hsts {
				h.Set("Strict-Transport-Security", hstsAge)
			}
			next.ServeHTTP(w, r)
		})
	}
}

// onlyHosts refuses names that are not ours: a page of a stranger that makes its own name resolve to this machine
// (DNS rebinding) would otherwise be of the same origin as we are.
func onlyHosts(ours func(host string) bool) func(http.Handler) http.Handler {
	return func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if !ours(hostname(r.Host)) {
				http.Error(w, "This name is not served here.", http.StatusMisdirectedRequest)
				return
			}
			next.ServeHTTP(w, r)
		})
	}
}

// sameOrigin refuses what a page elsewhere makes a browser send. A browser too old for Sec-Fetch-Site and Origin still
// says in Referer where it comes from; what says nothing at all is no browser, and brings no cookie by itself.
func sameOrigin(refuse http.Handler) func(http.Handler) http.Handler {
	p := http.NewCrossOriginProtection()
	p.SetDenyHandler(refuse)
	return func(next http.Handler) http.Handler {
		return p.Handler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			switch r.Method {
			case http.MethodGet, http.MethodHead, http.MethodOptions:
			default:
				from := r.Header.Get("Referer")
				if from != "" && r.Header.Get("Sec-Fetch-Site") == "" && r.Header.Get("Origin") == "" {
					if u, err := url.Parse(from); err != nil || !strings.EqualFold(u.Host, r.Host) {
						refuse.ServeHTTP(w, r)
						return
					}
				}
			}
			next.ServeHTTP(w, r)
		}))
	}
}

// watched writes one line for a request that failed, with the route's pattern, never the path: a path may carry a
// client's secret. It turns a panic into a 500, so that one broken page does not take the salon down; http.ErrAbortHandler
// is the library's own way to end a request and passes.
func watched(log *slog.Logger) func(http.Handler) http.Handler {
	return func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			began := time.Now()
			ctx, trace := guard.Traced(r.Context())
			r = r.WithContext(ctx)
			a := paced(w, r)
			defer a.end()
			defer func() {
				v := recover()
				if v == http.ErrAbortHandler {
					panic(v)
				}
				if v != nil {
					log.Error("panic", "method", methodOf(r), "route", trace.Pattern, "value", kindOfPanic(v), "stack", string(debug.Stack()))
					if a.code == 0 {
						http.Error(a, "Something went wrong on our side. Nothing you entered before is lost.", http.StatusInternalServerError)
					}
				}
				if a.code < 400 {
					return
				}
				level := slog.LevelInfo
				if a.code == http.StatusTooManyRequests {
					level = slog.LevelDebug // a flood is not to fill the disk
				}
				log.Log(ctx, level, "refused", "method", methodOf(r), "route", trace.Pattern, "person", trace.Person, "status", a.code, "ms", time.Since(began).Milliseconds())
			}()
			next.ServeHTTP(a, r)
		})
	}
}

// methodOf is a method that HTTP knows: another is the asker's own text, and may be anything.
func methodOf(r *http.Request) string {
	switch r.Method {
	case http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete, http.MethodOptions:
		return r.Method
	}
	return "other"
}

// everybodyOwns is for a server without accounts: whoever reaches it sits at the machine.
func everybodyOwns(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		next.ServeHTTP(w, r.WithContext(timeline.WithVisitor(r.Context(), timeline.Visitor{Role: timeline.Owner})))
	})
}
