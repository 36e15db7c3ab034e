package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"

	tl "thatch/timeline"
)

var (
	scalesOfDog = query(`SELECT DISTINCT o.sha256, o.focal_px, o.marker FROM photo p JOIN original o ON o.sha256 = p.sha256 WHERE p.dog = ? AND p.trashed_at IS NULL`)
	// What figures from photos depend on, but for readings by hand: a row for every photo that has an edge. Of a look
	// only what it has seen: looked at again with the same result, nothing is new.
	stampOfDog = query(`SELECT p.id || ' ' || p.rev || ' ' || e.rev || ' ' || e.saved_at || ' ' || o.focal_px || ' ' || coalesce(json_extract(o.marker, '$.seen'), '')
		FROM photo p JOIN edge e ON e.photo = p.id JOIN original o ON o.sha256 = p.sha256
		WHERE p.dog = ? AND p.trashed_at IS NULL ORDER BY p.id`)
)

// Scale is what a file itself says of its scale.
type Scale struct {
	FocalPX float64        // px of the upright photo; 0: not known
	Marker  *tl.MarkerLook // nil: not looked for yet
}

// Scales of the files of a dog's photos, by hash.
func (s *Store) Scales(ctx context.Context, dog tl.ID) (map[string]Scale, error) {
	out := map[string]Scale{}
	err := s.read(ctx, "scales of "+string(dog), func(t tx) error {
		return t.each(func(r scanner) error {
			var sha string
			var v Scale
			err := r.Scan(&sha, &v.FocalPX, inJSON{&v.Marker})
			out[sha] = v
			return err
		}, scalesOfDog, dog)
	})
	return out, err
}

// MeasuringStamp changes whenever anything changes that figures from a dog's photos are made of, readings by hand left out:
// the photos that have an edge, their points, edges and scales. It reads no edge. "": no photo has an edge.
func (s *Store) MeasuringStamp(ctx context.Context, dog tl.ID) (string, error) {
	sum, n := sha256.New(), 0
	err := s.read(ctx, "measuring stamp of "+string(dog), func(t tx) error {
		return t.each(func(r scanner) error {
			var line string
			if err := r.Scan(&line); err != nil {
				return err
			}
			n++
			return json.NewEncoder(sum).Encode(line)
		}, stampOfDog, dog)
	})
	if err != nil || n == 0 {
		return "", err
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}
