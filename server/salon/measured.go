package salon

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"math"
	"slices"
	"strconv"

	"thatch/imaging/measure"
	"thatch/timeline"
	"thatch/timeline/coat"
)

// photoDepths is what a dog's photos have said of depths; nil: nothing. It holds no expectation, so that it may test one.
type photoDepths struct {
	blocks []*block
	of     map[sittingKey]map[timeline.Zone]measure.Figure // of both sides together
	coat   map[timeline.Zone][]coat.Depth                  // at the start of a day, for the model: combs without a photo too
}

// at is the depth of a zone at the start or the end of a day.
func (d *photoDepths) at(on timeline.Day, end bool, z timeline.Zone) (measure.Figure, bool) {
	if d == nil {
		return measure.Figure{}, false
	}
	phase := timeline.PhaseStart
	if end {
		phase = timeline.PhaseEnd
	}
	f, ok := d.of[sittingKey{on, phase}][z]
	return f, ok
}

// depthsOf is what a dog's photos and combs say, from memory where nothing has changed since.
func (s *Salon) depthsOf(ctx context.Context, d timeline.Dog) (*photoDepths, error) {
	album, err := s.albumOf(ctx, d.ID)
	if err != nil {
		return nil, err
	}
	stamp := album.measured
	combs, err := s.st.Combs(ctx, d.ID)
	if err != nil || stamp == "" && len(combs) == 0 {
		return nil, err
	}
	said, err := json.Marshal(combs)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(said)
	key := stamp + " " + hex.EncodeToString(sum[:]) + " " + string(d.ID) + " " + strconv.FormatFloat(d.WithersMM, 'g', -1, 64)
	return s.depths.get(key, func() (*photoDepths, error) {
		v := evidence{dog: d, combs: combs}
		if stamp != "" {
			if v, err = s.evidenceOf(ctx, d, combs); err != nil {
				return nil, err
			}
		}
		return v.depths(), nil
	})
}

func (s *Salon) evidenceOf(ctx context.Context, d timeline.Dog, combs []timeline.Reading) (v evidence, err error) {
	v = evidence{dog: d, combs: combs}
	if v.photos, err = s.st.Photos(ctx, d.ID); err != nil {
		return v, err
	}
	if v.edges, err = s.st.Edges(ctx, d.ID); err != nil {
		return v, err
	}
	v.scales, err = s.st.Scales(ctx, d.ID)
	return v, err
}

func (v evidence) depths() *photoDepths {
	out := &photoDepths{blocks: v.blocks(), of: map[sittingKey]map[timeline.Zone]measure.Figure{}, coat: map[timeline.Zone][]coat.Depth{}}
	for _, b := range out.blocks {
		for _, z := range measure.Measured() {
			var told []int
			for k := range b.keys {
				if _, why := b.tell(k, z); why.IsZero() {
					told = append(told, k)
				}
			}
			for _, k := range told {
				f, _ := b.tell(k, z)
				f.SDMM = b.result.Apart(k, z, told)
				if out.of[b.keys[k]] == nil {
					out.of[b.keys[k]] = map[timeline.Zone]measure.Figure{}
				}
				out.of[b.keys[k]][z] = both(out.of[b.keys[k]][z], f)
			}
		}
	}
	for key, zones := range out.of {
		if key.phase != timeline.PhaseStart {
			continue
		}
		for z, f := range zones {
			out.coat[z] = append(out.coat[z], coat.Depth{On: key.on, DepthMM: f.MM, SDMM: f.SDMM})
		}
	}
	// A comb's reading that a photo's figure was made with must not count twice.
	for _, r := range v.combs {
		key := sittingKey{r.On, phaseOf(r.Phase)}
		if _, seen := out.of[key][r.Zone]; !seen && key.phase == timeline.PhaseStart {
			out.coat[r.Zone] = append(out.coat[r.Zone], coat.Depth{On: r.On, DepthMM: r.LengthMM, SDMM: r.SDMM})
		}
	}
	for z := range out.coat {
		slices.SortStableFunc(out.coat[z], func(a, b coat.Depth) int { return int(a.On - b.On) })
	}
	return out
}

// both sides' figures of one zone: the coat is worked alike on both.
func both(a, b measure.Figure) measure.Figure {
	if a.N == 0 {
		return b
	}
	wa, wb := 1/(a.SDMM*a.SDMM), 1/(b.SDMM*b.SDMM)
	return measure.Figure{MM: (wa*a.MM + wb*b.MM) / (wa + wb), SDMM: math.Sqrt(1 / (wa + wb)), N: a.N + b.N}
}

// Measured is what the photos of a dog say, with what was expected and what can be done about the topline.
func (s *Salon) Measured(ctx context.Context, dog timeline.ID) (Measured, error) {
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return Measured{}, err
	}
	h, err := s.history(ctx, d)
	if err != nil {
		return Measured{}, err
	}
	out := Measured{Dog: d, Today: h.today, Sittings: []MeasuredSitting{}}
	if out.Floor, out.Checked, err = s.floor(ctx); err != nil {
		return out, err
	}
	for i := range h.shows {
		if h.shows[i].On >= h.today {
			out.Show = &h.shows[i]
			break
		}
	}
	if h.seen == nil {
		return out, nil
	}
	for _, b := range h.seen.blocks {
		for k := range b.keys {
			m, err := s.sitting(ctx, h, out, b, k)
			if err != nil {
				return out, err
			}
			out.Sittings = append(out.Sittings, m)
		}
	}
	slices.SortStableFunc(out.Sittings, func(a, b MeasuredSitting) int {
		return sittingKey{b.On, b.Phase}.compare(sittingKey{a.On, a.Phase})
	})
	for i := range out.Sittings {
		t := &out.Sittings[i]
		if t.Wanted, err = s.wanted(ctx, h.seen, t); err != nil {
			return out, err
		}
	}
	return out, s.advise(h, &out)
}

// sitting is one of a block's, as it is shown.
func (s *Salon) sitting(ctx context.Context, h history, of Measured, b *block, k int) (MeasuredSitting, error) {
	key := b.keys[k]
	m := MeasuredSitting{On: key.on, Phase: key.phase, Side: b.side, Photos: b.photos[k], Zones: []MeasuredZone{}}
	if i := slices.IndexFunc(h.sessions, func(v timeline.Session) bool { return v.On == key.on }); i >= 0 {
		m.Session = h.sessions[i].ID
	}
	c, err := s.coatOn(ctx, h, m.First())
	if err != nil {
		return m, err
	}
	if m.Lines, err = s.overlayOn(ctx, h, m.First()); err != nil || len(b.shapes[k]) == 0 {
		return m, err
	}
	for _, p := range m.Photos {
		if p.Why.IsZero() && (m.By == "" || p.Scale.ForDepths()) {
			m.By = p.Scale.By
		}
	}
	m.Shape, _ = measure.Toplines(b.shapes[k])
	for _, z := range timeline.Zones() {
		if !slices.Contains(measure.Measured(), z) {
			continue
		}
		zone := MeasuredZone{Zone: z}
		f, why := b.tell(k, z)
		if zone.Why = why; why.IsZero() {
			zone.DepthMM = &f
			b.change(&zone, k, of.Floor)
		}
		if e, ok := c.expectedDepthMM(z); ok {
			zone.Expected = &e
		}
		m.Zones = append(m.Zones, zone)
	}
	return m, nil
}

// change fills in what has changed since the sitting before; an end is held against the start of its own day where there is
// one, because that is the day's work.
func (b *block) change(zone *MeasuredZone, k int, floor timeline.Floor) {
	for from := k - 1; from >= 0; from-- {
		if _, why := b.tell(from, zone.Zone); !why.IsZero() {
			continue
		}
		f, ok := b.result.Change(zone.Zone, from, k)
		if !ok {
			return
		}
		zone.ChangeMM, zone.Since = &f, b.keys[from].on
		// Two standings-up differ by √2 of the spread of one.
		least := math.Max(surelyChanged*f.SDMM, 2*math.Sqrt2*floor.DepthMM[zone.Zone])
		zone.Real = math.Abs(f.MM) > least
		return
	}
}

// worked is what a day's work has changed by its photos, end against start; of the side with more to tell.
func (s *Salon) worked(ctx context.Context, h history, on timeline.Day) ([]MeasuredZone, error) {
	out := []MeasuredZone{}
	if h.seen == nil {
		return out, nil
	}
	floor, _, err := s.floor(ctx)
	if err != nil {
		return out, err
	}
	for _, b := range h.seen.blocks {
		end := slices.Index(b.keys, sittingKey{on, timeline.PhaseEnd})
		if end < 0 {
			continue
		}
		var side []MeasuredZone
		for _, z := range measure.Measured() {
			f, why := b.tell(end, z)
			if !why.IsZero() {
				continue
			}
			zone := MeasuredZone{Zone: z, DepthMM: &f}
			if b.change(&zone, end, floor); zone.ChangeMM != nil && zone.Since == on {
				side = append(side, zone)
			}
		}
		if len(side) > len(out) {
			out = side
		}
	}
	return out, nil
}

// surelyChanged, in standard deviations: nine times in ten it is not chance.
const surelyChanged = 1.645

// ToMeasure are the dog's newest photos of a side whose edge somebody could look at next, the best prepared first.
func (s *Salon) ToMeasure(ctx context.Context, dog timeline.ID) ([]timeline.Photo, error) {
	all, err := s.st.Photos(ctx, dog)
	if err != nil {
		return nil, err
	}
	out := []timeline.Photo{}
	for _, ready := range []bool{true, false} {
		for _, p := range slices.Backward(all) {
			if p.Side.Measured() && (lookOnly(p).IsZero() == ready) && len(out) < mostOffered {
				out = append(out, p)
			}
		}
	}
	return out, nil
}

// mostOffered photos fill a phone.
const mostOffered = 6
