// Package jobs works off the persistent queue behind an upload. A job that a dying process had claimed comes back after a
// restart; every job is safe to do twice.
package jobs

import (
	"context"
	"errors"
	"log/slog"
	"sync"
	"time"

	"thatch/store"
	"thatch/timeline"
)

// Queue is where jobs are kept (store.Store).
type Queue interface {
	ClaimJob(ctx context.Context, now time.Time) (*store.Job, error)
	FinishJob(ctx context.Context, id timeline.ID) error
	FailJob(ctx context.Context, id timeline.ID, retryAt time.Time, cause error) error
	ReleaseJobs(ctx context.Context) error
	Woken() <-chan struct{}
}

// Runner does one job (salon.Salon).
type Runner interface {
	RunJob(ctx context.Context, job store.Job) error
}

const (
	attemptsMost = 5
	idleWait     = 20 * time.Second // jobs that another process put there, and retries, are seen within this
)

// Start runs workers until ctx ends. The returned function waits for the jobs under way; call it after ctx ended, before
// the queue is closed.
func Start(ctx context.Context, q Queue, r Runner, workers int, log *slog.Logger) (wait func()) {
	if err := q.ReleaseJobs(ctx); err != nil {
		log.Error("jobs of the last run", "error", err)
	}
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() { work(ctx, q, r, log) })
	}
	return wg.Wait
}

func work(ctx context.Context, q Queue, r Runner, log *slog.Logger) {
	for ctx.Err() == nil {
		did, err := one(ctx, q, r, time.Now())
		if err != nil && ctx.Err() == nil {
			log.Error("job", "error", err)
		}
		if did {
			continue
		}
		select {
		case <-ctx.Done():
		case <-q.Woken():
		case <-time.After(idleWait):
		}
	}
}

// Drain does every job that is due now, progress told after each, and returns the first error of the queue itself.
// Jobs that fail are put back as ever.
func Drain(ctx context.Context, q Queue, r Runner, progress func()) error {
	for {
		did, err := one(ctx, q, r, time.Now())
		var failed *jobFailed
		if err != nil && !errors.As(err, &failed) {
			return err
		}
		if !did {
			return ctx.Err()
		}
		if progress != nil {
			progress()
		}
	}
}

// one claims and does one job; false where none is due.
func one(ctx context.Context, q Queue, r Runner, now time.Time) (did bool, err error) {
	job, err := q.ClaimJob(ctx, now)
	if err != nil || job == nil {
		return false, err
	}
	cause := r.RunJob(ctx, *job)
	// The outcome is written even while the process is being asked to stop: work that is done stays done.
	ctx = context.WithoutCancel(ctx)
	if cause == nil {
		return true, q.FinishJob(ctx, job.ID)
	}
	if err := q.FailJob(ctx, job.ID, retryAt(*job, now, cause), cause); err != nil {
		return true, err
	}
	return true, &jobFailed{job: *job, cause: cause}
}

// retryAt backs off from ten seconds to a quarter of an hour. What the file itself is to blame for is not tried again; the
// zero time gives the job up.
func retryAt(job store.Job, now time.Time, cause error) time.Time {
	switch timeline.KindOf(cause) {
	case timeline.Invalid, timeline.TooLarge, timeline.NotFound:
		return time.Time{}
	}
	if job.Attempts >= attemptsMost {
		return time.Time{}
	}
	wait := 10 * time.Second << min(2*max(job.Attempts-1, 0), 6)
	return now.Add(min(wait, 15*time.Minute))
}

type jobFailed struct {
	job   store.Job
	cause error
}

func (f *jobFailed) Error() string { return "job " + f.job.Kind + " " + f.job.Key + ": " + f.cause.Error() }

func (f *jobFailed) Unwrap() error { return f.cause }
