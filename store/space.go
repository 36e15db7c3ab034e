package store

import (
	"path/filepath"

	tl "thatch/timeline"
)

// Space is what a disk has room for.
type Space struct {
	FreeBytes int64 // for us, not for the system's administrator only
	DiskBytes int64
}

// Default floor: five hundredths of the disk, at least 16 MiB (a long write-ahead log and the rows of years have room in
// that), at most 256 MiB, and never more than a quarter of a very small disk.
const (
	floorMin = 16 << 20
	floorMax = 256 << 20
)

// floor is how much stays free for logging when photos are refused.
func (s *Store) floor(sp Space) int64 {
	if s.floorBytes != 0 {
		return max(s.floorBytes, 0)
	}
	return min(max(sp.DiskBytes/20, floorMin), floorMax, sp.DiskBytes/4)
}

// room refuses to write a photo where less than the floor, or the given part of it, is free. Where the system does not tell,
// the disk itself will.
func (s *Store) room(op string, part float64) error {
	sp, err := s.fs.Space(filepath.Join(s.dir, incomingDir))
	if err != nil {
		return nil
	}
	floor := int64(float64(s.floor(sp)) * part)
	if sp.FreeBytes >= floor {
		return nil
	}
	return tl.NewFault(tl.NoSpace, "fault.store.floor", "free_mb", int(sp.FreeBytes>>20), "floor_mb", int(max(floor>>20, 1))).At(op)
}

// What is derived from photos that were taken in before is still made when new photos are refused, down to half the floor.
const (
	wholeFloor = 1
	halfFloor  = 0.5
)
