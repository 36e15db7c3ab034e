package store

import (
	"errors"
	"syscall"
)

// lockFile takes the lock that a file stands for, shared or alone, without waiting; errTaken where somebody else has it. The
// way the file is opened is the lock: the system gives it back when the process dies, however it dies.
func lockFile(name string, alone bool) (release func(), err error) {
	path, err := syscall.UTF16PtrFromString(name)
	if err != nil {
		return nil, err
	}
	access, share := uint32(syscall.GENERIC_READ), uint32(syscall.FILE_SHARE_READ)
	if alone {
		access, share = syscall.GENERIC_READ|syscall.GENERIC_WRITE, 0
	}
	h, err := syscall.CreateFile(path, access, share, nil, syscall.OPEN_ALWAYS, syscall.FILE_ATTRIBUTE_NORMAL, 0)
	if err != nil {
		const sharingViolation = syscall.Errno(32)
		if errors.Is(err, sharingViolation) {
			err = errTaken
		}
		return nil, err
	}
	return func() { _ = syscall.CloseHandle(h) }, nil
}
