package store

import (
	"context"
	"database/sql"
	"errors"
	"strings"
	"time"

	tl "thatch/timeline"
)

const personColumns = `id, rev, name, role, password_hash, added_at, ended_at`

var (
	insertPerson       = query(`INSERT INTO person (id, rev, name, name_key, role, password_hash, added_at) VALUES (?, 1, ?, ?, ?, ?, ?)`)
	selectPerson       = query(`SELECT ` + personColumns + ` FROM person WHERE id = ?`)
	selectPersonByName = query(`SELECT ` + personColumns + ` FROM person WHERE name_key = ? AND ended_at IS NULL`)
	selectPeople       = query(`SELECT ` + personColumns + ` FROM person ORDER BY ended_at IS NOT NULL, name_key, id`)
	countPeople        = query(`SELECT count(*) FROM (SELECT 1 FROM person LIMIT 1)`)
	countOwners        = query(`SELECT count(*) FROM person WHERE role = 'owner' AND ended_at IS NULL`)
	renamePerson       = query(`UPDATE person SET rev = rev + 1, name = ?, name_key = ? WHERE id = ? AND rev = ? AND ended_at IS NULL`)
	setRole            = query(`UPDATE person SET rev = rev + 1, role = ? WHERE id = ? AND rev = ? AND ended_at IS NULL`)
	setPassword        = query(`UPDATE person SET rev = rev + 1, password_hash = ? WHERE id = ? AND ended_at IS NULL`)
	rehashPassword     = query(`UPDATE person SET password_hash = ? WHERE id = ? AND password_hash = ?`)
	endPerson          = query(`UPDATE person SET rev = rev + 1, ended_at = ? WHERE id = ? AND ended_at IS NULL`)

	putOwnerCode    = query(`INSERT INTO owner_code (one, code_hash, expires_at) VALUES (1, ?, ?) ON CONFLICT (one) DO UPDATE SET code_hash = excluded.code_hash, expires_at = excluded.expires_at`)
	selectOwnerCode = query(`SELECT code_hash, expires_at FROM owner_code WHERE one = 1`)
	dropOwnerCode   = query(`DELETE FROM owner_code WHERE one = 1 AND code_hash = ? AND expires_at > ?`)
)

func scanPerson(r scanner) (p tl.Person, err error) {
	err = r.Scan(&p.ID, &p.Rev, &p.Name, &p.Role, &p.PasswordHash, at{&p.Added}, at{&p.Ended})
	if errors.Is(err, sql.ErrNoRows) {
		err = notFound("person")
	}
	return
}

// Person also finds somebody who was ended.
func (s *Store) Person(ctx context.Context, id tl.ID) (p tl.Person, err error) {
	err = s.readOne(ctx, "person "+string(id), func(t tx) (err error) { p, err = scanPerson(t.row(selectPerson, id)); return })
	return
}

// PersonByName finds somebody who may sign in, whatever the case and spacing of the name.
func (s *Store) PersonByName(ctx context.Context, name string) (p tl.Person, err error) {
	err = s.read(ctx, "person by name", func(t tx) (err error) {
		p, err = scanPerson(t.row(selectPersonByName, nameKey(name)))
		return
	})
	return
}

// NameKey is what two names have in common that sign in as the same person.
func NameKey(name string) string { return nameKey(name) }

// People by name, those who were ended last.
func (s *Store) People(ctx context.Context) ([]tl.Person, error) {
	out := []tl.Person{}
	err := s.read(ctx, "people", func(t tx) error {
		return t.each(func(r scanner) error {
			p, err := scanPerson(r)
			out = append(out, p)
			return err
		}, selectPeople)
	})
	return out, err
}

// AnyPerson tells whether there ever was an account.
func (s *Store) AnyPerson(ctx context.Context) (any bool, err error) {
	var n int
	err = s.read(ctx, "any person", func(t tx) error { return t.row(countPeople).Scan(&n) })
	return n > 0, err
}

func addPerson(t tx, p tl.Person) (tl.Person, error) {
	p.Name = strings.Join(strings.Fields(p.Name), " ")
	_, err := t.exec(insertPerson, p.ID, p.Name, nameKey(p.Name), p.Role, p.PasswordHash, stamp(p.Added))
	if isUnique(err) {
		return p, personTaken(p.Name)
	}
	if err != nil {
		return p, err
	}
	t.remark.key, t.remark.note = p.ID, string(p.Role)
	return scanPerson(t.row(selectPerson, p.ID))
}

func personTaken(name string) *tl.Fault {
	return tl.NewFault(tl.Conflict, "fault.store.person_exists", "name", name).In("name")
}

// CreateOwner uses up the one-time code and makes an owner by it, both or neither. ID, Rev, Role and Added are filled in.
// A wrong or expired code is NotFound; so is a right one where there is an owner already.
func (s *Store) CreateOwner(ctx context.Context, codeHash string, p tl.Person) (tl.Person, error) {
	p.ID, p.Role, p.Added = newID(), tl.Owner, s.now()
	ctx = tl.WithVisitor(ctx, tl.Visitor{Person: p.ID, Name: p.Name, Role: p.Role})
	err := s.write(ctx, "create person "+string(p.ID), func(t tx) (err error) {
		var owners int
		if err := t.row(countOwners).Scan(&owners); err != nil {
			return err
		}
		if owners > 0 {
			return notFound("owner_code")
		}
		if err := s.useCode(t, codeHash); err != nil {
			return err
		}
		p, err = addPerson(t, p)
		return err
	})
	if err != nil {
		return tl.Person{}, err
	}
	return p, nil
}

func (s *Store) useCode(t tx, codeHash string) error {
	n, err := t.exec(dropOwnerCode, codeHash, stamp(s.now()))
	if err == nil && n == 0 {
		return notFound("owner_code")
	}
	return err
}

// SetPasswordByCode uses up the one-time code and gives an owner a new password; her sign-ins end. A wrong or expired code
// is NotFound.
func (s *Store) SetPasswordByCode(ctx context.Context, codeHash string, owner tl.Person, passwordHash string) error {
	ctx = tl.WithVisitor(ctx, tl.Visitor{Person: owner.ID, Name: owner.Name, Role: owner.Role})
	return s.write(ctx, "set password by code of "+string(owner.ID), func(t tx) error {
		if err := s.useCode(t, codeHash); err != nil {
			return err
		}
		return changePassword(t, owner.ID, passwordHash, "")
	})
}

// MakeOwnerCode keeps the hash of a one-time code; the code before it is worth nothing from now on.
func (s *Store) MakeOwnerCode(ctx context.Context, codeHash string, expires time.Time) error {
	return s.write(ctx, "create owner code", func(t tx) error {
		_, err := t.exec(putOwnerCode, codeHash, stamp(expires))
		return err
	})
}

// OwnerCode is the hash of the one-time code that holds now; "" if none does.
func (s *Store) OwnerCode(ctx context.Context) (codeHash string, err error) {
	var expires time.Time
	err = s.read(ctx, "owner code", func(t tx) error {
		err := t.row(selectOwnerCode).Scan(&codeHash, at{&expires})
		if errors.Is(err, sql.ErrNoRows) {
			return nil
		}
		return err
	})
	if err != nil || !s.now().Before(expires) {
		return "", err
	}
	return codeHash, nil
}

// RenamePerson checks Rev.
func (s *Store) RenamePerson(ctx context.Context, id tl.ID, rev tl.Rev, name string) (tl.Person, error) {
	name = strings.Join(strings.Fields(name), " ")
	return s.putPerson(ctx, "rename person "+string(id), id, func(t tx) (int64, error) {
		t.remark.note = name
		n, err := t.exec(renamePerson, name, nameKey(name), id, rev)
		if isUnique(err) {
			err = personTaken(name)
		}
		return n, err
	})
}

// ChangeRole checks Rev, and that an owner is left. Her sign-ins end, so that no page of the old role stays open.
func (s *Store) ChangeRole(ctx context.Context, id tl.ID, rev tl.Rev, role tl.Role) (tl.Person, error) {
	return s.putPerson(ctx, "change role of "+string(id), id, func(t tx) (int64, error) {
		t.remark.note = string(role)
		n, err := t.exec(setRole, role, id, rev)
		if err == nil && n > 0 {
			err = errors.Join(ownerLeft(t), endLogins(t, id, ""))
			if role != tl.Owner {
				_, gone := t.exec(dropSpareKey, id)
				err = errors.Join(err, gone)
			}
		}
		return n, err
	})
}

// EndPerson ends an account with its sign-ins, known browsers and tokens, at once. The last owner cannot be ended.
func (s *Store) EndPerson(ctx context.Context, id tl.ID) (tl.Person, error) {
	return s.putPerson(ctx, "end person "+string(id), id, func(t tx) (int64, error) {
		now := stamp(s.now())
		n, err := t.exec(endPerson, now, id)
		if err != nil || n == 0 {
			return n, err
		}
		if err := ownerLeft(t); err != nil {
			return n, err
		}
		if err := endLogins(t, id, ""); err != nil {
			return n, err
		}
		if _, err := t.exec(forgetBrowsers, id); err != nil {
			return n, err
		}
		if _, err := t.exec(dropSpareKey, id); err != nil {
			return n, err
		}
		_, err = t.exec(endTokensOf, now, id)
		return n, err
	})
}

func ownerLeft(t tx) error {
	var n int
	err := t.row(countOwners).Scan(&n)
	if err == nil && n == 0 {
		return tl.NewFault(tl.Conflict, "fault.store.last_owner").In("role")
	}
	return err
}

func (s *Store) putPerson(ctx context.Context, op string, id tl.ID, put func(tx) (int64, error)) (p tl.Person, err error) {
	err = s.write(ctx, op, func(t tx) error {
		n, err := put(t)
		if err != nil {
			return err
		}
		p, err = scanPerson(t.row(selectPerson, id))
		switch {
		case err != nil:
			return err
		case n == 0 && !p.Ended.IsZero():
			return tl.NewFault(tl.Conflict, "fault.store.person_ended")
		case n == 0:
			return changedMeanwhile()
		}
		return nil
	})
	if err != nil {
		return tl.Person{}, err
	}
	return p, nil
}

// ChangePassword ends every sign-in of hers but the one named, and makes every browser a stranger again. Her spare key ends too.
func (s *Store) ChangePassword(ctx context.Context, id tl.ID, passwordHash string, but tl.ID) error {
	return s.write(ctx, "change password of "+string(id), func(t tx) error { return changePassword(t, id, passwordHash, but) })
}

func changePassword(t tx, id tl.ID, passwordHash string, but tl.ID) error {
	n, err := t.exec(setPassword, passwordHash, id)
	if err != nil {
		return err
	}
	if n == 0 {
		return notFound("person")
	}
	if err := endLogins(t, id, but); err != nil {
		return err
	}
	if _, err := t.exec(forgetBrowsers, id); err != nil {
		return err
	}
	// Whoever knew the old password may have made the spare key.
	_, err = t.exec(dropSpareKey, id)
	return err
}

// RehashPassword replaces a hash by one of the same password with today's parameters, unless it was changed meanwhile.
func (s *Store) RehashPassword(ctx context.Context, id tl.ID, was, is string) error {
	return s.write(ctx, "rehash password of "+string(id), func(t tx) error {
		_, err := t.exec(rehashPassword, is, id, was)
		return err
	})
}
