package store

import (
	"context"
	"database/sql"
)

// stmt is a query of this package. All of them are made by query at start-up, so that one test can prepare every one
// against the migrated schema; the functions below take nothing else.
type stmt struct{ text string }

var stmts []*stmt

func query(text string) *stmt {
	q := &stmt{text}
	stmts = append(stmts, q)
	return q
}

// tx is a transaction in progress. Public methods open it, private functions take it.
type tx struct {
	ctx    context.Context
	sql    *sql.Tx
	remark *remark // of a write: what its line in the log of changes says beside the operation
}

func (t tx) exec(q *stmt, args ...any) (changed int64, err error) {
	r, err := t.sql.ExecContext(t.ctx, q.text, args...)
	if err != nil {
		return 0, err
	}
	return r.RowsAffected()
}

func (t tx) row(q *stmt, args ...any) *sql.Row { return t.sql.QueryRowContext(t.ctx, q.text, args...) }

// each calls scan for every row; scan reads the row only.
func (t tx) each(scan func(scanner) error, q *stmt, args ...any) error {
	rows, err := t.sql.QueryContext(t.ctx, q.text, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := scan(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

// scanner is what *sql.Row and *sql.Rows share.
type scanner interface{ Scan(...any) error }

// write runs f in a transaction that has the write lock from its start: what f reads does not change under it. Where
// somebody asked for the change, who and what is written in the same transaction (audit.go), so op is a verb of verbs
// and the key of what is changed, and never holds a secret or its hash.
func (s *Store) write(ctx context.Context, op string, f func(tx) error) error {
	if planted {
		if done, err := s.writeWrong(ctx, op, f); done {
			return err
		}
	}
	var run *onceRun
	err := inTx(ctx, s.writer, func(t tx) (err error) {
		t.remark = &remark{}
		if err := f(t); err != nil {
			return err
		}
		if run, err = s.noteOnce(t, op); err != nil {
			return err
		}
		return s.audit(t, op)
	})
	if err == nil && run != nil {
		run.noted = true
	}
	return fault(op, err)
}

// read runs f on one snapshot.
func (s *Store) read(ctx context.Context, op string, f func(tx) error) error {
	return fault(op, inTx(ctx, s.readers, f))
}

func inTx(ctx context.Context, db *sql.DB, f func(tx) error) error {
	t, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer t.Rollback() // after a commit it does nothing
	if err := f(tx{ctx: ctx, sql: t}); err != nil {
		return err
	}
	return t.Commit()
}
