// Package jobs works off the persistent queue behind an upload: one piece after the other, again after a failure, again
// after a restart in the middle.
//
// It owns when work is done and how often it is tried. What a piece of work is, the Runner knows; that it is not
// forgotten, the store sees to. A piece of work must be safe to do twice.
package jobs

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"runtime/debug"
	"sync"
	"time"

	"thatch/store"
	"thatch/timeline"
)

// Queue is where the work waits; *store.Store is one.
type Queue interface {
	ClaimJob(ctx context.Context, now time.Time) (*store.Job, error)
	FinishJob(ctx context.Context, id timeline.ID) error
	FailJob(ctx context.Context, id timeline.ID, retryAt time.Time, cause error) error
	ReleaseJobs(ctx context.Context) error
	SetPhotoReady(ctx context.Context, sha, trouble string) error
	Woken() <-chan struct{}
}

// Runner does a piece of work; *salon.Salon is one.
type Runner interface {
	RunJob(ctx context.Context, job store.Job) error
}

// Options of Start; the zero Options are those of production.
type Options struct {
	Workers int              // pieces at the same time; 0: 1
	Now     func() time.Time // nil: time.Now
	Poll    time.Duration    // how often to look for what another process enqueued; 0: 2 s
	Log     *slog.Logger     // nil: slog.Default
}

// A job is tried again after firstPause, then twice as long each time. A machine that is short of memory or disk for an
// evening still gets there; a job that takes the program down with it does not do so for ever.
const (
	firstPause  = 2 * time.Second
	longPause   = 30 * time.Minute
	maxAttempts = 12
	lastWords   = 10 * time.Second // for writing down what became of a job while stopping
)

// troubleGaveUp is the catalogue key that a photo carries when its work was given up.
const troubleGaveUp = "fault.jobs.gave_up"

// Workers are at work until Stop.
type Workers struct {
	q    Queue
	run  Runner
	opt  Options
	stop context.CancelFunc
	done chan struct{}
}

// Start takes back what a process that died was doing, and works until ctx ends or Stop is called.
func Start(ctx context.Context, q Queue, run Runner, opt Options) (*Workers, error) {
	if opt.Workers < 1 {
		opt.Workers = 1
	}
	if opt.Now == nil {
		opt.Now = time.Now
	}
	if opt.Poll <= 0 {
		opt.Poll = 2 * time.Second
	}
	if opt.Log == nil {
		opt.Log = slog.Default()
	}
	if err := q.ReleaseJobs(ctx); err != nil {
		return nil, err
	}
	ctx, stop := context.WithCancel(ctx)
	w := &Workers{q: q, run: run, opt: opt, stop: stop, done: make(chan struct{})}
	go w.loop(ctx)
	return w, nil
}

// Stop interrupts the work in hand, gives it back to the queue, and returns when nobody works any more.
func (w *Workers) Stop() {
	w.stop()
	<-w.done
}

func (w *Workers) loop(ctx context.Context) {
	defer close(w.done)
	var busy sync.WaitGroup
	defer busy.Wait()
	free := make(chan struct{}, w.opt.Workers)
	for {
		select {
		case free <- struct{}{}:
		case <-ctx.Done():
			return
		}
		job, err := w.q.ClaimJob(ctx, w.opt.Now())
		if err != nil && ctx.Err() == nil {
			w.opt.Log.Warn("jobs: nothing could be claimed", "error", err)
		}
		if job == nil {
			<-free
			select {
			case <-w.q.Woken():
			case <-time.After(w.opt.Poll):
			case <-ctx.Done():
				return
			}
			continue
		}
		busy.Go(func() {
			defer func() { <-free }()
			w.one(ctx, *job)
		})
	}
}

func (w *Workers) one(ctx context.Context, job store.Job) {
	err := w.try(ctx, job)
	// What became of the job is written down even while stopping.
	note, cancel := context.WithTimeout(context.WithoutCancel(ctx), lastWords)
	defer cancel()
	log := w.opt.Log.With("kind", job.Kind, "key", job.Key, "attempt", job.Attempts)
	var after error
	switch {
	case err == nil:
		after = w.q.FinishJob(note, job.ID)
	case ctx.Err() != nil:
		after = w.q.FailJob(note, job.ID, w.opt.Now(), err)
	case job.Attempts >= maxAttempts:
		log.Error("jobs: given up", "error", err)
		after = errors.Join(w.giveUp(note, job), w.q.FailJob(note, job.ID, time.Time{}, err))
	default:
		log.Warn("jobs: to be tried again", "error", err)
		after = w.q.FailJob(note, job.ID, w.opt.Now().Add(pause(job.Attempts)), err)
	}
	if after != nil {
		log.Error("jobs: what became of it could not be written down", "error", after)
	}
}

// try runs the job; a panic is its failure, not the program's.
func (w *Workers) try(ctx context.Context, job store.Job) (err error) {
	if job.Attempts > maxAttempts {
		return errors.New("jobs: taken up too often without coming to an end")
	}
	defer func() {
		if v := recover(); v != nil {
			err = fmt.Errorf("jobs: panic: %v\n%s", v, debug.Stack())
		}
	}()
	return w.run.RunJob(ctx, job)
}

func (w *Workers) giveUp(ctx context.Context, job store.Job) error {
	if job.Kind != store.KindDerive {
		return nil
	}
	return w.q.SetPhotoReady(ctx, job.Key, troubleGaveUp)
}

// pause is how long to wait after the n-th attempt, n from 1.
func pause(n int) time.Duration {
	p := firstPause
	for ; n > 1 && p < longPause; n-- {
		p *= 2
	}
	return min(p, longPause)
}

// Drain does what is due now, and what that work puts into the queue, and returns: for a command that leaves nobody behind
// to work. What goes on from there is left to the server: it may be work on every photo of the salon. A job that fails
// waits for the next time.
func Drain(ctx context.Context, q Queue, run Runner, opt Options) error {
	if opt.Now == nil {
		opt.Now = time.Now
	}
	if opt.Log == nil {
		opt.Log = slog.Default()
	}
	w := &Workers{q: q, run: run, opt: opt}
	for range 2 {
		now := opt.Now() // what fails is put off until after it, and so is over for this round
		for {
			job, err := q.ClaimJob(ctx, now)
			if err != nil {
				return err
			}
			if job == nil {
				break
			}
			w.one(ctx, *job)
		}
	}
	return nil
}
