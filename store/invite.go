package store

import (
	"context"
	"database/sql"
	"errors"

	tl "thatch/timeline"
)

const invitationColumns = `id, for_whom, role, token_hash, made_at, expires_at, withdrawn_at, used_at, person`

var (
	insertInvitation   = query(`INSERT INTO invitation (id, for_whom, role, token_hash, made_at, expires_at) VALUES (?, ?, ?, ?, ?, ?)`)
	selectInvitation   = query(`SELECT ` + invitationColumns + ` FROM invitation WHERE id = ?`)
	selectByInvitation = query(`SELECT ` + invitationColumns + ` FROM invitation WHERE token_hash = ?`)
	selectInvitations  = query(`SELECT ` + invitationColumns + ` FROM invitation ORDER BY made_at DESC, id LIMIT 200`)
	withdrawInvitation = query(`UPDATE invitation SET withdrawn_at = coalesce(withdrawn_at, ?) WHERE id = ?`)
	useInvitation      = query(`UPDATE invitation SET used_at = ?1, person = ?2 WHERE token_hash = ?3 AND used_at IS NULL AND withdrawn_at IS NULL AND expires_at > ?1`)
)

func scanInvitation(r scanner) (v tl.Invitation, err error) {
	err = r.Scan(&v.ID, &v.For, &v.Role, &v.TokenHash, at{&v.Made}, at{&v.Expires}, at{&v.Withdrawn}, at{&v.Used}, maybe[tl.ID]{&v.Person})
	if errors.Is(err, sql.ErrNoRows) {
		err = notFound("invitation")
	}
	return
}

// CreateInvitation fills in ID and, where it is zero, Made.
func (s *Store) CreateInvitation(ctx context.Context, v tl.Invitation) (tl.Invitation, error) {
	v.ID = newID()
	if v.Made.IsZero() {
		v.Made = s.now()
	}
	err := s.write(ctx, "create invitation "+string(v.ID), func(t tx) (err error) {
		t.remark.note = string(v.Role)
		if _, err := t.exec(insertInvitation, v.ID, v.For, v.Role, v.TokenHash, stamp(v.Made), stamp(v.Expires)); err != nil {
			return err
		}
		v, err = scanInvitation(t.row(selectInvitation, v.ID))
		return err
	})
	if err != nil {
		return tl.Invitation{}, err
	}
	return v, nil
}

// Invitation finds one by its ID.
func (s *Store) Invitation(ctx context.Context, id tl.ID) (v tl.Invitation, err error) {
	err = s.read(ctx, "invitation "+string(id), func(t tx) (err error) { v, err = scanInvitation(t.row(selectInvitation, id)); return })
	return
}

// InvitationByHash finds one whether it still holds or not: that is the caller's to judge.
func (s *Store) InvitationByHash(ctx context.Context, hash string) (v tl.Invitation, err error) {
	err = s.read(ctx, "invitation by hash", func(t tx) (err error) { v, err = scanInvitation(t.row(selectByInvitation, hash)); return })
	return
}

// Invitations are the last 200, newest first, used and withdrawn ones too.
func (s *Store) Invitations(ctx context.Context) ([]tl.Invitation, error) {
	out := []tl.Invitation{}
	err := s.read(ctx, "invitations", func(t tx) error {
		return t.each(func(r scanner) error {
			v, err := scanInvitation(r)
			out = append(out, v)
			return err
		}, selectInvitations)
	})
	return out, err
}

// WithdrawInvitation holds from the moment it returns.
func (s *Store) WithdrawInvitation(ctx context.Context, id tl.ID) error {
	return s.write(ctx, "withdraw invitation "+string(id), func(t tx) error {
		n, err := t.exec(withdrawInvitation, stamp(s.now()), id)
		if err == nil && n == 0 {
			return notFound("invitation")
		}
		return err
	})
}

// Join uses up an invitation and makes its person, both or neither. ID, Rev, Role and Added are filled in. An invitation
// that holds no longer is NotFound.
func (s *Store) Join(ctx context.Context, tokenHash string, p tl.Person) (tl.Person, error) {
	p.ID, p.Added = newID(), s.now()
	ctx = tl.WithVisitor(ctx, tl.Visitor{Person: p.ID, Name: p.Name})
	err := s.write(ctx, "join "+string(p.ID), func(t tx) error {
		v, err := scanInvitation(t.row(selectByInvitation, tokenHash))
		if err != nil {
			return err
		}
		p.Role = v.Role
		if p, err = addPerson(t, p); err != nil {
			return err
		}
		n, err := t.exec(useInvitation, stamp(s.now()), p.ID, tokenHash)
		if err == nil && n == 0 {
			return notFound("invitation")
		}
		return err
	})
	if err != nil {
		return tl.Person{}, err
	}
	return p, nil
}
