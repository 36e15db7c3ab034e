package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"sort"

	tl "thatch/timeline"
)

// A reading whose session is in the trash reads as made outside a session; the length was measured all the same.
const selectReadingFrom = `SELECT r.id, r.dog, s.id, r.zone, r.on_day, r.of, r.phase, r.length_mm, r.sd_mm, r.trashed_at
	FROM reading r LEFT JOIN session s ON s.id = r.session AND s.trashed_at IS NULL`

var (
	insertReading  = query(`INSERT INTO reading (id, dog, session, zone, on_day, of, phase, length_mm, sd_mm) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`)
	selectReading  = query(selectReadingFrom + ` WHERE r.id = ?`)
	selectReadings = query(selectReadingFrom + ` WHERE r.dog = ? AND r.of = ? AND r.trashed_at IS NULL ORDER BY r.on_day, r.rowid`)
)

func scanReading(r scanner) (v tl.Reading, err error) {
	err = r.Scan(&v.ID, &v.Dog, maybe[tl.ID]{&v.Session}, &v.Zone, onDay{&v.On}, &v.Of, &v.Phase, &v.LengthMM, &v.SDMM, at{&v.Trashed})
	if errors.Is(err, sql.ErrNoRows) {
		err = notFound("reading")
	}
	return
}

// AddReadings keeps all or none, and fills in their IDs. An SD of 0 becomes 1.0 mm, a ruler's or a comb's. What is of
// nothing said is a length.
func (s *Store) AddReadings(ctx context.Context, rs []tl.Reading) ([]tl.Reading, error) {
	const op = "add readings"
	out := append([]tl.Reading{}, rs...)
	for i := range out {
		v := &out[i]
		field := fmt.Sprintf("readings.%s", v.Zone)
		if !v.Zone.Known() {
			return nil, fault(op, unknownZone(v.Zone, "readings"))
		}
		if !(v.LengthMM >= 0 && v.LengthMM <= 1000) || math.IsNaN(v.SDMM) || v.SDMM < 0 {
			return nil, tl.NewFault(tl.Invalid, "fault.store.reading_range").At(op).In(field)
		}
		if v.Of == "" {
			v.Of = tl.OfLength
		}
		v.ID = newID()
		if v.SDMM == 0 {
			v.SDMM = 1
		}
	}
	err := s.write(ctx, op, func(t tx) error {
		for i, v := range out {
			t.remark.key = v.Dog
			if _, err := t.exec(insertReading, v.ID, v.Dog, orNull(v.Session), v.Zone, v.On.String(), v.Of, v.Phase, v.LengthMM, v.SDMM); err != nil {
				return err
			}
			var err error
			if out[i], err = scanReading(t.row(selectReading, v.ID)); err != nil {
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

// Reading also finds a reading in the trash.
func (s *Store) Reading(ctx context.Context, id tl.ID) (v tl.Reading, err error) {
	err = s.read(ctx, "reading "+string(id), func(t tx) (err error) { v, err = scanReading(t.row(selectReading, id)); return })
	return
}

// Readings of a dog's lengths by day, then zone, then as they were added.
func (s *Store) Readings(ctx context.Context, dog tl.ID) ([]tl.Reading, error) {
	return s.readings(ctx, dog, tl.OfLength)
}

// Combs are the readings of how far a dog's coat stands off the body, in the same order.
func (s *Store) Combs(ctx context.Context, dog tl.ID) ([]tl.Reading, error) {
	return s.readings(ctx, dog, tl.OfDepth)
}

func (s *Store) readings(ctx context.Context, dog tl.ID, of tl.ReadingOf) ([]tl.Reading, error) {
	out := []tl.Reading{}
	err := s.readOne(ctx, "readings of "+string(dog), func(t tx) error {
		return t.each(func(r scanner) error {
			v, err := scanReading(r)
			out = append(out, v)
			return err
		}, selectReadings, dog, of)
	})
	sort.SliceStable(out, func(i, j int) bool {
		if out[i].On != out[j].On {
			return out[i].On < out[j].On
		}
		return out[i].Zone.Order() < out[j].Zone.Order()
	})
	return out, err
}

func (s *Store) TrashReading(ctx context.Context, id tl.ID) error {
	return s.toTrash(ctx, readings, id)
}
func (s *Store) RestoreReading(ctx context.Context, id tl.ID) error {
	return s.fromTrash(ctx, readings, id, nil)
}
