package salon

import (
	"context"
	"math"
	"slices"

	"thatch/store"
	"thatch/timeline"
	"thatch/timeline/coat"
)

// sdPerBand turns the width of a band of 80 % into a standard deviation, as of a normal distribution.
const sdPerBand = 2 * 1.2815515655446004

// onDay is what is known of the coat's depth at the time of a photo: at the start of its day, or at the end, after work.
type onDay struct {
	h        history
	on       timeline.Day
	end      bool
	known    bool          // expected is there
	expected coat.Forecast // of the start from what was known before the day; of the end with the day's work
	scale    store.Scale   // what the photo's own file says of its scale
}

// coatOn is the coat at the time of a photo; without a date nothing is known of it.
func (s *Salon) coatOn(ctx context.Context, h history, p timeline.Photo) (onDay, error) {
	c := onDay{h: h, on: p.Moment.Day(), end: p.Phase == timeline.PhaseEnd}
	o, err := s.st.Original(ctx, p.SHA256)
	if err != nil {
		return c, err
	}
	c.scale = store.Scale{FocalPX: o.FocalPX, Marker: o.Marker}
	if c.on.IsZero() {
		return c, nil
	}
	if c.end {
		c.expected, c.known, err = s.expectedAfter(h, c.on)
	} else {
		c.expected, c.known, err = s.expected(h, c.on)
	}
	return c, err
}

// measuredMM is the longest hair by ruler. Readings are of the start of a day: in a photo of its end they hold only for
// zones whose lengths no work has changed.
func (c onDay) measuredMM(z timeline.Zone) (float64, bool) {
	if c.on.IsZero() {
		return 0, false
	}
	m := measuredOn(c.h.readings, z, c.on)
	if m == nil {
		return 0, false
	}
	if c.end {
		for _, v := range c.h.sessions {
			if v.On != c.on {
				continue
			}
			if slices.ContainsFunc(v.Work, func(w timeline.ZoneWork) bool {
				return w.Zone == z && w.Do != timeline.Leave && w.Do != timeline.Card
			}) {
				return 0, false
			}
		}
	}
	return m.Median, true
}

// depthOf is how far hair of a visible length stands off the body, mm: depth = lie · visible + loft, with the kind of
// coat's lie (more for harsh hair) and the loft that was last seen.
func (c onDay) depthOf(visibleMM float64) float64 {
	lie, loftMM := c.stand()
	return lie*visibleMM + loftMM
}

// stand is the lie (0 to 1) and the loft (mm) of the coat.
func (c onDay) stand() (lie, loftMM float64) {
	g := c.h.profile.Growth
	lie = math.Min(math.Max(g.Lie.Mean+g.LieAdd[c.h.dog.Texture], 0), 1)
	loft := map[timeline.Undercoat]timeline.Loft{
		timeline.UndercoatNone: timeline.LoftNone, timeline.UndercoatSome: timeline.LoftSome, timeline.UndercoatHeavy: timeline.LoftWoolly,
	}[c.h.dog.Answers.Undercoat]
	for _, v := range c.h.sessions {
		if v.Loft != "" && (v.On < c.on || v.On == c.on && c.end) {
			loft = v.Loft
		}
	}
	return lie, g.LoftMM[loft]
}

// measuredDepthMM is the depth by photo, else the one that a ruler's reading means. A ruler reads the longest hair, the outline follows the hair
// that a fifth of the follicles exceed; their ratio is the model's, 1 where it is not known.
func (c onDay) measuredDepthMM(z timeline.Zone) float64 {
	if f, ok := c.h.seen.at(c.on, c.end, z); ok {
		return f.MM
	}
	longest, ok := c.measuredMM(z)
	if !ok {
		return math.NaN()
	}
	ratio := 1.0
	if e, known := c.expected.Zones[z]; known && c.known && e.LongestMM.Median > 0 {
		ratio = math.Min(1, e.VisibleMM.Median/e.LongestMM.Median)
	}
	return c.depthOf(longest * ratio)
}

// expectedDepthMM is the forecast's depth.
func (c onDay) expectedDepthMM(z timeline.Zone) (coat.Dist, bool) {
	e, ok := c.expected.Zones[z]
	return e.DepthMM, ok && c.known
}

// bestDepthMM is the measured depth where there is one, else the expected, with its sd; ok is false where neither is known.
func (c onDay) bestDepthMM(z timeline.Zone) (mm, sdMM float64, ok bool) {
	if f, ok := c.h.seen.at(c.on, c.end, z); ok {
		return f.MM, f.SDMM, true
	}
	if d := c.measuredDepthMM(z); !math.IsNaN(d) {
		// What is left is the lie's own spread, half of the forecast's usual one; judgement.
		return d, math.Max(0.1*d, 0.5), true
	}
	if d, ok := c.expectedDepthMM(z); ok {
		return d.Median, math.Max((d.P90-d.P10)/sdPerBand, 0.5), true
	}
	return 0, 0, false
}
