package server

import (
	"bytes"
	"net/http"

	"thatch/server/cert"
	"thatch/server/pages"
	"thatch/server/salon"
	"thatch/server/status"
	"thatch/store"
	"thatch/timeline"
)

// strangers are told what they need to know on pages that name neither the salon nor what is in it.
type strangers struct {
	salon *salon.Salon
	own   *cert.Own // nil: none
	pages *pages.Outside
}

type strangersFault struct {
	Lang   string
	Status int
	Fault  *timeline.Fault
}

func newStrangers(s *salon.Salon, own *cert.Own) (*strangers, error) {
	p, err := pages.NewOutside("gate/*.html")
	return &strangers{salon: s, own: own, pages: p}, err
}

func (t *strangers) fault(w http.ResponseWriter, r *http.Request, err error) {
	code := status.Of(err)
	t.show(w, r, code, "refused.html", func(lang string) any { return strangersFault{lang, code, status.Fault(err)} })
}

func (t *strangers) show(w http.ResponseWriter, r *http.Request, code int, name string, data func(lang string) any) {
	set, err := t.salon.Settings(r.Context())
	if err != nil {
		set = store.Settings{} // a broken store is not a stranger's to know
	}
	sp := pages.SpeakerFor(r, set)
	var out bytes.Buffer
	tmpl, err := t.pages.Of(sp)
	if err == nil {
		err = tmpl.ExecuteTemplate(&out, name, data(sp.Lang))
	}
	if err != nil {
		http.Error(w, http.StatusText(code), code)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(code)
	_, _ = out.WriteTo(w) // the browser went away: nobody to tell
}
