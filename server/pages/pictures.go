package pages

import (
	"net/http"
	"time"

	"github.com/go-chi/chi/v5"

	"thatch/server/salon"
	"thatch/timeline"
)

// picture serves a size of a photo. A photo's bytes never change under its ID, so a browser may keep them for a while;
// they stay private to it.
func (s *Site) picture(w http.ResponseWriter, r *http.Request) error {
	kind := salon.PictureKind(chi.URLParam(r, "kind"))
	switch kind {
	case salon.PictureThumb, salon.PictureView, salon.PictureOriginal:
	default:
		return timeline.NewFault(timeline.NotFound, "fault.not_found")
	}
	p, err := s.salon.Picture(r.Context(), idOf(r, "id"), kind)
	if err != nil {
		return err
	}
	return sendPicture(w, r, p, "private, max-age=86400")
}

// alignedPicture serves a photo laid over another. It changes with the points of either, so it is asked for anew.
func (s *Site) alignedPicture(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	p, err := s.salon.LaidPicture(r.Context(), idOf(r, "id"), idOf(r, "ref"), salon.Laid{Balanced: q.Get("balance") == "on", Half: q.Get("size") == "half"})
	if err != nil {
		return err
	}
	return sendPicture(w, r, p, "private, no-cache")
}

// balancedPicture serves a photo under the light in which it is compared with another.
func (s *Site) balancedPicture(w http.ResponseWriter, r *http.Request) error {
	p, err := s.salon.BalancedPicture(r.Context(), idOf(r, "id"), idOf(r, "other"))
	if err != nil {
		return err
	}
	return sendPicture(w, r, p, "private, no-cache")
}

func sendPicture(w http.ResponseWriter, r *http.Request, p salon.Picture, cache string) error {
	defer p.Close()
	h := w.Header()
	h.Set("Content-Type", p.Type)
	h.Set("Cache-Control", cache)
	if p.ETag != "" {
		h.Set("ETag", p.ETag)
	}
	http.ServeContent(w, r, "", time.Time{}, p)
	return nil
}
