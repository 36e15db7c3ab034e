package salon

import (
	"cmp"
	"math"
	"slices"

	"thatch/imaging/align"
	"thatch/imaging/measure"
	"thatch/store"
	"thatch/timeline"
)

// Bounds of what is measured together: the work grows with the cube of the photos.
const (
	maxSittings      = 8 // of one side, the newest
	maxSittingPhotos = 4 // of one sitting: the protocol's three, and one
	maxReferences    = 4 // photos tried as the one that the others are laid over
)

// What a photo is detected to be no measure for. Judgement, no source: the protocol asks for two metres and the head as
// always; what a dog that stands well does from photo to photo is about half of these angles.
const (
	leastDistanceMM = 1400.0
	mostNodDeg      = 16.0
	mostLegDeg      = 12.0
)

// sittingKey says when the coat stood still.
type sittingKey struct {
	on    timeline.Day
	phase timeline.Phase
}

// phaseOf a photo: where nobody has said and nothing was proposed, the coat is as it came.
func phaseOf(p timeline.Phase) timeline.Phase {
	if p == "" {
		return timeline.PhaseStart
	}
	return p
}

func (k sittingKey) compare(o sittingKey) int {
	phases := timeline.Phases()
	return cmp.Or(cmp.Compare(k.on, o.on), cmp.Compare(slices.Index(phases, k.phase), slices.Index(phases, o.phase)))
}

// evidence is all that figures from a dog's photos are made of.
type evidence struct {
	dog    timeline.Dog
	photos []timeline.Photo
	edges  map[timeline.ID]timeline.Edge
	scales map[string]store.Scale
	combs  []timeline.Reading
}

// block is what is adjusted together: the photos of one side.
type block struct {
	side     timeline.Side
	keys     []sittingKey // in the order of time
	photos   [][]MeasuredPhoto
	shots    []measure.Shot // whose depths can be read, by sitting
	shapes   [][]measure.Shot
	byHand   []measure.Sitting
	result   measure.Result
	measured bool
}

// bySitting sorts the photos that have an edge into the sittings of a side.
func (v evidence) bySitting(side timeline.Side) map[sittingKey][]timeline.Photo {
	out := map[sittingKey][]timeline.Photo{}
	for _, p := range v.photos {
		if e, has := v.edges[p.ID]; has && len(e.Polygon) > 0 && p.Side == side && !p.Moment.Day().IsZero() {
			k := sittingKey{p.Moment.Day(), phaseOf(p.Phase)}
			out[k] = append(out[k], p)
		}
	}
	return out
}

// measuredSides are those of which photos are measured.
func measuredSides() []timeline.Side {
	return slices.DeleteFunc(timeline.Sides(), func(s timeline.Side) bool { return !s.Measured() })
}

// blocks says of each photo of each side what keeps it from being measured, and measures the others.
func (v evidence) blocks() []*block {
	var out []*block
	for _, side := range measuredSides() {
		b := &block{side: side}
		of := v.bySitting(side)
		for k := range of {
			b.keys = append(b.keys, k)
		}
		slices.SortFunc(b.keys, sittingKey.compare)
		b.keys = b.keys[max(0, len(b.keys)-maxSittings):]
		for _, k := range b.keys {
			photos := of[k]
			b.photos = append(b.photos, v.lookAll(photos[max(0, len(photos)-maxSittingPhotos):]))
			b.byHand = append(b.byHand, measure.Sitting{ByHand: v.byHand(k)})
		}
		if len(b.keys) > 0 {
			b.refuseTurned()
			v.shoot(b)
			out = append(out, b)
		}
	}
	return out
}

func (v evidence) lookAll(photos []timeline.Photo) (out []MeasuredPhoto) {
	for _, p := range photos {
		out = append(out, v.look(p))
	}
	return out
}

// look says what can be read from a photo.
func (v evidence) look(p timeline.Photo) MeasuredPhoto {
	out := MeasuredPhoto{Photo: p, Scale: scaleSeen(p, v.scales[p.SHA256])}
	e := v.edges[p.ID]
	out.Confirmed = e.Confirmed
	if why := lookOnly(p); !why.IsZero() {
		out.Why = why
		return out
	}
	if len(e.Confirmed) == 0 {
		out.Why = timeline.Say("measured.unconfirmed")
		return out
	}
	if out.Scale.By == "" {
		scale, err := scaleByWithers(p, v.dog.WithersMM, 0, unknownDepthSDMM)
		if err != nil {
			out.Why = timeline.Say("measured.no_scale")
			return out
		}
		out.Scale = scale
		out.Depth = timeline.Say("measured.withers_scale")
	}
	if d := out.Scale.DistanceMM; d > 0 && d < leastDistanceMM {
		out.Depth = timeline.Say("measured.too_near", "distance", timeline.LengthMM(d))
	}
	return out
}

// stands says which zones are another edge than in the reference, by the angles of head and near hind leg to the trunk.
func stands(r align.Result) map[timeline.Zone]timeline.Phrase {
	out := map[timeline.Zone]timeline.Phrase{}
	trunk, has := r.Parts[timeline.PartTrunk]
	if !has {
		return out
	}
	for _, c := range []struct {
		part  timeline.Part
		most  float64
		key   string
		zones []timeline.Zone
	}{
		{timeline.PartHead, mostNodDeg, "measured.head", []timeline.Zone{timeline.Crest, timeline.Throat}},
		{timeline.PartHindleg, mostLegDeg, "measured.hindleg", []timeline.Zone{timeline.Thigh}},
	} {
		part, has := r.Parts[c.part]
		if !has {
			continue
		}
		turn := math.Remainder(part.RotationDeg()-trunk.RotationDeg(), 360)
		if math.Abs(turn) > c.most {
			for _, z := range c.zones {
				out[z] = timeline.Say(c.key)
			}
		}
	}
	return out
}

// byHand is the comb's readings of a sitting.
func (v evidence) byHand(k sittingKey) map[timeline.Zone]measure.Depth {
	of := map[timeline.Zone][]float64{}
	sd := 0.0
	for _, r := range v.combs {
		if r.On == k.on && phaseOf(r.Phase) == k.phase {
			of[r.Zone] = append(of[r.Zone], r.LengthMM)
			sd = max(sd, r.SDMM)
		}
	}
	out := map[timeline.Zone]measure.Depth{}
	for z, mm := range of {
		// Several readings share the hand and the comb: never better than half of one's error.
		out[z] = measure.Depth{MM: median(mm), SDMM: sd * max(0.5, 1/math.Sqrt(float64(len(mm))))}
	}
	return out
}

// refuseTurned refuses photos that cannot be laid over the others: the dog turned away, or points in wrong places. The one
// that most others agree with is the measure.
func (b *block) refuseTurned() {
	var used []*MeasuredPhoto
	for _, sitting := range b.photos {
		for i := range sitting {
			if sitting[i].Why.IsZero() {
				used = append(used, &sitting[i])
			}
		}
	}
	var best []timeline.Phrase
	var bestStands []map[timeline.Zone]timeline.Phrase
	fewest := math.MaxInt
	for _, ref := range used[:min(len(used), maxReferences)] {
		why, other, refused := make([]timeline.Phrase, len(used)), make([]map[timeline.Zone]timeline.Phrase, len(used)), 0
		for i, p := range used {
			if p == ref {
				continue
			}
			r := align.Align(asPlaced(ref.Photo), asPlaced(p.Photo))
			if other[i] = stands(r); !r.Comparable {
				why[i] = r.Why
				refused++
			}
			refused += len(other[i])
		}
		if refused < fewest {
			best, bestStands, fewest = why, other, refused
		}
	}
	for i, why := range best {
		used[i].Why, used[i].Stands = why, bestStands[i]
	}
}

// shoot makes the shots of what is left.
func (v evidence) shoot(b *block) {
	b.shapes = make([][]measure.Shot, len(b.keys))
	for k, sitting := range b.photos {
		for _, p := range sitting {
			if !p.Why.IsZero() {
				continue
			}
			e := v.edges[p.Photo.ID]
			shot := measure.Shot{
				Outline: e.Polygon, Landmarks: p.Photo.Landmarks, Facing: p.Photo.Facing, WidthPX: p.Photo.WidthPX, HeightPX: p.Photo.HeightPX,
				MMPerPX: p.Scale.MMPerPX, SDMMPerPX: p.Scale.SDMMPerPX, DistanceMM: p.Scale.DistanceMM, Sitting: k, Skip: map[timeline.Zone]bool{},
			}
			for _, z := range measure.Measured() {
				_, otherwise := p.Stands[z]
				shot.Skip[z] = !slices.Contains(e.Confirmed, z) || e.LookOnly[z] != "" || otherwise
			}
			b.shapes[k] = append(b.shapes[k], shot)
			if p.Scale.ForDepths() {
				b.shots = append(b.shots, shot)
			}
		}
	}
	b.result, b.measured = measure.Depths(b.shots, b.byHand)
}

// tell is a zone's depth at a sitting, or why there is none.
func (b *block) tell(k int, z timeline.Zone) (measure.Figure, timeline.Phrase) {
	why, looked, ready := timeline.Say("measure.no_photo"), false, false
	unseen := timeline.Say("measure.unconfirmed")
	for _, p := range b.photos[k] {
		if p.Why.IsZero() {
			why = p.Depth
		}
		if other := p.Stands[z]; !other.IsZero() {
			unseen = other
		}
		ready = ready || p.Why.IsZero() && p.Depth.IsZero()
	}
	for _, s := range b.shots {
		looked = looked || s.Sitting == k && !s.Skip[z]
	}
	switch {
	case !ready:
		return measure.Figure{}, why
	case !looked:
		return measure.Figure{}, unseen
	case !b.measured:
		return measure.Figure{}, timeline.Say("measured.not_enough")
	}
	return b.result.Tell(k, z, looked)
}
