// Package backups makes the nightly backup: when one is due, and again after a failure, and after a night in which the
// program did not run.
//
// It owns when. What a backup is and how it went the salon knows; that it is whole, the store sees to.
package backups

import (
	"context"
	"fmt"
	"log/slog"
	"runtime/debug"
	"time"

	"thatch/server/salon"
	"thatch/store"
	"thatch/timeline"
)

// Salon is who is copied; *salon.Salon is one.
type Salon interface {
	Backups(ctx context.Context) (salon.BackupState, error)
	BackupNow(ctx context.Context) (store.BackupRun, error)
}

// Options of Start; the zero Options are those of production.
type Options struct {
	Now  func() time.Time // nil: time.Now
	Look time.Duration    // how often to look whether one is due, and how long to let the start pass first; 0: a minute
	Log  *slog.Logger     // nil: slog.Default
}

// A backup that failed is tried again after firstPause, then twice as long each time up to longPause.
const (
	firstPause = 15 * time.Minute
	longPause  = 4 * time.Hour
)

// Keeper is at work until Stop.
type Keeper struct {
	salon Salon
	opt   Options
	stop  context.CancelFunc
	done  chan struct{}

	failures int
	notYet   time.Time
}

// Start looks after the backups until ctx ends or Stop is called.
func Start(ctx context.Context, s Salon, opt Options) *Keeper {
	if opt.Now == nil {
		opt.Now = time.Now
	}
	if opt.Look <= 0 {
		opt.Look = time.Minute
	}
	if opt.Log == nil {
		opt.Log = slog.Default()
	}
	ctx, stop := context.WithCancel(ctx)
	k := &Keeper{salon: s, opt: opt, stop: stop, done: make(chan struct{})}
	go k.loop(ctx)
	return k
}

// Stop interrupts a backup that is being made, which leaves none, and returns when nobody works any more.
func (k *Keeper) Stop() {
	k.stop()
	<-k.done
}

func (k *Keeper) loop(ctx context.Context) {
	defer close(k.done)
	tick := time.NewTicker(k.opt.Look)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			k.look(ctx)
		}
	}
}

// look makes a backup if one is due.
func (k *Keeper) look(ctx context.Context) {
	now := k.opt.Now()
	if now.Before(k.notYet) {
		return
	}
	state, err := k.salon.Backups(ctx)
	// What is due at once is due at the moment at which it was asked, which is later than now.
	if err == nil && (state.Plan.Dest == "" || state.Next.After(k.opt.Now())) {
		return
	}
	var run store.BackupRun
	if err == nil {
		run, err = k.try(ctx)
	}
	switch {
	case ctx.Err() != nil:
	case err != nil:
		k.failures++
		k.notYet = now.Add(pause(k.failures))
		k.opt.Log.Error("backups: to be tried again", "dest", state.Plan.Dest, "at", k.notYet, "error", err)
	default:
		k.failures, k.notYet = 0, time.Time{}
		k.opt.Log.Info("backups: done", "dest", run.Dest, "snapshot", run.Snapshot, "photos", run.Photos, "copied", run.Copied, "damaged", run.Damaged)
	}
}

// try makes one; a panic is its failure, not the program's.
func (k *Keeper) try(ctx context.Context) (run store.BackupRun, err error) {
	defer func() {
		if v := recover(); v != nil {
			err = timeline.NewFault(timeline.Internal, "fault.store.trouble").Because(fmt.Errorf("panic: %v\n%s", v, debug.Stack()))
		}
	}()
	return k.salon.BackupNow(ctx)
}

// pause is how long to wait after the n-th failure, n from 1.
func pause(n int) time.Duration {
	p := firstPause
	for ; n > 1 && p < longPause; n-- {
		p *= 2
	}
	return min(p, longPause)
}
