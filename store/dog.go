package store

import (
	"context"
	"database/sql"
	"errors"
	"strings"

	tl "thatch/timeline"
)

const dogColumns = `id, rev, name, client, profile, texture, withers_mm,
	answered_day, last_worked_day, rolled, undercoat, longest_withers_mm,
	sensitive, notes, next_day, every_days, minutes, days, kept, share_ok,
	ever_clipped, neutered, coat_change, pinched, born_day, withers_day, added_at, trashed_at`

var (
	insertDog = query(`INSERT INTO dog (id, rev, name, name_key, client, profile, texture, withers_mm,
		answered_day, last_worked_day, rolled, undercoat, longest_withers_mm,
		sensitive, notes, next_day, every_days, minutes, days, kept, share_ok,
		ever_clipped, neutered, coat_change, pinched, born_day, withers_day, added_at)
		VALUES (?, 1, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`)
	updateDog = query(`UPDATE dog SET rev = rev + 1, name = ?, name_key = ?, client = ?, profile = ?, texture = ?, withers_mm = ?,
		answered_day = ?, last_worked_day = ?, rolled = ?, undercoat = ?, longest_withers_mm = ?,
		sensitive = ?, notes = ?, next_day = ?, every_days = ?, minutes = ?, days = ?, kept = ?, share_ok = ?,
		ever_clipped = ?, neutered = ?, coat_change = ?, pinched = ?, born_day = ?, withers_day = ?
		WHERE id = ? AND rev = ? AND trashed_at IS NULL`)
	selectDog       = query(`SELECT ` + dogColumns + ` FROM dog WHERE id = ?`)
	selectDogByName = query(`SELECT ` + dogColumns + ` FROM dog WHERE name_key = ? AND trashed_at IS NULL`)
	selectDogs      = query(`SELECT ` + dogColumns + ` FROM dog WHERE trashed_at IS NULL ORDER BY name_key`)
	selectAllDogs   = query(`SELECT ` + dogColumns + ` FROM dog ORDER BY name_key, added_at`)
)

func scanDog(r scanner) (d tl.Dog, err error) {
	err = r.Scan(&d.ID, &d.Rev, &d.Name, &d.Client, &d.Profile, &d.Texture, &d.WithersMM,
		onDay{&d.Answers.On}, onDay{&d.Answers.LastWorked}, &d.Answers.Rolled, &d.Answers.Undercoat, &d.Answers.LongestWithersMM,
		inJSON{&d.Sensitive}, &d.Notes, onDay{&d.Cadence.Next}, &d.Cadence.EveryDays, &d.Cadence.Minutes, inJSON{&d.Cadence.Days}, inJSON{&d.Kept}, &d.ShareOK,
		&d.History.EverClipped, &d.History.Neutered, &d.History.CoatChange, inJSON{&d.Pinched}, onDay{&d.Born}, onDay{&d.WithersOn}, at{&d.Added}, at{&d.Trashed})
	if errors.Is(err, sql.ErrNoRows) {
		err = notFound("dog")
	}
	return d, err
}

func dogValues(d tl.Dog) ([]any, error) {
	for _, z := range d.Sensitive {
		if !z.Known() {
			return nil, unknownZone(z, "sensitive")
		}
	}
	if d.Sensitive == nil {
		d.Sensitive = []tl.Zone{}
	}
	return []any{d.Name, nameKey(d.Name), d.Client, d.Profile, d.Texture, d.WithersMM,
		d.Answers.On.String(), d.Answers.LastWorked.String(), d.Answers.Rolled, d.Answers.Undercoat, d.Answers.LongestWithersMM,
		asJSON(d.Sensitive), d.Notes, d.Cadence.Next.String(), d.Cadence.EveryDays, d.Cadence.Minutes, asJSON(listOf(d.Cadence.Days)), asJSON(d.Kept), d.ShareOK,
		d.History.EverClipped, d.History.Neutered, d.History.CoatChange, asJSON(d.Pinched), d.Born.String(), d.WithersOn.String()}, nil
}

func nameTaken(name string) *tl.Fault {
	return tl.NewFault(tl.Conflict, "fault.store.dog_exists", "name", name).In("name")
}

func unknownZone(z tl.Zone, field string) *tl.Fault {
	return tl.NewFault(tl.Invalid, "fault.store.zone_unknown", "zone", string(z)).In(field)
}

// CreateDog fills in ID, Rev and Added. A name in use, in any case, is a Conflict.
func (s *Store) CreateDog(ctx context.Context, d tl.Dog) (tl.Dog, error) {
	d.ID, d.Name = newID(), strings.Join(strings.Fields(d.Name), " ")
	return s.putDog(ctx, "create dog "+string(d.ID), d, func(t tx, values []any) error {
		_, err := t.exec(insertDog, append(append([]any{d.ID}, values...), stamp(s.now()))...)
		return err
	})
}

// UpdateDog changes everything but Added and Trashed.
func (s *Store) UpdateDog(ctx context.Context, d tl.Dog) (tl.Dog, error) {
	d.Name = strings.Join(strings.Fields(d.Name), " ")
	return s.putDog(ctx, "update dog "+string(d.ID), d, func(t tx, values []any) error {
		n, err := t.exec(updateDog, append(values, d.ID, d.Rev)...)
		if err == nil && n == 0 {
			return missed(t, dogs, d.ID)
		}
		return err
	})
}

func (s *Store) putDog(ctx context.Context, op string, d tl.Dog, put func(tx, []any) error) (tl.Dog, error) {
	if d.Name == "" {
		return tl.Dog{}, tl.NewFault(tl.Invalid, "fault.store.name_empty").At(op).In("name")
	}
	values, err := dogValues(d)
	if err != nil {
		return tl.Dog{}, fault(op, err)
	}
	err = s.write(ctx, op, func(t tx) error {
		if err := put(t, values); isUnique(err) {
			return nameTaken(d.Name)
		} else if err != nil {
			return err
		}
		d, err = scanDog(t.row(selectDog, d.ID))
		return err
	})
	if err != nil {
		return tl.Dog{}, err
	}
	return d, nil
}

// Dog also finds a dog in the trash.
func (s *Store) Dog(ctx context.Context, id tl.ID) (d tl.Dog, err error) {
	err = s.readOne(ctx, "dog "+string(id), func(t tx) (err error) { d, err = scanDog(t.row(selectDog, id)); return })
	return
}

// DogByName finds a dog that is not in the trash, whatever the case of the name.
func (s *Store) DogByName(ctx context.Context, name string) (d tl.Dog, err error) {
	err = s.read(ctx, "dog by name", func(t tx) error {
		d, err = scanDog(t.row(selectDogByName, nameKey(name)))
		if tl.KindOf(err) == tl.NotFound {
			return tl.NewFault(tl.NotFound, "fault.store.no_dog_named", "name", name)
		}
		return err
	})
	return
}

// Dogs by name.
func (s *Store) Dogs(ctx context.Context, withTrashed bool) ([]tl.Dog, error) {
	q := selectDogs
	if withTrashed {
		q = selectAllDogs
	}
	out := []tl.Dog{}
	err := s.read(ctx, "dogs", func(t tx) error {
		return t.each(func(r scanner) error {
			d, err := scanDog(r)
			out = append(out, d)
			return err
		}, q)
	})
	return out, err
}

// TrashDog hides the dog with everything that is hers.
func (s *Store) TrashDog(ctx context.Context, id tl.ID) error { return s.toTrash(ctx, dogs, id) }

// RestoreDog is a Conflict where another dog has her name by now.
func (s *Store) RestoreDog(ctx context.Context, id tl.ID) error {
	return s.fromTrash(ctx, dogs, id, tl.NewFault(tl.Conflict, "fault.store.restore_name_taken"))
}
