package store

import (
	"context"
	"database/sql"
	"errors"
	"time"

	tl "thatch/timeline"
)

// claimFor is how long a claim holds without a word from its worker. Being wrong is harmless: a job is safe to do twice.
const claimFor = 10 * time.Minute

var (
	// Asked for again, a job that was given up gets a new life; one that waits or is being done stays as it is.
	insertJob = query(`INSERT INTO job (id, kind, key, due_at) VALUES (?, ?, ?, ?)
		ON CONFLICT (kind, key) DO UPDATE SET due_at = excluded.due_at, attempts = 0, error = '' WHERE job.due_at IS NULL`)
	claimJob = query(`UPDATE job SET claimed_until = ?, attempts = attempts + 1
		WHERE id = (SELECT id FROM job WHERE due_at <= ? AND (claimed_until IS NULL OR claimed_until <= ?) ORDER BY due_at, rowid LIMIT 1)
		RETURNING id, kind, key, attempts`)
	finishJob   = query(`DELETE FROM job WHERE id = ?`)
	failJob     = query(`UPDATE job SET due_at = ?, claimed_until = NULL, error = ? WHERE id = ?`)
	releaseJobs = query(`UPDATE job SET claimed_until = NULL WHERE claimed_until IS NOT NULL`)
	countJobs   = query(`SELECT count(*) FROM job WHERE due_at IS NOT NULL`)
)

func enqueue(t tx, now time.Time, jobs []Job) error {
	for _, j := range jobs {
		if _, err := t.exec(insertJob, newID(), j.Kind, j.Key, stamp(now)); err != nil {
			return err
		}
	}
	return nil
}

// EnqueueJobs is durable when it returns.
func (s *Store) EnqueueJobs(ctx context.Context, jobs ...Job) error {
	if len(jobs) == 0 {
		return nil
	}
	err := s.write(ctx, "enqueue jobs", func(t tx) error { return enqueue(t, s.now(), jobs) })
	if err == nil {
		s.wake()
	}
	return err
}

// ClaimJob takes the job that is due longest, nil if none is due.
func (s *Store) ClaimJob(ctx context.Context, now time.Time) (*Job, error) {
	var j Job
	err := s.write(ctx, "claim job", func(t tx) error {
		return t.row(claimJob, stamp(now.Add(claimFor)), stamp(now), stamp(now)).Scan(&j.ID, &j.Kind, &j.Key, &j.Attempts)
	})
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return &j, nil
}

// FinishJob forgets the job; one that is gone already is no error.
func (s *Store) FinishJob(ctx context.Context, id tl.ID) error {
	return s.write(ctx, "finish job "+string(id), func(t tx) error {
		_, err := t.exec(finishJob, id)
		return err
	})
}

// FailJob puts a claimed job back until retryAt; the zero time gives it up for good.
func (s *Store) FailJob(ctx context.Context, id tl.ID, retryAt time.Time, cause error) error {
	text := ""
	if cause != nil {
		text = cause.Error()
	}
	return s.write(ctx, "fail job "+string(id), func(t tx) error {
		_, err := t.exec(failJob, nullStamp(retryAt), text, id)
		return err
	})
}

// ReleaseJobs gives back what a process that died had claimed. One that lives loses its claims too, which costs work
// done twice and nothing else.
func (s *Store) ReleaseJobs(ctx context.Context) error {
	return s.write(ctx, "release jobs", func(t tx) error {
		_, err := t.exec(releaseJobs)
		return err
	})
}

// PendingJobs counts jobs that are waiting or being done.
func (s *Store) PendingJobs(ctx context.Context) (n int, err error) {
	err = s.readOne(ctx, "pending jobs", func(t tx) error { return t.row(countJobs).Scan(&n) })
	return
}

// Woken yields after this Store enqueued jobs; several times may be told once.
func (s *Store) Woken() <-chan struct{} { return s.woken }

func (s *Store) wake() {
	select {
	case s.woken <- struct{}{}:
	default:
	}
}
