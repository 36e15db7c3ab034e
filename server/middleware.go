package server

import (
	"log/slog"
	"net"
	"net/http"
	"runtime/debug"
	"slices"
	"strings"
)

// contentPolicy lets a page load what this server serves, and nothing else; blob: and data: are for pictures that a
// script has just read from a chosen file.
const contentPolicy = "default-src 'none'; img-src 'self' blob: data:; style-src 'self'; script-src 'self'; connect-src 'self'; " +
	"form-action 'self'; frame-ancestors 'none'; base-uri 'none'; font-src 'self'; manifest-src 'self'"

func secure(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", contentPolicy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(self), microphone=(), geolocation=(), interest-cohort=()")
		h.Set("X-Frame-Options", "DENY")
		next.ServeHTTP(w, r)
	})
}

// onlyHosts refuses names that are not ours: a page of a stranger that makes its own name resolve to this machine
// (DNS rebinding) would otherwise be of the same origin as we are.
func onlyHosts(names []string) func(http.Handler) http.Handler {
	return func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if !slices.Contains(names, hostname(r.Host)) {
				http.Error(w, "This name is not served here.", http.StatusMisdirectedRequest)
				return
			}
			next.ServeHTTP(w, r)
		})
	}
}

// hostname is the host without its port, lower case, an IPv6 address without brackets; "" where it makes no sense.
func hostname(hostport string) string {
	host := hostport
	if h, port, err := net.SplitHostPort(hostport); err == nil {
		if strings.Trim(port, "0123456789") != "" {
			return ""
		}
		host = h
	}
	return strings.ToLower(strings.Trim(host, "[]"))
}

// recovered turns a panic into a 500, so that one broken page does not take the salon down. http.ErrAbortHandler is the
// library's own way to end a request and passes.
func recovered(log *slog.Logger) func(http.Handler) http.Handler {
	return func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			defer func() {
				v := recover()
				if v == nil {
					return
				}
				if v == http.ErrAbortHandler {
					panic(v)
				}
				log.Error("panic", "method", r.Method, "route", routeOf(r), "value", v, "stack", string(debug.Stack()))
				http.Error(w, "Something went wrong on our side. Nothing you entered before is lost.", http.StatusInternalServerError)
			}()
			next.ServeHTTP(w, r)
		})
	}
}
