package pages

import (
	"errors"
	"net/http"

	"thatch/server/salon"
	"thatch/timeline"
)

type photoPage struct {
	frame
	salon.PhotoPage
	Form   form
	Marker salon.MarkerLine
	Taps   photoTaps
	Ask    timeline.Zone   // whose depth a comb should read today; "": none
	Edge   timeline.Phrase // how far its edge has been looked at; zero: photos of this side have none
}

var photoView = declare[photoPage]("photo")

func (s *Site) photo(w http.ResponseWriter, r *http.Request) error {
	return s.showPhoto(w, r, 0, form{})
}

func (s *Site) showPhoto(w http.ResponseWriter, r *http.Request, code int, f form) error {
	page, err := s.salon.PhotoPage(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	edge, err := s.salon.EdgeLook(r.Context(), page.Photo.ID)
	if err != nil {
		return err
	}
	marker, err := s.salon.MarkerLine(r.Context(), page.Photo, page.Original)
	if err != nil {
		return err
	}
	var ask timeline.Zone
	if page.Photo.Side.Measured() {
		if ask, err = s.salon.CombAsked(r.Context(), page.Dog.ID, page.Photo.Moment.Day()); err != nil {
			return err
		}
	}
	says := timeline.Phrase{}
	if page.Photo.Side.Measured() {
		says = edgeSays(edge)
	}
	return photoView.show(s, w, r, photoPage{
		Marker: marker, Edge: says, Ask: ask,
		frame: frame{Status: code, Tab: "photo", Dog: navOf(page.Dog)}, PhotoPage: page, Form: f,
		Taps: photoTaps{Photo: page.Photo, Coat: true, Phase: true, Side: true, Undo: undoFrom(r.URL.Query(), page.Photo)},
	})
}

// photoAction is the shape of every action of this page: read, act, say, back to the photo; refused: the page again.
func (s *Site) photoAction(w http.ResponseWriter, r *http.Request, code string, act func(f form, rev timeline.Rev) error) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	rev, err := f.rev()
	if err == nil {
		err = act(f, rev)
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showPhoto(w, r, code, f) })
	}
	sayNext(w, r, code, "", "")
	return seeOther(w, r, "/photos/"+string(idOf(r, "id")))
}

// photoFacts keeps what one tap said, and goes back to the page that asked.
func (s *Site) photoFacts(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	was, err := s.salon.Photo(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	rev, err := f.rev()
	if err == nil {
		_, err = s.salon.SetPhotoFacts(r.Context(), was.ID, rev, tapped(f))
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showPhoto(w, r, code, f) })
	}
	sayNext(w, r, "photo.saved", "", "")
	return seeOther(w, r, backFrom(f, was.ID, undoOf(f, was)))
}

func (s *Site) photoDate(w http.ResponseWriter, r *http.Request) error {
	return s.photoAction(w, r, "photo.date", func(f form, rev timeline.Rev) error {
		_, err := s.salon.CorrectDate(r.Context(), idOf(r, "id"), rev, f.text("taken"), f.Get("shift") != "")
		if fault := (*timeline.Fault)(nil); errors.As(err, &fault) && fault.Field == "local" {
			fault.Field = "taken" // as the form calls it
		}
		return err
	})
}

func (s *Site) photoPair(w http.ResponseWriter, r *http.Request) error {
	return s.photoAction(w, r, "photo.paired", func(f form, rev timeline.Rev) error {
		_, err := s.salon.PairPhoto(r.Context(), idOf(r, "id"), rev, timeline.ID(f.Get("session")))
		return err
	})
}

// photoSession opens the session of the photo's day and goes there.
func (s *Site) photoSession(w http.ResponseWriter, r *http.Request) error {
	if _, err := readForm(w, r); err != nil {
		return err
	}
	v, err := s.salon.OpenSessionForPhoto(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	sayNext(w, r, "session.opened", "", "")
	return seeOther(w, r, "/sessions/"+string(v.ID))
}

func (s *Site) photoTrash(w http.ResponseWriter, r *http.Request) error {
	if _, err := readForm(w, r); err != nil {
		return err
	}
	p, err := s.salon.Photo(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	if err := s.salon.TrashPhoto(r.Context(), p.ID); err != nil {
		return err
	}
	sayNext(w, r, "photo.trashed", "photo", p.ID)
	return seeOther(w, r, "/dogs/"+string(p.Dog))
}
