package store

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"path/filepath"
	"slices"

	tl "thatch/timeline"
)

// choose finds the snapshot that was asked for, or the newest whole one.
func (r *restoring) choose() (m Manifest, at string, err error) {
	names, err := snapshotNames(r.FS, r.src)
	if err != nil {
		return m, "", r.noBackup()
	}
	if r.Snapshot != "" {
		for _, name := range names {
			if name == r.Snapshot {
				r.rep.Snapshot = name
				at = filepath.Join(r.src, snapshotsDir, name)
				m, err = loadManifest(r.FS, at)
				return m, at, err
			}
		}
		return m, "", tl.NewFault(tl.NotFound, "fault.restore.no_snapshot", "name", r.Snapshot, "n", len(names)).In("snapshot")
	}
	var first error
	for i := len(names) - 1; i >= 0; i-- {
		at = filepath.Join(r.src, snapshotsDir, names[i])
		if m, err = loadManifest(r.FS, at); err == nil {
			r.rep.Snapshot = names[i]
			return m, at, nil
		}
		if tl.KindOf(err) != tl.Invalid {
			return m, "", err
		}
		r.rep.Interrupted = append(r.rep.Interrupted, names[i])
		if first == nil {
			first = err
		}
	}
	if first == nil { // a folder that was begun and never held one
		first = incomplete(errors.New("no snapshot"))
	}
	return m, "", first
}

// fromFolder copies what the manifest names. What turns out damaged is told, and left out.
func (r *restoring) fromFolder(ctx context.Context, at string, m Manifest) error {
	if err := r.take(ctx, filepath.Join(at, dbName), dbName, m.Database, false); err != nil || len(r.rep.Damaged) > 0 {
		return err
	}
	all := len(m.Photos)
	for i, f := range m.Photos {
		r.Progress(i, all, f.SHA256)
		if err := r.take(ctx, pooled(r.src, f.SHA256), originalFile(f.SHA256), f, false); err != nil {
			return err
		}
	}
	for _, f := range m.Lost { // a later backup may have found it again
		if err := r.take(ctx, pooled(r.src, f.SHA256), originalFile(f.SHA256), f, true); err != nil {
			return err
		}
	}
	r.Progress(all, all, "")
	return nil
}

// take copies one file; maybe: it need not be there.
func (r *restoring) take(ctx context.Context, from, name string, want ManifestFile, maybe bool) error {
	src, err := r.FS.Open(from)
	if err == nil {
		defer src.Close()
		_, err = r.put(ctx, name, src, &want)
	}
	var unread readTrouble
	switch {
	case err == nil:
		return nil
	case errors.Is(err, errOtherBytes), errors.Is(err, fs.ErrNotExist) && src == nil, errors.As(err, &unread):
		if !maybe {
			r.rep.Damaged = append(r.rep.Damaged, name)
		}
		return nil
	}
	return err
}

var errOtherBytes = errors.New("the bytes are not those of the manifest")

// put writes one file of the new folder; want, where it is known, is what it must be.
func (r *restoring) put(ctx context.Context, name string, src io.Reader, want *ManifestFile) (got ManifestFile, err error) {
	w, err := writeFresh(ctx, r.FS, r.incoming(), src)
	if err != nil {
		return got, err
	}
	if want != nil && w.ManifestFile != *want {
		w.drop()
		return got, errOtherBytes
	}
	path := filepath.Join(r.building, filepath.FromSlash(name))
	if err := r.FS.MkdirAll(filepath.Dir(path)); err != nil {
		w.drop()
		return got, err
	}
	r.rep.Bytes += w.Bytes
	return w.ManifestFile, w.moveTo(path)
}

// fromFile unpacks a tar.
func (r *restoring) fromFile(ctx context.Context) (m Manifest, err error) {
	f, err := r.FS.Open(r.src)
	if err != nil {
		return m, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return m, err
	}
	says, err := readTar(ctx, f, info.Size(), func(name string, from io.Reader) (got ManifestFile, err error) {
		r.Progress(int(1000*r.rep.Bytes/max(info.Size(), 1)), 1000, name)
		return r.put(ctx, name, from, nil)
	})
	if err != nil {
		return m, err
	}
	r.Progress(1000, 1000, "")
	r.rep.Damaged = append(r.rep.Damaged, says.damaged...)
	for _, name := range says.damaged {
		if err := r.FS.Remove(filepath.Join(r.building, filepath.FromSlash(name))); err != nil {
			return m, err
		}
	}
	return says.manifest, nil
}

// syncAll makes the names of everything durable, from the innermost folder outwards.
func (r *restoring) syncAll() error {
	shelves, err := r.FS.ReadDir(filepath.Join(r.building, photosDir))
	if err != nil {
		return err
	}
	var dirs []string
	for _, e := range shelves {
		dirs = append(dirs, filepath.Join(r.building, photosDir, e.Name()))
	}
	for _, d := range append(dirs, filepath.Join(r.building, photosDir), r.building) {
		if err := r.FS.SyncDir(d); err != nil {
			return err
		}
	}
	return nil
}

// check reads back what was written, as Verify does; only photos that are known to be lost may be missing.
func (r *restoring) check(ctx context.Context) error {
	found, err := Verify(ctx, r.building, VerifyOptions{FS: r.FS, Progress: r.Progress})
	if err != nil {
		return err
	}
	for _, f := range found.Damage {
		if !slices.Contains(r.rep.Lost, f.File) && !slices.Contains(r.rep.Damaged, f.File) {
			return tl.NewFault(tl.Internal, "fault.restore.unsound", "file", f.File).Because(errors.New(f.Say.String()))
		}
	}
	return nil
}
