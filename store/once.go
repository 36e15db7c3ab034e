package store

import (
	"context"
	"database/sql"
	"errors"
	"time"

	tl "thatch/timeline"
)

// Once is a request that a device may send again because it did not hear the answer.
type Once struct {
	Key    string // made by the device
	Person tl.ID  // who sent it; "" without an account
	Asked  string // SHA-256 of the request: the same key with another request is a mistake
}

// OnceSeen is a request that has acted.
type OnceSeen struct {
	Once
	At     time.Time
	Answer string // "": it acted, and what was answered is not known
}

// onceTime is how long a key is remembered: longer than the 30 days that are promised, as the device's clock may be off.
const onceTime = 40 * 24 * time.Hour

var (
	insertOnce = query(`INSERT INTO once (key, person, asked, at) VALUES (?, ?, ?, ?)`)
	answerOnce = query(`INSERT INTO once (key, person, asked, at, answer) VALUES (?1, ?2, ?3, ?4, ?5) ON CONFLICT (key) DO UPDATE SET answer = ?5`)
	selectOnce = query(`SELECT key, person, asked, at, answer FROM once WHERE key = ?`)
	pruneOnce  = query(`DELETE FROM once WHERE at < ?`)
)

type onceCtx struct{}

type onceRun struct {
	Once
	noted bool
}

// WithOnce has the next write in ctx note the key in its own transaction: both happen or neither. A key that is noted already
// makes that write a Conflict.
func WithOnce(ctx context.Context, o Once) context.Context {
	return context.WithValue(ctx, onceCtx{}, &onceRun{Once: o})
}

// noteOnce notes the key of a write that acts for the first time. Housekeeping is no act.
func (s *Store) noteOnce(t tx, op string) (*onceRun, error) {
	run, ok := t.ctx.Value(onceCtx{}).(*onceRun)
	if verb, _ := splitOp(op); !ok || run.noted || quiet[verb] {
		return nil, nil
	}
	_, err := t.exec(insertOnce, run.Key, run.Person, run.Asked, stamp(s.now()))
	if isUnique(err) {
		return nil, tl.NewFault(tl.Conflict, "fault.store.once").Because(err)
	}
	return run, err
}

// OnceOf is what is known of a key.
func (s *Store) OnceOf(ctx context.Context, key string) (v OnceSeen, seen bool, err error) {
	err = s.read(ctx, "once", func(t tx) error {
		return t.row(selectOnce, key).Scan(&v.Key, &v.Person, &v.Asked, at{&v.At}, &v.Answer)
	})
	if errors.Is(err, sql.ErrNoRows) {
		return v, false, nil
	}
	return v, err == nil, err
}

// AnswerOnce keeps what was answered.
func (s *Store) AnswerOnce(ctx context.Context, o Once, answer string) error {
	return s.write(ctx, "answer once", func(t tx) error {
		_, err := t.exec(answerOnce, o.Key, o.Person, o.Asked, stamp(s.now()), answer)
		return err
	})
}

// forgetOnce forgets keys that no device sends any more.
func (s *Store) forgetOnce(ctx context.Context) error {
	return s.write(ctx, opPurge, func(t tx) error {
		_, err := t.exec(pruneOnce, stamp(s.now().Add(-onceTime)))
		return err
	})
}
