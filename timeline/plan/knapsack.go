package plan

import (
	"math"
	"slices"
	"sort"
)

// knapsack chooses one sequence a zone so that no session is overfull: depth first, cut by bounds from Lagrangian
// relaxation of the minutes (Fisher 1981, Management Science 27(1)), so that what is cut provably holds nothing better.
type knapsack struct {
	lists  [][]*sequence
	room   []float64
	weight float64
	nodes  int // a search that needs more stops with what it has and a bound
}

const (
	chooseNodes   = 150_000
	possibleNodes = 40_000
	priceSteps    = 40
)

// goal is one search: least cost, with at least this much use.
type goal struct {
	cost     func(*sequence) float64
	need     float64                        // use that must be reached
	accept   func(pick []*sequence) bool    // exact test of a full choice
	better   func(cost, than float64) bool  // by enough to count
	hopeless func(bound, best float64) bool // no choice that costs at least bound can be better
	first    bool                           // any choice will do
	start    []*sequence
}

type branch struct {
	k      *knapsack
	g      goal
	order  []int         // zones, the hungriest first
	lists  [][]*sequence // in that order, best first
	costs  [][]float64
	price  []float64   // of a minute in each session
	worth  float64     // price of a unit of use
	tail   []float64   // least priced cost of the zones from here on
	plain  []float64   // least cost of the zones from here on
	use    []float64   // most use of the zones from here on
	hungry [][]float64 // least minutes a session of the zones from here on
	left   []float64
	pick   []*sequence
	best   []*sequence
	cost   float64
	nodes  int
	full   bool // budget used up
	bound  float64
}

// solve returns the best choice found (nil: none), its cost, and a proven lower bound of the cost (+Inf: proven impossible).
func (k *knapsack) solve(g goal) ([]*sequence, float64, float64) {
	b := &branch{k: k, g: g, cost: math.Inf(1), left: slices.Clone(k.room)}
	n := len(k.lists)
	for i := range n {
		b.order = append(b.order, i)
	}
	hunger := make([]float64, n)
	for i, l := range k.lists {
		for _, s := range l {
			hunger[i] += s.total / float64(len(l))
		}
	}
	sort.SliceStable(b.order, func(x, y int) bool { return hunger[b.order[x]] > hunger[b.order[y]] })
	b.pick = make([]*sequence, n)
	if g.start != nil {
		b.best, b.cost = slices.Clone(g.start), 0
		for _, s := range g.start {
			b.cost += g.cost(s)
		}
	}
	b.setPrices()
	if b.bound > 0 && math.IsInf(b.bound, 1) {
		return b.best, b.cost, b.bound
	}
	b.walk(0, 0, 0)
	if b.full {
		return b.best, b.cost, math.Min(b.bound, b.cost)
	}
	return b.best, b.cost, b.cost
}

// setPrices finds prices of minutes and use by subgradient steps, and from them the bounds of every tail.
func (b *branch) setPrices() {
	k, g := b.k, b.g
	n, sessions := len(b.order), len(k.room)
	for _, z := range b.order {
		list := slices.Clone(k.lists[z])
		b.lists = append(b.lists, list)
	}
	price, worth := make([]float64, sessions), 0.0
	bestPrice, bestWorth, bound := slices.Clone(price), 0.0, math.Inf(-1)
	needs := !math.IsInf(g.need, -1)
	used := make([]float64, sessions)
	scale := 1.0
	impossible := false
	for step := range priceSteps {
		sum, use, spread := 0.0, 0.0, 0.0
		clear(used)
		for _, list := range b.lists {
			least, at, most := math.Inf(1), 0, math.Inf(-1)
			for j, s := range list {
				v := g.cost(s) - worth*s.useful + dot(price, s)
				if v < least {
					least, at = v, j
				}
				most = max(most, v)
			}
			sum += least
			spread = max(spread, most-least)
			use += list[at].useful
			for i, m := range list[at].minutes {
				used[i] += m
			}
		}
		if needs {
			sum += worth * g.need
		}
		for i, p := range price {
			sum -= p * k.room[i]
		}
		if sum > bound {
			bound, bestWorth = sum, worth
			copy(bestPrice, price)
		} else if step%5 == 4 {
			scale /= 2
		}
		if g.first && sum > eps {
			impossible = true
			break
		}
		norm := 0.0
		for i := range used {
			if d := used[i] - k.room[i]; d > 0 || price[i] > 0 {
				norm += d * d
			}
		}
		short := g.need - use
		if needs && (short > 0 || worth > 0) {
			norm += short * short * 1e4
		}
		if norm < 1e-18 {
			break
		}
		target := max(math.Abs(sum)*0.02, spread*0.05, 0.01)
		h := scale * target / norm
		for i := range price {
			price[i] = max(0, price[i]+h*(used[i]-k.room[i]))
		}
		if needs {
			worth = max(0, worth+h*short*1e4)
		}
	}
	b.price, b.worth, b.bound = bestPrice, bestWorth, bound
	if impossible {
		b.bound = math.Inf(1)
		return
	}
	b.costs = make([][]float64, n)
	b.tail, b.plain, b.use = make([]float64, n+1), make([]float64, n+1), make([]float64, n+1)
	b.hungry = make([][]float64, n+1)
	b.hungry[n] = make([]float64, sessions)
	for d := n - 1; d >= 0; d-- {
		list := b.lists[d]
		priced := make(map[*sequence]float64, len(list))
		for _, s := range list {
			priced[s] = g.cost(s) - b.worth*s.useful + dot(b.price, s)
		}
		slices.SortStableFunc(list, func(x, y *sequence) int {
			switch {
			case priced[x] < priced[y]:
				return -1
			case priced[x] > priced[y]:
				return 1
			}
			return 0
		})
		least, leastCost, most := math.Inf(1), math.Inf(1), math.Inf(-1)
		hungry := make([]float64, sessions)
		for i := range hungry {
			hungry[i] = math.Inf(1)
		}
		for _, s := range list {
			c := g.cost(s)
			b.costs[d] = append(b.costs[d], c)
			least, leastCost, most = min(least, priced[s]), min(leastCost, c), max(most, s.useful)
			for i, m := range s.minutes {
				hungry[i] = min(hungry[i], m)
			}
		}
		b.tail[d], b.plain[d], b.use[d] = b.tail[d+1]+least, b.plain[d+1]+leastCost, b.use[d+1]+most
		for i := range hungry {
			hungry[i] += b.hungry[d+1][i]
		}
		b.hungry[d] = hungry
	}
}

func dot(price []float64, s *sequence) float64 {
	sum := 0.0
	for i, m := range s.minutes {
		sum += price[i] * m
	}
	return sum
}

// walk chooses for the zone at depth d. It reports whether the search is over.
func (b *branch) walk(d int, cost, use float64) bool {
	if b.nodes++; b.nodes > b.k.nodes {
		b.full = true
		return true
	}
	for i, l := range b.left {
		if b.hungry[d][i] > l+eps {
			return false
		}
	}
	if use+b.use[d] < b.g.need-eps {
		return false
	}
	if d == len(b.order) {
		if b.g.accept != nil && !b.g.accept(b.pick) {
			return false
		}
		if b.best == nil || b.g.better(cost, b.cost) {
			b.best, b.cost = slices.Clone(b.pick), cost
		}
		return b.g.first
	}
	if b.best != nil && !b.g.first {
		bound := cost + b.tail[d]
		if !math.IsInf(b.g.need, -1) {
			bound += b.worth * (b.g.need - use)
		}
		for i, p := range b.price {
			bound -= p * b.left[i]
		}
		if b.g.hopeless(max(bound, cost+b.plain[d]), b.cost) {
			return false
		}
	}
next:
	for j, s := range b.lists[d] {
		for i, m := range s.minutes {
			if m > b.left[i]+eps {
				continue next
			}
		}
		for i, m := range s.minutes {
			b.left[i] -= m
		}
		b.pick[b.order[d]] = s
		over := b.walk(d+1, cost+b.costs[d][j], use+s.useful)
		for i, m := range s.minutes {
			b.left[i] += m
		}
		if over {
			return true
		}
	}
	return false
}

func (k *knapsack) possible() (answer, []*sequence) {
	none := func(*sequence) float64 { return 0 }
	pick, _, bound := k.solve(goal{cost: none, need: math.Inf(-1), first: true, better: func(a, b float64) bool { return a < b }})
	switch {
	case pick != nil:
		return yes, pick
	case math.IsInf(bound, 1):
		return no, nil
	}
	return unknown, nil
}

// thousandths is the mean readiness of a full choice in whole thousandths; summed in anatomical order, so that it does not
// depend on the way of the search.
func (k *knapsack) thousandths(pick []*sequence) float64 {
	if k.weight == 0 {
		return 0
	}
	sum := 0.0
	for _, s := range pick {
		sum += s.useful
	}
	return math.Round(sum / k.weight * 1000)
}

func (k *knapsack) rounded(pick []*sequence) float64 { return k.thousandths(pick) / 1000 }

// mostUseful maximises the rounded mean; bound is a proven upper bound of the use.
func (k *knapsack) mostUseful(start []*sequence) (pick []*sequence, bound float64) {
	round := func(cost float64) float64 {
		if k.weight == 0 {
			return 0
		}
		return math.Round(-cost / k.weight * 1000)
	}
	pick, _, low := k.solve(goal{
		cost: func(s *sequence) float64 { return -s.useful }, need: math.Inf(-1), start: start,
		better: func(a, b float64) bool { return a < b-1e-12 },
		hopeless: func(bound, best float64) bool {
			return k.weight == 0 || round(bound-eps) <= round(best)
		},
	})
	return pick, -low
}

// leastMinutes minimises the minutes without losing a thousandth of the mean; bound is a proven lower bound.
func (k *knapsack) leastMinutes(start []*sequence) (pick []*sequence, bound float64) {
	goalMean := k.thousandths(start)
	pick, _, bound = k.solve(goal{
		cost: func(s *sequence) float64 { return s.total }, need: (goalMean - 0.5) / 1000 * k.weight, start: start,
		accept:   func(p []*sequence) bool { return k.thousandths(p) >= goalMean },
		better:   func(a, b float64) bool { return a < b-eps },
		hopeless: func(bound, best float64) bool { return bound >= best-eps },
	})
	return pick, bound
}
