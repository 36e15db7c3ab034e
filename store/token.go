package store

import (
	"context"
	"database/sql"
	"errors"

	tl "thatch/timeline"
)

const tokenColumns = `id, person, name, scope, token_hash, made_at, expires_at, used_at, ended_at`

var (
	insertToken       = query(`INSERT INTO api_token (id, person, name, scope, token_hash, made_at, expires_at) VALUES (?, ?, ?, ?, ?, ?, ?)`)
	selectToken       = query(`SELECT ` + tokenColumns + ` FROM api_token WHERE id = ?`)
	selectTokenByHash = query(`SELECT ` + tokenColumns + ` FROM api_token WHERE token_hash = ?`)
	selectTokens      = query(`SELECT ` + tokenColumns + ` FROM api_token WHERE person = ? ORDER BY made_at DESC, id`)
	touchToken        = query(`UPDATE api_token SET used_at = ? WHERE id = ?`)
	endToken          = query(`UPDATE api_token SET ended_at = coalesce(ended_at, ?) WHERE id = ? AND person = ?`)
	endTokensOf       = query(`UPDATE api_token SET ended_at = coalesce(ended_at, ?) WHERE person = ?`)
)

func scanToken(r scanner) (v tl.APIToken, err error) {
	err = r.Scan(&v.ID, &v.Person, &v.Name, &v.Scope, &v.TokenHash, at{&v.Made}, at{&v.Expires}, at{&v.Used}, at{&v.Ended})
	if errors.Is(err, sql.ErrNoRows) {
		err = notFound("token")
	}
	return
}

// CreateToken fills in ID and, where it is zero, Made.
func (s *Store) CreateToken(ctx context.Context, v tl.APIToken) (tl.APIToken, error) {
	v.ID = newID()
	if v.Made.IsZero() {
		v.Made = s.now()
	}
	err := s.write(ctx, "create token of "+string(v.Person), func(t tx) (err error) {
		t.remark.note = v.Name
		if _, err := t.exec(insertToken, v.ID, v.Person, v.Name, v.Scope, v.TokenHash, stamp(v.Made), stamp(v.Expires)); err != nil {
			return err
		}
		v, err = scanToken(t.row(selectToken, v.ID))
		return err
	})
	if err != nil {
		return tl.APIToken{}, err
	}
	return v, nil
}

// TokenByHash finds a token whether it still holds or not: that is the caller's to judge.
func (s *Store) TokenByHash(ctx context.Context, hash string) (v tl.APIToken, err error) {
	err = s.read(ctx, "token by hash", func(t tx) (err error) { v, err = scanToken(t.row(selectTokenByHash, hash)); return })
	return
}

// Tokens of a person, newest first, ended ones too.
func (s *Store) Tokens(ctx context.Context, person tl.ID) ([]tl.APIToken, error) {
	out := []tl.APIToken{}
	err := s.read(ctx, "tokens of "+string(person), func(t tx) error {
		return t.each(func(r scanner) error {
			v, err := scanToken(r)
			out = append(out, v)
			return err
		}, selectTokens, person)
	})
	return out, err
}

// TouchToken says that a token was used.
func (s *Store) TouchToken(ctx context.Context, id tl.ID) error {
	return s.write(ctx, "touch token "+string(id), func(t tx) error {
		_, err := t.exec(touchToken, stamp(s.now()), id)
		return err
	})
}

// EndToken holds from the moment it returns.
func (s *Store) EndToken(ctx context.Context, person, id tl.ID) error {
	return s.write(ctx, "end token of "+string(person), func(t tx) error {
		n, err := t.exec(endToken, stamp(s.now()), id, person)
		if err == nil && n == 0 {
			return notFound("token")
		}
		if err == nil {
			var v tl.APIToken
			v, err = scanToken(t.row(selectToken, id))
			t.remark.note = v.Name
		}
		return err
	})
}
