package pages

import "net/http"

// theme sets the salon's look: "light", "dark", or "" as the device says.
func (s *Site) theme(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
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
