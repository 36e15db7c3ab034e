package salon

import (
	"context"

	"thatch/timeline"
)

// PhotoAt is a photo as somebody has seen it.
type PhotoAt struct {
	ID  timeline.ID
	Rev timeline.Rev
}

// SayOfPhotos keeps the same word of several photos of a dog, as of those that have just come in. A photo that somebody else
// has changed meanwhile stays as it is; the others are kept, and the first fault is returned.
func (s *Salon) SayOfPhotos(ctx context.Context, dog timeline.ID, of []PhotoAt, e PhotoEdit) error {
	if len(of) == 0 {
		return invalid("photo", "fault.form")
	}
	for _, at := range of {
		p, err := s.Photo(ctx, at.ID)
		if err != nil {
			return err
		}
		if p.Dog != dog {
			return notFound("photo " + string(at.ID))
		}
	}
	var first error
	for _, at := range of {
		if _, err := s.SetPhotoFacts(ctx, at.ID, at.Rev, e); err != nil && first == nil {
			first = err
		}
	}
	return first
}

// JustAdded is what became of photos that came in a moment ago, in the order of the IDs. Those that are gone or another dog's
// are left out.
func (s *Salon) JustAdded(ctx context.Context, dog timeline.ID, photos []timeline.ID) ([]Added, error) {
	out := []Added{}
	for _, id := range photos {
		p, err := s.Photo(ctx, id)
		if isNotFound(err) || err == nil && p.Dog != dog {
			continue
		}
		if err != nil {
			return nil, err
		}
		a, err := s.whereItWent(ctx, Added{}, id, false)
		if err != nil {
			return nil, err
		}
		out = append(out, a)
	}
	return out, nil
}
