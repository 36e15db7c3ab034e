package plan

import (
	"cmp"
	"math"
	"slices"
)

// fill gives the zones their work one after the other, those that lose most by waiting first, each the cheapest that still
// fits into what the ones before left of the minutes; picks are what they would take if they had no limit. It is nil where
// one finds no room.
func (t *task) fill(opts []options, picks []*sequence, q quest, floors []float64) []*sequence {
	order := make([]int, len(opts))
	for i := range order {
		order[i] = i
	}
	hunger := func(i int) float64 {
		if picks[i] == nil {
			return math.Inf(1)
		}
		return picks[i].total
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(hunger(b), hunger(a)) })
	left := slices.Clone(t.room)
	out := make([]*sequence, len(opts))
	for tries := 0; ; tries++ {
		failed := -1
		copy(left, t.room)
		for n, i := range order {
			q.floor = floors[i]
			s := t.cheapestWithin(t.zones[i], &opts[i], q, left)
			if s == nil {
				failed = n
				break
			}
			out[i] = s
			for k, m := range s.minutes {
				left[k] -= m
			}
		}
		switch {
		case failed < 0:
			return out
		case failed == 0 || tries == fillTries:
			return nil
		}
		// The one that found no room comes first the next time.
		i := order[failed]
		copy(order[1:failed+1], order[:failed])
		order[0] = i
	}
}

// fillTries is how often a zone that found no room may begin.
const fillTries = 11

// cheapestWithin is the zone's cheapest sequence that fits into what is left; nil: none of those that are known.
func (t *task) cheapestWithin(z *zone, o *options, q quest, left []float64) *sequence {
	if !z.hasBand {
		return o.usual
	}
	if o.graph != nil {
		_, choose, ok := o.graph.least(q, left)
		if !ok {
			return nil
		}
		return o.graph.path(t, z, choose)
	}
	best, pick := math.Inf(1), (*sequence)(nil)
next:
	for _, s := range o.list {
		if s.ready < q.floor {
			continue
		}
		for k, m := range s.minutes {
			if m > left[k]+eps {
				continue next
			}
		}
		if v := q.perMinute*s.total + dot(q.price, s) - q.worth*s.useful; v < best {
			best, pick = v, s
		}
	}
	return pick
}

// better exchanges one zone's sequence after the other for one that is cheaper by the quest and still fits, until none is;
// the choice as a whole must stay acceptable.
func (t *task) better(opts []options, pick []*sequence, q quest, floors []float64, ok func([]*sequence) bool) []*sequence {
	pick = slices.Clone(pick)
	left := slices.Clone(t.room)
	for _, s := range pick {
		for k, m := range s.minutes {
			left[k] -= m
		}
	}
	cost := func(s *sequence) float64 { return q.perMinute*s.total + dot(q.price, s) - q.worth*s.useful }
	for changed, rounds := true, 0; changed && rounds < 20; rounds++ {
		changed = false
		for i, was := range pick {
			for k, m := range was.minutes {
				left[k] += m
			}
			q.floor = floors[i]
			if s := t.cheapestWithin(t.zones[i], &opts[i], q, left); s != nil && cost(s) < cost(was)-1e-9 {
				if pick[i] = s; ok == nil || ok(pick) {
					changed = true
				} else {
					pick[i] = was
				}
			}
			for k, m := range pick[i].minutes {
				left[k] -= m
			}
		}
	}
	return pick
}

// known are the sequences that zone i answered with, in an order that does not depend on chance.
func (d *dual) known(i int) []*sequence {
	out := make([]*sequence, 0, len(d.columns[i]))
	for s := range d.columns[i] {
		out = append(out, s)
	}
	slices.SortFunc(out, byMinutes)
	return out
}

const (
	riseSteps   = 60
	columnNodes = 20_000
)

// mostUseful maximises the rounded mean where not all sequences are listed: the sequences that the prices ask for join the
// lists, and what the search over the lists finds is bettered zone by zone. bound is a proven upper bound of the use.
func (t *task) mostUseful(opts []options, floors []float64, k *knapsack, start []*sequence) (pick []*sequence, bound float64) {
	d := t.newDual(opts, floors)
	d.worthOf = true
	q := quest{price: slices.Clone(t.room), worth: 1}
	use := func(p []*sequence) float64 {
		sum := 0.0
		for _, s := range p {
			sum += s.useful
		}
		return sum
	}
	for i := range q.price {
		q.price[i] = 1e-7 // of what is as useful, the shorter
	}
	pick = t.better(opts, start, q, floors, nil)
	step := 0
	d.rise(riseSteps, func(picks []*sequence) bool {
		if step++; step%(2*fillEvery) == 0 {
			if f := t.fill(opts, picks, quest{price: d.price, worth: 1}, floors); f != nil {
				if f = t.better(opts, f, q, floors, nil); use(f) > use(pick) {
					pick = f
				}
			}
		}
		return math.Round(-d.bound/t.weight*1000) <= math.Round(use(pick)/t.weight*1000)
	})
	k.join(d, floors)
	k.nodes = columnNodes
	pick, _ = k.mostUseful(pick)
	return t.better(opts, pick, q, floors, nil), -d.bound
}

// leastMinutes is the same for the least minutes that lose no thousandth of the mean.
func (t *task) leastMinutes(opts []options, floors []float64, k *knapsack, start []*sequence) (pick []*sequence, bound float64) {
	goal := k.thousandths(start)
	keeps := func(p []*sequence) bool { return k.thousandths(p) >= goal }
	d := t.newDual(opts, floors)
	d.minutes = true
	d.need = (goal - 0.5) / 1000 * k.weight
	q := quest{price: make([]float64, len(t.room)), perMinute: 1}
	pick = t.better(opts, start, q, floors, keeps)
	step := 0
	d.rise(riseSteps, func(picks []*sequence) bool {
		if step++; step%(2*fillEvery) == 0 {
			f := t.fill(opts, picks, quest{price: d.price, perMinute: 1, worth: d.worth}, floors)
			if f != nil && keeps(f) {
				if f = t.better(opts, f, q, floors, keeps); totalOf(f) < totalOf(pick) {
					pick = f
				}
			}
			// From what there is, in the direction of the prices.
			f = t.better(opts, pick, quest{price: q.price, perMinute: 1, worth: d.worth}, floors, keeps)
			if f = t.better(opts, f, q, floors, keeps); totalOf(f) < totalOf(pick) {
				pick = f
			}
		}
		return d.bound >= totalOf(pick)-eps
	})
	k.join(d, floors)
	k.nodes = columnNodes
	pick, _ = k.leastMinutes(pick)
	return t.better(opts, pick, q, floors, keeps), d.bound
}

// join adds what the zones answered to the lists of the choice.
func (k *knapsack) join(d *dual, floors []float64) {
	for i, o := range d.opts {
		if o.complete {
			continue
		}
		list := slices.Clone(k.lists[i])
		for _, s := range d.known(i) {
			if s.ready >= floors[i] && !slices.Contains(list, s) {
				list = append(list, s)
			}
		}
		k.lists[i] = undominatedUseful(list)
	}
}
