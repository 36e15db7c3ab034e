package store

import (
	"context"
	"database/sql"
	"errors"
	"time"

	tl "thatch/timeline"
)

// A choice of a dog that went into the trash is none.
const selectHeapFrom = `SELECT h.id, h.file, d.id, h.added_at, h.trashed_at,
	o.sha256, o.bytes, o.format, o.width_px, o.height_px, o.orientation, o.camera, o.has_gps, o.icc, o.file_moment, o.suggest_moment, o.focal_px, o.marker, o.added_at
	FROM heap h JOIN original o ON o.sha256 = h.sha256 LEFT JOIN dog d ON d.id = h.said_dog AND d.trashed_at IS NULL`

var (
	insertHeap   = query(`INSERT INTO heap (id, sha256, file, added_at) VALUES (?, ?, ?, ?) ON CONFLICT (sha256) DO UPDATE SET trashed_at = NULL`)
	dropFromHeap = query(`DELETE FROM heap WHERE sha256 = ?`)
	sayHeapDog   = query(`UPDATE heap SET said_dog = ? WHERE id = ? AND trashed_at IS NULL`)
	selectHeap   = query(selectHeapFrom + ` WHERE h.trashed_at IS NULL ORDER BY h.added_at, h.rowid`)
	selectInHeap = query(selectHeapFrom + ` WHERE h.id = ?`)
	heapBySHA    = query(selectHeapFrom + ` WHERE h.sha256 = ?`)
	countHeap    = query(`SELECT count(*) FROM heap WHERE trashed_at IS NULL`)
	photosOfSHA  = query(`SELECT p.dog FROM photo p JOIN dog d ON d.id = p.dog WHERE p.sha256 = ? AND p.trashed_at IS NULL AND d.trashed_at IS NULL ORDER BY p.added_at`)
	takenAround  = query(`SELECT p.dog, p.taken_at FROM photo p JOIN dog d ON d.id = p.dog
		WHERE p.trashed_at IS NULL AND d.trashed_at IS NULL AND p.taken_at >= ? AND p.taken_at <= ? ORDER BY p.taken_at`)
)

func scanHeap(r scanner) (h HeapPhoto, err error) {
	o := &h.Original
	err = r.Scan(&h.ID, &h.File, maybe[tl.ID]{&h.SaidDog}, at{&h.Added}, at{&h.Trashed},
		&o.SHA256, &o.Bytes, &o.Format, &o.WidthPX, &o.HeightPX, &o.Orientation, &o.Camera, &o.HasGPS, &o.ICC,
		inJSON{&o.ExifMoment}, inJSON{&o.SuggestMoment}, &o.FocalPX, inJSON{&o.Marker}, at{&o.Added})
	if errors.Is(err, sql.ErrNoRows) {
		err = notFound("heap")
	}
	return h, err
}

// KeepInHeap keeps a file whose dog nobody has said, as durably as KeepPhoto. One that is in the heap already, or was
// thrown out of it, is in it once.
func (s *Store) KeepInHeap(ctx context.Context, in *Incoming, o tl.Original, file string, jobs []Job) (h HeapPhoto, err error) {
	err = s.keepFile(ctx, "keep in heap "+in.SHA256, in, o, func(t tx) error {
		now := s.now()
		if _, err := t.exec(insertHeap, newID(), in.SHA256, file, stamp(now)); err != nil {
			return err
		}
		if err := enqueue(t, now, jobs); err != nil {
			return err
		}
		h, err = scanHeap(t.row(heapBySHA, in.SHA256))
		t.remark.key = h.ID
		return err
	})
	return h, err
}

// Heap is every photo that waits for its dog, in the order in which they came.
func (s *Store) Heap(ctx context.Context) ([]HeapPhoto, error) {
	out := []HeapPhoto{}
	err := s.read(ctx, "heap", func(t tx) error {
		return t.each(func(r scanner) error {
			h, err := scanHeap(r)
			out = append(out, h)
			return err
		}, selectHeap)
	})
	return out, err
}

// HeapSize is how many wait.
func (s *Store) HeapSize(ctx context.Context) (n int, err error) {
	err = s.readOne(ctx, "size of heap", func(t tx) error { return t.row(countHeap).Scan(&n) })
	return
}

// InHeap is one of them; it also finds one in the trash.
func (s *Store) InHeap(ctx context.Context, id tl.ID) (h HeapPhoto, err error) {
	err = s.read(ctx, "heap "+string(id), func(t tx) (err error) { h, err = scanHeap(t.row(selectInHeap, id)); return })
	return
}

// SayHeapDog keeps a person's choice of the dog; "" takes it back.
func (s *Store) SayHeapDog(ctx context.Context, id, dog tl.ID) error {
	return s.write(ctx, "say dog of heap "+string(id), func(t tx) error {
		n, err := t.exec(sayHeapDog, orNull(dog), id)
		if err == nil && n == 0 {
			return missed(t, heap, id)
		}
		return err
	})
}

// FileHeap puts photos of the heap onto their dogs' timelines, all or none. Each photo's SHA256 names its place in the
// heap; one that somebody filed or threw out meanwhile is a Conflict.
func (s *Store) FileHeap(ctx context.Context, ps []tl.Photo, jobs func(sha string) []Job) ([]tl.Photo, error) {
	out := make([]tl.Photo, len(ps))
	err := s.write(ctx, "file heap", func(t tx) error {
		for i, p := range ps {
			h, err := scanHeap(t.row(heapBySHA, p.SHA256))
			if tl.KindOf(err) == tl.NotFound || err == nil && !h.Trashed.IsZero() {
				return changedMeanwhile()
			}
			if err != nil {
				return err
			}
			if out[i], _, err = s.putPhoto(t, p, jobs(p.SHA256)); err != nil {
				return err
			}
			t.remark.key = out[i].ID
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	s.wake()
	return out, nil
}

// Sighting is a photo's dog and when she stood there.
type Sighting struct {
	Dog tl.ID
	At  time.Time
}

// Sightings are the dated photos of all dogs in a span of time, oldest first.
func (s *Store) Sightings(ctx context.Context, from, to time.Time) ([]Sighting, error) {
	out := []Sighting{}
	err := s.read(ctx, "sightings", func(t tx) error {
		return t.each(func(r scanner) error {
			var v Sighting
			err := r.Scan(&v.Dog, at{&v.At})
			out = append(out, v)
			return err
		}, takenAround, stamp(from), stamp(to))
	})
	return out, err
}

// DogsOfOriginal are the dogs that have a photo of that file, those in the trash left out.
func (s *Store) DogsOfOriginal(ctx context.Context, sha string) ([]tl.ID, error) {
	out := []tl.ID{}
	err := s.read(ctx, "dogs of "+sha, func(t tx) error {
		return t.each(func(r scanner) error {
			var id tl.ID
			err := r.Scan(&id)
			out = append(out, id)
			return err
		}, photosOfSHA, sha)
	})
	return out, err
}

func (s *Store) TrashHeap(ctx context.Context, id tl.ID) error { return s.toTrash(ctx, heap, id) }
func (s *Store) RestoreHeap(ctx context.Context, id tl.ID) error {
	return s.fromTrash(ctx, heap, id, nil)
}
