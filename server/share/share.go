// Package share is what clients see by link: one dog's page and its pictures, read-only, without any login.
//
// The link is a secret in a URL. The package therefore sends nothing that may be kept (no-store), named to others
// (no-referrer) or indexed, logs routes and never paths, and answers unknown, expired and withdrawn links with the same 404.
package share

import (
	"bytes"
	"errors"
	"log/slog"
	"net/http"
	"time"

	"github.com/go-chi/chi/v5"

	"thatch/server/pages"
	"thatch/server/salon"
	"thatch/server/status"
	"thatch/timeline"
)

type site struct {
	salon *salon.Salon
	log   *slog.Logger
	pages *pages.Outside
}

// page is what share.html is given. Base is the page's own path, which its pictures lie under.
type page struct {
	salon.SharedPage
	Base string
	Lang string
	Gone bool
}

// Handler is to be mounted at pages.SharePath. It fails where a template does not parse.
func Handler(s *salon.Salon, log *slog.Logger) (http.Handler, error) {
	p, err := pages.NewOutside("share/share.html")
	if err != nil {
		return nil, err
	}
	t := &site{salon: s, log: log, pages: p}
	r := chi.NewRouter()
	r.Use(secret)
	r.Get("/{token}", t.answer(t.show))
	r.Get("/{token}/over", t.answer(t.over))
	r.Get("/{token}/{photo}/{kind}", t.answer(t.picture))
	r.NotFound(t.answer(func(http.ResponseWriter, *http.Request) error { return errGone }))
	r.MethodNotAllowed(t.answer(func(http.ResponseWriter, *http.Request) error { return errGone }))
	return r, nil
}

var errGone = timeline.NewFault(timeline.NotFound, "share.gone")

// secret keeps the address, which is the secret, and what it shows out of caches, referrers and indexes.
func secret(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Cache-Control", "no-store")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("X-Robots-Tag", "noindex, nofollow, noarchive")
		next.ServeHTTP(w, r)
	})
}

func (t *site) answer(h func(http.ResponseWriter, *http.Request) error) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		err := h(w, r)
		if err == nil {
			return
		}
		code := status.Of(err)
		if timeline.KindOf(err) == timeline.Internal {
			t.log.Error("client's page", "route", chi.RouteContext(r.Context()).RoutePattern(), "error", err)
		}
		if err := t.render(w, r, code, page{Gone: timeline.KindOf(err) == timeline.NotFound}); err != nil {
			http.Error(w, http.StatusText(code), code)
		}
	}
}

func (t *site) show(w http.ResponseWriter, r *http.Request) error {
	token := chi.URLParam(r, "token")
	shared, err := t.salon.SharedPage(r.Context(), token)
	if err != nil {
		return err
	}
	return t.render(w, r, http.StatusOK, page{SharedPage: shared, Base: pages.SharePath + token})
}

func (t *site) over(w http.ResponseWriter, r *http.Request) error {
	p, err := t.salon.SharedAligned(r.Context(), chi.URLParam(r, "token"))
	return send(w, r, p, err)
}

func (t *site) picture(w http.ResponseWriter, r *http.Request) error {
	p, err := t.salon.SharedPicture(r.Context(), chi.URLParam(r, "token"), timeline.ID(chi.URLParam(r, "photo")), salon.PictureKind(chi.URLParam(r, "kind")))
	return send(w, r, p, err)
}

func send(w http.ResponseWriter, r *http.Request, p salon.Picture, err error) error {
	if err != nil {
		// To a client a picture that is not hers does not exist, whatever the reason.
		if k := timeline.KindOf(err); k == timeline.Invalid || k == timeline.Forbidden {
			return errGone
		}
		return err
	}
	defer p.Close()
	w.Header().Set("Content-Type", p.Type)
	http.ServeContent(w, r, "", time.Time{}, p)
	return nil
}

func (t *site) render(w http.ResponseWriter, r *http.Request, code int, p page) error {
	set, err := t.salon.Settings(r.Context())
	if err != nil {
		return err
	}
	sp := pages.SpeakerFor(r, set)
	p.Lang = sp.Lang
	tmpl, err := t.pages.Of(sp)
	if err != nil {
		return err
	}
	var out bytes.Buffer
	if err := tmpl.ExecuteTemplate(&out, "share.html", p); err != nil {
		return errors.Join(errors.New("template share"), err)
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(code)
	_, _ = out.WriteTo(w) // the browser went away: nobody to tell
	return nil
}
