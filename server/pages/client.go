package pages

import (
	"net/http"
	"slices"

	"thatch/server/salon"
	"thatch/timeline"
)

type clientPage struct {
	frame
	DogDoc timeline.Dog
	Form   form
	Links  []clientLink // newest first
	Made   string       // the new link's address; shown this once, only its hash is kept
	For    string
	Agreed salon.Consent
}

type clientLink struct {
	timeline.Link
	State string // "open", "withdrawn", "expired"
}

var clientView = declare[clientPage]("client")

// SharePath is where the clients' pages are mounted; a token follows.
const SharePath = "/share/"

func (s *Site) client(w http.ResponseWriter, r *http.Request) error {
	return s.showClient(w, r, 0, form{}, "")
}

func (s *Site) showClient(w http.ResponseWriter, r *http.Request, code int, f form, made string) error {
	ctx := r.Context()
	dog, err := s.salon.Dog(ctx, idOf(r, "id"))
	if err != nil {
		return err
	}
	links, err := s.salon.Links(ctx, dog.ID)
	if err != nil {
		return err
	}
	slices.SortStableFunc(links, func(a, b timeline.Link) int { return b.Made.Compare(a.Made) })
	p := clientPage{frame: frame{Status: code, Tab: "client", Dog: navOf(dog)}, DogDoc: dog, Form: f, Made: made, For: f.text("for")}
	if p.Agreed, err = s.salon.ConsentOf(ctx, dog); err != nil {
		return err
	}
	for _, l := range links {
		state := "open"
		switch {
		case !l.Withdrawn.IsZero():
			state = "withdrawn"
		case !s.salon.Now().Before(l.Expires):
			state = "expired"
		}
		p.Links = append(p.Links, clientLink{l, state})
	}
	return clientView.show(s, w, r, p)
}

// makeLink shows the new address in its own answer instead of redirecting: it is told once and kept nowhere.
func (s *Site) makeLink(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	token, _, err := s.salon.MakeLink(r.Context(), idOf(r, "id"), f.text("for"))
	if err != nil {
		return f.again(err, func(code int) error { return s.showClient(w, r, code, f, "") })
	}
	return s.showClient(w, r, 0, f, originOf(r)+SharePath+token)
}

// agree notes that the client agreed to pictures being shown by link, or took that back: then every link is dead at once.
func (s *Site) agree(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	dog, err := s.salon.Dog(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	rev, err := f.rev()
	if err == nil {
		_, err = s.salon.NoteConsent(r.Context(), dog.ID, rev, f.Get("share_ok") != "")
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showClient(w, r, code, f, "") })
	}
	sayNext(w, r, "dog.saved", "", "")
	return seeOther(w, r, "/dogs/"+string(dog.ID)+"/client")
}

func (s *Site) withdrawLink(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	if err := s.salon.WithdrawLink(r.Context(), idOf(r, "id")); err != nil {
		return err
	}
	sayNext(w, r, "link.withdrawn", "", "")
	return seeOther(w, r, f.Get("back"))
}
