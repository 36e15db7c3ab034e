package store

import (
	"context"
	"database/sql"
	"errors"
	"math"
	"strings"

	tl "thatch/timeline"
)

// A photo whose session is in the trash reads as unpaired; restored, the session has its photos again.
const selectPhotoFrom = `SELECT p.id, p.rev, p.dog, p.sha256, p.file, s.id, p.taken_at, p.taken_local, p.offset_min, p.offset_known, p.taken_source, p.taken_flags,
	p.phase, p.phase_said, p.side, p.coat_state, p.facing, p.width_px, p.height_px, p.ready, p.trouble, p.tape, p.added_at, p.trashed_at
	FROM photo p LEFT JOIN session s ON s.id = p.session AND s.trashed_at IS NULL`

var (
	camerasOf        = query(`SELECT o.sha256, o.camera FROM photo p JOIN original o ON o.sha256 = p.sha256 WHERE p.dog = ? AND p.trashed_at IS NULL AND o.camera <> ''`)
	selectPhoto      = query(selectPhotoFrom + ` WHERE p.id = ?`)
	selectPhotoBySHA = query(selectPhotoFrom + ` WHERE p.dog = ? AND p.sha256 = ?`)
	selectPhotos     = query(selectPhotoFrom + ` WHERE p.dog = ? AND p.trashed_at IS NULL ORDER BY p.taken_local = '', p.taken_local, p.added_at, p.rowid`)
	updatePhoto      = query(`UPDATE photo SET rev = rev + 1, dog = ?, file = ?, session = ?, taken_at = ?, taken_local = ?, offset_min = ?, offset_known = ?, taken_source = ?, taken_flags = ?,
		phase = ?, phase_said = ?, side = ?, coat_state = ?, facing = ?, width_px = ?, height_px = ?
		WHERE id = ? AND rev = ? AND trashed_at IS NULL`)
	bumpPhoto       = query(`UPDATE photo SET rev = rev + 1 WHERE id = ? AND rev = ? AND trashed_at IS NULL`)
	setReady        = query(`UPDATE photo SET ready = ?, trouble = ? WHERE sha256 = ?`)
	deleteLandmarks = query(`DELETE FROM landmark WHERE photo = ?`)
	insertLandmark  = query(`INSERT INTO landmark (photo, point, x_px, y_px) VALUES (?, ?, ?, ?)`)
	selectLandmarks = query(`SELECT photo, point, x_px, y_px FROM landmark WHERE photo = ?`)
	landmarksOfDog  = query(`SELECT l.photo, l.point, l.x_px, l.y_px FROM landmark l JOIN photo p ON p.id = l.photo WHERE p.dog = ? AND p.trashed_at IS NULL`)
	selectOriginal  = query(`SELECT sha256, bytes, format, width_px, height_px, orientation, camera, has_gps, icc, file_moment, suggest_moment, focal_px, marker, added_at FROM original WHERE sha256 = ?`)
)

func scanPhoto(r scanner) (p tl.Photo, err error) {
	m := &p.Moment
	err = r.Scan(&p.ID, &p.Rev, &p.Dog, &p.SHA256, &p.File, maybe[tl.ID]{&p.Session}, at{&m.Instant}, &m.Local, &m.OffsetMinutes, &m.OffsetKnown, &m.Source, inJSON{&m.Flags},
		&p.Phase, &p.PhaseSaid, &p.Side, &p.CoatState, &p.Facing, &p.WidthPX, &p.HeightPX, &p.Ready, &p.Trouble, inJSON{&p.Tape}, at{&p.Added}, at{&p.Trashed})
	if errors.Is(err, sql.ErrNoRows) {
		err = notFound("photo")
	}
	p.Landmarks = tl.Landmarks{}
	return p, err
}

// photoValues are the columns from file to height_px.
func photoValues(p tl.Photo) []any {
	m := p.Moment
	if m.Source == "" {
		m.Source = tl.SourceNone
	}
	if m.Flags == nil {
		m.Flags = []string{}
	}
	return []any{p.File, orNull(p.Session), nullStamp(m.Instant), m.Local, m.OffsetMinutes, m.OffsetKnown, m.Source, asJSON(m.Flags),
		p.Phase, p.PhaseSaid, p.Side, p.CoatState, p.Facing, p.WidthPX, p.HeightPX}
}

func photo(t tx, q *stmt, args ...any) (tl.Photo, error) {
	p, err := scanPhoto(t.row(q, args...))
	if err != nil {
		return tl.Photo{}, err
	}
	return p, landmarks(t, func(tl.ID) tl.Landmarks { return p.Landmarks }, repeated{}, selectLandmarks, p.ID)
}

func photoBySHA(t tx, dog tl.ID, sha string) (tl.Photo, error) {
	return photo(t, selectPhotoBySHA, dog, sha)
}

func landmarks(t tx, of func(photo tl.ID) tl.Landmarks, words repeated, q *stmt, id tl.ID) error {
	return t.each(func(r scanner) error {
		var photo tl.ID
		var point tl.Point
		var xy tl.XY
		if err := r.Scan(&photo, &point, &xy.X, &xy.Y); err != nil {
			return err
		}
		of(photo)[one(words, point)] = xy
		return nil
	}, q, id)
}

func checkLandmarks(lm tl.Landmarks) error {
	for point, xy := range lm {
		if !point.Known() {
			return tl.NewFault(tl.Invalid, "fault.store.point_unknown", "point", string(point)).In("landmarks")
		}
		if sum := xy.X + xy.Y; math.IsNaN(sum) || math.IsInf(sum, 0) {
			return tl.NewFault(tl.Invalid, "fault.store.point_place", "point", point).In("landmarks." + string(point))
		}
	}
	return nil
}

func putLandmarks(t tx, photo tl.ID, lm tl.Landmarks) error {
	if err := checkLandmarks(lm); err != nil {
		return err
	}
	if _, err := t.exec(deleteLandmarks, photo); err != nil {
		return err
	}
	for point, xy := range lm {
		if _, err := t.exec(insertLandmark, photo, point, xy.X, xy.Y); err != nil {
			return err
		}
	}
	return nil
}

// Photo also finds a photo in the trash.
func (s *Store) Photo(ctx context.Context, id tl.ID) (p tl.Photo, err error) {
	err = s.read(ctx, "photo "+string(id), func(t tx) (err error) { p, err = photo(t, selectPhoto, id); return })
	return
}

// PhotoBySHA finds the dog's photo of that original, unless it is in the trash.
func (s *Store) PhotoBySHA(ctx context.Context, dog tl.ID, sha string) (p tl.Photo, err error) {
	err = s.read(ctx, "photo "+sha, func(t tx) error {
		p, err = photoBySHA(t, dog, sha)
		if err == nil && !p.Trashed.IsZero() {
			p, err = tl.Photo{}, notFound("photo")
		}
		return err
	})
	return
}

// Photos of a dog by local time, then by when they were added; those without a date last.
func (s *Store) Photos(ctx context.Context, dog tl.ID) ([]tl.Photo, error) {
	out := []tl.Photo{}
	err := s.read(ctx, "photos of "+string(dog), func(t tx) error {
		place := map[tl.ID]tl.Landmarks{}
		words := repeated{}
		err := t.each(func(r scanner) error {
			p, err := scanPhoto(r)
			p.Dog, p.Session, p.Moment.Source = one(words, p.Dog), one(words, p.Session), one(words, p.Moment.Source)
			p.Phase, p.Side, p.CoatState, p.Facing = one(words, p.Phase), one(words, p.Side), one(words, p.CoatState), one(words, p.Facing)
			place[p.ID] = p.Landmarks
			out = append(out, p)
			return err
		}, selectPhotos, dog)
		if err != nil {
			return err
		}
		return landmarks(t, func(id tl.ID) tl.Landmarks { return place[id] }, words, landmarksOfDog, dog)
	})
	inOnePiece(out)
	return out, err
}

// inOnePiece lays the texts of many photos one behind the other: what is read of a dog's photos is kept for long, and a
// collector that looks at four pieces for each of 100,000 keeps pages waiting.
func inOnePiece(ps []tl.Photo) {
	var all strings.Builder
	for i := range ps {
		p := &ps[i]
		for _, s := range []string{string(p.ID), p.SHA256, p.File, p.Moment.Local} {
			all.WriteString(s)
		}
	}
	text := strings.Clone(all.String()) // not as long as it grew, but as it is
	cut := func(n int) string {
		piece := text[:n]
		text = text[n:]
		return piece
	}
	for i := range ps {
		p := &ps[i]
		p.ID, p.SHA256, p.File, p.Moment.Local = tl.ID(cut(len(p.ID))), cut(len(p.SHA256)), cut(len(p.File)), cut(len(p.Moment.Local))
	}
}

// repeated are words that stand in many rows, each kept once.
type repeated map[string]string

func one[T ~string](words repeated, v T) T {
	if same, ok := words[string(v)]; ok {
		return T(same)
	}
	words[string(v)] = string(v)
	return v
}

// UpdatePhoto changes everything but SHA256, Landmarks, Tape, Ready, Trouble, Added and Trashed.
func (s *Store) UpdatePhoto(ctx context.Context, p tl.Photo) (tl.Photo, error) {
	ps, err := s.UpdatePhotos(ctx, []tl.Photo{p})
	if err != nil {
		return tl.Photo{}, err
	}
	return ps[0], nil
}

// UpdatePhotos changes all or none.
func (s *Store) UpdatePhotos(ctx context.Context, ps []tl.Photo) ([]tl.Photo, error) {
	out := make([]tl.Photo, len(ps))
	err := s.write(ctx, "update photos", func(t tx) error {
		for i, p := range ps {
			t.remark.key = p.ID
			n, err := t.exec(updatePhoto, append(append([]any{p.Dog}, photoValues(p)...), p.ID, p.Rev)...)
			switch {
			case isUnique(err):
				return tl.NewFault(tl.Conflict, "fault.store.photo_exists")
			case err != nil:
				return err
			case n == 0:
				return missed(t, photos, p.ID)
			}
			if out[i], err = photo(t, selectPhoto, p.ID); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

// SaveLandmarks replaces the photo's points.
func (s *Store) SaveLandmarks(ctx context.Context, id tl.ID, rev tl.Rev, lm tl.Landmarks) (p tl.Photo, err error) {
	err = s.write(ctx, "save landmarks "+string(id), func(t tx) error {
		n, err := t.exec(bumpPhoto, id, rev)
		if err != nil {
			return err
		}
		if n == 0 {
			return missed(t, photos, id)
		}
		if err := putLandmarks(t, id, lm); err != nil {
			return err
		}
		p, err = photo(t, selectPhoto, id)
		return err
	})
	if err != nil {
		return tl.Photo{}, err
	}
	return p, nil
}

// SetPhotoReady says of every photo of the original that its derivatives exist (trouble "") or why not. It is the
// machine's word, not a person's edit: Rev stays.
func (s *Store) SetPhotoReady(ctx context.Context, sha, trouble string) error {
	return s.write(ctx, "set photo ready "+sha, func(t tx) error {
		_, err := t.exec(setReady, trouble == "", trouble, sha)
		return err
	})
}

func (s *Store) TrashPhoto(ctx context.Context, id tl.ID) error { return s.toTrash(ctx, photos, id) }
func (s *Store) RestorePhoto(ctx context.Context, id tl.ID) error {
	return s.fromTrash(ctx, photos, id, nil)
}

// CamerasOf are the cameras that a dog's photos were taken with, by the hash of the file; a file that names none is not in it.
func (s *Store) CamerasOf(ctx context.Context, dog tl.ID) (map[string]string, error) {
	out := map[string]string{}
	err := s.read(ctx, "cameras of dog "+string(dog), func(t tx) error {
		return t.each(func(r scanner) error {
			var sha, camera string
			err := r.Scan(&sha, &camera)
			out[sha] = camera
			return err
		}, camerasOf, dog)
	})
	return out, err
}

// Original is what is known of a photo file.
func (s *Store) Original(ctx context.Context, sha string) (o tl.Original, err error) {
	err = s.readOne(ctx, "original "+sha, func(t tx) error {
		err := t.row(selectOriginal, sha).Scan(&o.SHA256, &o.Bytes, &o.Format, &o.WidthPX, &o.HeightPX, &o.Orientation, &o.Camera, &o.HasGPS, &o.ICC,
			inJSON{&o.ExifMoment}, inJSON{&o.SuggestMoment}, &o.FocalPX, inJSON{&o.Marker}, at{&o.Added})
		if errors.Is(err, sql.ErrNoRows) {
			return notFound("photo")
		}
		return err
	})
	return
}
