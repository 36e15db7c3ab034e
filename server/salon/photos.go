package salon

import (
	"context"
	"slices"

	"thatch/imaging/align"
	"thatch/timeline"
)

// Photo is a photo that is not in the trash, with its confirmed points.
func (s *Salon) Photo(ctx context.Context, id timeline.ID) (timeline.Photo, error) {
	p, err := s.st.Photo(ctx, id)
	if err == nil && !p.Trashed.IsZero() {
		return timeline.Photo{}, notFound("photo " + string(id))
	}
	return p, err
}

// SetPhotoFacts keeps what a person says of a photo; Rev is checked.
func (s *Salon) SetPhotoFacts(ctx context.Context, photo timeline.ID, rev timeline.Rev, e PhotoEdit) (timeline.Photo, error) {
	p, err := s.Photo(ctx, photo)
	if err != nil {
		return p, err
	}
	if err := checkWordOrUnsaid("phase", e.Phase, timeline.Phases()); err != nil {
		return p, err
	}
	if err := checkWordOrUnsaid("side", e.Side, timeline.Sides()); err != nil {
		return p, err
	}
	if err := checkWordOrUnsaid("coat_state", e.CoatState, timeline.CoatStates()); err != nil {
		return p, err
	}
	if err := checkWordOrUnsaid("facing", e.Facing, []timeline.Side{timeline.SideLeft, timeline.SideRight}); err != nil {
		return p, err
	}
	p.Rev = rev
	if e.Phase != "" {
		p.Phase, p.PhaseSaid = e.Phase, true
	} else if e.PhaseByTime {
		p.PhaseSaid = false
	}
	if e.Side != "" && e.Side != p.Side {
		// Whose left side is seen looks left, unless the picture is a mirror image; the points know better.
		if e.Side.Measured() && e.Facing == "" && align.FacingOf(p.Landmarks) == "" {
			p.Facing = e.Side
		}
		p.Side = e.Side
	}
	if e.CoatState != "" {
		p.CoatState = e.CoatState
	} else if e.CoatUnsaid {
		p.CoatState = timeline.CoatUnsaid
	}
	if e.Facing != "" {
		p.Facing = e.Facing
	}
	p, err = s.st.UpdatePhoto(ctx, p)
	if err != nil {
		return p, err
	}
	if e.PhaseByTime && e.Phase == "" {
		if err := s.proposePhases(ctx, p.Dog, p.Session); err != nil {
			return p, err
		}
		return s.st.Photo(ctx, p.ID)
	}
	return p, nil
}

// OpenSessionForPhoto opens the session of the photo's day (or finds it) and pairs the waiting photos of that day with it.
func (s *Salon) OpenSessionForPhoto(ctx context.Context, photo timeline.ID) (timeline.Session, error) {
	p, err := s.Photo(ctx, photo)
	if err != nil {
		return timeline.Session{}, err
	}
	if p.Moment.Day().IsZero() {
		return timeline.Session{}, invalid("photo", "fault.photo.no_date")
	}
	return s.OpenSession(ctx, p.Dog, p.Moment.Day())
}

// PairPhoto pairs a photo with a session of its dog, of whatever day; session "" makes it wait again. Rev is checked.
func (s *Salon) PairPhoto(ctx context.Context, photo timeline.ID, rev timeline.Rev, session timeline.ID) (timeline.Photo, error) {
	p, err := s.Photo(ctx, photo)
	if err != nil {
		return p, err
	}
	if session != "" {
		v, err := s.Session(ctx, session)
		if err != nil {
			return p, err
		}
		if v.Dog != p.Dog {
			return p, invalid("session", "fault.photo.other_dog")
		}
	}
	old := p.Session
	p.Rev, p.Session = rev, session
	if p, err = s.st.UpdatePhoto(ctx, p); err != nil {
		return p, err
	}
	for _, id := range []timeline.ID{old, session} {
		if err := s.proposePhases(ctx, p.Dog, id); err != nil {
			return p, err
		}
	}
	return s.st.Photo(ctx, p.ID)
}

// TrashPhoto puts a photo aside; its original stays.
func (s *Salon) TrashPhoto(ctx context.Context, id timeline.ID) error {
	p, err := s.Photo(ctx, id)
	if err != nil {
		return err
	}
	if err := s.st.TrashPhoto(ctx, id); err != nil {
		return err
	}
	return s.proposePhases(ctx, p.Dog, p.Session)
}

// RestorePhoto brings it back.
func (s *Salon) RestorePhoto(ctx context.Context, id timeline.ID) error {
	if err := s.st.RestorePhoto(ctx, id); err != nil {
		return err
	}
	p, err := s.st.Photo(ctx, id)
	if err != nil {
		return err
	}
	return s.proposePhases(ctx, p.Dog, p.Session)
}

// Photos of a dog by local time, those in the trash left out.
func (s *Salon) Photos(ctx context.Context, dog timeline.ID) ([]timeline.Photo, error) {
	a, err := s.albumOf(ctx, dog)
	if err != nil {
		return nil, err
	}
	return slices.Clone(a.photos), nil
}
