package salon

import (
	"cmp"
	"context"
	"slices"

	"thatch/imaging/measure"
	"thatch/timeline"
)

// usualFloor is by how much photos of a dog that has not changed differ until a salon has checked its own; judgement, no source.
var usualFloor = timeline.Floor{
	ToplineMM: 1.0,
	DepthMM: map[timeline.Zone]float64{
		timeline.Throat: 2, timeline.Crest: 2, timeline.Forechest: 1.5, timeline.Withers: 1, timeline.Back: 1, timeline.Loin: 1,
		timeline.Rump: 1, timeline.Underline: 2, timeline.Thigh: 1.5,
	},
}

// floor is the spread of this salon's photos: of its newest check, else what is usual. Zones of which a check says nothing keep
// the usual one.
func (s *Salon) floor(ctx context.Context) (timeline.Floor, *timeline.SalonCheck, error) {
	all, err := s.st.Checks(ctx)
	if err != nil || len(all) == 0 {
		return usualFloor, nil, err
	}
	f := all[0].Floor
	depth := map[timeline.Zone]float64{}
	for z, mm := range usualFloor.DepthMM {
		depth[z] = mm
		if own, ok := f.DepthMM[z]; ok {
			depth[z] = own
		}
	}
	f.DepthMM = depth
	return f, &all[0], nil
}

// CheckOffer is photos of one dog and day that a salon check can be made of.
type CheckOffer struct {
	Dog    timeline.Dog
	On     timeline.Day
	Phase  timeline.Phase
	Side   timeline.Side
	Photos []MeasuredPhoto
	Usable int // photos of which the shape can be read
}

// Enough reports that there are as many as a check wants.
func (o CheckOffer) Enough() bool { return o.Usable >= measure.StoodUp }

// Checks is the salon's checks, newest first, and the photos that another can be made of.
type Checks struct {
	Floor  timeline.Floor
	Made   []timeline.SalonCheck
	Offers []CheckOffer
	Dogs   map[timeline.ID]timeline.Dog
	Wanted int // photos
}

// leastOffered: fewer photos of a sitting are nobody's attempt at a check.
const leastOffered = 4

// Checks lists what has been checked and what could be.
func (s *Salon) Checks(ctx context.Context) (Checks, error) {
	out := Checks{Offers: []CheckOffer{}, Dogs: map[timeline.ID]timeline.Dog{}, Wanted: measure.StoodUp}
	var err error
	if out.Floor, _, err = s.floor(ctx); err != nil {
		return out, err
	}
	if out.Made, err = s.st.Checks(ctx); err != nil {
		return out, err
	}
	dogs, err := s.st.Dogs(ctx, false)
	if err != nil {
		return out, err
	}
	for _, d := range dogs {
		out.Dogs[d.ID] = d
		stamp, err := s.st.MeasuringStamp(ctx, d.ID)
		if err != nil {
			return out, err
		}
		if stamp == "" {
			continue
		}
		v, err := s.evidenceOf(ctx, d, nil)
		if err != nil {
			return out, err
		}
		for _, o := range v.offers() {
			if !slices.ContainsFunc(out.Made, func(c timeline.SalonCheck) bool { return slices.Equal(c.Photos, o.ids()) }) {
				out.Offers = append(out.Offers, o)
			}
		}
	}
	slices.SortStableFunc(out.Offers, func(a, b CheckOffer) int { return int(b.On - a.On) })
	return out, nil
}

func (o CheckOffer) ids() (out []timeline.ID) {
	for _, p := range o.Photos {
		if p.Why.IsZero() {
			out = append(out, p.Photo.ID)
		}
	}
	slices.Sort(out)
	return out
}

// offers are the sittings with many photos.
func (v evidence) offers() (out []CheckOffer) {
	for _, side := range measuredSides() {
		for k, photos := range v.bySitting(side) {
			if len(photos) < leastOffered {
				continue
			}
			o := CheckOffer{Dog: v.dog, On: k.on, Phase: k.phase, Side: side, Photos: v.lookAll(photos)}
			for _, p := range o.Photos {
				if p.Why.IsZero() {
					o.Usable++
				}
			}
			out = append(out, o)
		}
	}
	slices.SortFunc(out, func(a, b CheckOffer) int {
		return cmp.Or(sittingKey{b.On, b.Phase}.compare(sittingKey{a.On, a.Phase}), cmp.Compare(a.Side, b.Side))
	})
	return out
}

// AddCheck tells the salon's spread from photos of a dog that was stood up again before each, and keeps it.
func (s *Salon) AddCheck(ctx context.Context, photos []timeline.ID) (timeline.SalonCheck, error) {
	var none timeline.SalonCheck
	if len(photos) < measure.StoodUp || len(photos) > maxCheckPhotos {
		return none, invalid("photos", "fault.check.number", "n", measure.StoodUp, "most", maxCheckPhotos)
	}
	photos = slices.Clone(photos)
	slices.Sort(photos)
	if len(slices.Compact(slices.Clone(photos))) < len(photos) {
		return none, invalid("photos", "fault.check.twice")
	}
	first, err := s.Photo(ctx, photos[0])
	if err != nil {
		return none, err
	}
	d, err := s.Dog(ctx, first.Dog)
	if err != nil {
		return none, err
	}
	v, err := s.evidenceOf(ctx, d, nil)
	if err != nil {
		return none, err
	}
	v.photos = slices.DeleteFunc(v.photos, func(p timeline.Photo) bool { return !slices.Contains(photos, p.ID) })
	if len(v.photos) < len(photos) {
		return none, invalid("photos", "fault.check.one_dog")
	}
	for _, p := range v.photos {
		if p.Side != first.Side || p.Moment.Day() != first.Moment.Day() || phaseOf(p.Phase) != phaseOf(first.Phase) {
			return none, invalid("photos", "fault.check.one_sitting")
		}
	}
	b := &block{side: first.Side, keys: []sittingKey{{first.Moment.Day(), phaseOf(first.Phase)}}, byHand: []measure.Sitting{{}}}
	all := v.lookAll(v.photos)
	b.photos = [][]MeasuredPhoto{all}
	b.refuseTurned()
	for _, p := range all {
		if !p.Why.IsZero() {
			return none, invalid("photos", "fault.check.photo", "file", p.Photo.File, "why", p.Why)
		}
	}
	v.shoot(b)
	floor, ok := measure.Check(b.shapes[0], nil)
	if !ok || floor.N < measure.StoodUp {
		return none, invalid("photos", "fault.check.topline")
	}
	return s.st.AddCheck(ctx, timeline.SalonCheck{Dog: d.ID, On: first.Moment.Day(), Photos: photos, Floor: floor})
}

// maxCheckPhotos bounds the work of a check.
const maxCheckPhotos = 12

// TrashCheck takes a check away; it can be had back.
func (s *Salon) TrashCheck(ctx context.Context, id timeline.ID) error {
	return s.st.TrashCheck(ctx, id)
}
