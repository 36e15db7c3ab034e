package store

import (
	"context"
	"errors"
	"path/filepath"
	"time"
)

// A backup copies the originals that its snapshot names, after the snapshot was taken. Until it is done none of them may be
// thrown away, by this process or by another one. The lock of one file says so: a backup shares it, who throws originals away
// must have it alone, and takes it before the rows are deleted. So a purge is either over when the snapshot is taken, which
// then does not name what is gone; or it does not begin before the backup is done.
const holdName = "originals.hold"

// holdPatience is how long a backup waits for a purge, which is short.
const holdPatience = 30 * time.Second

var errTaken = errors.New("somebody else has the lock")

// HoldOriginals keeps every original from being thrown away until release is called.
func (s *Store) HoldOriginals(ctx context.Context) (release func(), err error) {
	return holdOriginals(ctx, s.dir)
}

func holdOriginals(ctx context.Context, dir string) (release func(), err error) {
	const op = "hold originals"
	for began := time.Now(); ; {
		release, err = lockFile(filepath.Join(dir, holdName), false)
		switch {
		case err == nil:
			return release, nil
		case !errors.Is(err, errTaken):
			// A folder that cannot be written to, or has no room for an empty file, is backed up all the same: nobody purges
			// there either, for that needs the same file.
			return func() {}, nil
		case time.Since(began) > holdPatience:
			return nil, fault(op, err)
		}
		select {
		case <-ctx.Done():
			return nil, fault(op, ctx.Err())
		case <-time.After(20 * time.Millisecond):
		}
	}
}

// mayDiscard is asked before rows of originals are deleted and their files thrown away, and its release called when the last
// file is gone. Not ok: a backup is copying; try again later.
func (s *Store) mayDiscard() (release func(), ok bool) {
	release, err := lockFile(filepath.Join(s.dir, holdName), true)
	if err != nil {
		return nil, false
	}
	return release, true
}
