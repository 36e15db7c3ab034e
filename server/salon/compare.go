package salon

import (
	"context"
	"errors"
	"slices"

	"thatch/imaging"
	"thatch/imaging/align"
	"thatch/imaging/overlay"
	"thatch/timeline"
)

// pair is two photos of a dog, one laid over the other.
type pair struct {
	ref, over     timeline.Photo
	refOn, overOn onDay
	align         align.Result
	drawn         bool             // over can be drawn over ref
	balance       *imaging.Balance // of over; nil: as it came
	half          bool             // shown half as large
	byMarker      bool             // laid by the table marker, not by points
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
		p.layByMarker()
		return p, nil
	}
	p.align = align.Align(placed(p.refOn, ref), placed(p.overOn, over))
	p.drawn = laysOver(over, ref) && p.align.Transform.Valid()
	return p, nil
}

// leastCommon points tell a similarity.
const leastCommon = 2

// mostMarkerZoom is how much larger a marker may be in one photo than in the other and still say how they lie.
const mostMarkerZoom = 4.0

// layByMarker lays a photo of front, rear or above over another by the table marker that both show: it brings both cameras to
// one distance and level, not the dogs onto each other.
func (p *pair) layByMarker() {
	a, b := p.refOn.scale.Marker, p.overOn.scale.Marker
	if p.ref.Side != p.over.Side || a == nil || b == nil || a.Seen == nil || b.Seen == nil {
		return
	}
	t, err := align.LeastSquares(b.Seen.CornersPX[:], a.Seen.CornersPX[:], nil)
	if err != nil || !t.Valid() || t.Scale() > mostMarkerZoom || t.Scale() < 1/mostMarkerZoom {
		return
	}
	p.align.Transform, p.align.ScaleRatio, p.align.RotationDeg = t, t.Scale(), t.RotationDeg()
	p.drawn, p.byMarker = true, true
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
	out.Align, out.Aligned, out.ByMarker = p.align, p.drawn, p.byMarker
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
		if trunkPlaced(a.Landmarks) && trunkPlaced(b.Landmarks) {
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
	if err := s.drawnByHand(ctx, p, &out); err != nil {
		return out, err
	}
	floor, _, err := s.floor(ctx)
	if err != nil {
		return out, err
	}
	changed := changes(h, a, b, onA, onB, floor)
	for z, c := range changed {
		depth, _, ok := onB.bestDepthMM(z)
		if !ok {
			depth, _, ok = onA.bestDepthMM(z)
		}
		if ok && out.Aligned {
			c.draw(f, depth)
		}
		changed[z] = c
	}
	out.Zones, err = s.compareZones(h, onA, onB, changed)
	return out, err
}

// drawnByHand puts over the others what people have drawn: the outline that is wanted for this dog, and of each photo the edge
// that somebody has looked at.
func (s *Salon) drawnByHand(ctx context.Context, p pair, out *Comparison) error {
	if !out.Ref.Side.Measured() {
		return nil
	}
	wanted, err := s.wantedOn(ctx, out.Ref)
	if err != nil {
		return err
	}
	for _, one := range []struct {
		photo timeline.Photo
		into  *Overlay
	}{{out.A, &out.OverlayA}, {out.B, &out.OverlayB}} {
		if one.photo.ID == out.Ref.ID || out.Aligned {
			e, err := s.edgeOf(ctx, one.photo.ID)
			if err != nil {
				return err
			}
			line := e.Polygon
			if one.photo.ID != out.Ref.ID && len(line) > 0 {
				line = overParts(line, p.align, one.photo)
			}
			if len(e.Confirmed) > 0 && len(line) > 2 {
				one.into.Lines = append(one.into.Lines, Line{Kind: LineEdge, D: overlay.PathD(thinned(line))})
			}
		}
		if len(wanted) > 0 {
			one.into.Lines = append(one.into.Lines, Line{Kind: LineWanted, D: overlay.PathD(wanted...)})
		}
	}
	return nil
}

// mostEdgePlaces of an edge are drawn: more than a screen shows, and a page is not to carry thousands.
const mostEdgePlaces = 250

// thinned is a ring of every so manieth place, closed.
func thinned(ring []timeline.XY) []timeline.XY {
	step := 1 + (len(ring)-1)/mostEdgePlaces
	out := make([]timeline.XY, 0, len(ring)/step+2)
	for i := 0; i < len(ring); i += step {
		out = append(out, ring[i])
	}
	return append(out, ring[0])
}

// compareZones are the figures of both photos' times, zones of which anything is known only.
func (s *Salon) compareZones(h history, a, b onDay, changed map[timeline.Zone]Change) ([]CompareZone, error) {
	fa, err := s.figuresAt(h, a)
	if err != nil {
		return nil, err
	}
	fb, err := s.figuresAt(h, b)
	if err != nil {
		return nil, err
	}
	out := []CompareZone{}
	for _, z := range timeline.Zones() {
		c := CompareZone{Zone: z, A: fa[z], B: fb[z]}
		if c.A.ExpectedMM == nil && c.B.ExpectedMM == nil && c.A.MeasuredMM == nil && c.B.MeasuredMM == nil {
			continue
		}
		if change, ok := changed[z]; ok {
			c.Change = &change
		}
		out = append(out, c)
	}
	return out, nil
}

// figuresAt are every zone's figures at the time of a photo. At the end of a day only what was measured then, or what no work
// has changed since the morning.
func (s *Salon) figuresAt(h history, c onDay) (map[timeline.Zone]ZoneFigures, error) {
	if c.on.IsZero() {
		return map[timeline.Zone]ZoneFigures{}, nil
	}
	out, err := s.figures(h, c.on)
	if err != nil || !c.end {
		return out, err
	}
	for z, f := range out {
		is := ZoneFigures{TargetMM: f.TargetMM}
		if seen, ok := h.seen.at(c.on, true, z); ok {
			is.MeasuredMM = &MeasuredMM{Of: string(timeline.OfDepth), By: "photo", Median: seen.MM, SD: seen.SDMM}
		} else if _, ok := c.measuredMM(z); ok {
			is.MeasuredMM = measuredOn(h.readings, z, c.on)
		}
		if e, ok := c.expected.Zones[z]; ok && c.known {
			of := e.LongestMM
			if is.MeasuredMM != nil && is.MeasuredMM.OfDepth() {
				of = e.DepthMM
			}
			is.ExpectedMM = &of
		}
		out[z] = is
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
