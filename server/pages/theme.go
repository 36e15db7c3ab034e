package pages

import (
	"net/http"

	"thatch/timeline"
)

// theme sets the look: "light", "dark", or "" as the device says. Of the salon, or where people sign in of the browser.
func (s *Site) theme(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	if v, _ := timeline.VisitorOf(r.Context()); v.Person != "" {
		switch v := f.Get("theme"); v {
		case "light", "dark", "":
			setTheme(w, r, v)
		}
		return seeOther(w, r, f.Get("back"))
	}
	set, err := s.salon.Settings(r.Context())
	if err != nil {
		return err
	}
	switch v := f.Get("theme"); v {
	case "light", "dark", "":
		set.Theme = v
	}
	if _, err := s.salon.SaveSettings(r.Context(), set); err != nil {
		return err
	}
	return seeOther(w, r, f.Get("back"))
}
