package coat

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"thatch/timeline"
)

// Evidence is how the model hears what the hand and the eye say, beside the ruler. All of it is soft: hairs of one pull do
// not come out in one day, two groomers' fingers do not agree to the day, and a line is sometimes put down wrongly.
type Evidence struct {
	RipeAt    RipeAt  `json:"ripe_at"`
	CoverAt   CoverAt `json:"cover_at"`
	LagSDDays float64 `json:"lag_sd_days"` // of one pull's lag about the zone's own
	Wrong     float64 `json:"wrong"`       // share of such remarks that say nothing of the coat
}

// RipeAt are shares of the full length at which the longest hair is as likely to be called one ripeness as the next. Ready
// has no end: full-grown hair is ready too until it is old, and how old says nothing of its length.
type RipeAt struct {
	Coming float64 `json:"coming"`
	Ready  float64 `json:"ready"`
	Blown  float64 `json:"blown"`
	SD     float64 `json:"sd"`
}

// CoverAt are shares of follicles with hair out at which the eye passes from skin shows to thin, from thin to full.
type CoverAt struct {
	Thin float64 `json:"thin"`
	Full float64 `json:"full"`
	SD   float64 `json:"sd"`
}

// band is where an ordered answer lies on the scale it is an answer about; ok is false for an unknown answer.
func (e Evidence) ripenessBand(is timeline.Ripeness) (lo, hi float64, ok bool) {
	r := e.RipeAt
	switch is {
	case timeline.NotReady:
		return math.Inf(-1), r.Coming, true
	case timeline.Coming:
		return r.Coming, r.Ready, true
	case timeline.Ready:
		return r.Ready, math.Inf(1), true
	case timeline.Blown:
		return r.Blown, math.Inf(1), true
	}
	return 0, 0, false
}

func (e Evidence) coverBand(is timeline.Cover) (lo, hi float64, ok bool) {
	switch is {
	case timeline.CoverSkinShows:
		return math.Inf(-1), e.CoverAt.Thin, true
	case timeline.CoverThin:
		return e.CoverAt.Thin, e.CoverAt.Full, true
	case timeline.CoverFull:
		return e.CoverAt.Full, math.Inf(1), true
	}
	return 0, 0, false
}

// logBetween is log P(lo < X ≤ hi) of X ~ N(x, sd²), where with the given share of cases anything is said: an ordered
// probit (Aitchison & Silvey 1957, Biometrika 44:131–140), or a censored observation.
func logBetween(x, lo, hi, sd, wrong float64) float64 {
	p := distuv.UnitNormal.CDF((hi-x)/sd) - distuv.UnitNormal.CDF((lo-x)/sd)
	return math.Log((1-wrong)*p + wrong)
}

// together is the sum of log-likelihoods: the pieces of evidence are independent given rate, lag and full length.
func together(all ...likelihood) likelihood {
	return func(rate, lag, full, out []float64) {
		for _, l := range all {
			l(rate, lag, full, out)
		}
	}
}

// ofLag makes a likelihood of a function of the lag alone.
func ofLag(f func(lag float64) float64) likelihood {
	return func(rate, lag, full, out []float64) {
		nl, nf := len(lag), len(full)
		for j, g := range lag {
			v := f(g)
			for i := range rate {
				row := out[(i*nl+j)*nf : (i*nl+j+1)*nf]
				for k := range row {
					row[k] += v
				}
			}
		}
	}
}

// newHairLikelihood is the censored evidence on the lag: no tips yet at age a means the pull's own lag is above a, first
// tips between a and b that it lies between them.
func (z *ZoneModel) newHairLikelihood(e Evidence) likelihood {
	return ofLag(func(lag float64) float64 {
		sum := 0.0
		for _, h := range z.zone.NewHair {
			lo, hi := math.Inf(-1), math.Inf(1)
			if !h.NotOut.IsZero() {
				lo = float64(h.NotOut - h.Pulled)
			}
			if !h.Out.IsZero() {
				hi = float64(h.Out - h.Pulled)
			}
			sum += logBetween(lag, lo, hi, e.LagSDDays, e.Wrong)
		}
		return sum
	})
}

// pinches are all pinch tests that the model can use: of the layers that the file tells, before work.
func (z *ZoneModel) pinches() []Ripeness { return pinchesAfter(z.zone, z.snapshot) }

// pinchesAfter are the pinch tests after a day, one a day, by day; where two are of one day the newest test's word holds.
func pinchesAfter(zone Zone, day timeline.Day) []Ripeness {
	var out []Ripeness
	seen := map[timeline.Day]bool{}
	add := func(r Ripeness) {
		if r.On > day && !seen[r.On] {
			seen[r.On] = true
			out = append(out, r)
		}
	}
	if zone.Ripeness != nil {
		add(*zone.Ripeness)
	}
	for _, r := range zone.Pinched {
		add(r)
	}
	slices.SortStableFunc(out, func(a, b Ripeness) int { return int(a.On - b.On) })
	return out
}

// ripenessLikelihood hears pinch tests: hair is ripe as it nears its full length.
func (z *ZoneModel) ripenessLikelihood(e Evidence, pinches []Ripeness) likelihood {
	var all []likelihood
	for _, p := range pinches {
		lo, hi, ok := e.ripenessBand(p.Is)
		spans := z.longestSpans(p.On)
		if !ok || len(spans) == 0 {
			continue
		}
		if len(spans) == 1 && !spans[0].known && len(spans[0].cuts) == 0 {
			all = append(all, bandOf(spans[0].curve, lo, hi, e.RipeAt.SD, e.Wrong).grown(&spans[0]))
			continue
		}
		b := bandOf(Plateau{}, lo, hi, e.RipeAt.SD, e.Wrong)
		all = append(all, ofLongest(spans, func(longest, full float64) float64 { return b.share(longest / full) }))
	}
	return together(all...)
}

// ofLongest makes a likelihood of the longest hair of the spans and the full length.
func ofLongest(spans []span, f func(longest, full float64) float64) likelihood {
	return func(rate, lag, full, out []float64) {
		nl, nf := len(lag), len(full)
		units := make([]float64, len(spans))
		for j, g := range lag {
			for k := range spans {
				units[k] = spans[k].units(g)
			}
			for i, r := range rate {
				row := out[(i*nl+j)*nf : (i*nl+j+1)*nf]
				for m, l := range full {
					longest := 0.0
					for k := range spans {
						longest = max(longest, spans[k].lengthFrom(r, units[k], l))
					}
					row[m] += f(longest, l)
				}
			}
		}
	}
}

// coverLikelihood hears how the zone looked after a session in which nothing of it was pulled: as much hair was out. Where
// something was, the share that was said is the less certain of the two, and worked corrects that.
func (z *ZoneModel) coverLikelihood(e Evidence) likelihood {
	var all []likelihood
	for _, c := range z.zone.Cover {
		lo, hi, ok := e.coverBand(c.Is)
		if !ok || c.On <= z.snapshot || z.pulledOn(c.On) {
			continue
		}
		state := z.stateAt(c.On)
		spans := make([]span, len(state.layers))
		for k, l := range state.layers {
			spans[k] = z.span(l, state.cuts, c.On)
		}
		all = append(all, ofLag(func(lag float64) float64 {
			inHair := 0.0
			for k, l := range state.layers {
				if l.known && l.len0 > 0 || !l.known && spans[k].units(lag) > 0 {
					inHair += l.share
				}
			}
			return logBetween(inHair, lo, hi, e.CoverAt.SD, e.Wrong)
		}))
	}
	return together(all...)
}

func (z *ZoneModel) pulledOn(day timeline.Day) bool {
	for _, w := range z.zone.Work {
		if w.On == day && (w.Do == timeline.Take || w.Do == timeline.Strip) {
			return true
		}
	}
	return false
}

// heard is the likelihood of everything said of the zone; nil where nothing was.
func (z *ZoneModel) heard(e Evidence) likelihood {
	var all []likelihood
	if s := z.sights(); len(s) > 0 {
		all = append(all, readingsLikelihood(s))
	}
	if len(z.zone.NewHair) > 0 {
		all = append(all, z.newHairLikelihood(e))
	}
	if p := z.pinches(); len(p) > 0 {
		all = append(all, z.ripenessLikelihood(e, p))
	}
	if len(z.zone.Cover) > 0 {
		all = append(all, z.coverLikelihood(e))
	}
	if s := z.depthSights(); len(s) > 0 {
		all = append(all, z.depthLikelihood(s))
	}
	if len(all) == 0 {
		return nil
	}
	return together(all...)
}

// A zone that was not ready is tested again when its longest hair is expected to be, but not sooner than againSoonest
// days after the test, nor later than againLatest: the hand is to be asked, not the model. Judgement, no source.
const (
	againSoonest = 7
	againLatest  = 28
)

// TestAgain is the day on which a zone whose newest pinch test said not ready or coming should be tested again: when it is
// as likely as not to be ready, by all that is known, the test itself included. The zero Day where nothing waits for a test.
func (z *ZoneModel) TestAgain() timeline.Day {
	r := z.zone.Ripeness
	if r == nil || (r.Is != timeline.NotReady && r.Is != timeline.Coming) {
		return 0
	}
	state := z.stateAt(r.On)
	if len(state.layers) == 0 {
		return r.On + againSoonest
	}
	share := make([]float64, latticeN)
	for day := r.On + againSoonest; day < r.On+againLatest; day++ {
		b := state.bundle(day)
		for i := range share {
			share[i] = b.measure(i).longest / z.nodes.full[i]
		}
		if dist(share).Median >= z.evidence.RipeAt.Ready {
			return day
		}
	}
	return r.On + againLatest
}
