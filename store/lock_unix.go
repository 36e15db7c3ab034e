//go:build !windows

package store

import (
	"errors"
	"os"
	"syscall"
)

// lockFile takes the lock that a file stands for, shared or alone, without waiting; errTaken where somebody else has it. The
// system gives it back when the process dies, however it dies: no heartbeat, no stale lock, no clock.
func lockFile(name string, alone bool) (release func(), err error) {
	f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, err
	}
	how := syscall.LOCK_SH
	if alone {
		how = syscall.LOCK_EX
	}
	if err := syscall.Flock(int(f.Fd()), how|syscall.LOCK_NB); err != nil {
		f.Close()
		if errors.Is(err, syscall.EWOULDBLOCK) {
			err = errTaken
		}
		return nil, err
	}
	return func() { f.Close() }, nil
}
