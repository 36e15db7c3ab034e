package store

import (
	"context"
	"encoding/json"
	"math"

	tl "thatch/timeline"
)

var (
	setMarkerLook = query(`UPDATE original SET marker = ? WHERE sha256 = ?`)
	setFocal      = query(`UPDATE original SET focal_px = ? WHERE sha256 = ?`)
	lookedAtOlder = query(`SELECT sha256 FROM original WHERE coalesce(json_extract(marker, '$.maker'), -1) < ? ORDER BY added_at DESC, sha256`)
	updateTape    = query(`UPDATE photo SET rev = rev + 1, tape = ? WHERE id = ? AND rev = ? AND trashed_at IS NULL`)
)

// lookJSON refuses what JSON has no word for.
func lookJSON(look *tl.MarkerLook) (string, error) {
	if look != nil && look.Told == nil {
		c := *look
		c.Told = []string{}
		look = &c
	}
	b, err := json.Marshal(look)
	if err != nil {
		return "", tl.NewFault(tl.Internal, "fault.store.value").Because(err)
	}
	return string(b), nil
}

// SetMarkerLook keeps what a look for the table marker has found in a file. It is the machine's word: no Rev.
func (s *Store) SetMarkerLook(ctx context.Context, sha string, look tl.MarkerLook) error {
	return s.setOriginal(ctx, "set marker look "+sha, sha, setMarkerLook, func() (any, error) { return lookJSON(&look) })
}

// SetFocal keeps the focal length of a file, px of the upright photo; 0: not known.
func (s *Store) SetFocal(ctx context.Context, sha string, focalPX float64) error {
	return s.setOriginal(ctx, "set focal length "+sha, sha, setFocal, func() (any, error) { return focalPX, nil })
}

func (s *Store) setOriginal(ctx context.Context, op, sha string, q *stmt, value func() (any, error)) error {
	return s.write(ctx, op, func(t tx) error {
		v, err := value()
		if err != nil {
			return err
		}
		n, err := t.exec(q, v, sha)
		if err == nil && n == 0 {
			return notFound("photo")
		}
		return err
	})
}

// LookedAtBefore are the hashes of the originals that no maker of that version or a later one has looked at for a marker,
// newest first.
func (s *Store) LookedAtBefore(ctx context.Context, maker int) ([]string, error) {
	out := []string{}
	err := s.read(ctx, "originals to look at", func(t tx) error {
		return t.each(func(r scanner) error {
			var sha string
			err := r.Scan(&sha)
			out = append(out, sha)
			return err
		}, lookedAtOlder, maker)
	})
	return out, err
}

func tapeJSON(v *tl.Tape) (string, error) {
	if v != nil {
		if err := checkPlaces([]tl.XY{v.A, v.B}); err != nil {
			return "", tl.NewFault(tl.Invalid, "fault.store.edge_place").In("tape")
		}
		if math.IsNaN(v.MM) || v.MM <= 0 || v.MM > 5000 {
			return "", tl.NewFault(tl.Invalid, "fault.store.tape").In("tape.mm")
		}
	}
	return asJSON(v), nil
}

// SaveTape keeps where the two marks of the tape line are in a photo; nil takes them away. Rev is checked.
func (s *Store) SaveTape(ctx context.Context, id tl.ID, rev tl.Rev, tape *tl.Tape) (p tl.Photo, err error) {
	text, err := tapeJSON(tape)
	if err != nil {
		return p, fault("save tape "+string(id), err)
	}
	err = s.write(ctx, "save tape "+string(id), func(t tx) error {
		n, err := t.exec(updateTape, text, id, rev)
		if err != nil {
			return err
		}
		if n == 0 {
			return missed(t, photos, id)
		}
		p, err = photo(t, selectPhoto, id)
		return err
	})
	if err != nil {
		return tl.Photo{}, err
	}
	return p, nil
}
