package salon

import (
	"context"

	"thatch/timeline"
)

// Ghost is the photo that a new one is taken after: it lies over the camera's picture.
type Ghost struct {
	Dog      timeline.Dog
	Side     timeline.Side
	Photo    timeline.Photo // zero ID: none of this side yet
	Ref      timeline.ID    // the photo that it is laid over; its own where it is shown as it came
	Facing   timeline.Side  // where the nose points in the ghost as it is served; "": not known
	Mirrored bool           // it is a photo of the other side, to be shown mirrored
	Measured bool           // it could be measured
}

// GhostOf is the newest photo of a side that could be measured, laid over the oldest such one, so that the camera does not
// wander from visit to visit; where there is none, the same of the other side, mirrored; else the newest of the side as it is.
func (s *Salon) GhostOf(ctx context.Context, dog timeline.ID, side timeline.Side) (Ghost, error) {
	if side == "" {
		side = timeline.SideLeft
	}
	if err := checkWordOrUnsaid("side", side, timeline.Sides()); err != nil {
		return Ghost{}, err
	}
	k, err := s.recordOf(ctx, dog)
	if err != nil {
		return Ghost{}, err
	}
	photos := stillHerSize(k.dog.Born, k.today, k.photos) // of a puppy, only those of her size
	out := Ghost{Dog: k.dog, Side: side}
	other := map[timeline.Side]timeline.Side{timeline.SideLeft: timeline.SideRight, timeline.SideRight: timeline.SideLeft}[side]
	for _, of := range []timeline.Side{side, other} {
		ref, ok := referenceOf(photos, of)
		if !of.Measured() || !ok || pairRank(ref) < 2 {
			continue
		}
		last := ref
		for _, p := range photos {
			if p.Side == of && pairRank(p) == 2 && p.Trouble == "" && !p.Moment.Day().IsZero() && laysOver(p, ref) {
				last = p
			}
		}
		out.Photo, out.Ref, out.Facing, out.Mirrored, out.Measured = last, ref.ID, ref.Facing, of != side, true
		if out.Mirrored {
			out.Facing = map[timeline.Side]timeline.Side{timeline.SideLeft: timeline.SideRight, timeline.SideRight: timeline.SideLeft}[ref.Facing]
		}
		return out, nil
	}
	for _, p := range photos {
		if p.Side == side && p.Trouble == "" {
			out.Photo, out.Ref = p, p.ID
			if side.Measured() {
				out.Facing = p.Facing
			}
		}
	}
	return out, nil
}
