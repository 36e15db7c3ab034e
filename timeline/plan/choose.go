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
	lists := make([][]*sequence, len(t.zones))
	for i, o := range out.options {
		lists[i] = o.list
	}
	rho, rhoBound, start := t.leastRegret(out.options, lists)
	floor := make([][]*sequence, len(lists))
	trimmed := false
	for i, o := range out.options {
		for _, s := range lists[i] {
			if t.zones[i].hasBand && s.ready < o.best-rho-1e-12 {
				continue
			}
			floor[i] = append(floor[i], s)
		}
		floor[i] = undominatedUseful(floor[i])
		if len(floor[i]) > keepBudget {
			floor[i], trimmed = trim(floor[i]), true
		}
	}
	k := &knapsack{lists: floor, room: t.room, weight: t.weight, nodes: chooseNodes}
	best, bound := k.mostUseful(start)
	picked, minutesBound := k.leastMinutes(best)
	out.picked = picked
	out.regret = 0
	for i, s := range picked {
		if t.zones[i].hasBand {
			out.regret = max(out.regret, out.options[i].best-s.ready)
		}
	}
	out.mean = k.rounded(picked)
	total := 0.0
	for _, s := range picked {
		total += s.total
	}
	out.gap.Regret = max(0, out.regret-rhoBound)
	mostUseful := bound
	for i, o := range out.options {
		if !o.complete {
			out.gap.Regret = max(out.gap.Regret, out.regret+o.bestBound-o.best)
			mostUseful += o.usefulMost - mostOf(floor[i])
		}
	}
	if trimmed {
		mostUseful = 0
		for _, o := range out.options {
			mostUseful += o.usefulMost
		}
	}
	if t.weight > 0 {
		out.gap.ReadinessMean = max(0, round3(mostUseful/t.weight)-out.mean)
	}
	out.gap.Minutes = max(0, total-minutesBound)
	if trimmed || slices.ContainsFunc(out.options, func(o options) bool { return !o.complete }) {
		out.gap.Minutes = total
	}
	out.gap.clean()
	return out
}

func (g *Gap) clean() {
	for _, v := range []*float64{&g.Regret, &g.ReadinessMean, &g.Minutes} {
		if *v < 1e-9 {
			*v = 0
		}
	}
}

func mostOf(list []*sequence) float64 {
	most := 0.0
	for _, s := range list {
		most = max(most, s.useful)
	}
	return most
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
func (t *task) leastRegret(opts []options, lists [][]*sequence) (rho, bound float64, pick []*sequence) {
	usual := make([]*sequence, len(opts))
	for i, o := range opts {
		usual[i] = o.usual
	}
	var candidates []float64
	for i, o := range opts {
		if !t.zones[i].hasBand {
			continue
		}
		for _, s := range lists[i] {
			candidates = append(candidates, o.best-s.ready)
		}
	}
	if len(candidates) == 0 {
		return 0, 0, usual
	}
	for i, s := range usual {
		if t.zones[i].hasBand {
			candidates = append(candidates, opts[i].best-s.ready)
		}
	}
	candidates = append(candidates, 0)
	slices.Sort(candidates)
	candidates = slices.Compact(candidates)
	// The last candidate is feasible: the usual course of every zone (leave, or what is compelled) always fits.
	lo, hi := 0, len(candidates)-1
	proven := 0 // candidates below this index are proven not to fit
	for lo < hi {
		mid := (lo + hi) / 2
		a, p := t.possible(opts, lists, candidates[mid])
		switch a {
		case yes:
			hi = mid
			usual = p
		case no:
			lo = mid + 1
			proven = lo
		default:
			lo = mid + 1
		}
	}
	return candidates[hi], candidates[min(proven, hi)], usual
}

type answer int

const (
	unknown answer = iota
	yes
	no
)

func (t *task) possible(opts []options, lists [][]*sequence, rho float64) (answer, []*sequence) {
	pick := make([]*sequence, len(opts))
	var at []int
	floor := make([][]*sequence, len(lists))
	trimmed := false
	for i, o := range opts {
		if !t.zones[i].hasBand {
			pick[i] = o.usual
			continue
		}
		var ok []*sequence
	next:
		for _, s := range lists[i] {
			if s.ready < o.best-rho-1e-12 {
				continue
			}
			for _, k := range ok {
				if k.mask&^s.mask == 0 && fits(k.minutes, s.minutes) {
					continue next
				}
			}
			if ok = append(ok, s); len(ok) > keepBudget {
				trimmed = true
				break
			}
		}
		if len(ok) == 0 {
			return no, nil
		}
		floor[i] = ok
	}
	k := &knapsack{room: t.room, nodes: possibleNodes}
	for i, l := range floor {
		if l != nil {
			k.lists, at = append(k.lists, l), append(at, i)
		}
	}
	a, p := k.possible()
	if a == no && trimmed {
		return unknown, nil
	}
	if a == yes {
		for j, s := range p {
			pick[at[j]] = s
		}
	}
	return a, pick
}
