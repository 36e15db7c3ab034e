package store

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"path"
	"path/filepath"

	tl "thatch/timeline"
)

// backup reads every photo of a backup folder and holds every snapshot against its manifest.
func (v *verifier) backup(ctx context.Context) error {
	files, err := v.photoFiles()
	if err != nil {
		return err
	}
	pool := map[string]int64{} // hash → bytes of what is whole
	for i, name := range files {
		v.Progress(i, len(files), name)
		got, err := v.hash(ctx, name)
		if err := ctx.Err(); err != nil {
			return err
		}
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		v.Originals, v.Bytes = v.Originals+1, v.Bytes+got.Bytes
		if err != nil || got.SHA256 != path.Base(name) {
			v.wrong(name, "verify.pool.damaged")
			pool[path.Base(name)] = -1
			continue
		}
		pool[got.SHA256] = got.Bytes
	}
	v.Progress(len(files), len(files), "")
	names, err := snapshotNames(v.FS, v.dir)
	if err != nil {
		return err
	}
	missing := map[string]bool{}
	for _, name := range names {
		if err := v.snapshot(ctx, name, pool, missing); err != nil {
			return err
		}
	}
	if len(names) == 0 {
		v.wrong(snapshotsDir, "verify.backup.empty")
	}
	return nil
}

// snapshot holds one against the pool; what is missing is told once.
func (v *verifier) snapshot(ctx context.Context, name string, pool map[string]int64, missing map[string]bool) error {
	at := path.Join(snapshotsDir, name)
	dir := filepath.Join(v.dir, snapshotsDir, name)
	m, err := loadManifest(v.FS, dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		v.note(at, "verify.snapshot.interrupted")
		return nil
	case tl.KindOf(err) == tl.TooNew:
		return err
	case err != nil:
		v.wrong(path.Join(at, manifestName), "verify.snapshot.manifest")
		return nil
	}
	got, err := hashFile(ctx, v.FS, filepath.Join(dir, dbName))
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil || got != m.Database {
		v.wrong(path.Join(at, dbName), "verify.snapshot.database")
		return nil
	}
	v.Snapshots++
	for _, f := range m.Photos {
		if n, ok := pool[f.SHA256]; (!ok || n >= 0 && n != f.Bytes) && !missing[f.SHA256] {
			missing[f.SHA256] = true
			v.wrong(originalFile(f.SHA256), "verify.pool.missing")
		}
	}
	if len(m.Lost) > 0 {
		v.note(at, "verify.snapshot.lost", "n", len(m.Lost))
	}
	return nil
}

// backupFile reads a tar to its end.
func (v *verifier) backupFile(ctx context.Context) error {
	f, err := v.FS.Open(v.dir)
	if err != nil {
		return err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	read := int64(0)
	says, err := readTar(ctx, f, info.Size(), func(name string, r io.Reader) (ManifestFile, error) {
		v.Progress(int(1000*read/max(info.Size(), 1)), 1000, name)
		got, err := hashAll(ctx, io.Discard, markedReader{r})
		read += got.Bytes
		return got, err
	})
	v.Progress(1000, 1000, "")
	if tl.KindOf(err) == tl.Invalid {
		v.wrong(filepath.Base(v.dir), "verify.tar.incomplete")
		return nil
	}
	if err != nil {
		return err
	}
	v.Snapshots, v.Originals, v.Bytes = 1, says.photos, says.bytes
	for _, name := range says.damaged {
		v.wrong(name, "verify.tar.damaged")
	}
	if n := len(says.manifest.Lost); n > 0 {
		v.note(filepath.Base(v.dir), "verify.snapshot.lost", "n", n)
	}
	return nil
}
