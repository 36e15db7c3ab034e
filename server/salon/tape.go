package salon

import (
	"context"

	"thatch/imaging/align"
	"thatch/store"
	"thatch/timeline"
)

// TapeLook is a photo with the two marks of its tape line.
type TapeLook struct {
	Dog    timeline.Dog
	Photo  timeline.Photo
	Tape   timeline.Tape // as kept, else where to begin
	Kept   bool
	Scale  ScaleFigure // by the kept marks; By "" without
	Marker bool        // the table marker is seen, and its scale is taken
}

// TapeMM is how far apart the marks are by the protocol.
const TapeMM = 500.0

// Bounds of a distance between two marks on a grooming table, mm.
const leastTapeMM, mostTapeMM = 50.0, 2000.0

// TapeLook of a photo from the left or the right.
func (s *Salon) TapeLook(ctx context.Context, photo timeline.ID) (TapeLook, error) {
	p, err := s.Photo(ctx, photo)
	if err != nil {
		return TapeLook{}, err
	}
	out := TapeLook{Photo: p}
	if out.Dog, err = s.Dog(ctx, p.Dog); err != nil {
		return out, err
	}
	o, err := s.st.Original(ctx, p.SHA256)
	if err != nil {
		return out, err
	}
	out.Marker = o.Marker != nil && o.Marker.Seen != nil
	if p.Tape != nil {
		out.Tape, out.Kept = *p.Tape, true
		out.Scale = scaleSeen(p, store.Scale{FocalPX: o.FocalPX})
		return out, nil
	}
	// The tape lies under the near paws.
	w, h := float64(p.WidthPX), float64(p.HeightPX)
	out.Tape = timeline.Tape{A: timeline.XY{X: 0.3 * w, Y: 0.85 * h}, B: timeline.XY{X: 0.7 * w, Y: 0.85 * h}, MM: TapeMM}
	front, hasFront := p.Landmarks[timeline.FrontPaw]
	hind, hasHind := p.Landmarks[timeline.HindPaw]
	if hasFront && hasHind {
		out.Tape.A, out.Tape.B = front, hind
	}
	return out, nil
}

// SaveTape keeps where the two marks are in a photo, px of the upright original, and how far apart they are, mm.
func (s *Salon) SaveTape(ctx context.Context, photo timeline.ID, rev timeline.Rev, tape timeline.Tape) (timeline.Photo, error) {
	p, err := s.Photo(ctx, photo)
	if err != nil {
		return p, err
	}
	if !p.Side.Measured() {
		return p, invalid("photo", "fault.tape.side")
	}
	if err := placesIn("marks", p, []timeline.XY{tape.A, tape.B}, 2); err != nil {
		return p, err
	}
	if !(tape.MM >= leastTapeMM && tape.MM <= mostTapeMM) {
		return p, invalid("mm", "fault.tape.distance", "least", timeline.LengthMM(leastTapeMM), "most", timeline.LengthMM(mostTapeMM))
	}
	if _, _, err := align.ScaleFromTape(tape.A, tape.B, tape.MM, align.TapeSD{}); err != nil {
		return p, invalid("marks", "fault.align.tape_short")
	}
	return s.st.SaveTape(ctx, photo, rev, &tape)
}

// RemoveTape takes the marks away.
func (s *Salon) RemoveTape(ctx context.Context, photo timeline.ID, rev timeline.Rev) (timeline.Photo, error) {
	return s.st.SaveTape(ctx, photo, rev, nil)
}
