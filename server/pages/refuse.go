package pages

import "net/http"

// Refuse tells a person of the salon in words why a request was turned away before it reached a page.
func (s *Site) Refuse(w http.ResponseWriter, r *http.Request, err error) {
	s.page(func(http.ResponseWriter, *http.Request) error { return err })(w, r)
}
