package plan

import (
	"math"
	"slices"
)

// found is the result of the search: one sequence a zone.
type found struct {
	picked  []*sequence
	options []options
	regret  float64
	mean    float64 // rounded to 0.001
	gap     Gap
}

const eps = 1e-9

// search finds, lexicographically, the least largest regret, the largest rounded mean readiness, the least minutes.
func (t *task) search() found { return t.choose(t.allOptions()) }

func (t *task) choose(opts []options) found {
	out := found{options: opts}
	rho, rhoBound, start := t.leastRegret(opts)
	floors := t.floors(opts, rho)
	lists := make([][]*sequence, len(opts))
	whole := true // nothing that could be chosen is missing from the lists
	for i, o := range opts {
		for _, s := range o.list {
			if s.ready >= floors[i] {
				lists[i] = append(lists[i], s)
			}
		}
		lists[i] = undominatedUseful(lists[i])
		if len(lists[i]) > keepBudget {
			lists[i], whole = trim(lists[i]), false
		}
		whole = whole && o.complete
	}
	k := &knapsack{lists: lists, room: t.room, weight: t.weight, nodes: chooseNodes}
	if whole {
		best, bound := k.mostUseful(start)
		picked, minutesBound := k.leastMinutes(best)
		out.gap.ReadinessMean, out.gap.Minutes = bound, minutesBound
		out.picked = picked
	} else {
		best, bound := t.mostUseful(opts, floors, k, start)
		picked, minutesBound := t.leastMinutes(opts, floors, k, best)
		out.gap.ReadinessMean, out.gap.Minutes = bound, minutesBound
		out.picked = picked
	}
	for i, s := range out.picked {
		if t.zones[i].hasBand {
			out.regret = max(out.regret, opts[i].best-s.ready)
		}
	}
	out.mean = k.rounded(out.picked)
	if t.weight > 0 {
		out.gap.ReadinessMean = max(0, round3(out.gap.ReadinessMean/t.weight)-out.mean)
	}
	out.gap.Minutes = max(0, totalOf(out.picked)-out.gap.Minutes)
	out.gap.Regret = max(0, out.regret-rhoBound)
	for _, o := range opts {
		if o.bestBound > o.best {
			// A zone whose best is not known: what is told as its regret may be too small by so much, and the least largest
			// regret may be smaller by so much more.
			out.gap.Regret = max(out.gap.Regret, out.regret+o.bestBound-o.best)
		}
	}
	out.gap.clean()
	return out
}

// floors are the readinesses below which the regret of a zone is more than rho.
func (t *task) floors(opts []options, rho float64) []float64 {
	out := make([]float64, len(opts))
	for i, o := range opts {
		out[i] = math.Inf(-1)
		if t.zones[i].hasBand {
			out[i] = o.best - rho - 1e-12
		}
	}
	return out
}

func totalOf(pick []*sequence) float64 {
	total := 0.0
	for _, s := range pick {
		total += s.total
	}
	return total
}

func (g *Gap) clean() {
	for _, v := range []*float64{&g.Regret, &g.ReadinessMean, &g.Minutes} {
		if *v < 1e-9 {
			*v = 0
		}
	}
}

func round3(v float64) float64 { return math.Round(v*1000) / 1000 }

// undominatedUseful is undominated without readiness, which is settled: all that is left is above the floor.
func undominatedUseful(list []*sequence) []*sequence {
	var kept []*sequence
next:
	for _, s := range list {
		for _, k := range kept {
			if k.useful >= s.useful && k.mask&^s.mask == 0 && fits(k.minutes, s.minutes) {
				continue next
			}
		}
		kept = append(kept, s)
	}
	return kept
}

func fits(a, b []float64) bool {
	for i, m := range a {
		if m > b[i] {
			return false
		}
	}
	return true
}

// trim keeps a spread: half of the least minutes, half of the most useful.
func trim(list []*sequence) []*sequence {
	keep := map[*sequence]bool{}
	for _, s := range list[:keepBudget/2] {
		keep[s] = true
	}
	byUse := slices.Clone(list)
	slices.SortStableFunc(byUse, func(a, b *sequence) int {
		switch {
		case a.useful > b.useful:
			return -1
		case a.useful < b.useful:
			return 1
		}
		return byMinutes(a, b)
	})
	for _, s := range byUse[:keepBudget/2] {
		keep[s] = true
	}
	var out []*sequence
	for _, s := range list {
		if keep[s] {
			out = append(out, s)
		}
	}
	return out
}

// leastRegret is the least ρ for which every zone can stay within ρ of its best inside the minutes, and a proven lower
// bound of it. Only the regrets that occur are candidates.
func (t *task) leastRegret(opts []options) (rho, bound float64, pick []*sequence) {
	pick = make([]*sequence, len(opts))
	candidates := []float64{0}
	var readies []float64
	for i, o := range opts {
		pick[i] = o.usual
		if !t.zones[i].hasBand {
			continue
		}
		readies = append(readies[:0], o.usual.ready)
		for _, s := range o.list {
			readies = append(readies, s.ready)
		}
		if o.graph != nil {
			readies = o.graph.readies(readies)
		}
		for _, r := range readies {
			if r <= o.best {
				candidates = append(candidates, o.best-r)
			}
		}
	}
	slices.Sort(candidates)
	candidates = slices.Compact(candidates)
	// The usual course of every zone (leave, or what is compelled) always fits: no regret beyond its own is looked at.
	most := 0.0
	for i, o := range opts {
		if t.zones[i].hasBand {
			most = max(most, o.best-o.usual.ready)
		}
	}
	last, _ := slices.BinarySearch(candidates, most)
	f := newFitting(t, opts)
	lo, hi := 0, last
	proven := 0 // candidates below this index are proven not to fit
	for lo < hi {
		mid := (lo + hi) / 2
		switch a, p := f.possible(candidates[mid]); a {
		case yes:
			hi, pick = mid, p
		case no:
			lo = mid + 1
			proven = max(proven, lo)
		default:
			lo = mid + 1
		}
	}
	// Where it could not be decided whether less would do, at least find what would not.
	for above := hi; proven < above; {
		mid := (proven + above) / 2
		if f.impossible(candidates[mid]) {
			proven = mid + 1
		} else {
			above = mid
		}
	}
	return candidates[hi], candidates[min(proven, hi)], pick
}

type answer int

const (
	unknown answer = iota
	yes
	no
)

// fitting asks for one regret after another whether the zones fit into the minutes with it; prices and sequences that were
// found for one serve the next.
type fitting struct {
	t     *task
	opts  []options
	dual  *dual
	whole bool
}

func newFitting(t *task, opts []options) *fitting {
	f := &fitting{t: t, opts: opts, dual: t.newDual(opts, nil), whole: true}
	for _, o := range opts {
		f.whole = f.whole && o.complete
	}
	return f
}

// impossible: it is proven that not all zones can be within rho of their best.
func (f *fitting) impossible(rho float64) bool {
	f.dual.floors = f.t.floors(f.opts, rho)
	f.dual.rise(proveSteps, func([]*sequence) bool { return f.dual.bound > eps })
	return f.dual.bound > eps
}

const (
	proveSteps = 40
	fillEvery  = 13
)

func (f *fitting) possible(rho float64) (answer, []*sequence) {
	t := f.t
	floors := t.floors(f.opts, rho)
	if !f.whole {
		f.dual.floors = floors
		var found []*sequence
		step := 0
		f.dual.rise(proveSteps, func(picks []*sequence) bool {
			if step++; step%fillEvery == 1 && f.dual.bound <= eps {
				found = t.fill(f.opts, picks, quest{price: f.dual.price}, floors)
			}
			return found != nil || f.dual.bound > eps
		})
		switch {
		case found != nil:
			return yes, found
		case f.dual.bound > eps:
			return no, nil
		}
	}
	lists := make([][]*sequence, 0, len(f.opts))
	pick := make([]*sequence, len(f.opts))
	var at []int
	trimmed := false
	for i, o := range f.opts {
		if !t.zones[i].hasBand {
			pick[i] = o.usual
			continue
		}
		var ok []*sequence
		add := func(s *sequence) bool {
			if s.ready < floors[i] {
				return true
			}
			for _, k := range ok {
				if k.mask&^s.mask == 0 && fits(k.minutes, s.minutes) {
					return true
				}
			}
			if len(ok) == keepBudget {
				trimmed = true
				return false
			}
			ok = append(ok, s)
			return true
		}
		for _, s := range f.dual.known(i) {
			add(s)
		}
		for _, s := range o.list {
			if !add(s) {
				break
			}
		}
		if len(ok) == 0 {
			if o.complete {
				return no, nil
			}
			return unknown, nil
		}
		lists, at = append(lists, ok), append(at, i)
	}
	k := &knapsack{lists: lists, room: t.room, nodes: possibleNodes}
	if !f.whole {
		k.nodes = possibleNodes / 10
	}
	a, p := k.possible()
	if a == no && (trimmed || !f.whole) {
		return unknown, nil
	}
	if a == yes {
		for j, s := range p {
			pick[at[j]] = s
		}
	}
	return a, pick
}
