package salon

import (
	"context"
	"net/netip"
	"sync"
	"sync/atomic"
	"time"

	"thatch/store"
	"thatch/timeline"
)

// door is what the salon keeps in memory about who comes in.
type door struct {
	hashes  *hasher
	tries   *throttle
	peopled atomic.Bool // there are accounts
	wrongMu sync.Mutex
	wrong   map[timeline.ID]wrongs // wrong passwords of late
}

func newDoor(now func() time.Time) *door {
	return &door{hashes: newHasher(), tries: newThrottle(now), wrong: map[timeline.ID]wrongs{}}
}

// Knock is where a try to sign in comes from.
type Knock struct {
	Addr    netip.Addr // of the browser
	Browser string     // what the browser was given when somebody signed in from it before; "": nothing
}

// SignIn tells who has this name and password. A wrong name and a wrong password are the same fault and take as long;
// too many of them are TooMany, with how long to wait.
func (s *Salon) SignIn(ctx context.Context, name, password string, from Knock) (timeline.Person, error) {
	p, err := s.st.PersonByName(ctx, name)
	if err != nil && !isNotFound(err) {
		return timeline.Person{}, err
	}
	if err := s.tryPassword(ctx, p, name, password, from, invalid("", "fault.signin.wrong")); err != nil {
		return timeline.Person{}, err
	}
	return shown(p), nil
}

// Confirm asks somebody who is signed in for her password once more. Wrong ones count like those of a sign-in.
func (s *Salon) Confirm(ctx context.Context, id timeline.ID, password string, from Knock) error {
	p, err := s.st.Person(ctx, id)
	if err != nil {
		return err
	}
	return s.tryPassword(ctx, p, p.Name, password, from, invalid("password", "fault.password.wrong"))
}

// ChangePassword wants the old one. Every other sign-in of hers ends; sign-in keep goes on.
func (s *Salon) ChangePassword(ctx context.Context, id timeline.ID, old, password string, from Knock, keep timeline.ID) error {
	p, err := s.st.Person(ctx, id)
	if err != nil {
		return err
	}
	if err := s.tryPassword(ctx, p, p.Name, old, from, invalid("password", "fault.password.wrong")); err != nil {
		return err
	}
	hash, err := s.newPassword(ctx, "new", password, p.Name)
	if err != nil {
		return err
	}
	return s.st.ChangePassword(ctx, id, hash, keep)
}

// tryPassword tests password against p's hash, where the throttle lets it; p is the zero Person where nobody has the name.
func (s *Salon) tryPassword(ctx context.Context, p timeline.Person, name, password string, from Knock, wrong error) error {
	known, err := s.st.BrowserKnown(ctx, hashOf(from.Browser), p.ID) // of nobody too: a name that is unknown takes as long
	if err != nil {
		return err
	}
	right, wait := s.tries.take(try{account: p.ID, name: store.NameKey(name), addr: from.Addr, known: known})
	if wait > 0 {
		return tooMany("sign in", wait)
	}
	hash := p.PasswordHash
	if len(password) > maxPasswordBytes {
		password, hash = "", "" // nobody has such a password; it takes as long as any
	}
	ok, old, err := s.hashes.check(ctx, password, hash)
	if err != nil {
		right() // it was not tested
		return err
	}
	if !ok {
		s.noteWrong(ctx, p, from)
		return wrong
	}
	right()
	if old {
		fresh, err := s.hashes.hash(ctx, password)
		if err != nil {
			return nil // another time
		}
		return s.st.RehashPassword(ctx, p.ID, p.PasswordHash, fresh)
	}
	return nil
}

func tooMany(op string, wait time.Duration) error {
	minutes := int((wait + time.Minute - 1) / time.Minute)
	return timeline.NewFault(timeline.TooMany, "fault.signin.wait", "n", minutes).At(op).After(wait)
}

// wrongAgain is how long a second burst of wrong passwords for an account is part of the first in the log of changes;
// wrongBurst is how many wrong ones in that time are a burst.
const (
	wrongAgain = time.Hour
	wrongBurst = 3
)

type wrongs struct {
	since time.Time
	n     int
}

// noteWrong writes a burst of wrong passwords for an account into the log of changes, once an hour. Nobody waits for it: the
// time that a wrong password takes must not tell that there is such an account. Trouble there is no trouble here.
func (s *Salon) noteWrong(ctx context.Context, p timeline.Person, from Knock) {
	if p.ID == "" {
		return
	}
	s.wrongMu.Lock()
	w := s.wrong[p.ID]
	if now := s.Now(); now.Sub(w.since) > wrongAgain {
		w = wrongs{since: now}
	}
	w.n++
	s.wrong[p.ID] = w
	s.wrongMu.Unlock()
	if w.n == wrongBurst {
		who := timeline.WithVisitor(context.WithoutCancel(ctx), timeline.Visitor{})
		go func() { _ = s.st.Note(who, "wrong passwords for "+string(p.ID), network(from.Addr)) }()
	}
}

// KnowBrowser remembers that somebody signed in from a browser. was is what the browser had; where that is not of our
// making, and perhaps somebody else's, it is given something new.
func (s *Salon) KnowBrowser(ctx context.Context, person timeline.ID, was string) (browser string, err error) {
	ours, err := s.st.AnyBrowser(ctx, hashOf(was))
	if err != nil {
		return "", err
	}
	if browser = was; !ours {
		browser = newToken()
	}
	return browser, s.st.KnowBrowser(ctx, hashOf(browser), person)
}

// SignIns of a person, the one seen last first.
func (s *Salon) SignIns(ctx context.Context, person timeline.ID) ([]timeline.SignIn, error) {
	return s.st.Logins(ctx, person)
}

// EndSignIn ends one sign-in of a person, at once.
func (s *Salon) EndSignIn(ctx context.Context, person, id timeline.ID) error {
	return s.st.EndLogin(ctx, person, id)
}

// EndSignIns ends all sign-ins of a person but keep; "" for all.
func (s *Salon) EndSignIns(ctx context.Context, person, keep timeline.ID) error {
	return s.st.EndLogins(ctx, person, keep)
}

// EndAllSignIns ends everybody's sign-ins but keep.
func (s *Salon) EndAllSignIns(ctx context.Context, keep timeline.ID) error {
	return s.st.EndAllLogins(ctx, keep)
}

// Logins is where sign-ins are kept, for the library that makes them.
func (s *Salon) Logins() *store.Store { return s.st }
