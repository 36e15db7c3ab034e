package plan

import (
	"fmt"
	"math"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// shareEps is the smallest share that counts: 1e-7 of the hair.
const shareEps = 1e-7

// rung is hair last pulled together, by where it was born: a session of the plan (0, 1, …) or a layer that is there today
// (−1 the longest, −2 the next, …).
type rung struct {
	born  int16
	share float64
}

// initialLayer is a layer of today.
type initialLayer struct{ pulled timeline.Day }

// peelDays ahead every hair of today is out, so that the model lets each layer be pulled in turn.
const peelDays = 400

// readLayers peels the model's top layers off one by one: the coat of today, longest first. All layers of a zone follow one
// curve, so this order holds on every later day, and hair pulled in the plan comes behind it.
func (t *task) readLayers(z *zone) {
	on := t.today + peelDays
	var steps []coat.Step
	left := 1.0
	for left > shareEps && len(z.initial) < 64 {
		pulled, share := z.model.TopLayer(steps, on)
		if !(share > shareEps) || pulled >= on {
			break
		}
		share = min(share, left)
		if n := len(z.initial); n > 0 && z.initial[n-1].pulled == pulled {
			z.start[n-1].share += share
		} else {
			z.initial = append(z.initial, initialLayer{pulled})
			z.start = append(z.start, rung{born: int16(-1 - n), share: share})
		}
		left -= share
		steps = append(steps, coat.Step{On: on, Do: timeline.Take, Share: share})
	}
	if n := len(z.start); n > 0 {
		z.start[n-1].share += left // what rounding left over
	}
}

// bornOn is the day a rung was last pulled.
func (t *task) bornOn(z *zone, born int16) timeline.Day {
	if born >= 0 {
		return t.sessions[born]
	}
	return z.initial[-1-born].pulled
}

// pull takes a share, longest first, in session i; dst is overwritten and returned.
func pull(dst, lad []rung, share float64, i int) []rung {
	dst = dst[:0]
	left := share
	for _, r := range lad {
		if left > shareEps {
			take := math.Min(left, r.share)
			left -= take
			r.share -= take
			if r.share <= shareEps {
				continue
			}
		}
		dst = append(dst, r)
	}
	return append(dst, rung{born: int16(i), share: share})
}

// pullable is the share, from the longest, that may be pulled in session i: not what was pulled at the session before, and
// nothing that is not long enough to be gripped.
func (t *task) pullable(z *zone, lad []rung, i int) float64 {
	sum := 0.0
	for _, r := range lad {
		if !t.grips(z, r.born, i) {
			break
		}
		sum += r.share
	}
	return sum
}

func (t *task) grips(z *zone, born int16, i int) bool {
	p := t.bornOn(z, born)
	previous := t.last
	if i > 0 {
		previous = t.sessions[i-1]
	}
	return p != previous && int(t.sessions[i]-p) >= z.lagDays+usual.GraspDays.days()
}

// at is the rung in which the share q, counted from the longest, is reached.
func at(lad []rung, q float64) int16 {
	cum := 0.0
	for _, r := range lad {
		cum += r.share
		if cum >= q {
			return r.born
		}
	}
	return math.MinInt16
}

// visibleShare is the share of the hair that is longer than the visible length (the model's definition).
const visibleShare = 0.20

// memoKey is all of a zone's layers that its readiness on a day depends on: as the layers of a zone keep their order under
// every parameter, the visible length is that of the layer that holds the visibleShare quantile, and "enough in hair" is
// whether the layer at that quantile is out. A quantile on the border of two layers names both.
type memoKey struct {
	day                    int16 // show h: h; hold day k: −1−k
	kind                   int8  // 0 readiness, 1 at least the minimum
	visLo, visHi, inLo, in int16
	whole                  string // the whole coat, where its order is not certain
}

func (z *zone) key(day int, kind int8, lad []rung, t coat.Target) memoKey {
	k := memoKey{day: int16(day), kind: kind, visLo: at(lad, visibleShare-1e-6), visHi: at(lad, visibleShare+1e-6)}
	if z.mixed {
		k.whole = fmt.Sprint(lad)
	}
	if t.InHair > 0 {
		k.inLo, k.in = at(lad, t.InHair-1e-6), at(lad, t.InHair+1e-6)
	}
	return k
}

// ready is the probability of the target on a day after the steps, whose layers are lad.
func (z *zone) ready(day int, on timeline.Day, t coat.Target, steps []coat.Step, lad []rung) float64 {
	k := z.key(day, 0, lad, t)
	v, ok := z.memo[k]
	if !ok {
		v = clamp01(z.model.Readiness(steps, on, t))
		z.memo[k] = v
	}
	return v
}

// longEnough is whether the zone, if nothing more were pulled, is more likely than not at least the minimum at show h.
func (t *task) longEnough(z *zone, h int, steps []coat.Step, lad []rung) bool {
	target := z.targets[h]
	if !z.banded[h] || target.MinMM <= 0 {
		return true
	}
	target = coat.Target{MinMM: target.MinMM}
	k := z.key(h, 1, lad, target)
	v, ok := z.memo[k]
	if !ok {
		v = clamp01(z.model.Readiness(steps, t.shows[h].on, target))
		z.memo[k] = v
	}
	return v >= 0.5
}

func clamp01(v float64) float64 {
	if !(v > 0) {
		return 0
	}
	return math.Min(v, 1)
}

// cover is the share of the hair that is out on a day.
func (t *task) cover(z *zone, lad []rung, on timeline.Day) float64 {
	sum := 0.0
	for _, r := range lad {
		if int(on-t.bornOn(z, r.born)) >= z.lagDays {
			sum += r.share
		}
	}
	return math.Min(sum, 1)
}
