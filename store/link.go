package store

import (
	"context"
	"database/sql"
	"errors"
	"time"

	tl "thatch/timeline"
)

const linkColumns = `id, dog, for_whom, token_hash, made_at, expires_at, withdrawn_at`

var (
	insertLink       = query(`INSERT INTO link (id, dog, for_whom, token_hash, made_at, expires_at) VALUES (?, ?, ?, ?, ?, ?)`)
	selectLink       = query(`SELECT ` + linkColumns + ` FROM link WHERE id = ?`)
	selectLinkByHash = query(`SELECT ` + linkColumns + ` FROM link WHERE token_hash = ?`)
	selectLinks      = query(`SELECT ` + linkColumns + ` FROM link WHERE dog = ? ORDER BY made_at DESC, id`)
	updateConsent    = query(`UPDATE dog SET share_ok = ?, rev = rev + 1 WHERE id = ? AND rev = ?`)
	selectConsent    = query(`SELECT at, name FROM audit WHERE key = ? AND op IN ('note consent for', 'create dog') ORDER BY id DESC LIMIT 1`)
	withdrawLink     = query(`UPDATE link SET withdrawn_at = coalesce(withdrawn_at, ?) WHERE id = ?`)
)

func scanLink(r scanner) (l tl.Link, err error) {
	err = r.Scan(&l.ID, &l.Dog, &l.For, &l.TokenHash, at{&l.Made}, at{&l.Expires}, at{&l.Withdrawn})
	if errors.Is(err, sql.ErrNoRows) {
		err = notFound("link")
	}
	return
}

// CreateLink fills in ID and, where it is zero, Made.
func (s *Store) CreateLink(ctx context.Context, l tl.Link) (tl.Link, error) {
	l.ID = newID()
	if l.Made.IsZero() {
		l.Made = s.now()
	}
	err := s.write(ctx, "create link "+string(l.ID), func(t tx) (err error) {
		if _, err := t.exec(insertLink, l.ID, l.Dog, l.For, l.TokenHash, stamp(l.Made), stamp(l.Expires)); err != nil {
			return err
		}
		l, err = scanLink(t.row(selectLink, l.ID))
		return err
	})
	if err != nil {
		return tl.Link{}, err
	}
	return l, nil
}

// Link finds a link by its ID, withdrawn or not.
func (s *Store) Link(ctx context.Context, id tl.ID) (l tl.Link, err error) {
	err = s.read(ctx, "link "+string(id), func(t tx) (err error) { l, err = scanLink(t.row(selectLink, id)); return })
	return
}

// LinkByHash finds a link whether it still holds or not: expiry, withdrawal and the dog's trash are the caller's to judge.
func (s *Store) LinkByHash(ctx context.Context, hash string) (l tl.Link, err error) {
	err = s.read(ctx, "link by hash", func(t tx) (err error) { l, err = scanLink(t.row(selectLinkByHash, hash)); return })
	return
}

// Links of a dog, newest first, withdrawn ones too.
func (s *Store) Links(ctx context.Context, dog tl.ID) ([]tl.Link, error) {
	out := []tl.Link{}
	err := s.readOne(ctx, "links of "+string(dog), func(t tx) error {
		return t.each(func(r scanner) error {
			l, err := scanLink(r)
			out = append(out, l)
			return err
		}, selectLinks, dog)
	})
	return out, err
}

// WithdrawLink holds from the moment it returns; a second time it changes nothing.
func (s *Store) WithdrawLink(ctx context.Context, id tl.ID) error {
	return s.write(ctx, "withdraw link "+string(id), func(t tx) error {
		n, err := t.exec(withdrawLink, stamp(s.now()), id)
		if err == nil && n == 0 {
			return notFound("link")
		}
		return err
	})
}

// NoteConsent writes down whether a dog's client agrees to pages by link, with who asked for it.
func (s *Store) NoteConsent(ctx context.Context, dog tl.ID, rev tl.Rev, agrees bool) (d tl.Dog, err error) {
	put := func(t tx) error {
		n, err := t.exec(updateConsent, agrees, dog, rev)
		if err == nil && n == 0 {
			err = missed(t, dogs, dog)
		}
		if err == nil {
			d, err = scanDog(t.row(selectDog, dog))
		}
		return err
	}
	if agrees {
		err = s.write(ctx, "note consent for "+string(dog), put)
	} else {
		err = s.write(ctx, "take back consent for "+string(dog), put)
	}
	return d, err
}

// ConsentNoted is when a dog's client was last said to agree, and the name of who said so; the zero time: by nobody that is
// known.
func (s *Store) ConsentNoted(ctx context.Context, dog tl.ID) (when time.Time, by string, err error) {
	err = s.read(ctx, "consent for "+string(dog), func(t tx) error {
		err := t.row(selectConsent, dog).Scan(at{&when}, &by)
		if errors.Is(err, sql.ErrNoRows) {
			return nil
		}
		return err
	})
	return
}
