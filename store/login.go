package store

import (
	"context"
	"database/sql"
	"errors"
	"time"

	tl "thatch/timeline"
)

const (
	signInColumns   = `id, person, agent, made_at, seen_at, expires_at`
	browsersAPerson = 20 // known to it; the one that was seen longest ago is forgotten first
)

var (
	insertLogin  = query(`INSERT INTO login (token_hash, id, person, data, agent, made_at, seen_at, expires_at) VALUES (?, ?, ?, ?, ?, ?, ?, ?)`)
	selectLogin  = query(`SELECT l.data, l.id, l.person, l.agent, l.made_at, l.seen_at, l.expires_at, p.name, p.role FROM login l JOIN person p ON p.id = l.person WHERE l.token_hash = ? AND p.ended_at IS NULL`)
	touchLogin   = query(`UPDATE login SET data = ?, seen_at = ?, expires_at = ? WHERE token_hash = ?`)
	deleteLogin  = query(`DELETE FROM login WHERE token_hash = ?`)
	endLogin     = query(`DELETE FROM login WHERE person = ? AND id = ?`)
	endLoginsBut = query(`DELETE FROM login WHERE person = ? AND id <> ?`)
	endAllLogins = query(`DELETE FROM login WHERE id <> ?`)
	selectLogins = query(`SELECT ` + signInColumns + ` FROM login WHERE person = ? AND expires_at > ? ORDER BY seen_at DESC, id`)
	sweepLogins  = query(`DELETE FROM login WHERE expires_at <= ?`)

	putBrowser     = query(`INSERT INTO browser (token_hash, person, seen_at) VALUES (?, ?, ?) ON CONFLICT (token_hash, person) DO UPDATE SET seen_at = excluded.seen_at`)
	countBrowser   = query(`SELECT count(*) FROM browser WHERE token_hash = ? AND person = ?`)
	anyBrowser     = query(`SELECT count(*) FROM browser WHERE token_hash = ?`)
	forgetBrowsers = query(`DELETE FROM browser WHERE person = ?`)
	limitBrowsers  = query(`DELETE FROM browser WHERE person = ?1 AND token_hash NOT IN (SELECT token_hash FROM browser WHERE person = ?1 ORDER BY seen_at DESC LIMIT ?2)`)
)

// Login is a sign-in as it is kept: the session library's data, and whose it is.
type Login struct {
	tl.SignIn
	Data []byte
	Name string // of the person, now
	Role tl.Role
}

// CreateLogin signs in the visitor of ctx; ID is filled in. What has expired is thrown away on the way.
func (s *Store) CreateLogin(ctx context.Context, tokenHash string, v Login) (Login, error) {
	v.ID = newID()
	err := s.write(ctx, "sign in "+string(v.Person), func(t tx) error {
		if _, err := t.exec(sweepLogins, stamp(s.now())); err != nil {
			return err
		}
		_, err := t.exec(insertLogin, tokenHash, v.ID, v.Person, v.Data, v.Agent, stamp(v.Made), stamp(v.Seen), stamp(v.Expires))
		return err
	})
	return v, err
}

// Login finds a sign-in of somebody who may sign in; whether it has expired is the caller's to judge.
func (s *Store) Login(ctx context.Context, tokenHash string) (v Login, err error) {
	err = s.readOne(ctx, "sign-in", func(t tx) error {
		err := t.row(selectLogin, tokenHash).Scan(&v.Data, &v.ID, &v.Person, &v.Agent, at{&v.Made}, at{&v.Seen}, at{&v.Expires}, &v.Name, &v.Role)
		if errors.Is(err, sql.ErrNoRows) {
			return notFound("sign_in")
		}
		return err
	})
	return
}

// TouchLogin says that a sign-in was used. One that was ended meanwhile stays ended.
func (s *Store) TouchLogin(ctx context.Context, tokenHash string, data []byte, expires time.Time) error {
	return s.write(ctx, "touch sign-in", func(t tx) error {
		_, err := t.exec(touchLogin, data, stamp(s.now()), stamp(expires), tokenHash)
		return err
	})
}

// DeleteLogin signs person out; a sign-in that is not there is none.
func (s *Store) DeleteLogin(ctx context.Context, person tl.ID, tokenHash string) error {
	return s.write(ctx, "sign out "+string(person), func(t tx) error {
		_, err := t.exec(deleteLogin, tokenHash)
		return err
	})
}

// RenewLogin puts a sign-in under a new token: the old one is worth nothing from now on.
func (s *Store) RenewLogin(ctx context.Context, was, is string, v Login) error {
	return s.write(ctx, "touch sign-in", func(t tx) error {
		n, err := t.exec(deleteLogin, was)
		if err != nil {
			return err
		}
		if n == 0 {
			return notFound("sign_in")
		}
		_, err = t.exec(insertLogin, is, v.ID, v.Person, v.Data, v.Agent, stamp(v.Made), stamp(v.Seen), stamp(v.Expires))
		return err
	})
}

// Logins of a person that have not expired, the one seen last first.
func (s *Store) Logins(ctx context.Context, person tl.ID) ([]tl.SignIn, error) {
	out := []tl.SignIn{}
	err := s.read(ctx, "sign-ins of "+string(person), func(t tx) error {
		return t.each(func(r scanner) error {
			var v tl.SignIn
			if err := r.Scan(&v.ID, &v.Person, &v.Agent, at{&v.Made}, at{&v.Seen}, at{&v.Expires}); err != nil {
				return err
			}
			out = append(out, v)
			return nil
		}, selectLogins, person, stamp(s.now()))
	})
	return out, err
}

// EndLogin ends one sign-in of a person, at once.
func (s *Store) EndLogin(ctx context.Context, person, id tl.ID) error {
	return s.write(ctx, "end login of "+string(person), func(t tx) error {
		n, err := t.exec(endLogin, person, id)
		if err == nil && n == 0 {
			return notFound("sign_in")
		}
		return err
	})
}

// EndLogins ends all sign-ins of a person but the one named, "" for all.
func (s *Store) EndLogins(ctx context.Context, person, but tl.ID) error {
	return s.write(ctx, "end logins of "+string(person), func(t tx) error { return endLogins(t, person, but) })
}

// EndAllLogins ends everybody's sign-ins but the one named, "" for all.
func (s *Store) EndAllLogins(ctx context.Context, but tl.ID) error {
	return s.write(ctx, "end all logins", func(t tx) error {
		_, err := t.exec(endAllLogins, but)
		return err
	})
}

func endLogins(t tx, person, but tl.ID) error {
	_, err := t.exec(endLoginsBut, person, but)
	return err
}

// KnowBrowser remembers that person signed in from a browser.
func (s *Store) KnowBrowser(ctx context.Context, tokenHash string, person tl.ID) error {
	return s.write(ctx, "know browser", func(t tx) error {
		if _, err := t.exec(putBrowser, tokenHash, person, stamp(s.now())); err != nil {
			return err
		}
		_, err := t.exec(limitBrowsers, person, browsersAPerson)
		return err
	})
}

// BrowserKnown tells whether person signed in from a browser before.
func (s *Store) BrowserKnown(ctx context.Context, tokenHash string, person tl.ID) (bool, error) {
	var n int
	err := s.read(ctx, "browser", func(t tx) error { return t.row(countBrowser, tokenHash, person).Scan(&n) })
	return n > 0, err
}

// AnyBrowser tells whether anybody signed in from a browser before.
func (s *Store) AnyBrowser(ctx context.Context, tokenHash string) (bool, error) {
	var n int
	err := s.read(ctx, "browser", func(t tx) error { return t.row(anyBrowser, tokenHash).Scan(&n) })
	return n > 0, err
}
