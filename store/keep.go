package store

import (
	"context"
	"errors"
	"io/fs"
	"path/filepath"

	tl "thatch/timeline"
)

var (
	insertOriginal = query(`INSERT INTO original (sha256, bytes, format, width_px, height_px, orientation, camera, has_gps, icc, file_moment, suggest_moment, focal_px, marker, added_at)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`)
	countOriginal = query(`SELECT count(*) FROM original WHERE sha256 = ?`)
	insertPhoto   = query(`INSERT INTO photo (id, rev, dog, sha256, file, session, taken_at, taken_local, offset_min, offset_known, taken_source, taken_flags,
		phase, phase_said, side, coat_state, facing, width_px, height_px, ready, trouble, tape, added_at)
		VALUES (?, 1, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`)
)

// KeepPhoto keeps file, original, photo and jobs in one durable step: file in its place, name durable, rows committed, in
// this order, so that no row ever names a file that is not there. When it returns without error nothing is lost by a
// crash; when it returns an error nothing is seen.
//
// A photo that the dog has already is returned as it is kept, already true; from the trash it comes back. ID, Rev, SHA256,
// Added are filled in. In the heap it waits no longer. The Incoming is used up if there was no error, else still the
// caller's to discard.
func (s *Store) KeepPhoto(ctx context.Context, in *Incoming, o tl.Original, p tl.Photo, jobs []Job) (photo tl.Photo, already bool, err error) {
	p.SHA256 = in.SHA256
	err = s.keepFile(ctx, "keep photo "+in.SHA256, in, o, func(t tx) error {
		photo, already, err = s.putPhoto(t, p, jobs)
		t.remark.key = photo.ID
		return err
	})
	if err != nil {
		return tl.Photo{}, false, err
	}
	return photo, already, nil
}

// keepFile puts a received file in its place and its original into its row; then adds the row that names it.
func (s *Store) keepFile(ctx context.Context, op string, in *Incoming, o tl.Original, then func(tx) error) error {
	if in.gone {
		return fault(op, errors.New("the file was kept or discarded before"))
	}
	o.SHA256, o.Bytes = in.SHA256, in.Bytes
	rows := func(t tx, known int) error {
		if known == 0 {
			if err := putOriginal(t, o, stamp(s.now())); err != nil {
				return err
			}
		}
		return then(t)
	}
	if planted {
		if done, err := s.keepWrong(ctx, op, in, func(t tx) error { return rows(t, 0) }); done {
			return err
		}
	}
	fresh := false // this call put the file in its place
	err := s.write(ctx, op, func(t tx) (err error) {
		var known int
		if err := t.row(countOriginal, in.SHA256).Scan(&known); err != nil {
			return err
		}
		if fresh, err = s.place(in, known > 0); err != nil {
			return err
		}
		return rows(t, known)
	})
	if err != nil {
		if fresh {
			s.unplace(context.WithoutCancel(ctx), in.SHA256)
		}
		return err
	}
	s.wake()
	if !in.gone {
		_ = in.Discard() // a second copy of bytes that are safe
	}
	return nil
}

// putPhoto puts an original that is kept onto its dog's timeline.
func (s *Store) putPhoto(t tx, p tl.Photo, jobs []Job) (photo tl.Photo, already bool, err error) {
	now := s.now()
	photo, err = photoBySHA(t, p.Dog, p.SHA256)
	switch {
	case err == nil:
		already = true
		if !photo.Trashed.IsZero() {
			if _, err := t.exec(photos.restore, photo.ID); err != nil {
				return photo, already, err
			}
		}
	case tl.KindOf(err) == tl.NotFound:
		p.ID = newID()
		tape, err := tapeJSON(p.Tape)
		if err != nil {
			return photo, false, err
		}
		if _, err := t.exec(insertPhoto, append(append([]any{p.ID, p.Dog, p.SHA256}, photoValues(p)...), p.Ready, p.Trouble, tape, stamp(now))...); err != nil {
			return photo, false, err
		}
		if err := putLandmarks(t, p.ID, p.Landmarks); err != nil {
			return photo, false, err
		}
	default:
		return photo, false, err
	}
	if !already || !photo.Ready {
		if err := enqueue(t, now, jobs); err != nil {
			return photo, already, err
		}
	}
	if _, err := t.exec(dropFromHeap, p.SHA256); err != nil {
		return photo, already, err
	}
	photo, err = photoBySHA(t, p.Dog, p.SHA256)
	return photo, already, err
}

func (s *Store) originalPath(sha string) string {
	return filepath.Join(s.dir, photosDir, sha[:2], sha)
}

// place moves the file under its name and makes the name durable. Under the write lock nobody else places or unplaces.
// Where a row vouches for a file that is there, and its bytes still have their hash, nothing is to be done; anything else is
// (re)placed: the bytes under one name are always the same. So a photo that has gone bad is healed by handing it in again.
func (s *Store) place(in *Incoming, known bool) (moved bool, err error) {
	path := s.originalPath(in.SHA256)
	if known {
		info, err := s.fs.Stat(path)
		if err == nil && info.Size() == in.Bytes {
			if got, err := hashFile(context.Background(), s.fs, path); err == nil && got.SHA256 == in.SHA256 {
				return false, nil
			}
		}
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return false, err
		}
	}
	dir := filepath.Dir(path)
	if err := s.fs.MkdirAll(dir); err != nil {
		return false, err
	}
	if err := s.fs.SyncDir(filepath.Dir(dir)); err != nil {
		return false, err
	}
	if err := in.file.Close(); err != nil && !errors.Is(err, fs.ErrClosed) {
		return false, err // Windows does not rename an open file
	}
	if err := s.fs.Rename(in.name, path); err != nil {
		return false, err
	}
	in.gone = true
	return true, s.fs.SyncDir(dir)
}

// unplace takes back a file that no row came to name. If that cannot be done now, a file without a row is left: seen by
// nobody, and taken over when the same photo comes again.
func (s *Store) unplace(ctx context.Context, sha string) {
	_ = s.write(ctx, "unplace "+sha, func(t tx) error {
		var known int
		if err := t.row(countOriginal, sha).Scan(&known); err != nil || known > 0 {
			return err
		}
		return s.fs.Remove(s.originalPath(sha))
	})
}

func putOriginal(t tx, o tl.Original, added string) error {
	look, err := lookJSON(o.Marker)
	if err != nil {
		return err
	}
	_, err = t.exec(insertOriginal, o.SHA256, o.Bytes, o.Format, o.WidthPX, o.HeightPX, o.Orientation, o.Camera, o.HasGPS, o.ICC,
		asJSON(o.ExifMoment), asJSON(o.SuggestMoment), o.FocalPX, look, added)
	return err
}
