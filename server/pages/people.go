package pages

import (
	"net/http"

	"thatch/server/login"
	"thatch/timeline"
)

type peoplePage struct {
	frame
	Form        form
	People      []timeline.Person     // who may sign in
	Ended       []timeline.Person     // and who may no longer
	Invitations []timeline.Invitation // that hold
	Made        string                // the new invitation's address; shown this once, only its hash is kept
	For         string
	Me          timeline.ID
}

var peopleView = declare[peoplePage]("people")

func (s *Site) people(w http.ResponseWriter, r *http.Request) error {
	return s.showPeople(w, r, 0, form{}, "", "")
}

func (s *Site) showPeople(w http.ResponseWriter, r *http.Request, code int, f form, made, forWhom string) error {
	ctx := r.Context()
	all, err := s.salon.People(ctx)
	if err != nil {
		return err
	}
	p := peoplePage{frame: frame{Status: code, Tab: "settings"}, Form: f, Made: made, For: forWhom}
	for _, x := range all {
		if x.Ended.IsZero() {
			p.People = append(p.People, x)
		} else {
			p.Ended = append(p.Ended, x)
		}
	}
	if p.Invitations, err = s.salon.Invitations(ctx); err != nil {
		return err
	}
	v, _ := timeline.VisitorOf(ctx)
	p.Me = v.Person
	return peopleView.show(s, w, r, p)
}

// invite shows the new address in its own answer instead of redirecting: it is told once and kept nowhere.
func (s *Site) invite(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	token, v, err := s.salon.Invite(r.Context(), f.text("for"), timeline.Role(f.Get("role")))
	if err != nil {
		return f.again(err, func(code int) error { return s.showPeople(w, r, code, f, "", "") })
	}
	return s.showPeople(w, r, 0, form{}, originOf(r)+"/join/"+token, v.For)
}

func (s *Site) withdrawInvitation(w http.ResponseWriter, r *http.Request) error {
	if err := s.salon.WithdrawInvitation(r.Context(), idOf(r, "id")); err != nil {
		return err
	}
	sayNext(w, r, "invitation.withdrawn", "", "")
	return seeOther(w, r, "/people")
}

type personPage struct {
	frame
	Form    form
	Person  timeline.Person
	Roles   []timeline.Role
	SignIns []signInLine
	Tokens  []timeline.APIToken
	Me      bool
}

// signInLine is a sign-in as its person would know it.
type signInLine struct {
	timeline.SignIn
	Device string
	Here   bool // the one that asks
}

var personView = declare[personPage]("person")

func (s *Site) person(w http.ResponseWriter, r *http.Request) error {
	return s.showPerson(w, r, 0, form{})
}

func (s *Site) showPerson(w http.ResponseWriter, r *http.Request, code int, f form) error {
	ctx := r.Context()
	p, err := s.salon.Person(ctx, idOf(r, "id"))
	if err != nil {
		return err
	}
	v, _ := timeline.VisitorOf(ctx)
	d := personPage{frame: frame{Status: code, Tab: "settings"}, Form: f, Person: p, Roles: timeline.Roles(), Me: v.Person == p.ID}
	if d.SignIns, err = s.signIns(r, p.ID); err != nil {
		return err
	}
	if d.Tokens, err = s.salon.Tokens(ctx, p.ID); err != nil {
		return err
	}
	return personView.show(s, w, r, d)
}

func (s *Site) renamePerson(w http.ResponseWriter, r *http.Request) error {
	return s.changePerson(w, r, "person.saved", func(f form, rev timeline.Rev) error {
		_, err := s.salon.RenamePerson(r.Context(), idOf(r, "id"), rev, f.text("name"))
		return err
	})
}

func (s *Site) changeRole(w http.ResponseWriter, r *http.Request) error {
	return s.changePerson(w, r, "person.role", func(f form, rev timeline.Rev) error {
		_, err := s.salon.ChangeRole(r.Context(), idOf(r, "id"), rev, timeline.Role(f.Get("role")))
		return err
	})
}

func (s *Site) changePerson(w http.ResponseWriter, r *http.Request, said string, change func(form, timeline.Rev) error) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	rev, err := f.rev()
	if err == nil {
		err = change(f, rev)
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showPerson(w, r, code, f) })
	}
	sayNext(w, r, said, "", "")
	return seeOther(w, r, "/people/"+string(idOf(r, "id")))
}

func (s *Site) endPerson(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	if _, err := s.salon.EndPerson(r.Context(), idOf(r, "id")); err != nil {
		return f.again(err, func(code int) error { return s.showPerson(w, r, code, f) })
	}
	sayNext(w, r, "person.ended", "", "")
	return seeOther(w, r, "/people")
}

// endSignInsOf ends one sign-in of a person, or without an ID all of them.
func (s *Site) endSignInsOf(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	person := idOf(r, "id")
	if _, err := s.salon.Person(r.Context(), person); err != nil {
		return err
	}
	if id := timeline.ID(f.Get("signin")); id != "" {
		err = s.salon.EndSignIn(r.Context(), person, id)
	} else {
		err = s.salon.EndSignIns(r.Context(), person, "")
	}
	if err != nil {
		return err
	}
	sayNext(w, r, "signin.ended", "", "")
	return seeOther(w, r, "/people/"+string(person))
}

// endAllSignIns signs everybody out, but here: after a restore, or when a device was lost and nobody knows whose.
func (s *Site) endAllSignIns(w http.ResponseWriter, r *http.Request) error {
	if err := s.salon.EndAllSignIns(r.Context(), login.Current(r.Context())); err != nil {
		return err
	}
	sayNext(w, r, "signin.ended", "", "")
	return seeOther(w, r, "/people")
}

func (s *Site) endTokenOf(w http.ResponseWriter, r *http.Request) error {
	person := idOf(r, "id")
	if err := s.salon.EndToken(r.Context(), person, idOf(r, "token")); err != nil {
		return err
	}
	sayNext(w, r, "token.ended", "", "")
	return seeOther(w, r, "/people/"+string(person))
}
