package store

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	tl "thatch/timeline"
)

// rereadNights is in how many nights the whole pool is read again: a photo that has gone bad in the backup is copied anew
// while the salon still has it.
const rereadNights = 30

func (b *backup) toFolder(ctx context.Context) error {
	if err := b.ours(); err != nil {
		return err
	}
	incoming := filepath.Join(b.dest, incomingDir)
	// The folder of snapshots is durable before anything else is there: by it the next backup knows this folder for its own.
	if err := b.FS.MkdirAll(filepath.Join(b.dest, snapshotsDir)); err != nil {
		return err
	}
	for _, d := range []string{filepath.Dir(b.dest), b.dest} {
		if err := b.FS.SyncDir(d); err != nil {
			return err
		}
	}
	for _, d := range []string{filepath.Join(b.dest, photosDir), incoming} {
		if err := b.FS.MkdirAll(d); err != nil {
			return err
		}
	}
	free, err := lockFile(filepath.Join(b.dest, lockName), true)
	if errors.Is(err, errTaken) {
		return tl.NewFault(tl.Busy, "fault.backup.busy", "dest", b.dest)
	}
	if err != nil {
		return err
	}
	defer free()
	if err := b.FS.SyncDir(b.dest); err != nil {
		return err
	}
	if err := b.sweep(); err != nil {
		return err
	}
	known, err := b.lastKnown()
	if err != nil {
		return err
	}
	release, err := holdOriginals(ctx, b.dir)
	if err != nil {
		return err
	}
	defer release()
	snap, err := b.stage(ctx, incoming)
	if err != nil {
		return err
	}
	defer snap.drop()
	photos, lost, err := b.fillPool(ctx, snap.photos, known)
	if err != nil {
		return err
	}
	if err := b.seal(ctx, snap, photos, lost); err != nil {
		return err
	}
	if b.Prune {
		b.rep.Pruned, err = prune(b.FS, b.dest, snap.zone)
	}
	return err
}

// ours refuses a folder that holds something else, and one in a place that is not there: a disk that is not plugged in.
func (b *backup) ours() error {
	entries, err := b.FS.ReadDir(b.dest)
	if errors.Is(err, fs.ErrNotExist) {
		if _, err := b.FS.Stat(filepath.Dir(b.dest)); errors.Is(err, fs.ErrNotExist) {
			return tl.NewFault(tl.Invalid, "fault.backup.no_parent", "dest", filepath.Dir(b.dest)).In("dest")
		}
		return nil
	}
	if err != nil {
		return err
	}
	for _, e := range entries {
		if e.Name() == snapshotsDir && e.IsDir() {
			return nil
		}
	}
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), ".") {
			return tl.NewFault(tl.Invalid, "fault.backup.not_empty", "dest", b.dest).In("dest")
		}
	}
	return nil
}

// sweep takes away what an interrupted backup left. Nobody else is at it: the lock is held.
func (b *backup) sweep() error {
	incoming := filepath.Join(b.dest, incomingDir)
	entries, err := b.FS.ReadDir(incoming)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), tempPrefix) {
			if err := b.FS.Remove(filepath.Join(incoming, e.Name())); err != nil {
				return err
			}
		}
	}
	names, err := snapshotNames(b.FS, b.dest)
	if err != nil {
		return err
	}
	for _, name := range names {
		dir := filepath.Join(b.dest, snapshotsDir, name)
		if _, err := b.FS.Stat(filepath.Join(dir, manifestName)); errors.Is(err, fs.ErrNotExist) {
			if err := removeAll(b.FS, dir); err != nil {
				return err
			}
		}
	}
	return nil
}

// lastKnown are the photos that the last whole snapshot names: they are in the pool as they should be.
func (b *backup) lastKnown() (map[string]bool, error) {
	known := map[string]bool{}
	names, err := snapshotNames(b.FS, b.dest)
	if err != nil {
		return nil, err
	}
	for i := len(names) - 1; i >= 0; i-- {
		m, err := loadManifest(b.FS, filepath.Join(b.dest, snapshotsDir, names[i]))
		if err != nil {
			continue // the next older one is as good for this
		}
		for _, f := range m.Photos {
			known[f.SHA256] = true
		}
		break
	}
	return known, nil
}

// fillPool copies what is not in the pool yet, and makes it durable.
func (b *backup) fillPool(ctx context.Context, want []ManifestFile, known map[string]bool) (photos, lost []ManifestFile, err error) {
	tonight := b.rep.MadeAt.YearDay() % rereadNights
	touched := map[string]bool{}
	for i, f := range want {
		if err := ctx.Err(); err != nil {
			return nil, nil, err
		}
		b.Progress(i, len(want), f.SHA256)
		path := pooled(b.dest, f.SHA256)
		first, _ := strconv.ParseUint(f.SHA256[:2], 16, 8)
		if b.inPool(ctx, path, f, known[f.SHA256] && int(first)%rereadNights != tonight) {
			photos = append(photos, f)
			b.rep.Bytes += f.Bytes
			if !known[f.SHA256] { // left by a backup that was killed, perhaps before its name was durable
				touched[filepath.Dir(path)] = true
			}
			if info, err := b.FS.Stat(b.source(f.SHA256)); err != nil || info.Size() != f.Bytes {
				b.rep.Damaged = append(b.rep.Damaged, damagedOriginal(f.SHA256, err))
			}
			continue
		}
		ok, err := b.copyPhoto(ctx, f, path, touched)
		switch {
		case err != nil:
			return nil, nil, err
		case ok:
			photos = append(photos, f)
			b.rep.Bytes, b.rep.CopyBytes, b.rep.Copied = b.rep.Bytes+f.Bytes, b.rep.CopyBytes+f.Bytes, b.rep.Copied+1
		default:
			lost = append(lost, f)
		}
	}
	for dir := range touched {
		if err := b.FS.SyncDir(dir); err != nil {
			return nil, nil, err
		}
	}
	if err := b.FS.SyncDir(filepath.Join(b.dest, photosDir)); err != nil {
		return nil, nil, err
	}
	b.Progress(len(want), len(want), "")
	b.rep.Photos, b.rep.Lost = len(photos), len(lost)
	return photos, lost, nil
}

func (b *backup) inPool(ctx context.Context, path string, f ManifestFile, trusted bool) bool {
	info, err := b.FS.Stat(path)
	if err != nil || info.Size() != f.Bytes {
		return false
	}
	if trusted {
		return true
	}
	got, err := hashFile(ctx, b.FS, path)
	return err == nil && got == f
}

// copyPhoto is not ok, and no error, where the original is damaged: what the pool has under its name stays.
func (b *backup) copyPhoto(ctx context.Context, f ManifestFile, path string, touched map[string]bool) (ok bool, err error) {
	src, err := b.FS.Open(b.source(f.SHA256))
	if err != nil {
		b.rep.Damaged = append(b.rep.Damaged, damagedOriginal(f.SHA256, err))
		return false, nil
	}
	w, err := writeFresh(ctx, b.FS, filepath.Join(b.dest, incomingDir), src)
	src.Close()
	var unread readTrouble
	if errors.As(err, &unread) || err == nil && w.ManifestFile != f {
		if err == nil {
			w.drop()
		}
		b.rep.Damaged = append(b.rep.Damaged, damagedOriginal(f.SHA256, err))
		return false, nil
	}
	if err != nil {
		return false, err
	}
	if !touched[filepath.Dir(path)] {
		if err := b.FS.MkdirAll(filepath.Dir(path)); err != nil {
			w.drop()
			return false, err
		}
		touched[filepath.Dir(path)] = true
	}
	return true, w.moveTo(path)
}

// seal puts database and manifest into the snapshot's folder, the manifest last.
func (b *backup) seal(ctx context.Context, snap snapshot, photos, lost []ManifestFile) error {
	incoming := filepath.Join(b.dest, incomingDir)
	dir, err := b.newSnapshotDir()
	if err != nil {
		return err
	}
	src, err := osFS{}.Open(snap.path) // SQLite wrote it: it is not the seam's
	if err != nil {
		return err
	}
	defer src.Close()
	db, err := writeFresh(ctx, b.FS, incoming, src)
	if err != nil {
		return err
	}
	if err := db.moveTo(filepath.Join(dir, dbName)); err != nil {
		return err
	}
	if err := b.FS.SyncDir(dir); err != nil {
		return err
	}
	text, err := b.manifest(snap, db.ManifestFile, photos, lost).encode()
	if err != nil {
		return err
	}
	m, err := writeFresh(ctx, b.FS, incoming, bytes.NewReader(text))
	if err != nil {
		return err
	}
	if err := m.moveTo(filepath.Join(dir, manifestName)); err != nil {
		return err
	}
	return b.FS.SyncDir(dir)
}

// snapshotLayout is a time that every file system takes as a name and that is in order as text.
const snapshotLayout = "2006-01-02T15-04-05.000Z"

func (b *backup) newSnapshotDir() (string, error) {
	for at := b.rep.MadeAt; ; at = at.Add(time.Millisecond) {
		name := at.Format(snapshotLayout)
		dir := filepath.Join(b.dest, snapshotsDir, name)
		if _, err := b.FS.Stat(dir); !errors.Is(err, fs.ErrNotExist) {
			if err != nil {
				return "", err
			}
			continue
		}
		b.rep.Snapshot, b.rep.MadeAt = name, at
		if err := b.FS.MkdirAll(dir); err != nil {
			return "", err
		}
		return dir, b.FS.SyncDir(filepath.Dir(dir))
	}
}

// snapshotNames are the snapshots of a backup folder, whole or not, oldest first.
func snapshotNames(fsys FS, dest string) ([]string, error) {
	entries, err := fsys.ReadDir(filepath.Join(dest, snapshotsDir))
	if err != nil {
		return nil, err
	}
	var out []string
	for _, e := range entries { // ReadDir sorts
		if _, err := time.Parse(snapshotLayout, e.Name()); err == nil && e.IsDir() {
			out = append(out, e.Name())
		}
	}
	return out, nil
}

// loadManifest reads the manifest of a snapshot's folder; without one the backup was interrupted.
func loadManifest(fsys FS, dir string) (Manifest, error) {
	f, err := fsys.Open(filepath.Join(dir, manifestName))
	if errors.Is(err, fs.ErrNotExist) {
		return Manifest{}, incomplete(err)
	}
	if err != nil {
		return Manifest{}, err
	}
	defer f.Close()
	return readManifest(f)
}
