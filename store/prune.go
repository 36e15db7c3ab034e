package store

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"time"
)

// How many snapshots are kept: the last one of each of so many days, weeks and months that have any.
const (
	keepDaily   = 7
	keepWeekly  = 4
	keepMonthly = 12
)

// kept says which of the times stay, days being those of the zone. times are oldest first; the newest always stays.
func kept(times []time.Time, zone *time.Location) []bool {
	stays := make([]bool, len(times))
	for _, rule := range []struct {
		most int
		of   func(time.Time) string
	}{
		{keepDaily, func(t time.Time) string { return t.Format(time.DateOnly) }},
		{keepWeekly, func(t time.Time) string { y, w := t.ISOWeek(); return fmt.Sprintf("%04d-%02d", y, w) }},
		{keepMonthly, func(t time.Time) string { return t.Format("2006-01") }},
	} {
		last, n := "", 0
		for i := len(times) - 1; i >= 0 && n < rule.most; i-- {
			if of := rule.of(times[i].In(zone)); of != last {
				last, n, stays[i] = of, n+1, true
			}
		}
	}
	return stays
}

// prune throws away the snapshots that are not kept, then the photos that no snapshot names any more. The caller holds the
// backup's lock.
//
// A snapshot's manifest goes first, and durably: a power cut never leaves a backup that passes for whole and lacks its photos.
// Where any manifest that stays cannot be read, no photo goes.
func prune(fsys FS, dest string, zone *time.Location) (gone []string, err error) {
	gone = []string{}
	names, err := snapshotNames(fsys, dest)
	if err != nil {
		return gone, err
	}
	times := make([]time.Time, len(names))
	for i, name := range names {
		if _, err := loadManifest(fsys, filepath.Join(dest, snapshotsDir, name)); err != nil {
			return gone, nil // damaged, or of a newer program: not ours to judge, and nothing goes
		}
		if times[i], err = time.Parse(snapshotLayout, name); err != nil {
			return gone, err
		}
	}
	var stay []string
	for i, stays := range kept(times, zone) {
		if stays {
			stay = append(stay, names[i])
		} else {
			gone = append(gone, names[i])
		}
	}
	if len(gone) == 0 {
		return gone, nil
	}
	named := map[string]bool{}
	for _, name := range stay {
		m, err := loadManifest(fsys, filepath.Join(dest, snapshotsDir, name))
		if err != nil {
			return []string{}, err
		}
		for _, f := range m.Photos {
			named[f.SHA256] = true
		}
	}
	for _, name := range gone {
		dir := filepath.Join(dest, snapshotsDir, name)
		if err := fsys.Remove(filepath.Join(dir, manifestName)); err != nil {
			return gone, err
		}
		if err := fsys.SyncDir(dir); err != nil {
			return gone, err
		}
		if err := removeAll(fsys, dir); err != nil {
			return gone, err
		}
	}
	return gone, unpool(fsys, dest, named)
}

// unpool throws away the photos that are not named.
func unpool(fsys FS, dest string, named map[string]bool) error {
	pool := filepath.Join(dest, photosDir)
	shelves, err := fsys.ReadDir(pool)
	if err != nil {
		return err
	}
	for _, shelf := range shelves {
		if !shelf.IsDir() {
			continue
		}
		files, err := fsys.ReadDir(filepath.Join(pool, shelf.Name()))
		if err != nil {
			return err
		}
		for _, f := range files {
			if !shaShape.MatchString(f.Name()) || named[f.Name()] {
				continue
			}
			if err := fsys.Remove(filepath.Join(pool, shelf.Name(), f.Name())); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return err
			}
		}
	}
	return nil
}
