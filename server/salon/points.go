package salon

import (
	"context"
	"math"

	"thatch/imaging/align"
	"thatch/imaging/outline"
	"thatch/imaging/outline/guess"
	"thatch/timeline"
)

// SavePoints replaces the photo's points, px of the upright original; empty removes them. Rev is checked.
func (s *Salon) SavePoints(ctx context.Context, photo timeline.ID, rev timeline.Rev, lm timeline.Landmarks) (timeline.Photo, error) {
	p, err := s.Photo(ctx, photo)
	if err != nil {
		return p, err
	}
	if len(lm) > 0 && !p.Side.Measured() {
		return p, invalid("points", "fault.points.side")
	}
	for pt := range lm {
		if !pt.Known() {
			return p, invalid("points", "fault.points.unknown", "text", clip(string(pt), 40), "points", codes(timeline.Points()))
		}
	}
	for _, pt := range timeline.Points() {
		xy, ok := lm[pt]
		if !ok {
			continue
		}
		field := "points." + string(pt)
		// A point may lie a little outside: a paw or a nose that the frame cuts.
		marginX, marginY := 0.25*float64(p.WidthPX), 0.25*float64(p.HeightPX)
		if math.IsNaN(xy.X+xy.Y) || xy.X < -marginX || xy.Y < -marginY || xy.X > float64(p.WidthPX)+marginX || xy.Y > float64(p.HeightPX)+marginY {
			return p, invalid(field, "fault.points.outside", "point", pt)
		}
	}
	saved, err := s.st.SaveLandmarks(ctx, p.ID, rev, lm)
	if err != nil {
		return p, err
	}
	// A dog whose nose points to the left of the picture shows its left side: where the points tell, they win.
	if facing := align.FacingOf(saved.Landmarks); facing != "" && (facing != saved.Facing || facing != saved.Side) {
		saved.Facing, saved.Side = facing, facing
		if saved, err = s.st.UpdatePhoto(ctx, saved); err != nil {
			return saved, err
		}
	}
	return saved, s.edgeUnderPoints(ctx, p, saved)
}

// ProposePoints says where the points of a photo probably are: found again from the dog's photo with points that is
// nearest in time, of the same side if there is one. Without such a photo they are told by her outline, the one that was
// found in this photo before or what the picture alone says; where that says nothing they are a standing dog's usual places,
// with confidence 0. Nothing is stored: a person confirms.
func (s *Salon) ProposePoints(ctx context.Context, photo timeline.ID) (Proposal, error) {
	p, err := s.Photo(ctx, photo)
	if err != nil {
		return Proposal{}, err
	}
	if !p.Side.Measured() {
		return Proposal{}, invalid("photo", "fault.points.side")
	}
	photos, err := s.st.Photos(ctx, p.Dog)
	if err != nil {
		return Proposal{}, err
	}
	if photos, err = s.ofHerSize(ctx, p, photos); err != nil {
		return Proposal{}, err
	}
	from, ok := teacherOf(p, photos)
	if !ok {
		return s.pointsOfOutline(ctx, p)
	}
	for _, sha := range []string{p.SHA256, from.SHA256} {
		if err := s.derive(ctx, sha); err != nil {
			return Proposal{}, err
		}
	}
	release, err := s.holdPixels(ctx)
	if err != nil {
		return Proposal{}, err
	}
	defer release()
	prev, err := s.decoded(ctx, from.SHA256, PictureView)
	if err != nil {
		return Proposal{}, err
	}
	next, err := s.decoded(ctx, p.SHA256, PictureView)
	if err != nil {
		return Proposal{}, err
	}
	found := align.Propose(prev, scaled(from.Landmarks, from.WidthPX, prev.Bounds().Dx()), from.Facing, next)
	if len(found.Landmarks) == 0 {
		return usualPlaces(p), nil
	}
	return Proposal{
		Landmarks:  within(scaled(found.Landmarks, next.Bounds().Dx(), p.WidthPX), p),
		Confidence: found.Confidence, Facing: found.Facing, Found: found.Found, From: from,
	}, nil
}

// pointsOfOutline are the points as silhouette and pose tell them.
func (s *Salon) pointsOfOutline(ctx context.Context, p timeline.Photo) (Proposal, error) {
	e, err := s.edgeOf(ctx, p.ID)
	if err != nil {
		return Proposal{}, err
	}
	if err := s.derive(ctx, p.SHA256); err != nil {
		return Proposal{}, err
	}
	release, err := s.holdPixels(ctx)
	if err != nil {
		return Proposal{}, err
	}
	defer release()
	view, err := s.decoded(ctx, p.SHA256, PictureView)
	if err != nil {
		return Proposal{}, err
	}
	r := resultOf(e, p, view)
	sure := 1.0
	if e.Rev == 0 {
		g, confidence, ok := guess.Auto(view)
		if !ok {
			return usualPlaces(p), nil
		}
		if r, err = outline.Find(view, g); err != nil {
			return usualPlaces(p), nil // a guess that is none: nothing is known
		}
		sure = confidence
	}
	lm, confidence, facing, ok := guess.Points(r)
	if !ok || len(lm) == 0 {
		return usualPlaces(p), nil
	}
	out := Proposal{Confidence: map[timeline.Point]float64{}, Facing: facing, Found: true, Outlined: true}
	out.Landmarks = within(scaled(lm, view.Bounds().Dx(), p.WidthPX), p)
	for pt := range out.Landmarks {
		out.Confidence[pt] = confidence[pt] * sure // a point is no surer than the outline that it was read from
	}
	return out, nil
}

// teacherOf is the photo whose points are the best start: same side before any other, most points of the trunk, then
// nearest in time, the earlier one of two as near.
func teacherOf(p timeline.Photo, photos []timeline.Photo) (timeline.Photo, bool) {
	var best timeline.Photo
	distance := func(q timeline.Photo) float64 {
		if p.Moment.Instant.IsZero() || q.Moment.Instant.IsZero() {
			return math.MaxFloat64
		}
		return math.Abs(p.Moment.Instant.Sub(q.Moment.Instant).Hours())
	}
	better := func(a, b timeline.Photo) bool {
		if (a.Side == p.Side) != (b.Side == p.Side) {
			return a.Side == p.Side
		}
		if ma, mb := len(missingTrunk(a.Landmarks)), len(missingTrunk(b.Landmarks)); ma != mb {
			return ma < mb
		}
		return distance(a) < distance(b)
	}
	for _, q := range photos {
		if q.ID != p.ID && q.Side.Measured() && len(q.Landmarks) >= 3 && (best.ID == "" || better(q, best)) {
			best = q
		}
	}
	return best, best.ID != ""
}

// usual are the places of the points on a square terrier that looks left and fills most of the frame, as shares of its
// width and height; by eye, a mere start for the finger.
var usual = map[timeline.Point][2]float64{
	timeline.Nose: {0.14, 0.27}, timeline.Eye: {0.21, 0.22}, timeline.Occiput: {0.30, 0.19},
	timeline.WithersPt: {0.40, 0.34}, timeline.MidBack: {0.55, 0.36}, timeline.TailSet: {0.70, 0.36},
	timeline.Buttock: {0.76, 0.46}, timeline.Prosternum: {0.31, 0.50}, timeline.Elbow: {0.42, 0.60},
	timeline.Hock: {0.76, 0.74}, timeline.FrontPaw: {0.40, 0.87}, timeline.HindPaw: {0.73, 0.87},
}

func usualPlaces(p timeline.Photo) Proposal {
	out := Proposal{Landmarks: timeline.Landmarks{}, Confidence: map[timeline.Point]float64{}, Facing: p.Facing}
	for pt, at := range usual {
		x := at[0]
		if p.Facing == timeline.SideRight {
			x = 1 - x
		}
		out.Landmarks[pt] = timeline.XY{X: x * float64(p.WidthPX-1), Y: at[1] * float64(p.HeightPX-1)}
		out.Confidence[pt] = 0
	}
	return out
}

// within moves proposed points to the nearest place in the picture, where a finger can take them up.
func within(lm timeline.Landmarks, p timeline.Photo) timeline.Landmarks {
	for pt, xy := range lm {
		lm[pt] = timeline.XY{
			X: math.Min(math.Max(xy.X, 0), float64(p.WidthPX-1)),
			Y: math.Min(math.Max(xy.Y, 0), float64(p.HeightPX-1)),
		}
	}
	return lm
}
