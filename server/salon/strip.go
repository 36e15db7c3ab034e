package salon

import (
	"context"
	"math"
	"slices"

	"thatch/imaging/align"
	"thatch/timeline"
)

// ofHerSize leaves out the photos between which and p the dog has grown: they show another size, and a puppy's proportions.
func (s *Salon) ofHerSize(ctx context.Context, p timeline.Photo, photos []timeline.Photo) ([]timeline.Photo, error) {
	d, err := s.st.Dog(ctx, p.Dog)
	if err != nil {
		return nil, err
	}
	on := p.Moment.Day()
	if on.IsZero() {
		if on, err = s.Today(ctx); err != nil {
			return nil, err
		}
	}
	return stillHerSize(d.Born, on, photos), nil
}

// stillHerSize are the photos between which and a day she has not grown. Who has no birthday is grown, and nothing is copied.
func stillHerSize(born, on timeline.Day, photos []timeline.Photo) []timeline.Photo {
	if born.IsZero() {
		return photos
	}
	return slices.DeleteFunc(slices.Clone(photos), func(q timeline.Photo) bool {
		day := q.Moment.Day()
		return !day.IsZero() && timeline.Outgrown(born, min(day, on), max(day, on))
	})
}

// StripFrame is what the pictures of a dog's visits are laid into, so that she stands at one place in all of them: a box of four
// by three round her newest photo with points.
type StripFrame struct {
	ref          timeline.Photo // no ID: nothing to lay over
	x, y, width  float64        // of the frame, px of ref
	born, latest timeline.Day
}

// frameMargin is how much room is left on each side of her, as a share of her length in the picture. By eye.
const frameMargin = 0.16

func stripFrame(d timeline.Dog, today timeline.Day, photos []timeline.Photo) StripFrame {
	out := StripFrame{born: d.Born, latest: today}
	for _, p := range slices.Backward(stillHerSize(d.Born, today, photos)) {
		if p.Ready && p.Side.Measured() && trunkPlaced(p.Landmarks) {
			out.ref = p
			break
		}
	}
	if out.ref.ID == "" {
		return out
	}
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, at := range out.ref.Landmarks {
		x0, x1, y0, y1 = min(x0, at.X), max(x1, at.X), min(y0, at.Y), max(y1, at.Y)
	}
	out.width = max(x1-x0, (y1-y0)*4/3) * (1 + 2*frameMargin)
	out.x, out.y = (x0+x1)/2-out.width/2, (y0+y1)/2-out.width*3/8
	return out
}

// Placed is how a picture is laid into the frame: the six figures of a matrix that takes the picture, one wide, to the frame,
// one wide. ok is false where points are missing, or do not lie as a standing dog's do: then the picture is shown as it is.
func (f StripFrame) Placed(p timeline.Photo) (m [6]float64, ok bool) {
	if f.ref.ID == "" || !p.Side.Measured() || !trunkPlaced(p.Landmarks) || p.WidthPX == 0 {
		return m, false
	}
	fit := align.Align(bare(f.ref), bare(p))
	if !fit.Transform.Valid() || fit.RMSPX > stripRMS*f.width {
		return m, false
	}
	s, w := fit.Transform, float64(p.WidthPX)
	// x → (w − 1 − x) first where she faced the other way.
	ax, bx, cx := s.A, -s.B, s.TX
	ay, by, cy := s.B, s.A, s.TY
	if fit.Mirrored {
		cx, cy = cx+ax*(w-1), cy+ay*(w-1)
		ax, ay = -ax, -ay
	}
	k := w / f.width
	return [6]float64{ax * k, ay * k, bx * k, by * k, (cx - f.x) / f.width, (cy - f.y) / f.width}, true
}

// stripRMS is how far points may lie off each other for a picture to be turned by them, as a share of the frame. By eye.
const stripRMS = 0.03

func bare(p timeline.Photo) align.Placed {
	return align.Placed{Landmarks: p.Landmarks, WidthPX: p.WidthPX, HeightPX: p.HeightPX, Facing: p.Facing}
}

// Outgrown reports whether she has grown since a photo: it shows how she was, and nothing of today is measured against it.
func (f StripFrame) Outgrown(p timeline.Photo) bool {
	return timeline.Outgrown(f.born, p.Moment.Day(), f.latest)
}

// StripPicture is the one picture that stands for a visit: how she came, from the side, with points before without; nil: the
// visit has no picture that is ready.
func StripPicture(v Visit) *timeline.Photo {
	rank := func(p *timeline.Photo) int {
		n := 0
		if p.Side.Measured() {
			n += 4
			if trunkPlaced(p.Landmarks) {
				n += 2
			}
		}
		if p.Phase == timeline.PhaseStart {
			n++
		}
		return n
	}
	var out *timeline.Photo
	for _, p := range v.Photos {
		if p.Ready && (out == nil || rank(p) > rank(out)) {
			out = p
		}
	}
	return out
}
