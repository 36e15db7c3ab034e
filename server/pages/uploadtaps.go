package pages

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"thatch/server/salon"
	"thatch/server/status"
	"thatch/timeline"
)

// mostJust bounds how many photos an address names as just added.
const mostJust = maxFiles

// News are the photos that have come in and were not here before: what one tap for all is about.
func (p uploadPage) News() (out []timeline.Photo) {
	for _, r := range p.Results {
		if r.Fault == nil && !r.Added.Already {
			out = append(out, r.Added.Photo)
		}
	}
	return out
}

// CoatOfAll is what has been said of every one of them; "" where they differ.
func (p uploadPage) CoatOfAll() timeline.CoatState {
	all := p.News()
	for _, ph := range all {
		if ph.CoatState != all[0].CoatState {
			return ""
		}
	}
	if len(all) == 0 {
		return ""
	}
	return all[0].CoatState
}

// CoatStates and Phases are the answers there are.
func (p uploadPage) CoatStates() []timeline.CoatState { return timeline.CoatStates() }
func (p uploadPage) Phases() []timeline.Phase         { return timeline.Phases() }

// Just names all the photos of the page, so that it can be shown again.
func (p uploadPage) Just() string {
	var ids []string
	for _, r := range p.Results {
		if r.Fault == nil {
			ids = append(ids, string(r.Added.Photo.ID))
		}
	}
	return strings.Join(ids, ",")
}

// justAdded are the rows of photos that came in a moment ago.
func (s *Site) justAdded(r *http.Request, dog timeline.ID, ids []timeline.ID) ([]uploadResult, error) {
	added, err := s.salon.JustAdded(r.Context(), dog, ids[:min(len(ids), mostJust)])
	var out []uploadResult
	for _, a := range added {
		out = append(out, uploadResult{File: a.Photo.File, Added: a})
	}
	return out, err
}

func idsOf(list string) (ids []timeline.ID) {
	for _, id := range strings.Split(list, ",") {
		if idPattern.MatchString(id) {
			ids = append(ids, timeline.ID(id))
		}
	}
	return ids
}

// photosState keeps one tap of several photos: of all that have just come in, or of one among them. A script is answered
// with their rows, a form goes back to the list.
func (s *Site) photosState(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	dog, err := s.salon.Dog(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	var of []salon.PhotoAt
	var ids []timeline.ID
	for _, text := range f.Values["photo"] {
		id, rev, _ := strings.Cut(text, " ")
		n, err := strconv.Atoi(rev)
		if err != nil || n < 0 || len(of) == mostJust {
			return timeline.NewFault(timeline.Invalid, "fault.form")
		}
		of, ids = append(of, salon.PhotoAt{ID: timeline.ID(id), Rev: timeline.Rev(n)}), append(ids, timeline.ID(id))
	}
	e := tapped(f)
	err = s.salon.SayOfPhotos(r.Context(), dog.ID, of, salon.PhotoEdit{Phase: e.Phase, PhaseByTime: e.PhaseByTime, CoatState: e.CoatState, CoatUnsaid: e.CoatUnsaid})
	if r.Header.Get("Accept") == "text/x-rows" {
		rows, rest := s.justAdded(r, dog.ID, ids)
		if rest != nil {
			return rest
		}
		p := uploadRow{Results: rows}
		if err != nil {
			p.Status = status.Of(err)
		}
		return uploadRowView.bare(s, w, r, p)
	}
	all := idsOf(f.Get("just"))
	if err != nil {
		return f.again(err, func(code int) error { return s.showUpload(w, r, code, dog, all, f) })
	}
	sayNext(w, r, "photo.saved", "", "")
	return seeOther(w, r, "/dogs/"+string(dog.ID)+"/photos/new?just="+url.QueryEscape(f.Get("just"))+"#just")
}

func (s *Site) showUpload(w http.ResponseWriter, r *http.Request, code int, dog timeline.Dog, just []timeline.ID, f form) error {
	rows, err := s.justAdded(r, dog.ID, just)
	if err != nil {
		return err
	}
	return uploadView.show(s, w, r, uploadPage{frame: frame{Status: code, Tab: "photos", Dog: navOf(dog)}, Nav: navOf(dog), Results: rows, Form: f})
}
