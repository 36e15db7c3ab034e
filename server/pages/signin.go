package pages

import (
	"net/http"
	"net/url"
	"time"

	"thatch/server/login"
	"thatch/server/status"
	"thatch/timeline"
)

// signInPage is the door: all a stranger sees.
type signInPage struct {
	frame
	Form   form
	Next   string // a path of ours
	Nobody bool   // nobody has an account yet
}

var signInView = declare[signInPage]("signin")

// SignIns gives the pages what signs people in and out.
func (s *Site) SignIns(m *login.Manager) { s.login = m }

func (s *Site) signIn(w http.ResponseWriter, r *http.Request) error {
	next := localPath(r.URL.Query().Get("next"))
	if v, ok := timeline.VisitorOf(r.Context()); ok && v.Person != "" {
		return seeOther(w, r, next)
	}
	return s.showSignIn(w, r, 0, form{}, next)
}

func (s *Site) showSignIn(w http.ResponseWriter, r *http.Request, code int, f form, next string) error {
	any, err := s.salon.AnyPerson(r.Context())
	if err != nil {
		return err
	}
	return signInView.show(s, w, r, signInPage{frame: frame{Status: code}, Form: f, Next: next, Nobody: !any})
}

func (s *Site) doSignIn(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	next := localPath(f.Get("next"))
	p, err := s.salon.SignIn(r.Context(), f.text("name"), f.Get("password"), login.KnockOf(r))
	if err == nil {
		err = s.login.SignIn(w, r, p)
	}
	if err != nil {
		return f.orLater(w, err, func(code int) error { return s.showSignIn(w, r, code, f, next) })
	}
	return seeOther(w, r, next)
}

// signOut leaves nothing of the salon in the browser but the cookies: without them it would no longer be a known one. Where
// the form says that photos or lines wait there to be sent, their store is left, or they would be lost; what was kept to be
// read without network has then been deleted by the page (web/scripts/outbox.js).
func (s *Site) signOut(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	if err := s.login.SignOut(w, r); err != nil {
		return err
	}
	clear := `"cache", "storage"`
	if f.Has("waiting") {
		clear = `"cache"`
	}
	w.Header().Set("Clear-Site-Data", clear)
	return seeOther(w, r, "/signin")
}

// orLater is again, also for what can be tried once more after a while.
func (f *form) orLater(w http.ResponseWriter, err error, show func(code int) error) error {
	switch timeline.KindOf(err) {
	case timeline.TooMany, timeline.Busy:
		f.Fault = status.Fault(err)
		status.RetryAfter(w.Header(), err)
		return show(status.Of(err))
	}
	return f.again(err, show)
}

// ownerPage makes the first owner by the code in the terminal, or gives an owner a new password.
type ownerPage struct {
	frame
	Form   form
	Nobody bool // there is no owner yet
}

var ownerView = declare[ownerPage]("owner")

func (s *Site) owner(w http.ResponseWriter, r *http.Request) error {
	return s.showOwner(w, r, 0, form{})
}

func (s *Site) showOwner(w http.ResponseWriter, r *http.Request, code int, f form) error {
	any, err := s.salon.AnyPerson(r.Context())
	if err != nil {
		return err
	}
	return ownerView.show(s, w, r, ownerPage{frame: frame{Status: code}, Form: f, Nobody: !any})
}

func (s *Site) becomeOwner(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	p, err := s.salon.OwnerByCode(r.Context(), f.Get("code"), f.text("name"), f.Get("password"), login.KnockOf(r))
	if err == nil {
		err = s.login.SignIn(w, r, p)
	}
	if err != nil {
		return f.orLater(w, err, func(code int) error { return s.showOwner(w, r, code, f) })
	}
	return seeOther(w, r, "/people")
}

// joinPage is what an invitation leads to.
type joinPage struct {
	frame
	Form       form
	Invitation timeline.Invitation
	Salon      string
	Token      string
}

var joinView = declare[joinPage]("join")

func (s *Site) join(w http.ResponseWriter, r *http.Request) error {
	return s.showJoin(w, r, 0, form{})
}

func (s *Site) showJoin(w http.ResponseWriter, r *http.Request, code int, f form) error {
	token := string(idOf(r, "token"))
	v, err := s.salon.Invited(r.Context(), token)
	if err != nil {
		return err
	}
	if f.Values == nil {
		f.Values = url.Values{"name": {v.For}}
	}
	return joinView.show(s, w, r, joinPage{frame: frame{Status: code}, Form: f, Invitation: v, Salon: visitOf(r).settings.SalonName, Token: token})
}

func (s *Site) doJoin(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	p, err := s.salon.Join(r.Context(), string(idOf(r, "token")), f.text("name"), f.Get("password"))
	if err == nil {
		err = s.login.SignIn(w, r, p)
	}
	if err != nil {
		return f.orLater(w, err, func(code int) error { return s.showJoin(w, r, code, f) })
	}
	return seeOther(w, r, "/")
}

// originOf is the address that this request came to, for links that are told.
func originOf(r *http.Request) string {
	if r.TLS != nil {
		return "https://" + r.Host
	}
	return "http://" + r.Host
}

// who is the person in the header; "" without an account.
type who struct {
	Name    string
	Role    timeline.Role
	Owner   bool
	Account string // as accountOf
}

func whoAsks(r *http.Request) *who {
	v, ok := timeline.VisitorOf(r.Context())
	if !ok || !v.Role.Valid() {
		return nil
	}
	w := &who{Role: v.Role, Owner: v.Role == timeline.Owner, Account: accountOf(r)}
	if v.Person != "" {
		w.Name = v.Name
	}
	return w
}

// mayChange tells whether there is anything that who asks may do: the guard decides, this is what is worth showing.
func mayChange(r *http.Request) bool {
	v, _ := timeline.VisitorOf(r.Context())
	return v.Role != timeline.Reader
}

// themeCookie is the look of a browser in which a person with an account is signed in: not everybody's at once.
const themeCookie = "thatch_theme"

func setTheme(w http.ResponseWriter, r *http.Request, theme string) {
	if theme == "" {
		theme = "device"
	}
	http.SetCookie(w, &http.Cookie{
		Name: login.CookieName(r, themeCookie), Value: theme, Path: "/", MaxAge: int((400 * 24 * time.Hour).Seconds()), HttpOnly: true, Secure: r.TLS != nil, SameSite: http.SameSiteLaxMode,
	})
}

// ownTheme is the browser's look where it has one, else the salon's.
func ownTheme(r *http.Request, salons string) string {
	c, err := r.Cookie(login.CookieName(r, themeCookie))
	if err != nil {
		return salons
	}
	switch c.Value {
	case "light", "dark":
		return c.Value
	case "device":
		return ""
	}
	return salons
}
