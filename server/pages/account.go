package pages

import (
	"net/http"
	"strings"
	"time"

	"thatch/server/login"
	"thatch/server/salon"
	"thatch/timeline"
)

// accountPage is what a person has to say about herself: name, password, sign-ins, tokens.
type accountPage struct {
	frame
	Person  timeline.Person
	SignIns []signInLine
	Tokens  []timeline.APIToken
	Scopes  []timeline.Scope
	Name    form   // one form each, so that a fault stands beside the one that it is of
	Pass    form   //
	End     form   //
	Token   form   //
	Secret  string // a new token; shown this once, only its hash is kept
	Key     form
	Spare   string    // a new spare key; shown this once
	Made    time.Time // when she made hers; zero: she has none
}

var accountView = declare[accountPage]("account")

// me is the person who asks. Without accounts there is nobody: then the way to one.
func (s *Site) me(r *http.Request) (timeline.Person, error) {
	v, _ := timeline.VisitorOf(r.Context())
	if v.Person == "" {
		return timeline.Person{}, timeline.NewFault(timeline.NotFound, "fault.account.none")
	}
	return s.salon.Person(r.Context(), v.Person)
}

func (s *Site) account(w http.ResponseWriter, r *http.Request) error {
	return s.showAccount(w, r, accountPage{})
}

func (s *Site) showAccount(w http.ResponseWriter, r *http.Request, p accountPage) error {
	var err error
	if p.Person, err = s.me(r); err != nil {
		return err
	}
	if p.SignIns, err = s.signIns(r, p.Person.ID); err != nil {
		return err
	}
	if p.Tokens, err = s.salon.Tokens(r.Context(), p.Person.ID); err != nil {
		return err
	}
	if p.Made, err = s.salon.SpareKeyMade(r.Context(), p.Person.ID); err != nil {
		return err
	}
	p.Tab, p.Scopes = "account", salon.ScopesOf(p.Person.Role)
	return accountView.show(s, w, r, p)
}

func (s *Site) signIns(r *http.Request, person timeline.ID) ([]signInLine, error) {
	all, err := s.salon.SignIns(r.Context(), person)
	out := []signInLine{}
	for _, v := range all {
		out = append(out, signInLine{v, deviceOf(v.Agent), v.ID == login.Current(r.Context())})
	}
	return out, err
}

// deviceOf is a browser and a machine, as far as a User-Agent tells: names, in the order in which one hides another's.
func deviceOf(agent string) string {
	first := func(of [][2]string) string {
		for _, x := range of {
			if strings.Contains(agent, x[0]) {
				return x[1]
			}
		}
		return ""
	}
	browser := first([][2]string{{"Edg", "Edge"}, {"OPR/", "Opera"}, {"Firefox", "Firefox"}, {"FxiOS", "Firefox"}, {"SamsungBrowser", "Samsung Internet"}, {"Chrome", "Chrome"}, {"CriOS", "Chrome"}, {"Safari", "Safari"}})
	machine := first([][2]string{{"iPhone", "iPhone"}, {"iPad", "iPad"}, {"Android", "Android"}, {"Windows", "Windows"}, {"Macintosh", "Mac"}, {"CrOS", "Chromebook"}, {"Linux", "Linux"}})
	switch {
	case browser == "" && machine == "":
		return short(agent)
	case browser == "" || machine == "":
		return browser + machine
	}
	return browser + ", " + machine
}

// myForm is what a person sends of her own account.
func (s *Site) myForm(w http.ResponseWriter, r *http.Request) (f form, me timeline.Person, err error) {
	if f, err = readForm(w, r); err == nil {
		me, err = s.me(r)
	}
	return f, me, err
}

// confirm asks for the password once more, and goes on under a new token: whoever had the old one has no part in what follows.
func (s *Site) confirm(w http.ResponseWriter, r *http.Request, me timeline.Person, f form) error {
	if err := s.salon.Confirm(r.Context(), me.ID, f.Get("password"), login.KnockOf(r)); err != nil {
		return err
	}
	return s.login.Renew(w, r)
}

func (s *Site) renameMe(w http.ResponseWriter, r *http.Request) error {
	f, me, err := s.myForm(w, r)
	if err != nil {
		return err
	}
	rev, err := f.rev()
	if err == nil {
		err = s.confirm(w, r, me, f)
	}
	if err == nil {
		_, err = s.salon.RenamePerson(r.Context(), me.ID, rev, f.text("name"))
	}
	if err != nil {
		return f.orLater(w, err, func(code int) error { return s.showAccount(w, r, accountPage{frame: frame{Status: code}, Name: f}) })
	}
	sayNext(w, r, "person.saved", "", "")
	return seeOther(w, r, "/account")
}

func (s *Site) changePassword(w http.ResponseWriter, r *http.Request) error {
	f, me, err := s.myForm(w, r)
	if err != nil {
		return err
	}
	err = s.salon.ChangePassword(r.Context(), me.ID, f.Get("password"), f.Get("new"), login.KnockOf(r), login.Current(r.Context()))
	if err == nil {
		err = s.login.Renew(w, r)
	}
	if err != nil {
		return f.orLater(w, err, func(code int) error { return s.showAccount(w, r, accountPage{frame: frame{Status: code}, Pass: f}) })
	}
	sayNext(w, r, "password.changed", "", "")
	return seeOther(w, r, "/account")
}

// endMySignIns ends one sign-in or all others. The password is asked for: whoever holds a phone that was left open must
// not shut its owner out.
func (s *Site) endMySignIns(w http.ResponseWriter, r *http.Request) error {
	f, me, err := s.myForm(w, r)
	if err != nil {
		return err
	}
	if err = s.confirm(w, r, me, f); err == nil {
		if id := timeline.ID(f.Get("signin")); id != "" {
			err = s.salon.EndSignIn(r.Context(), me.ID, id)
		} else {
			err = s.salon.EndSignIns(r.Context(), me.ID, login.Current(r.Context()))
		}
	}
	if err != nil {
		return f.orLater(w, err, func(code int) error { return s.showAccount(w, r, accountPage{frame: frame{Status: code}, End: f}) })
	}
	sayNext(w, r, "signin.ended", "", "")
	return seeOther(w, r, "/account")
}

// makeToken shows the secret in its own answer: it is told once and kept nowhere.
func (s *Site) makeToken(w http.ResponseWriter, r *http.Request) error {
	f, me, err := s.myForm(w, r)
	if err != nil {
		return err
	}
	secret := ""
	days, err := f.whole("days", 1, 366)
	if err == nil {
		err = s.confirm(w, r, me, f)
	}
	if err == nil {
		secret, _, err = s.salon.MakeToken(r.Context(), me.ID, f.text("token_name"), timeline.Scope(f.Get("scope")), days)
	}
	if err != nil {
		return f.orLater(w, err, func(code int) error { return s.showAccount(w, r, accountPage{frame: frame{Status: code}, Token: f}) })
	}
	return s.showAccount(w, r, accountPage{Secret: secret})
}

// makeSpareKey shows the key in its own answer, as makeToken does.
func (s *Site) makeSpareKey(w http.ResponseWriter, r *http.Request) error {
	f, me, err := s.myForm(w, r)
	if err != nil {
		return err
	}
	key := ""
	if err = s.confirm(w, r, me, f); err == nil {
		key, err = s.salon.MakeSpareKey(r.Context(), me.ID)
	}
	if err != nil {
		return f.orLater(w, err, func(code int) error { return s.showAccount(w, r, accountPage{frame: frame{Status: code}, Key: f}) })
	}
	return s.showAccount(w, r, accountPage{Spare: key})
}

// endSpareKey asks for the password: whoever holds a phone that was left open must not take its owner's last way back.
func (s *Site) endSpareKey(w http.ResponseWriter, r *http.Request) error {
	f, me, err := s.myForm(w, r)
	if err != nil {
		return err
	}
	if err = s.confirm(w, r, me, f); err == nil {
		err = s.salon.EndSpareKey(r.Context(), me.ID)
	}
	if err != nil {
		return f.orLater(w, err, func(code int) error { return s.showAccount(w, r, accountPage{frame: frame{Status: code}, Key: f}) })
	}
	sayNext(w, r, "key.ended", "", "")
	return seeOther(w, r, "/account")
}

func (s *Site) endMyToken(w http.ResponseWriter, r *http.Request) error {
	me, err := s.me(r)
	if err != nil {
		return err
	}
	if err := s.salon.EndToken(r.Context(), me.ID, idOf(r, "id")); err != nil {
		return err
	}
	sayNext(w, r, "token.ended", "", "")
	return seeOther(w, r, "/account")
}
