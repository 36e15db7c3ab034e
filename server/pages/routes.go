package pages

import "github.com/go-chi/chi/v5"

// Routes puts every page and action in place: one line each, in order of path. GET changes nothing.
func (s *Site) Routes(r chi.Router) {
	r.Get("/", s.page(s.home))
	r.Get("/style", s.page(s.style))
	r.Post("/restore/{kind}/{id}", s.page(s.restore))
	r.Post("/theme", s.page(s.theme))
	r.NotFound(s.page(s.notFound))
	r.MethodNotAllowed(s.page(s.notFound))
}
