package store

import (
	"context"
	"database/sql"
	"errors"
	"strings"

	tl "thatch/timeline"
)

const profileColumns = `id, rev, name, doc, added_at, trashed_at`

var (
	insertProfile  = query(`INSERT INTO profile (id, rev, name, name_key, doc, added_at) VALUES (?, 1, ?, ?, ?, ?)`)
	updateProfile  = query(`UPDATE profile SET rev = rev + 1, name = ?, name_key = ?, doc = ? WHERE id = ? AND rev = ? AND trashed_at IS NULL`)
	selectProfile  = query(`SELECT ` + profileColumns + ` FROM profile WHERE id = ?`)
	selectProfiles = query(`SELECT ` + profileColumns + ` FROM profile WHERE trashed_at IS NULL ORDER BY name_key`)
)

func scanProfile(r scanner) (p tl.OwnProfile, err error) {
	var doc string
	err = r.Scan(&p.ID, &p.Rev, &p.Name, &doc, at{&p.Added}, at{&p.Trashed})
	if errors.Is(err, sql.ErrNoRows) {
		err = notFound("profile")
	}
	p.Doc = []byte(doc)
	return p, err
}

// CreateProfile fills in ID, Rev and Added. A name in use, in any case, is a Conflict.
func (s *Store) CreateProfile(ctx context.Context, p tl.OwnProfile) (tl.OwnProfile, error) {
	p.ID = newID()
	return s.putProfile(ctx, "create profile "+string(p.ID), p, func(t tx, p tl.OwnProfile) error {
		_, err := t.exec(insertProfile, p.ID, p.Name, nameKey(p.Name), string(p.Doc), stamp(s.now()))
		return err
	})
}

// UpdateProfile changes name and document.
func (s *Store) UpdateProfile(ctx context.Context, p tl.OwnProfile) (tl.OwnProfile, error) {
	return s.putProfile(ctx, "update profile "+string(p.ID), p, func(t tx, p tl.OwnProfile) error {
		n, err := t.exec(updateProfile, p.Name, nameKey(p.Name), string(p.Doc), p.ID, p.Rev)
		if err == nil && n == 0 {
			return missed(t, profiles, p.ID)
		}
		return err
	})
}

func (s *Store) putProfile(ctx context.Context, op string, p tl.OwnProfile, put func(tx, tl.OwnProfile) error) (tl.OwnProfile, error) {
	p.Name = strings.Join(strings.Fields(p.Name), " ")
	if p.Name == "" {
		return tl.OwnProfile{}, tl.NewFault(tl.Invalid, "fault.store.name_empty").At(op).In("name")
	}
	err := s.write(ctx, op, func(t tx) (err error) {
		if err := put(t, p); isUnique(err) {
			return tl.NewFault(tl.Conflict, "fault.store.profile_exists", "name", p.Name).In("name")
		} else if err != nil {
			return err
		}
		p, err = scanProfile(t.row(selectProfile, p.ID))
		return err
	})
	if err != nil {
		return tl.OwnProfile{}, err
	}
	return p, nil
}

// Profile also finds one in the trash: dogs that have it keep it.
func (s *Store) Profile(ctx context.Context, id tl.ID) (p tl.OwnProfile, err error) {
	err = s.readOne(ctx, "profile "+string(id), func(t tx) (err error) { p, err = scanProfile(t.row(selectProfile, id)); return })
	return
}

// Profiles by name.
func (s *Store) Profiles(ctx context.Context) ([]tl.OwnProfile, error) {
	out := []tl.OwnProfile{}
	err := s.read(ctx, "profiles", func(t tx) error {
		return t.each(func(r scanner) error {
			p, err := scanProfile(r)
			out = append(out, p)
			return err
		}, selectProfiles)
	})
	return out, err
}

// TrashProfile takes it out of the lists.
func (s *Store) TrashProfile(ctx context.Context, id tl.ID) error {
	return s.toTrash(ctx, profiles, id)
}

// RestoreProfile is a Conflict where another one has its name by now.
func (s *Store) RestoreProfile(ctx context.Context, id tl.ID) error {
	return s.fromTrash(ctx, profiles, id, tl.NewFault(tl.Conflict, "fault.store.profile_name_taken"))
}
