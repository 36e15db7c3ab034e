package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"

	tl "thatch/timeline"
)

var (
	insertTargetLine = query(`INSERT INTO target_line (dog, rev, photo, lines, saved_at) VALUES (?, 1, ?, ?, ?)`)
	updateTargetLine = query(`UPDATE target_line SET rev = rev + 1, photo = ?, lines = ?, saved_at = ? WHERE dog = ? AND rev = ?`)
	selectTargetLine = query(`SELECT dog, rev, photo, lines, saved_at FROM target_line WHERE dog = ?`)
	deleteTargetLine = query(`DELETE FROM target_line WHERE dog = ? AND rev = ?`)
)

func scanTarget(r scanner) (v tl.TargetLine, err error) {
	var lines string
	err = r.Scan(&v.Dog, &v.Rev, &v.Photo, &lines, at{&v.Saved})
	if errors.Is(err, sql.ErrNoRows) {
		return v, notFound("target")
	}
	if err != nil {
		return v, err
	}
	return v, json.Unmarshal([]byte(lines), &v.Lines)
}

// TargetLine of a dog; NotFound where none was drawn.
func (s *Store) TargetLine(ctx context.Context, dog tl.ID) (v tl.TargetLine, err error) {
	err = s.readOne(ctx, "target line of "+string(dog), func(t tx) (err error) { v, err = scanTarget(t.row(selectTargetLine, dog)); return })
	return
}

// SaveTargetLine keeps the dog's line: a new one with Rev 0, else a change of the version that Rev names.
func (s *Store) SaveTargetLine(ctx context.Context, v tl.TargetLine) (tl.TargetLine, error) {
	op := "save target line of " + string(v.Dog)
	n := 0
	for _, line := range v.Lines {
		n += len(line)
		if err := checkPlaces(line); err != nil {
			return tl.TargetLine{}, fault(op, err)
		}
	}
	if n > maxEdgePlaces {
		return tl.TargetLine{}, fault(op, tl.NewFault(tl.Invalid, "fault.store.edge_long").In("edge"))
	}
	lines, err := json.Marshal(orEmpty(v.Lines))
	if err != nil {
		return tl.TargetLine{}, fault(op, err)
	}
	err = s.write(ctx, op, func(t tx) error {
		var n int64 = 1
		var err error
		if v.Rev == 0 {
			_, err = t.exec(insertTargetLine, v.Dog, v.Photo, string(lines), stamp(s.now()))
			if isUnique(err) {
				return changedMeanwhile()
			}
		} else {
			n, err = t.exec(updateTargetLine, v.Photo, string(lines), stamp(s.now()), v.Dog, v.Rev)
		}
		if err == nil && n == 0 {
			return targetMissed(t, v.Dog)
		}
		if err != nil {
			return err
		}
		v, err = scanTarget(t.row(selectTargetLine, v.Dog))
		return err
	})
	if err != nil {
		return tl.TargetLine{}, err
	}
	return v, nil
}

// RemoveTargetLine takes the dog's line away. Rev is checked.
func (s *Store) RemoveTargetLine(ctx context.Context, dog tl.ID, rev tl.Rev) error {
	return s.write(ctx, "remove target line of "+string(dog), func(t tx) error {
		n, err := t.exec(deleteTargetLine, dog, rev)
		if err == nil && n == 0 {
			return targetMissed(t, dog)
		}
		return err
	})
}

func targetMissed(t tx, dog tl.ID) error {
	if _, gone := scanTarget(t.row(selectTargetLine, dog)); gone != nil {
		return gone
	}
	return changedMeanwhile()
}
