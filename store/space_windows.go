package store

import "golang.org/x/sys/windows"

func (osFS) Space(dir string) (Space, error) {
	name, err := windows.UTF16PtrFromString(dir)
	if err != nil {
		return Space{}, err
	}
	var free, disk uint64
	if err := windows.GetDiskFreeSpaceEx(name, &free, &disk, nil); err != nil {
		return Space{}, err
	}
	return Space{FreeBytes: int64(free), DiskBytes: int64(disk)}, nil
}
