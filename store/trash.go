package store

import (
	"context"
	"database/sql"
	"errors"

	tl "thatch/timeline"
)

// changedMeanwhile: the version that the change was made from is not the one that is kept.
func changedMeanwhile() *tl.Fault { return tl.NewFault(tl.Conflict, "fault.store.changed") }

// bin is how one kind of thing goes to the trash and comes back.
type bin struct {
	what                    string
	trash, restore, trashed *stmt
}

func newBin(what string) bin {
	return bin{
		what:    what,
		trash:   query(`UPDATE ` + what + ` SET trashed_at = coalesce(trashed_at, ?) WHERE id = ?`),
		restore: query(`UPDATE ` + what + ` SET trashed_at = NULL WHERE id = ?`),
		trashed: query(`SELECT trashed_at FROM ` + what + ` WHERE id = ?`),
	}
}

var (
	dogs     = newBin("dog")
	photos   = newBin("photo")
	sessions = newBin("session")
	readings = newBin("reading")
	shows    = newBin("show")
	profiles = newBin("profile")
	checks   = newBin("salon_check")
	heap     = newBin("heap")
)

// toTrash is done twice without harm: the first time counts.
func (s *Store) toTrash(ctx context.Context, b bin, id tl.ID) error {
	return s.write(ctx, "trash "+b.what+" "+string(id), func(t tx) error {
		n, err := t.exec(b.trash, stamp(s.now()), id)
		if err == nil && n == 0 {
			return notFound(b.what)
		}
		return err
	})
}

// fromTrash of a thing that is not in the trash does nothing. taken is what a unique index that refuses means.
func (s *Store) fromTrash(ctx context.Context, b bin, id tl.ID, taken *tl.Fault) error {
	return s.write(ctx, "restore "+b.what+" "+string(id), func(t tx) error {
		n, err := t.exec(b.restore, id)
		switch {
		case isUnique(err) && taken != nil:
			return taken
		case err == nil && n == 0:
			return notFound(b.what)
		}
		return err
	})
}

// missed says why an update that named id and rev changed nothing.
func missed(t tx, b bin, id tl.ID) error {
	var when sql.NullString
	err := t.row(b.trashed, id).Scan(&when)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return notFound(b.what)
	case err != nil:
		return err
	case when.Valid:
		return tl.NewFault(tl.Conflict, "fault.store.in_trash")
	}
	return changedMeanwhile()
}

// A thing whose dog is in the trash is not listed beside it: it comes back with the dog.
var selectTrash = query(`
	SELECT 'dog' AS kind, id, id AS dog, name AS label, trashed_at AS gone FROM dog WHERE trashed_at IS NOT NULL
	UNION ALL
	SELECT 'photo', p.id, p.dog, p.file, p.trashed_at FROM photo p JOIN dog d ON d.id = p.dog WHERE p.trashed_at IS NOT NULL AND d.trashed_at IS NULL
	UNION ALL
	SELECT 'session', s.id, s.dog, s.on_day, s.trashed_at FROM session s JOIN dog d ON d.id = s.dog WHERE s.trashed_at IS NOT NULL AND d.trashed_at IS NULL
	UNION ALL
	SELECT 'reading', r.id, r.dog, r.zone || ' ' || r.on_day, r.trashed_at FROM reading r JOIN dog d ON d.id = r.dog WHERE r.trashed_at IS NOT NULL AND d.trashed_at IS NULL
	UNION ALL
	SELECT 'check', c.id, c.dog, c.on_day, c.trashed_at FROM salon_check c JOIN dog d ON d.id = c.dog WHERE c.trashed_at IS NOT NULL AND d.trashed_at IS NULL
	UNION ALL
	SELECT 'heap', id, '', file, trashed_at FROM heap WHERE trashed_at IS NOT NULL
	UNION ALL
	SELECT 'profile', id, '', name, trashed_at FROM profile WHERE trashed_at IS NOT NULL
	UNION ALL
	SELECT 'show', s.id, s.dog, s.name, s.trashed_at FROM show s JOIN dog d ON d.id = s.dog WHERE s.trashed_at IS NOT NULL AND d.trashed_at IS NULL
	ORDER BY gone DESC, kind, id`)

// Trash lists what is in the trash, newest first.
func (s *Store) Trash(ctx context.Context) ([]Trashed, error) {
	out := []Trashed{}
	err := s.read(ctx, "trash", func(t tx) error {
		return t.each(func(r scanner) error {
			var v Trashed
			if err := r.Scan(&v.Kind, &v.ID, &v.Dog, &v.Label, at{&v.When}); err != nil {
				return err
			}
			out = append(out, v)
			return nil
		}, selectTrash)
	})
	return out, err
}
