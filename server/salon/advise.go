package salon

import (
	"math"

	"thatch/imaging/measure"
	"thatch/imaging/overlay"
	"thatch/timeline"
	"thatch/timeline/coat"
)

// advise reads the runs of each sitting's topline; of the newest sitting also what can be reached by the show.
func (s *Salon) advise(h history, m *Measured) error {
	for i := range m.Sittings {
		t := &m.Sittings[i]
		if len(t.Shape.Places) == 0 {
			continue
		}
		var edge []timeline.XY
		if _, shot := h.seen.shotOf(t.First().ID); shot != nil {
			edge = shot.Outline
		}
		for _, r := range t.Shape.Runs(m.Floor.ToplineMM) {
			run := ToplineRun{Run: r, Advice: adviceOf(r)}
			run.D, run.At = onEdge(edge, t.First().Landmarks, r, t.Shape.LengthMM)
			t.Runs = append(t.Runs, run)
		}
		if i > 0 && t.On == m.Sittings[0].On || i == 0 {
			if err := s.reach(h, m.Show, t); err != nil {
				return err
			}
		}
	}
	return nil
}

// adviceOf: a dip is filled by leaving, a rise lowered by taking; "take" is said only where it is sure, because a wrong take
// costs the show and a wrong leave two weeks.
func adviceOf(r measure.Run) timeline.Phrase {
	key := "advice.low"
	switch {
	case r.PeakMM > 0 && r.Sure:
		key = "advice.high"
	case r.PeakMM > 0:
		key = "advice.high.unsure"
	case !r.Sure:
		key = "advice.low.unsure"
	}
	return timeline.Say(key, "peak", timeline.LengthMM(math.Abs(r.PeakMM)), "long", timeline.LengthMM(r.LengthMM()), "zone", r.Zone, "behind", timeline.LengthMM(r.PeakAtMM))
}

// shotOf is a photo as it is measured; nil: it is not.
func (d *photoDepths) shotOf(photo timeline.ID) (MeasuredPhoto, *measure.Shot) {
	for _, b := range d.blocks {
		for k := range b.photos {
			n := 0
			for _, p := range b.photos[k] {
				if !p.Why.IsZero() {
					continue
				}
				if p.Photo.ID == photo {
					return p, &b.shapes[k][n]
				}
				n++
			}
		}
	}
	return MeasuredPhoto{}, nil
}

// onEdge is the stretch of an edge that a run covers, as path data, and its farthest place.
func onEdge(edge []timeline.XY, lm timeline.Landmarks, r measure.Run, lengthMM float64) (d string, at timeline.XY) {
	a, okA := lm[timeline.WithersPt]
	b, okB := lm[timeline.TailSet]
	long := math.Hypot(b.X-a.X, b.Y-a.Y)
	if !okA || !okB || long == 0 || lengthMM <= 0 {
		return "", at
	}
	var line []timeline.XY
	nearest, high := math.Inf(1), 0.12*long
	n := len(edge)
	// Begin where the edge is far from the back, so that the stretch is not cut in two.
	start := 0
	for i, p := range edge {
		if p.Y > edge[start].Y {
			start = i
		}
	}
	for i := range n {
		p := edge[(start+i)%n]
		x, y := p.X-a.X, p.Y-a.Y
		along := (x*(b.X-a.X) + y*(b.Y-a.Y)) / long / long * lengthMM
		off := math.Abs(y*(b.X-a.X)-x*(b.Y-a.Y)) / long
		if off > high || along < r.FromMM || along > r.ToMM {
			continue
		}
		line = append(line, p)
		if d := math.Abs(along - r.PeakAtMM); d < nearest {
			nearest, at = d, p
		}
	}
	if len(line) < 2 {
		return "", at
	}
	return overlay.PathD(line), at
}

// reach says of each run how far advice brings it by the show, and at which length hair would lie flush.
func (s *Salon) reach(h history, show *timeline.Show, t *MeasuredSitting) error {
	m, err := s.model(h.file(h.today, h.today+1))
	if err != nil {
		return err
	}
	c := onDay{h: h, on: t.On, end: t.Phase == timeline.PhaseEnd}
	lie, loftMM := c.stand()
	for i := range t.Runs {
		r := &t.Runs[i]
		for _, z := range t.Zones {
			if z.Zone == r.Zone && z.DepthMM != nil && lie > 0 {
				mm := r.Flush(z.DepthMM.MM, lie, loftMM)
				r.FlushMM = &mm
			}
		}
		zone := m.Zone(r.Zone)
		if show == nil || zone == nil || !h.known(t.On) || t.On > h.today {
			continue
		}
		r.Reach = reachOf(zone, r.Run, h.today, *show)
	}
	return nil
}

// reachOf compares a run with what its zone grows until the show: left alone where it is low, without its top layer where it is
// high.
func reachOf(zone *coat.ZoneModel, r measure.Run, today timeline.Day, show timeline.Show) timeline.Phrase {
	now := zone.Forecast(nil, today, coat.Target{}).DepthMM.Median
	then := func(steps []coat.Step) float64 { return zone.Forecast(steps, show.On, coat.Target{}).DepthMM.Median }
	args := func(key string, mm float64) timeline.Phrase {
		return timeline.Say(key, "mm", timeline.LengthMM(math.Abs(mm)), "show", show.Name, "on", show.On)
	}
	if r.PeakMM < 0 {
		gain := then(nil) - now
		if gain >= -r.PeakMM {
			return args("advice.reach.low", gain)
		}
		return args("advice.short.low", -r.PeakMM-math.Max(0, gain))
	}
	if !r.Sure {
		return timeline.Phrase{}
	}
	_, share := zone.TopLayer(nil, today)
	after := then([]coat.Step{{On: today, Do: timeline.Take, Share: share}})
	if short := now - r.PeakMM - after; short > flushWithinMM {
		return args("advice.short.high", short)
	}
	return args("advice.reach.high", 0)
}

// flushWithinMM: nearer the eye sees a straight back. It is where runs begin.
const flushWithinMM = 1.5
