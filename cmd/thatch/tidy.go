package main

import (
	"context"
	"log/slog"
	"sync"
	"time"

	"thatch/store"
)

// Housekeeping is done at the start and once a day; when a backup was in its way, an hour later.
const (
	tidyEvery = 24 * time.Hour
	tidyLater = time.Hour
)

// keepTidy empties the trash of what is old in it, until stop is called.
func keepTidy(ctx context.Context, st *store.Store, log *slog.Logger) (stop func()) {
	ctx, cancel := context.WithCancel(ctx)
	var done sync.WaitGroup
	done.Go(func() {
		for {
			wait := tidyEvery
			did, err := st.Tidy(ctx)
			switch {
			case ctx.Err() != nil:
				return
			case err != nil:
				log.Warn("housekeeping: to be tried again", "error", err)
				wait = tidyLater
			case did.Later:
				wait = tidyLater
			case did.Things+did.Originals+did.Kept > 0:
				log.Info("housekeeping: the trash was emptied", "things", did.Things, "files", did.Originals, "kept_for_others", did.Kept)
			}
			select {
			case <-time.After(wait):
			case <-ctx.Done():
				return
			}
		}
	})
	return func() { cancel(); done.Wait() }
}
