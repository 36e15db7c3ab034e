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

// asked is what a transaction and a pool of connections share.
type asked interface {
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// tx is a transaction in progress. Public methods open it, private functions take it.
type tx struct {
	ctx    context.Context
	sql    asked
	in     *sql.Tx // sql again; nil: of a read of one statement
	remark *remark // of a write: what its line in the log of changes says beside the operation
	ready  *ready  // statements that need not be prepared
}

func (t tx) exec(q *stmt, args ...any) (changed int64, err error) {
	var r sql.Result
	if p := t.prepared(q); p != nil {
		r, err = p.ExecContext(t.ctx, args...)
	} else {
		r, err = t.sql.ExecContext(t.ctx, q.text, args...)
	}
	if err != nil {
		return 0, err
	}
	return r.RowsAffected()
}

func (t tx) row(q *stmt, args ...any) *sql.Row {
	if p := t.prepared(q); p != nil {
		return p.QueryRowContext(t.ctx, args...)
	}
	return t.sql.QueryRowContext(t.ctx, q.text, args...)
}

func (t tx) prepared(q *stmt) *sql.Stmt {
	p := t.ready.of(q)
	if p != nil && t.in != nil {
		p = t.in.StmtContext(t.ctx, p)
	}
	return p
}

func (t tx) rows(q *stmt, args ...any) (*sql.Rows, error) {
	if p := t.prepared(q); p != nil {
		return p.QueryContext(t.ctx, args...)
	}
	return t.sql.QueryContext(t.ctx, q.text, args...)
}

// each calls scan for every row; scan reads the row only.
func (t tx) each(scan func(scanner) error, q *stmt, args ...any) error {
	rows, err := t.rows(q, args...)
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
	r := ready{kept: &s.written}
	err := inTx(ctx, s.writer, &r, func(t tx) (err error) {
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
	if len(r.missed) > 0 && s.writer.Stats().InUse == 0 { // else another write has begun: what is kept already is not kept waiting
		s.written.prepare(ctx, s.writer, r.missed)
	}
	return fault(op, err)
}

// read runs f on one snapshot.
func (s *Store) read(ctx context.Context, op string, f func(tx) error) error {
	r := ready{kept: &s.kept}
	err := inTx(ctx, s.readers, &r, f)
	s.kept.prepare(ctx, s.readers, r.missed)
	return fault(op, err)
}

// readOne runs f, which asks one statement and no other: that alone is a snapshot, and needs no transaction around it.
func (s *Store) readOne(ctx context.Context, op string, f func(tx) error) error {
	r := ready{kept: &s.kept}
	err := f(tx{ctx: ctx, sql: s.readers, ready: &r})
	s.kept.prepare(ctx, s.readers, r.missed)
	return fault(op, err)
}

func inTx(ctx context.Context, db *sql.DB, r *ready, f func(tx) error) error {
	t, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer t.Rollback() // after a commit it does nothing
	if err := f(tx{ctx: ctx, sql: t, in: t, ready: r}); err != nil {
		return err
	}
	return t.Commit()
}
