package store

import (
	"context"
	"database/sql"
	"errors"
	"math"

	tl "thatch/timeline"
)

const checkColumns = `c.id, c.dog, c.on_day, c.photos, c.floor, c.added_at, c.trashed_at`

var (
	insertCheck = query(`INSERT INTO salon_check (id, dog, on_day, photos, floor, added_at) VALUES (?, ?, ?, ?, ?, ?)`)
	selectCheck = query(`SELECT ` + checkColumns + ` FROM salon_check c WHERE c.id = ?`)
	// A check speaks of the salon, so it counts even where its dog is in the trash.
	selectChecks = query(`SELECT ` + checkColumns + ` FROM salon_check c WHERE c.trashed_at IS NULL ORDER BY c.on_day DESC, c.added_at DESC, c.rowid DESC`)
)

func scanCheck(r scanner) (c tl.SalonCheck, err error) {
	err = r.Scan(&c.ID, &c.Dog, onDay{&c.On}, inJSON{&c.Photos}, inJSON{&c.Floor}, at{&c.Added}, at{&c.Trashed})
	if errors.Is(err, sql.ErrNoRows) {
		err = notFound("salon_check")
	}
	return c, err
}

// AddCheck keeps a salon check and fills in ID and Added.
func (s *Store) AddCheck(ctx context.Context, c tl.SalonCheck) (tl.SalonCheck, error) {
	const op = "add check"
	if err := checkFloor(c.Floor); err != nil {
		return tl.SalonCheck{}, fault(op, err)
	}
	if c.Floor.DepthMM == nil {
		c.Floor.DepthMM = map[tl.Zone]float64{}
	}
	c.ID = newID()
	err := s.write(ctx, op, func(t tx) error {
		t.remark.key = c.ID
		if _, err := t.exec(insertCheck, c.ID, c.Dog, c.On.String(), asJSON(listOf(c.Photos)), asJSON(c.Floor), stamp(s.now())); err != nil {
			return err
		}
		var err error
		c, err = scanCheck(t.row(selectCheck, c.ID))
		return err
	})
	if err != nil {
		return tl.SalonCheck{}, err
	}
	return c, nil
}

func checkFloor(f tl.Floor) error {
	bad := func(v float64) bool { return !(v >= 0 && v <= 1000) }
	wrong := f.N < 0 || bad(f.ToplineMM)
	for z, mm := range f.DepthMM {
		if !z.InOutline() {
			return unknownZone(z, "floor")
		}
		wrong = wrong || bad(mm) || math.IsNaN(mm)
	}
	if wrong {
		return tl.NewFault(tl.Invalid, "fault.store.value").In("floor")
	}
	return nil
}

// Checks of the salon, newest first.
func (s *Store) Checks(ctx context.Context) ([]tl.SalonCheck, error) {
	out := []tl.SalonCheck{}
	err := s.read(ctx, "checks", func(t tx) error {
		return t.each(func(r scanner) error {
			c, err := scanCheck(r)
			out = append(out, c)
			return err
		}, selectChecks)
	})
	return out, err
}

// Check also finds one in the trash.
func (s *Store) Check(ctx context.Context, id tl.ID) (c tl.SalonCheck, err error) {
	err = s.read(ctx, "check "+string(id), func(t tx) (err error) { c, err = scanCheck(t.row(selectCheck, id)); return })
	return
}

func (s *Store) TrashCheck(ctx context.Context, id tl.ID) error { return s.toTrash(ctx, checks, id) }
func (s *Store) RestoreCheck(ctx context.Context, id tl.ID) error {
	return s.fromTrash(ctx, checks, id, nil)
}
