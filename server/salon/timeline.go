package salon

import (
	"context"
	"math"
	"runtime"
	"slices"
	"sync"
	"time"

	"thatch/timeline"
)

// Timeline is the dog's history.
func (s *Salon) Timeline(ctx context.Context, dog timeline.ID) (Timeline, error) {
	k, err := s.recordOf(ctx, dog)
	if err != nil {
		return Timeline{}, err
	}
	visits, unpaired, err := s.visitsOf(k.history, k.photos, func(timeline.Day) bool { return true })
	if err != nil {
		return Timeline{}, err
	}
	d := k.dog
	out := Timeline{
		Dog: TimelineDog{
			ID: d.ID, Name: d.Name, Client: d.Client, Profile: d.Profile, Texture: d.Texture,
			Undercoat: d.Answers.Undercoat, WithersMM: d.WithersMM, Sensitive: inOrder(d.Sensitive),
		},
		Shows: []TimelineShow{}, Sessions: make([]TimelineSession, len(visits)), Unpaired: timelinePhotos(unpaired),
	}
	for _, v := range k.shows {
		out.Shows = append(out.Shows, TimelineShow{Name: v.Name, On: v.On, Show: v})
	}
	for i, v := range visits {
		t := TimelineSession{ID: v.ID, On: v.On, Minutes: v.Minutes, Work: []TimelineWork{}, Photos: timelinePhotos(v.Photos), Zones: v.Zones,
			Tolerance: v.Tolerance, Breaks: v.Breaks, NotToday: v.NotToday, Note: v.Note, Session: v.Session}
		for _, w := range v.Work {
			t.Work = append(t.Work, TimelineWork{Zone: w.Zone, Do: w.Do, Share: w.Share, Tool: w.Tool, Ripeness: w.Ripeness, HairCheck: w.HairCheck, Skin: w.Skin})
		}
		out.Sessions[i] = t
	}
	return out, nil
}

// visitsOf are the sessions, oldest first, and the photos that belong to none. It works out the figures of the days that are
// wanted: each takes a model of what was known then. Nothing is made of a photo but where it belongs: a dog has hundreds, and
// this is asked again after each line of the log.
func (s *Salon) visitsOf(h history, photos []timeline.Photo, wanted func(on timeline.Day) bool) (visits []Visit, unpaired []*timeline.Photo, err error) {
	visits = make([]Visit, len(h.sessions))
	at := make(map[timeline.ID]int, len(h.sessions))
	for i, v := range h.sessions {
		at[v.ID] = i
		visits[i].Session = v
	}
	for i := range photos {
		p := &photos[i]
		if v, ok := at[p.Session]; ok {
			visits[v].Photos = append(visits[v].Photos, p)
		} else {
			unpaired = append(unpaired, p)
		}
	}
	err = each(len(visits), func(i int) (err error) {
		if !wanted(visits[i].On) {
			return nil
		}
		visits[i].Zones, err = s.figures(h, visits[i].On)
		return err
	})
	return visits, unpaired, err
}

// figures are every zone's figures at the start of a day.
func (s *Salon) figures(h history, on timeline.Day) (map[timeline.Zone]ZoneFigures, error) {
	f, known, err := s.expected(h, on)
	if err != nil {
		return nil, err
	}
	out := map[timeline.Zone]ZoneFigures{}
	for _, z := range timeline.Zones() {
		figures := ZoneFigures{MeasuredMM: measuredOn(h.readings, z, on), TargetMM: h.target(z, on)}
		if seen, ok := h.seen.at(on, false, z); ok && figures.MeasuredMM == nil {
			figures.MeasuredMM = &MeasuredMM{Of: string(timeline.OfDepth), By: "photo", Median: seen.MM, SD: seen.SDMM}
		}
		if e, ok := f.Zones[z]; ok && known {
			of := e.LongestMM
			if figures.MeasuredMM != nil && figures.MeasuredMM.OfDepth() {
				of = e.DepthMM
			}
			figures.ExpectedMM = &of
		}
		out[z] = figures
	}
	return out, nil
}

// measuredAt reports whether anything was measured on a day, by ruler or by photo.
func (h history) measuredAt(on timeline.Day) bool {
	if slices.ContainsFunc(h.readings, func(r timeline.Reading) bool { return r.On == on }) {
		return true
	}
	return slices.ContainsFunc(timeline.Zones(), func(z timeline.Zone) bool { _, ok := h.seen.at(on, false, z); return ok })
}

// measuredOn is the median of the day's ruler readings of a zone; several readings narrow it, never below half the error
// of one, because they share the hand and the ruler.
func measuredOn(readings []timeline.Reading, z timeline.Zone, on timeline.Day) *MeasuredMM {
	var mm []float64
	sd := 0.0
	for _, r := range readings {
		if r.Zone == z && r.On == on {
			mm = append(mm, r.LengthMM)
			sd = max(sd, r.SDMM)
		}
	}
	if len(mm) == 0 {
		return nil
	}
	return &MeasuredMM{Of: "length", By: "ruler", Median: median(mm), SD: sd * max(0.5, 1/math.Sqrt(float64(len(mm))))}
}

func median(v []float64) float64 {
	v = slices.Clone(v)
	slices.Sort(v)
	if n := len(v); n%2 == 1 {
		return v[n/2]
	} else {
		return (v[n/2-1] + v[n/2]) / 2
	}
}

func timelinePhotos(photos []*timeline.Photo) []TimelinePhoto {
	out := make([]TimelinePhoto, len(photos))
	for i, p := range photos {
		out[i] = timelinePhoto(p)
	}
	return out
}

func timelinePhoto(p *timeline.Photo) TimelinePhoto {
	t := TimelinePhoto{
		SHA256: p.SHA256, File: p.File, Phase: p.Phase, Side: p.Side, CoatState: p.CoatState,
		TakenSource: p.Moment.Source, Comparable: lookOnly(*p).IsZero(),
	}
	if !p.Moment.Instant.IsZero() {
		at := p.Moment.Instant.In(time.FixedZone("", p.Moment.OffsetMinutes*60)).Format(time.RFC3339)
		t.TakenAt = &at
	}
	if p.Moment.Local != "" {
		local := p.Moment.Local
		t.TakenLocal = &local
	}
	return t
}

// StateLook is why a photo is only looked at as far as its side and the state of the coat say; zero: it may be measured.
func StateLook(p timeline.Photo) timeline.Phrase {
	switch {
	case !p.Side.Measured():
		return timeline.Say("look.side", "side", p.Side)
	case p.CoatState == timeline.CoatUnsaid:
		return timeline.Say("look.coat_unsaid")
	case p.CoatState != timeline.CoatBrushedDown:
		return timeline.Say("look.coat_state", "state", timeline.Say("coat_state."+string(p.CoatState)))
	}
	return timeline.Phrase{}
}

// lookOnly is the first thing that keeps a photo from being measured, or nothing.
func lookOnly(p timeline.Photo) timeline.Phrase {
	if why := StateLook(p); !why.IsZero() {
		return why
	}
	if missing := missingTrunk(p.Landmarks); len(missing) > 0 {
		return timeline.Say("look.points", "n", len(missing), "points", missing)
	}
	return timeline.Phrase{}
}

// trunkPlaced reports whether no trunk point is missing; it is asked of every photo of a dog.
func trunkPlaced(lm timeline.Landmarks) bool {
	for _, pt := range trunkPoints {
		if _, ok := lm[pt]; !ok {
			return false
		}
	}
	return true
}

var trunkPoints = missingTrunk(nil)

// missingTrunk are the trunk points that are not placed, in the order in which they are asked for.
func missingTrunk(lm timeline.Landmarks) []timeline.Point {
	out := []timeline.Point{}
	for _, pt := range timeline.Points() {
		if _, ok := lm[pt]; !ok && pt.Part() == timeline.PartTrunk {
			out = append(out, pt)
		}
	}
	return out
}

// each runs f for 0 … n−1 on every processor and returns the first error in order.
func each(n int, f func(i int) error) error {
	errs := make([]error, n)
	gate := make(chan struct{}, runtime.GOMAXPROCS(0))
	var wg sync.WaitGroup
	for i := range n {
		gate <- struct{}{}
		wg.Go(func() {
			defer func() { <-gate }()
			errs[i] = f(i)
		})
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}
