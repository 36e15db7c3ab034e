package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"sort"
	"time"

	tl "thatch/timeline"
)

const sessionColumns = `id, rev, dog, on_day, minutes, loft, note, sheet_order, ticked, assistant, looked_at, begun_at, done_at, tolerance, breaks, not_today, before, trashed_at`

var (
	insertSession   = query(`INSERT INTO session (id, rev, dog, on_day, minutes, loft, note, sheet_order, ticked, assistant, looked_at, begun_at, done_at, tolerance, breaks, not_today, before) VALUES (?, 1, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`)
	updateSession   = query(`UPDATE session SET rev = rev + 1, on_day = ?, minutes = ?, loft = ?, note = ?, sheet_order = ?, ticked = ?, assistant = ?, looked_at = ?, begun_at = ?, done_at = ?, tolerance = ?, breaks = ?, not_today = ?, before = ? WHERE id = ? AND rev = ? AND trashed_at IS NULL`)
	selectSession   = query(`SELECT ` + sessionColumns + ` FROM session WHERE id = ?`)
	selectSessionOn = query(`SELECT ` + sessionColumns + ` FROM session WHERE dog = ? AND on_day = ? AND trashed_at IS NULL`)
	selectSessions  = query(`SELECT ` + sessionColumns + ` FROM session WHERE dog = ? AND trashed_at IS NULL ORDER BY on_day`)
	deleteWork      = query(`DELETE FROM session_work WHERE session = ? AND zone = ?`)
	putOneWork      = query(`INSERT INTO session_work (session, zone, do, share, top_layer, tool, ripeness, hair_check, skin, cover, new_hair, remark) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (session, zone) DO UPDATE SET do = excluded.do, share = excluded.share, top_layer = excluded.top_layer, tool = excluded.tool, ripeness = excluded.ripeness,
		hair_check = excluded.hair_check, skin = excluded.skin, cover = excluded.cover, new_hair = excluded.new_hair, remark = excluded.remark`)
	selectWork       = query(`SELECT session, zone, do, share, top_layer, tool, ripeness, hair_check, skin, cover, new_hair, remark FROM session_work WHERE session = ?`)
	selectWorkOfADog = query(`SELECT w.session, w.zone, w.do, w.share, w.top_layer, w.tool, w.ripeness, w.hair_check, w.skin, w.cover, w.new_hair, w.remark
		FROM session_work w JOIN session s ON s.id = w.session WHERE s.dog = ? AND s.trashed_at IS NULL`)
)

func scanSession(r scanner) (v tl.Session, err error) {
	err = r.Scan(&v.ID, &v.Rev, &v.Dog, onDay{&v.On}, &v.Minutes, &v.Loft, &v.Note,
		inJSON{&v.Sheet.Order}, inJSON{&v.Sheet.Ticked}, inJSON{&v.Sheet.Assistant}, at{&v.Sheet.Looked}, at{&v.Sheet.Begun}, at{&v.Sheet.Done},
		&v.Tolerance, &v.Breaks, &v.NotToday, inJSON{&v.Before}, at{&v.Trashed})
	if errors.Is(err, sql.ErrNoRows) {
		err = notFound("session")
	}
	v.Work = []tl.ZoneWork{}
	return v, err
}

// sessionValues are everything of a session that is written, but its ID and dog.
func sessionValues(v tl.Session) []any {
	h := v.Sheet
	return []any{v.On.String(), v.Minutes, v.Loft, v.Note,
		asJSON(listOf(h.Order)), asJSON(listOf(h.Ticked)), asJSON(listOf(h.Assistant)), stampOrNull(h.Looked), stampOrNull(h.Begun), stampOrNull(h.Done),
		v.Tolerance, v.Breaks, v.NotToday, asJSON(v.Before)}
}

func listOf[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}

func stampOrNull(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return stamp(t)
}

// checkSheet refuses zones that are none: the column could not.
func checkSheet(h tl.SheetState) error {
	for field, zones := range map[string][]tl.Zone{"sheet.order": h.Order, "sheet.assistant": h.Assistant} {
		for _, z := range zones {
			if !z.Known() {
				return unknownZone(z, field)
			}
		}
	}
	return nil
}

func scanWork(r scanner) (session tl.ID, w tl.ZoneWork, err error) {
	err = r.Scan(&session, &w.Zone, &w.Do, &w.Share, &w.TopLayer, maybe[tl.Tool]{&w.Tool}, &w.Ripeness, &w.HairCheck, &w.Skin, &w.Cover, &w.NewHair, &w.Remark)
	return
}

func inZoneOrder(work []tl.ZoneWork) {
	sort.SliceStable(work, func(i, j int) bool { return work[i].Zone.Order() < work[j].Zone.Order() })
}

func session(t tx, q *stmt, args ...any) (tl.Session, error) {
	v, err := scanSession(t.row(q, args...))
	if err != nil {
		return tl.Session{}, err
	}
	err = t.each(func(r scanner) error {
		_, w, err := scanWork(r)
		v.Work = append(v.Work, w)
		return err
	}, selectWork, v.ID)
	inZoneOrder(v.Work)
	return v, err
}

// checkWork names the line at fault; the schema's own refusal could not.
func checkWork(work []tl.ZoneWork) error {
	seen := map[tl.Zone]bool{}
	for _, w := range work {
		field := "work." + string(w.Zone)
		switch {
		case !w.Zone.Known():
			return unknownZone(w.Zone, "work")
		case seen[w.Zone]:
			return tl.NewFault(tl.Invalid, "fault.store.zone_twice", "zone", w.Zone).In(field)
		case !(w.Share >= 0 && w.Share <= 1):
			return tl.NewFault(tl.Invalid, "fault.store.share").In(field + ".share")
		}
		seen[w.Zone] = true
	}
	return nil
}

// putWork writes the lines that differ from those there are: a log is of one zone, and a session has up to all of them.
func putWork(t tx, id tl.ID, work []tl.ZoneWork) error {
	there := map[tl.Zone]tl.ZoneWork{}
	err := t.each(func(r scanner) error {
		_, w, err := scanWork(r)
		there[w.Zone] = w
		return err
	}, selectWork, id)
	if err != nil {
		return err
	}
	for _, w := range work {
		was, ok := there[w.Zone]
		delete(there, w.Zone)
		if ok && was == w {
			continue
		}
		if _, err := t.exec(putOneWork, id, w.Zone, w.Do, w.Share, w.TopLayer, orNull(w.Tool), w.Ripeness, w.HairCheck, w.Skin, w.Cover, w.NewHair, w.Remark); err != nil {
			return err
		}
	}
	for z := range there {
		if _, err := t.exec(deleteWork, id, z); err != nil {
			return err
		}
	}
	return nil
}

func dayTaken(on tl.Day) *tl.Fault {
	return tl.NewFault(tl.Conflict, "fault.store.session_exists", "on", on).In("on")
}

func (s *Store) putSession(ctx context.Context, op string, v tl.Session, put func(tx) error) (tl.Session, error) {
	if err := cmp.Or(checkWork(v.Work), checkSheet(v.Sheet)); err != nil {
		return tl.Session{}, fault(op, err)
	}
	err := s.write(ctx, op, func(t tx) (err error) {
		if err := put(t); isUnique(err) {
			return dayTaken(v.On)
		} else if err != nil {
			return err
		}
		if err := putWork(t, v.ID, v.Work); err != nil {
			return err
		}
		v, err = session(t, selectSession, v.ID)
		return err
	})
	if err != nil {
		return tl.Session{}, err
	}
	return v, nil
}

// CreateSession fills in ID and Rev. A second session of the dog on a day is a Conflict.
func (s *Store) CreateSession(ctx context.Context, v tl.Session) (tl.Session, error) {
	v.ID = newID()
	return s.putSession(ctx, "create session "+string(v.ID), v, func(t tx) error {
		_, err := t.exec(insertSession, append([]any{v.ID, v.Dog}, sessionValues(v)...)...)
		return err
	})
}

// UpdateSession changes everything but the dog; the lines of work are replaced in the same step.
func (s *Store) UpdateSession(ctx context.Context, v tl.Session) (tl.Session, error) {
	return s.putSession(ctx, "update session "+string(v.ID), v, updated(v))
}

// EndWithoutWork is UpdateSession of a visit that ends without work; the log of changes tells it apart.
func (s *Store) EndWithoutWork(ctx context.Context, v tl.Session) (tl.Session, error) {
	return s.putSession(ctx, "end without work session "+string(v.ID), v, updated(v))
}

func updated(v tl.Session) func(tx) error {
	return func(t tx) error {
		n, err := t.exec(updateSession, append(sessionValues(v), v.ID, v.Rev)...)
		if err == nil && n == 0 {
			return missed(t, sessions, v.ID)
		}
		return err
	}
}

// Session also finds a session in the trash.
func (s *Store) Session(ctx context.Context, id tl.ID) (v tl.Session, err error) {
	err = s.read(ctx, "session "+string(id), func(t tx) (err error) { v, err = session(t, selectSession, id); return })
	return
}

// SessionOn is the dog's session of the day (there is at most one), or NotFound.
func (s *Store) SessionOn(ctx context.Context, dog tl.ID, on tl.Day) (v tl.Session, err error) {
	err = s.read(ctx, "session on "+on.String(), func(t tx) (err error) {
		v, err = session(t, selectSessionOn, dog, on.String())
		return
	})
	return
}

// Sessions of a dog, oldest first.
func (s *Store) Sessions(ctx context.Context, dog tl.ID) ([]tl.Session, error) {
	out := []tl.Session{}
	err := s.read(ctx, "sessions of "+string(dog), func(t tx) error {
		place := map[tl.ID]int{}
		err := t.each(func(r scanner) error {
			v, err := scanSession(r)
			place[v.ID] = len(out)
			out = append(out, v)
			return err
		}, selectSessions, dog)
		if err != nil {
			return err
		}
		err = t.each(func(r scanner) error {
			id, w, err := scanWork(r)
			if err == nil {
				v := &out[place[id]]
				v.Work = append(v.Work, w)
			}
			return err
		}, selectWorkOfADog, dog)
		for _, v := range out {
			inZoneOrder(v.Work)
		}
		return err
	})
	return out, err
}

// TrashSession leaves its photos: they read as unpaired until the session comes back.
func (s *Store) TrashSession(ctx context.Context, id tl.ID) error {
	return s.toTrash(ctx, sessions, id)
}

// RestoreSession is a Conflict where the dog has another session of that day by now.
func (s *Store) RestoreSession(ctx context.Context, id tl.ID) error {
	return s.fromTrash(ctx, sessions, id, tl.NewFault(tl.Conflict, "fault.store.restore_day_taken"))
}
