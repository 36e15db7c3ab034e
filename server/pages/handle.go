package pages

import (
	"context"
	"errors"
	"net/http"

	"github.com/go-chi/chi/v5"

	"thatch/server/salon"
	"thatch/server/status"
	"thatch/store"
	"thatch/timeline"
)

// handler is the form of every page and action: load, parse into a typed form, act, show or redirect. An error that a
// handler does not show beside its own form ends on the page of faults.
type handler func(w http.ResponseWriter, r *http.Request) error

// visit is what every request needs, loaded once.
type visit struct {
	settings store.Settings  // the salon's, but in the language of who asks
	said     *said           // what the last action said, shown once
	theme    string          // "" follows the device, "light", "dark"
	fault    *timeline.Fault // what was wrong with the form, where its page is shown once more
}

type visitKey struct{}

func visitOf(r *http.Request) *visit {
	if v, ok := r.Context().Value(visitKey{}).(*visit); ok {
		return v
	}
	return &visit{}
}

// page is the adapter: the only place where an error of a page becomes an answer.
func (s *Site) page(h handler) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		set, err := s.salon.Settings(r.Context())
		v := &visit{settings: set, said: readSaid(r), theme: ownTheme(r, set.Theme)}
		v.settings.Lang = languageOf(r, set.Lang)
		ctx := context.WithValue(r.Context(), visitKey{}, v)
		if r.Header.Get(aheadHeader) != "" {
			v.said = nil
		}
		account := accountOf(r)
		if account == "" {
			account = nobody
		}
		w.Header().Set(accountHeader, account)
		if err == nil {
			r = r.WithContext(salon.WithSettings(ctx, set))
			h := h
			if r.Method == http.MethodPost && r.Header.Get(onceHeader) != "" {
				h = s.once(h)
			}
			if err = forAnother(r); err == nil {
				err = h(w, r)
			}
		} else {
			r = r.WithContext(ctx)
		}
		if err == nil || errors.Is(err, context.Canceled) {
			return
		}
		if timeline.KindOf(err) == timeline.Internal {
			s.log.Error("page", "method", r.Method, "route", routeOf(r), "error", err)
		}
		s.showFault(w, r, err)
	}
}

func routeOf(r *http.Request) string {
	if c := chi.RouteContext(r.Context()); c != nil {
		return c.RoutePattern()
	}
	return ""
}

// idOf is an ID of the route.
func idOf(r *http.Request, name string) timeline.ID { return timeline.ID(chi.URLParam(r, name)) }

// dogToday is the dog of the route, and today.
func (s *Site) dogToday(r *http.Request) (timeline.Dog, timeline.Day, error) {
	dog, err := s.salon.Dog(r.Context(), idOf(r, "id"))
	if err != nil {
		return dog, 0, err
	}
	today, err := s.salon.Today(r.Context())
	return dog, today, err
}

// seeOther ends an action: the browser fetches the page anew, so that a reload does not act twice.
func seeOther(w http.ResponseWriter, r *http.Request, to string) error {
	http.Redirect(w, r, localPath(to), http.StatusSeeOther)
	return nil
}

// longestPath of our own pages, with room.
const longestPath = 2048

// localPath lets only paths of our own through, for targets that came with a form.
func localPath(to string) string {
	if len(to) == 0 || len(to) > longestPath || to[0] != '/' || len(to) > 1 && (to[1] == '/' || to[1] == '\\') {
		return "/"
	}
	for _, c := range to {
		if c < ' ' || c == '\\' {
			return "/"
		}
	}
	return to
}

type faultPage struct {
	frame
	Fault *timeline.Fault
}

var faultView = declare[faultPage]("fault")

func (s *Site) showFault(w http.ResponseWriter, r *http.Request, err error) {
	status.RetryAfter(w.Header(), err)
	p := faultPage{frame: frame{Status: status.Of(err)}, Fault: status.Fault(err)}
	if err := faultView.show(s, w, r, p); err != nil {
		s.log.Error("page of faults", "error", err)
		http.Error(w, "Something went wrong on our side. Nothing you entered before is lost.", http.StatusInternalServerError)
	}
}

func (s *Site) notFound(w http.ResponseWriter, r *http.Request) error {
	return timeline.NewFault(timeline.NotFound, "fault.not_found")
}
