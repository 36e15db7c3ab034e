package store

import (
	"context"
	"database/sql"
	"errors"
	"time"

	tl "thatch/timeline"
)

var (
	putSpareKey        = query(`INSERT INTO spare_key (person, key_hash, made_at) VALUES (?, ?, ?) ON CONFLICT (person) DO UPDATE SET key_hash = excluded.key_hash, made_at = excluded.made_at`)
	selectSpareKey     = query(`SELECT made_at FROM spare_key WHERE person = ?`)
	selectSpareKeyHash = query(`SELECT person FROM spare_key WHERE key_hash = ?`)
	useSpareKey        = query(`DELETE FROM spare_key WHERE person = ? AND key_hash = ?`)
	dropSpareKey       = query(`DELETE FROM spare_key WHERE person = ?`)
)

// MakeSpareKey keeps the hash of an owner's spare key; the one before it is worth nothing from now on. Who is no owner is
// NotFound.
func (s *Store) MakeSpareKey(ctx context.Context, owner tl.ID, keyHash string) error {
	return s.write(ctx, "make spare key of "+string(owner), func(t tx) error {
		p, err := scanPerson(t.row(selectPerson, owner))
		if err != nil {
			return err
		}
		if p.Role != tl.Owner || !p.Ended.IsZero() {
			return notFound("person")
		}
		_, err = t.exec(putSpareKey, owner, keyHash, stamp(s.now()))
		return err
	})
}

// SpareKeyMade is when a person's spare key was made; zero: there is none.
func (s *Store) SpareKeyMade(ctx context.Context, person tl.ID) (made time.Time, err error) {
	err = s.read(ctx, "spare key of "+string(person), func(t tx) error {
		err := t.row(selectSpareKey, person).Scan(at{&made})
		if errors.Is(err, sql.ErrNoRows) {
			return nil
		}
		return err
	})
	return made, err
}

// SpareKeyOwner is whose key it is; "" if nobody's.
func (s *Store) SpareKeyOwner(ctx context.Context, keyHash string) (person tl.ID, err error) {
	err = s.read(ctx, "owner of a spare key", func(t tx) error {
		err := t.row(selectSpareKeyHash, keyHash).Scan(&person)
		if errors.Is(err, sql.ErrNoRows) {
			return nil
		}
		return err
	})
	return person, err
}

// EndSpareKey is for a key that was lost. Without one nothing happens.
func (s *Store) EndSpareKey(ctx context.Context, person tl.ID) error {
	return s.write(ctx, "end spare key of "+string(person), func(t tx) error {
		_, err := t.exec(dropSpareKey, person)
		return err
	})
}

// SetPasswordBySpareKey uses up an owner's spare key and gives her a new password; her sign-ins end. A key that is not hers,
// or was used, is NotFound.
func (s *Store) SetPasswordBySpareKey(ctx context.Context, keyHash string, owner tl.Person, passwordHash string) error {
	ctx = tl.WithVisitor(ctx, tl.Visitor{Person: owner.ID, Name: owner.Name, Role: owner.Role})
	return s.write(ctx, "set password by spare key of "+string(owner.ID), func(t tx) error {
		n, err := t.exec(useSpareKey, owner.ID, keyHash)
		if err == nil && n == 0 {
			err = notFound("owner_code")
		}
		if err != nil {
			return err
		}
		return changePassword(t, owner.ID, passwordHash, "")
	})
}
