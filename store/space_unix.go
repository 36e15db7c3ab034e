//go:build linux || darwin

package store

import "syscall"

func (osFS) Space(dir string) (Space, error) {
	var st syscall.Statfs_t
	if err := syscall.Statfs(dir, &st); err != nil {
		return Space{}, err
	}
	return Space{FreeBytes: int64(st.Bavail) * int64(st.Bsize), DiskBytes: int64(st.Blocks) * int64(st.Bsize)}, nil
}
