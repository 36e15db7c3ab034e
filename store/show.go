package store

import (
	"context"
	"database/sql"
	"errors"
	"strings"

	tl "thatch/timeline"
)

const showColumns = `id, rev, dog, name, on_day, priority, trashed_at`

var (
	insertShow         = query(`INSERT INTO show (id, rev, dog, name, on_day, priority) VALUES (?, 1, ?, ?, ?, ?)`)
	updateShow         = query(`UPDATE show SET rev = rev + 1, name = ?, on_day = ?, priority = ? WHERE id = ? AND rev = ? AND trashed_at IS NULL`)
	selectShow         = query(`SELECT ` + showColumns + ` FROM show WHERE id = ?`)
	selectShows        = query(`SELECT ` + showColumns + ` FROM show WHERE dog = ? AND trashed_at IS NULL ORDER BY on_day, priority, name`)
	deleteTargets      = query(`DELETE FROM show_target WHERE show = ?`)
	insertTarget       = query(`INSERT INTO show_target (show, zone, min_mm, max_mm) VALUES (?, ?, ?, ?)`)
	selectTargets      = query(`SELECT show, zone, min_mm, max_mm FROM show_target WHERE show = ?`)
	selectTargetsOfDog = query(`SELECT t.show, t.zone, t.min_mm, t.max_mm FROM show_target t JOIN show s ON s.id = t.show WHERE s.dog = ? AND s.trashed_at IS NULL`)
)

func scanShow(r scanner) (v tl.Show, err error) {
	err = r.Scan(&v.ID, &v.Rev, &v.Dog, &v.Name, onDay{&v.On}, &v.Priority, at{&v.Trashed})
	if errors.Is(err, sql.ErrNoRows) {
		err = notFound("show")
	}
	v.Targets = map[tl.Zone]tl.Range{}
	return v, err
}

func targets(t tx, of func(show tl.ID) map[tl.Zone]tl.Range, q *stmt, id tl.ID) error {
	return t.each(func(r scanner) error {
		var show tl.ID
		var zone tl.Zone
		var band tl.Range
		if err := r.Scan(&show, &zone, &band.MinMM, &band.MaxMM); err != nil {
			return err
		}
		of(show)[zone] = band
		return nil
	}, q, id)
}

func show(t tx, id tl.ID) (tl.Show, error) {
	v, err := scanShow(t.row(selectShow, id))
	if err != nil {
		return tl.Show{}, err
	}
	return v, targets(t, func(tl.ID) map[tl.Zone]tl.Range { return v.Targets }, selectTargets, id)
}

func (s *Store) putShow(ctx context.Context, op string, v tl.Show, put func(tx) error) (tl.Show, error) {
	if v.Name == "" {
		return tl.Show{}, tl.NewFault(tl.Invalid, "fault.store.name_empty").At(op).In("name")
	}
	for z, band := range v.Targets {
		if !z.Known() {
			return tl.Show{}, unknownZone(z, "targets").At(op)
		}
		if !(band.MinMM >= 0) || !(band.MaxMM == 0 || band.MaxMM >= band.MinMM) {
			return tl.Show{}, tl.NewFault(tl.Invalid, "fault.store.target_range", "zone", z).At(op).In("targets." + string(z))
		}
	}
	err := s.write(ctx, op, func(t tx) (err error) {
		if err := put(t); err != nil {
			return err
		}
		if _, err := t.exec(deleteTargets, v.ID); err != nil {
			return err
		}
		for z, band := range v.Targets {
			if _, err := t.exec(insertTarget, v.ID, z, band.MinMM, band.MaxMM); err != nil {
				return err
			}
		}
		v, err = show(t, v.ID)
		return err
	})
	if err != nil {
		return tl.Show{}, err
	}
	return v, nil
}

// CreateShow fills in ID and Rev; Priority 0 becomes 1.
func (s *Store) CreateShow(ctx context.Context, v tl.Show) (tl.Show, error) {
	v.ID, v.Name = newID(), strings.TrimSpace(v.Name)
	if v.Priority == 0 {
		v.Priority = 1
	}
	return s.putShow(ctx, "create show "+string(v.ID), v, func(t tx) error {
		_, err := t.exec(insertShow, v.ID, v.Dog, v.Name, v.On.String(), v.Priority)
		return err
	})
}

// UpdateShow changes everything but the dog; the targets are replaced in the same step.
func (s *Store) UpdateShow(ctx context.Context, v tl.Show) (tl.Show, error) {
	v.Name = strings.TrimSpace(v.Name)
	return s.putShow(ctx, "update show "+string(v.ID), v, func(t tx) error {
		n, err := t.exec(updateShow, v.Name, v.On.String(), v.Priority, v.ID, v.Rev)
		if err == nil && n == 0 {
			return missed(t, shows, v.ID)
		}
		return err
	})
}

// Show also finds a show in the trash.
func (s *Store) Show(ctx context.Context, id tl.ID) (v tl.Show, err error) {
	err = s.read(ctx, "show "+string(id), func(t tx) (err error) { v, err = show(t, id); return })
	return
}

// Shows of a dog by day.
func (s *Store) Shows(ctx context.Context, dog tl.ID) ([]tl.Show, error) {
	out := []tl.Show{}
	err := s.read(ctx, "shows of "+string(dog), func(t tx) error {
		place := map[tl.ID]map[tl.Zone]tl.Range{}
		err := t.each(func(r scanner) error {
			v, err := scanShow(r)
			place[v.ID] = v.Targets
			out = append(out, v)
			return err
		}, selectShows, dog)
		if err != nil {
			return err
		}
		return targets(t, func(id tl.ID) map[tl.Zone]tl.Range { return place[id] }, selectTargetsOfDog, dog)
	})
	return out, err
}

func (s *Store) TrashShow(ctx context.Context, id tl.ID) error { return s.toTrash(ctx, shows, id) }
func (s *Store) RestoreShow(ctx context.Context, id tl.ID) error {
	return s.fromTrash(ctx, shows, id, nil)
}
