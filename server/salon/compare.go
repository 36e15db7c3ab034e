package salon

import (
	"context"
	"errors"
	"slices"

	"thatch/imaging"
	"thatch/imaging/align"
	"thatch/timeline"
)

// pair is two photos of a dog, one laid over the other.
type pair struct {
	ref, over     timeline.Photo
	refOn, overOn onDay
	align         align.Result
	drawn         bool             // over can be drawn over ref
	balance       *imaging.Balance // of over; nil: as it came
}

// pairUp aligns over onto ref.
func (s *Salon) pairUp(ctx context.Context, ref, over timeline.Photo) (pair, error) {
	d, err := s.Dog(ctx, ref.Dog)
	if err != nil {
		return pair{}, err
	}
	h, err := s.history(ctx, d)
	if err != nil {
		return pair{}, err
	}
	return s.pairIn(ctx, h, ref, over)
}

func (s *Salon) pairIn(ctx context.Context, h history, ref, over timeline.Photo) (pair, error) {
	p := pair{ref: ref, over: over}
	var err error
	if p.refOn, err = s.coatOn(ctx, h, ref); err != nil {
		return p, err
	}
	if p.overOn, err = s.coatOn(ctx, h, over); err != nil {
		return p, err
	}
	if !ref.Side.Measured() || !over.Side.Measured() {
		return p, nil
	}
	p.align = align.Align(placed(p.refOn, ref), placed(p.overOn, over))
	common := 0
	for pt := range ref.Landmarks {
		if _, ok := over.Landmarks[pt]; ok {
			common++
		}
	}
	p.drawn = common >= 2 && p.align.Transform.Valid()
	return p, nil
}

// Compare lays photo b over photo a: b after a. Both are of one dog. Whatever is missing, the pictures can be looked at;
// LookOnly says why no figure is read from them.
func (s *Salon) Compare(ctx context.Context, a, b timeline.ID) (Comparison, error) {
	if a == b {
		return Comparison{}, invalid("b", "fault.compare.same")
	}
	pa, err := s.Photo(ctx, a)
	if err != nil {
		return Comparison{}, err
	}
	pb, err := s.Photo(ctx, b)
	if err != nil {
		return Comparison{}, err
	}
	if pa.Dog != pb.Dog {
		return Comparison{}, invalid("b", "fault.compare.other_dog")
	}
	d, err := s.Dog(ctx, pa.Dog)
	if err != nil {
		return Comparison{}, err
	}
	h, err := s.history(ctx, d)
	if err != nil {
		return Comparison{}, err
	}
	out, err := s.compareIn(ctx, h, pa, pb)
	if err != nil {
		return out, err
	}
	out.Balance, err = s.balanceLook(ctx, pa, pb)
	return out, err
}

func (s *Salon) compareIn(ctx context.Context, h history, a, b timeline.Photo) (Comparison, error) {
	out := Comparison{Dog: h.dog, A: a, B: b, Ref: a, Over: b, LookOnly: []timeline.Phrase{}, Zones: []CompareZone{}}
	if len(a.Landmarks) == 0 && len(b.Landmarks) > 0 {
		out.Ref, out.Over = b, a
	}
	p, err := s.pairIn(ctx, h, out.Ref, out.Over)
	if err != nil {
		return out, err
	}
	out.Align, out.Aligned = p.align, p.drawn
	if out.Align.Parts == nil {
		out.Align.Parts = map[timeline.Part]align.Similarity{}
		out.Align.ResidualsPX = map[timeline.Point]float64{}
	}

	say := func(w timeline.Phrase) {
		if !w.IsZero() && !slices.ContainsFunc(out.LookOnly, func(have timeline.Phrase) bool { return have.String() == w.String() }) {
			out.LookOnly = append(out.LookOnly, w)
		}
	}
	say(lookOnly(a))
	say(lookOnly(b))
	if a.Side.Measured() && b.Side.Measured() {
		if a.Side != b.Side {
			say(timeline.Say("look.other_side"))
		}
		// Where points are missing, that has been said.
		if len(missingTrunk(a.Landmarks)) == 0 && len(missingTrunk(b.Landmarks)) == 0 {
			say(p.align.Why)
		}
	} else if a.Side != b.Side {
		say(timeline.Say("look.other_view"))
	}
	out.Comparable = len(out.LookOnly) == 0 && p.align.Comparable

	dayA, dayB := a.Moment.Day(), b.Moment.Day()
	if !dayA.IsZero() && !dayB.IsZero() {
		out.DaysKnown, out.DaysBetween = true, int(dayB-dayA)
	}
	onA, onB := p.refOn, p.overOn
	if out.Ref.ID == b.ID {
		onA, onB = onB, onA
	}
	f := frameOf(p.refOn, out.Ref)
	out.OverlayA, out.OverlayB = f.lines(onA), f.lines(onB)
	out.Zones, err = s.compareZones(h, dayA, dayB)
	return out, err
}

// compareZones are the figures of both days, zones of which anything is known only.
func (s *Salon) compareZones(h history, a, b timeline.Day) ([]CompareZone, error) {
	at := func(on timeline.Day) (map[timeline.Zone]ZoneFigures, error) {
		if on.IsZero() {
			return map[timeline.Zone]ZoneFigures{}, nil
		}
		return s.figures(h, on)
	}
	fa, err := at(a)
	if err != nil {
		return nil, err
	}
	fb, err := at(b)
	if err != nil {
		return nil, err
	}
	out := []CompareZone{}
	for _, z := range timeline.Zones() {
		c := CompareZone{Zone: z, A: fa[z], B: fb[z]}
		if c.A.ExpectedMM == nil && c.B.ExpectedMM == nil && c.A.MeasuredMM == nil && c.B.MeasuredMM == nil {
			continue
		}
		if c.A.MeasuredMM != nil && c.B.MeasuredMM != nil && c.A.MeasuredMM.Of == c.B.MeasuredMM.Of {
			change := c.B.MeasuredMM.Median - c.A.MeasuredMM.Median
			c.ChangeMM = &change
		}
		out = append(out, c)
	}
	return out, nil
}

func faultOf(err error) *timeline.Fault {
	var f *timeline.Fault
	errors.As(err, &f)
	return f
}

// phraseOf is the sentence of an error.
func phraseOf(err error) timeline.Phrase {
	if f := faultOf(err); f != nil {
		return f.Say
	}
	return timeline.Say("fault.internal")
}
