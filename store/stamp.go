package store

import (
	"context"
	"database/sql"
	"errors"

	tl "thatch/timeline"
)

var (
	selectStamp = query(`SELECT coalesce((SELECT n FROM stamp WHERE dog = ?), 0), coalesce((SELECT n FROM stamp WHERE dog = ''), 0)`)
	listStamps  = query(`SELECT d.id, coalesce(s.n, 0) FROM dog d LEFT JOIN stamp s ON s.dog = d.id WHERE d.trashed_at IS NULL`)
	photoStamp  = query(`SELECT coalesce((SELECT n FROM photo_stamp WHERE dog = ?), 0)`)
	dogOfPhoto  = query(`SELECT dog FROM photo WHERE id = ?`)
	dogOfVisit  = query(`SELECT dog FROM session WHERE id = ?`)
)

// Stamp says how often anything has changed of a dog, and of what all dogs share. Two equal stamps mean that nothing has
// changed in between. A dog that is not there has one too.
type Stamp struct{ Dog, Shared int64 }

// Stamp of one dog.
func (s *Store) Stamp(ctx context.Context, dog tl.ID) (v Stamp, err error) {
	err = s.readOne(ctx, "stamp of "+string(dog), func(t tx) error { return t.row(selectStamp, dog).Scan(&v.Dog, &v.Shared) })
	return
}

// PhotoStamp says how often anything has changed of a dog's photos, of their points and of their edges; a log leaves it as it is.
func (s *Store) PhotoStamp(ctx context.Context, dog tl.ID) (n int64, err error) {
	err = s.readOne(ctx, "photo stamp of "+string(dog), func(t tx) error { return t.row(photoStamp, dog).Scan(&n) })
	return
}

// Stamps of all dogs that are not in the trash.
func (s *Store) Stamps(ctx context.Context) (map[tl.ID]Stamp, error) {
	out := map[tl.ID]Stamp{}
	err := s.read(ctx, "stamps", func(t tx) error {
		var all Stamp
		if err := t.row(selectStamp, "").Scan(&all.Dog, &all.Shared); err != nil {
			return err
		}
		return t.each(func(r scanner) error {
			var dog tl.ID
			v := Stamp{Shared: all.Shared}
			err := r.Scan(&dog, &v.Dog)
			out[dog] = v
			return err
		}, listStamps)
	})
	return out, err
}

// DogOfPhoto is whose photo it is; NotFound where there is none.
func (s *Store) DogOfPhoto(ctx context.Context, id tl.ID) (tl.ID, error) {
	return s.dogOf(ctx, dogOfPhoto, "photo", id)
}

// DogOfSession is whose session it is; NotFound where there is none.
func (s *Store) DogOfSession(ctx context.Context, id tl.ID) (tl.ID, error) {
	return s.dogOf(ctx, dogOfVisit, "session", id)
}

func (s *Store) dogOf(ctx context.Context, q *stmt, what string, id tl.ID) (dog tl.ID, err error) {
	err = s.readOne(ctx, "dog of "+what+" "+string(id), func(t tx) error {
		err := t.row(q, id).Scan(&dog)
		if errors.Is(err, sql.ErrNoRows) {
			err = notFound(what)
		}
		return err
	})
	return
}
