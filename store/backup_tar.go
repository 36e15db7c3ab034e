package store

import (
	"archive/tar"
	"bytes"
	"context"
	"errors"
	"io"
	"io/fs"
	"path"
	"path/filepath"
	"time"

	tl "thatch/timeline"
)

// toFile writes one tar under a temporary name and gives it its own when it is whole and durable. A file that is there already
// is never replaced: what has gone bad in the salon since might be good in it.
func (b *backup) toFile(ctx context.Context) error {
	parent := filepath.Dir(b.dest)
	if _, err := b.FS.Stat(parent); errors.Is(err, fs.ErrNotExist) {
		return tl.NewFault(tl.Invalid, "fault.backup.no_parent", "dest", parent).In("dest")
	}
	if _, err := b.FS.Stat(b.dest); !errors.Is(err, fs.ErrNotExist) {
		if err != nil {
			return err
		}
		return tl.NewFault(tl.Conflict, "fault.backup.exists", "dest", b.dest).In("dest")
	}
	part := b.dest + partEnding
	if err := b.FS.MkdirAll(part); err != nil {
		return err
	}
	free, err := lockFile(filepath.Join(part, lockName), true)
	if errors.Is(err, errTaken) {
		return tl.NewFault(tl.Busy, "fault.backup.busy", "dest", b.dest)
	}
	if err != nil {
		return err
	}
	defer free()
	defer removeAll(b.FS, part)
	if err := b.sweepPart(part); err != nil {
		return err
	}
	release, err := holdOriginals(ctx, b.dir)
	if err != nil {
		return err
	}
	defer release()
	snap, err := b.stage(ctx, part)
	if err != nil {
		return err
	}
	defer snap.drop()

	f, err := b.FS.CreateTemp(part)
	if err != nil {
		return err
	}
	err = b.writeTar(ctx, f, snap)
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	if err := b.FS.Rename(f.Name(), b.dest); err != nil {
		return err
	}
	return b.FS.SyncDir(parent)
}

// sweepPart takes away what an interrupted backup to the same file left.
func (b *backup) sweepPart(part string) error {
	entries, err := b.FS.ReadDir(part)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if e.Name() != lockName {
			if err := b.FS.Remove(filepath.Join(part, e.Name())); err != nil {
				return err
			}
		}
	}
	return nil
}

func (b *backup) writeTar(ctx context.Context, to io.Writer, snap snapshot) error {
	w := tar.NewWriter(to)
	db, err := hashFile(ctx, osFS{}, snap.path)
	if err != nil {
		return err
	}
	if err := b.addFile(ctx, w, dbName, snap.path, osFS{}, db); err != nil {
		return err
	}
	var photos, lost []ManifestFile
	for i, f := range snap.photos {
		b.Progress(i, len(snap.photos), f.SHA256)
		// Read twice: what is in a tar cannot be taken out again.
		got, err := hashFile(ctx, b.FS, b.source(f.SHA256))
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil || got != f {
			b.rep.Damaged, lost = append(b.rep.Damaged, damagedOriginal(f.SHA256, err)), append(lost, f)
			continue
		}
		if err := b.addFile(ctx, w, path.Join(photosDir, f.SHA256[:2], f.SHA256), b.source(f.SHA256), b.FS, f); err != nil {
			return err
		}
		photos = append(photos, f)
		b.rep.Bytes += f.Bytes
	}
	b.Progress(len(snap.photos), len(snap.photos), "")
	b.rep.Photos, b.rep.Copied, b.rep.CopyBytes, b.rep.Lost = len(photos), len(photos), b.rep.Bytes, len(lost)
	text, err := b.manifest(snap, db, photos, lost).encode()
	if err != nil {
		return err
	}
	if err := w.WriteHeader(tarHeader(manifestName, int64(len(text)), b.rep.MadeAt)); err != nil {
		return err
	}
	if _, err := io.Copy(w, bytes.NewReader(text)); err != nil {
		return err
	}
	return w.Close()
}

func tarHeader(name string, size int64, at time.Time) *tar.Header {
	return &tar.Header{Typeflag: tar.TypeReg, Name: name, Size: size, Mode: 0o600, ModTime: at.Truncate(time.Second), Format: tar.FormatPAX}
}

// addFile fails where the bytes are not those that were announced.
func (b *backup) addFile(ctx context.Context, w *tar.Writer, name, from string, fsys FS, want ManifestFile) error {
	f, err := fsys.Open(from)
	if err != nil {
		return err
	}
	defer f.Close()
	if err := w.WriteHeader(tarHeader(name, want.Bytes, b.rep.MadeAt)); err != nil {
		return err
	}
	got, err := hashAll(ctx, w, f)
	if err == nil && got != want {
		err = errors.New(name + " changed while it was copied")
	}
	return err
}
