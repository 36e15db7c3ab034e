package pages

import (
	"net/http"

	"thatch/server/salon"
	"thatch/timeline"
)

type checkPage struct {
	frame
	salon.Checks
	Form form
}

var checkView = declare[checkPage]("check")

func (s *Site) check(w http.ResponseWriter, r *http.Request) error {
	return s.showCheck(w, r, 0, form{})
}

func (s *Site) showCheck(w http.ResponseWriter, r *http.Request, code int, f form) error {
	all, err := s.salon.Checks(r.Context())
	if err != nil {
		return err
	}
	return checkView.show(s, w, r, checkPage{frame: frame{Status: code, Tab: "settings"}, Checks: all, Form: f})
}

func (s *Site) addCheck(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	var photos []timeline.ID
	for _, id := range f.Values["photo"] {
		photos = append(photos, timeline.ID(id))
	}
	if _, err := s.salon.AddCheck(r.Context(), photos); err != nil {
		return f.again(err, func(code int) error { return s.showCheck(w, r, code, f) })
	}
	sayNext(w, r, "check.added", "", "")
	return seeOther(w, r, "/check")
}

func (s *Site) trashCheck(w http.ResponseWriter, r *http.Request) error {
	if _, err := readForm(w, r); err != nil {
		return err
	}
	id := idOf(r, "id")
	if err := s.salon.TrashCheck(r.Context(), id); err != nil {
		return err
	}
	sayNext(w, r, "check.trashed", "check", id)
	return seeOther(w, r, "/check")
}
