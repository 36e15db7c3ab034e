package pages

import (
	"net/http"
	"slices"

	"thatch/timeline"
)

type sessionsPage struct {
	frame
	Name     string
	ID       timeline.ID
	Today    timeline.Day
	On       timeline.Day // proposed
	Form     form
	Open     *timeline.Session  // today's
	Sessions []timeline.Session // newest first
}

var sessionsView = declare[sessionsPage]("sessions")

// newSession asks for the day of a session; today's is one tap.
func (s *Site) newSession(w http.ResponseWriter, r *http.Request) error {
	return s.showSessions(w, r, 0, form{})
}

func (s *Site) showSessions(w http.ResponseWriter, r *http.Request, code int, f form) error {
	ctx := r.Context()
	dog, today, err := s.dogToday(r)
	if err != nil {
		return err
	}
	sessions, err := s.salon.Sessions(ctx, dog.ID)
	if err != nil {
		return err
	}
	slices.Reverse(sessions)
	p := sessionsPage{frame: frame{Status: code, Tab: "log", Dog: navOf(dog)}, Name: dog.Name, ID: dog.ID, Today: today, On: today, Form: f, Sessions: sessions}
	for i := range sessions {
		if sessions[i].On == today {
			p.Open = &sessions[i]
		}
	}
	return sessionsView.show(s, w, r, p)
}

func (s *Site) openSession(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	day, err := f.day("on")
	if err == nil && day.IsZero() {
		err = timeline.NewFault(timeline.Invalid, "fault.session.no_day").In("on")
	}
	var v timeline.Session
	if err == nil {
		v, err = s.salon.OpenSession(r.Context(), idOf(r, "id"), day)
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showSessions(w, r, code, f) })
	}
	sayNext(w, r, "session.opened", "", "")
	return seeOther(w, r, "/sessions/"+string(v.ID))
}

func (s *Site) trashSession(w http.ResponseWriter, r *http.Request) error {
	if _, err := readForm(w, r); err != nil {
		return err
	}
	v, err := s.salon.Session(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	if err := s.salon.TrashSession(r.Context(), v.ID); err != nil {
		return err
	}
	sayNext(w, r, "session.trashed", "session", v.ID)
	return seeOther(w, r, "/dogs/"+string(v.Dog))
}
