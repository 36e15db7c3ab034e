package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"math"

	tl "thatch/timeline"
)

const edgeColumns = `e.photo, e.rev, e.polygon, e.holes, e.method, e.confirmed, e.look_only, e.maker, e.saved_at`

var (
	insertEdge = query(`INSERT INTO edge (photo, rev, polygon, holes, method, confirmed, look_only, maker, saved_at) VALUES (?, 1, ?, ?, ?, ?, ?, ?, ?)`)
	updateEdge = query(`UPDATE edge SET rev = rev + 1, polygon = ?, holes = ?, method = ?, confirmed = ?, look_only = ?, maker = ?, saved_at = ? WHERE photo = ? AND rev = ?`)
	selectEdge = query(`SELECT ` + edgeColumns + ` FROM edge e WHERE e.photo = ?`)
	edgesOfDog = query(`SELECT ` + edgeColumns + ` FROM edge e JOIN photo p ON p.id = e.photo WHERE p.dog = ? AND p.trashed_at IS NULL`)
	deleteEdge = query(`DELETE FROM edge WHERE photo = ? AND rev = ?`)
)

// maxEdgePlaces bounds what one photo's edge may hold: a place each pixel along a frame of the largest photos, and more.
const maxEdgePlaces = 200_000

func scanEdge(r scanner) (e tl.Edge, err error) {
	var polygon, holes, confirmed, lookOnly string
	err = r.Scan(&e.Photo, &e.Rev, &polygon, &holes, &e.Method, &confirmed, &lookOnly, &e.Maker, at{&e.Saved})
	if errors.Is(err, sql.ErrNoRows) {
		return e, notFound("edge")
	}
	if err != nil {
		return e, err
	}
	return e, errors.Join(
		json.Unmarshal([]byte(polygon), &e.Polygon), json.Unmarshal([]byte(holes), &e.Holes),
		json.Unmarshal([]byte(confirmed), &e.Confirmed), json.Unmarshal([]byte(lookOnly), &e.LookOnly),
	)
}

// Edge of a photo; NotFound where none was found yet.
func (s *Store) Edge(ctx context.Context, photo tl.ID) (e tl.Edge, err error) {
	err = s.readOne(ctx, "edge of "+string(photo), func(t tx) (err error) { e, err = scanEdge(t.row(selectEdge, photo)); return })
	return
}

// Edges of a dog's photos that are not in the trash, by photo.
func (s *Store) Edges(ctx context.Context, dog tl.ID) (map[tl.ID]tl.Edge, error) {
	out := map[tl.ID]tl.Edge{}
	err := s.read(ctx, "edges of "+string(dog), func(t tx) error {
		return t.each(func(r scanner) error {
			e, err := scanEdge(r)
			out[e.Photo] = e
			return err
		}, edgesOfDog, dog)
	})
	return out, err
}

// SaveEdge keeps a photo's edge: a new one with Rev 0, else a change of the version that Rev names. Rev and Saved are filled
// in.
func (s *Store) SaveEdge(ctx context.Context, e tl.Edge) (tl.Edge, error) {
	op := "save edge of " + string(e.Photo)
	if err := checkEdge(e); err != nil {
		return tl.Edge{}, fault(op, err)
	}
	fields := make([]any, 0, 9)
	for _, v := range []any{orEmpty(e.Polygon), orEmpty(e.Holes), e.Method, orEmpty(e.Confirmed), e.LookOnly} {
		if text, ok := v.(string); ok {
			fields = append(fields, text)
			continue
		}
		b, err := json.Marshal(v)
		if err != nil {
			return tl.Edge{}, fault(op, err)
		}
		fields = append(fields, string(b))
	}
	if e.LookOnly == nil {
		fields[4] = "{}"
	}
	fields = append(fields, e.Maker)
	err := s.write(ctx, op, func(t tx) error {
		var n int64 = 1
		var err error
		if e.Rev == 0 {
			_, err = t.exec(insertEdge, append(append([]any{e.Photo}, fields...), stamp(s.now()))...)
			if isUnique(err) {
				return changedMeanwhile()
			}
		} else {
			n, err = t.exec(updateEdge, append(fields, stamp(s.now()), e.Photo, e.Rev)...)
		}
		if err == nil && n == 0 {
			err = changedMeanwhile()
			if _, gone := scanEdge(t.row(selectEdge, e.Photo)); gone != nil {
				err = gone
			}
		}
		if err != nil {
			return err
		}
		e, err = scanEdge(t.row(selectEdge, e.Photo))
		return err
	})
	if err != nil {
		return tl.Edge{}, err
	}
	return e, nil
}

// RemoveEdge takes a photo's edge away; it can be found again. Rev is checked.
func (s *Store) RemoveEdge(ctx context.Context, photo tl.ID, rev tl.Rev) error {
	return s.write(ctx, "remove edge of "+string(photo), func(t tx) error {
		n, err := t.exec(deleteEdge, photo, rev)
		if err == nil && n == 0 {
			if _, gone := scanEdge(t.row(selectEdge, photo)); gone != nil {
				return gone
			}
			return changedMeanwhile()
		}
		return err
	})
}

func checkEdge(e tl.Edge) error {
	n := len(e.Polygon)
	for _, ring := range append([][]tl.XY{e.Polygon}, e.Holes...) {
		n += len(ring)
		if err := checkPlaces(ring); err != nil {
			return err
		}
	}
	if n > maxEdgePlaces {
		return tl.NewFault(tl.Invalid, "fault.store.edge_long").In("edge")
	}
	for _, z := range e.Confirmed {
		if !z.InOutline() {
			return unknownZone(z, "confirmed")
		}
	}
	for z := range e.LookOnly {
		if !z.InOutline() {
			return unknownZone(z, "look_only")
		}
	}
	return nil
}

func checkPlaces(places []tl.XY) error {
	for _, p := range places {
		if math.IsNaN(p.X+p.Y) || math.Abs(p.X) > 1e6 || math.Abs(p.Y) > 1e6 {
			return tl.NewFault(tl.Invalid, "fault.store.edge_place").In("edge")
		}
	}
	return nil
}

// orEmpty keeps a list from being written as null.
func orEmpty[T any](v []T) []T {
	if v == nil {
		return []T{}
	}
	return v
}
