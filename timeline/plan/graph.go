package plan

import (
	"cmp"
	"encoding/binary"
	"math"
	"slices"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// graph is what may be done to one zone over the sessions. Different courses that lead to the same coat are one node: what
// may be done to a coat and how it comes out depends on its layers alone. A sequence is a path from the first node to the
// last, and its work, its readiness and its use are those of its arcs. Where there are too many coats in a session only the
// most promising are followed (thin); how much that may miss is bounded from outside (relaxed).
type graph struct {
	levels  [][]int32 // of each level's nodes the place of their first arc; the last level is one node without arcs
	arcs    [][]arc   // of each level, by node; the first arc on the usual way is the usual course
	thin    bool      // not all there is
	ready   float64   // of the shows before the first session
	useful  float64
	known   map[string]*sequence // paths that were asked for
	floored floored
	value   [][]float64 // scratch
	chosen  [][]int32
}

type arc struct {
	to             int32
	kind           kind
	minutes, ready float64
	useful         float64
}

// breadth is how many coats of a session are followed: at most most, and of more than that only keep.
type breadth struct{ most, keep int }

var usualBreadth = breadth{most: 6_500, keep: 1_200}

// countPaths: of a zone with no more paths all are listed.
const countPaths = 12_000

// coatNode is a coat on the way, with one of the ways to it and how that stands.
type coatNode struct {
	lad           []rung
	parent        int32
	choice        choice
	ready, useful float64
	total         float64
	usual         bool
}

// graph builds the zone's graph.
func (t *task) graph(z *zone, wide breadth) *graph {
	n := len(t.sessions)
	levels := make([][]coatNode, n+1)
	levels[0] = []coatNode{{lad: z.start, parent: -1, ready: 1, usual: true}}
	g := &graph{levels: make([][]int32, n+1), arcs: make([][]arc, n), known: map[string]*sequence{}}
	g.ready, g.useful = t.early(z)
	var menu []choice
	var key []byte
	var lad, store []rung
	for i := range n {
		index := make(map[string]int32, 2*len(levels[i]))
		decides := t.decides(z, i)
		var scores [][2]float64
		for at := range levels[i] {
			g.levels[i] = append(g.levels[i], int32(len(g.arcs[i])))
			node := &levels[i][at]
			menu = t.choices(menu[:0], z, node.lad, i, func() []coat.Step { return t.wayTo(levels, i, int32(at)) })
			for k, c := range menu {
				lad = append(lad[:0], node.lad...)
				if c.kind != leave {
					lad = pull(lad, node.lad, c.share, i)
				}
				key = t.likeCoat(key[:0], z, lad, i+1)
				to, ok := index[string(key)]
				if !ok {
					to = int32(len(levels[i+1]))
					index[string(key)] = to
					if len(store)+len(lad) > cap(store) {
						store = make([]rung, 0, 1<<14)
					}
					from := len(store)
					store = append(store, lad...)
					levels[i+1] = append(levels[i+1], coatNode{lad: store[from:len(store):len(store)], parent: int32(at), choice: c})
					score := [2]float64{1, 0}
					if decides {
						score[0], score[1] = t.score(z, i, t.wayTo(levels, i+1, to), lad)
					}
					scores = append(scores, score)
				}
				next := &levels[i+1][to]
				way := coatNode{
					lad: next.lad, parent: int32(at), choice: c, usual: next.usual || node.usual && k == 0,
					ready: math.Min(node.ready, scores[to][0]), useful: node.useful + scores[to][1], total: node.total + c.minutes,
				}
				if !ok || way.betterThan(next) < 0 {
					*next = way
				}
				next.usual = way.usual
				g.arcs[i] = append(g.arcs[i], arc{to, c.kind, c.minutes, scores[to][0], scores[to][1]})
			}
		}
		if len(levels[i+1]) > wide.most && i+1 < n {
			g.narrow(levels, i, thin(levels[i+1], wide.keep))
		}
	}
	g.fold()
	return g
}

// narrow keeps of the coats after session i only those named, in order, and the arcs that lead to them.
func (g *graph) narrow(levels [][]coatNode, i int, keep []int32) {
	g.thin = true
	place := make([]int32, len(levels[i+1]))
	for k := range place {
		place[k] = -1
	}
	kept := make([]coatNode, len(keep))
	for k, at := range keep {
		place[at], kept[k] = int32(k), levels[i+1][at]
	}
	levels[i+1] = kept
	var arcs []arc
	for at, begin := range g.levels[i] {
		end := len(g.arcs[i])
		if at+1 < len(g.levels[i]) {
			end = int(g.levels[i][at+1])
		}
		g.levels[i][at] = int32(len(arcs))
		for _, a := range g.arcs[i][begin:end] {
			if a.to = place[a.to]; a.to >= 0 {
				arcs = append(arcs, a)
			}
		}
	}
	g.arcs[i] = arcs
}

// likeness is what of a coat decides its readiness now and later: the layers at some of its quantiles.
type likeness struct {
	vis, mid, in, last int16
	lastShare          int16 // of the longest layer, in twentieths
	ready              float64
}

func (s *coatNode) likeness() likeness {
	return likeness{
		vis: at(s.lad, visibleShare), mid: at(s.lad, 0.5), in: at(s.lad, 0.75), last: s.lad[0].born,
		lastShare: int16(math.Round(s.lad[0].share * 20)), ready: s.ready,
	}
}

// betterThan is below 0 where the way to s is the better one.
func (s *coatNode) betterThan(o *coatNode) int {
	return cmp.Or(cmp.Compare(o.ready, s.ready), cmp.Compare(o.useful, s.useful), cmp.Compare(s.total, o.total))
}

// alike is how many of those that look alike are kept before others have had their turn.
const alike = 4

// thin names a few of those that look alike, the better ones first, then as many in turn as are kept.
func thin(all []coatNode, keep int) []int32 {
	order := make([]int32, len(all))
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortStableFunc(order, func(x, y int32) int {
		a, b := &all[x], &all[y]
		if a.usual != b.usual {
			if a.usual {
				return -1
			}
			return 1
		}
		return a.betterThan(b)
	})
	rank := map[likeness]int{}
	turn := make([][]int32, alike)
	for _, i := range order {
		l := all[i].likeness()
		if r := rank[l]; r < alike {
			turn[r] = append(turn[r], i)
			rank[l]++
		}
	}
	var out []int32
	for _, t := range turn {
		for _, i := range t {
			if len(out) < keep {
				out = append(out, i)
			}
		}
	}
	return out
}

// wayTo lists the pulls on one way to a node.
func (t *task) wayTo(levels [][]coatNode, level int, at int32) []coat.Step {
	var out []coat.Step
	for ; level > 0; level-- {
		n := levels[level][at]
		if n.choice.kind != leave {
			out = append(out, stepOf(t.sessions[level-1], n.choice))
		}
		at = n.parent
	}
	slices.Reverse(out)
	return out
}

// likeCoat appends a key of all of a coat that can still matter before session i: its layers down to the depth that the
// sessions left can reach plus what readiness looks at, and the young layers, which the rules of cover count.
func (t *task) likeCoat(key []byte, z *zone, lad []rung, i int) []byte {
	deep := math.Inf(1)
	if !z.mixed {
		deep = visibleShare
		for h, target := range z.targets {
			if z.banded[h] {
				deep = math.Max(deep, target.InHair)
			}
		}
		deep += 1e-5
		for j := i; j < len(t.sessions); j++ {
			if z.open[j] == isOpen {
				deep += z.mostAtOnce()
			}
		}
	}
	add := func(r rung, share float64) {
		key = binary.LittleEndian.AppendUint16(key, uint16(r.born))
		key = binary.LittleEndian.AppendUint32(key, uint32(math.Round(share*1e7)))
	}
	cum := 0.0
	for _, r := range lad {
		switch {
		case cum < deep:
			add(r, math.Min(r.share, deep-cum))
		case i < len(t.sessions) && t.young(z, r.born, i):
			add(r, r.share)
		}
		cum += r.share
	}
	return key
}

// young: whether the layer is out, which is asked of the whole coat by the rules of cover, is not settled in session i.
func (t *task) young(z *zone, born int16, i int) bool {
	on, pulled := t.sessions[i], t.bornOn(z, born)
	if z.mode == timeline.KeepRolling && !z.isFlat && int(on-pulled) < z.lagDays {
		return true
	}
	if slices.IndexFunc(z.covered[i:], func(days []timeline.Day) bool { return len(days) > 0 }) < 0 {
		return false
	}
	return int(t.shows[t.nextShow(on)].on-pulled) < z.hideDays()
}

// mostAtOnce is the largest share that one session may pull.
func (z *zone) mostAtOnce() float64 {
	switch {
	case z.name == timeline.Tail:
		return timeline.ShareThird
	case z.mode == timeline.KeepRolling && !z.isFlat:
		return timeline.ShareHalf
	}
	return 1
}

// fold makes one node of those from which the same can be reached, from the last session back.
func (g *graph) fold() {
	n := len(g.arcs)
	same := []int32{} // of each node of the level after, its folded one
	if n > 0 {
		most := int32(-1)
		for _, a := range g.arcs[n-1] {
			most = max(most, a.to)
		}
		same = make([]int32, most+1)
	}
	g.levels[n] = []int32{0}
	var key []byte
	for i := n - 1; i >= 0; i-- {
		index := map[string]int32{}
		folded := make([]int32, len(g.levels[i]))
		var first []int32
		var arcs []arc
		for at, begin := range g.levels[i] {
			end := int32(len(g.arcs[i]))
			if at+1 < len(g.levels[i]) {
				end = g.levels[i][at+1]
			}
			mine := g.arcs[i][begin:end]
			for k := range mine {
				mine[k].to = same[mine[k].to]
			}
			mine = undominatedArcs(mine)
			key = key[:0]
			for k := range mine {
				a := &mine[k]
				key = binary.LittleEndian.AppendUint32(key, uint32(a.to))
				key = append(key, byte(a.kind))
				for _, v := range []float64{a.minutes, a.ready, a.useful} {
					key = binary.LittleEndian.AppendUint64(key, math.Float64bits(v))
				}
			}
			to, ok := index[string(key)]
			if !ok {
				to = int32(len(first))
				index[string(key)] = to
				first = append(first, int32(len(arcs)))
				arcs = append(arcs, mine...)
			}
			folded[at] = to
		}
		g.levels[i], g.arcs[i] = first, arcs
		same = folded
	}
	g.value, g.chosen = make([][]float64, n+1), make([][]int32, n)
	for i := range g.value {
		g.value[i] = make([]float64, len(g.levels[i]))
		if i < n {
			g.chosen[i] = make([]int32, len(g.levels[i]))
		}
	}
}

// undominatedArcs drops the arcs that take more minutes to the same coat and come out no better; the first arc stays. The
// argument is overwritten.
func undominatedArcs(arcs []arc) []arc {
	kept := arcs[:min(1, len(arcs))]
next:
	for _, a := range arcs[len(kept):] {
		for _, k := range kept {
			if k.to == a.to && k.minutes <= a.minutes && k.ready >= a.ready && k.useful >= a.useful {
				continue next
			}
		}
		kept = append(kept, a)
	}
	return kept
}

// of are the arcs of a node, and the place of the first.
func (g *graph) of(i int, at int32) ([]arc, int32) {
	begin, end := g.levels[i][at], int32(len(g.arcs[i]))
	if int(at)+1 < len(g.levels[i]) {
		end = g.levels[i][at+1]
	}
	return g.arcs[i][begin:end], begin
}

// most is the best readiness and the most use of any path, each for itself.
func (g *graph) most() (ready, useful float64) {
	n := len(g.arcs)
	r, u := []float64{1}, []float64{0}
	for i := n - 1; i >= 0; i-- {
		ri, ui := make([]float64, len(g.levels[i])), make([]float64, len(g.levels[i]))
		for at := range g.levels[i] {
			arcs, _ := g.of(i, int32(at))
			ui[at] = math.Inf(-1)
			for _, a := range arcs {
				ri[at] = math.Max(ri[at], math.Min(a.ready, r[a.to]))
				ui[at] = math.Max(ui[at], a.useful+u[a.to])
			}
		}
		r, u = ri, ui
	}
	return math.Min(g.ready, r[0]), g.useful + u[0]
}

// paths counts the paths; no more than countPaths + 1.
func (g *graph) paths() int {
	count := []int{1}
	for i := len(g.arcs) - 1; i >= 0; i-- {
		c := make([]int, len(g.levels[i]))
		for at := range g.levels[i] {
			arcs, _ := g.of(i, int32(at))
			for _, a := range arcs {
				c[at] = min(c[at]+count[a.to], countPaths+1)
			}
		}
		count = c
	}
	return count[0]
}

// all lists every path, the usual course first.
func (g *graph) all(t *task, z *zone) []*sequence {
	n := len(g.arcs)
	kinds, minutes := make([]kind, n), make([]float64, n)
	var out []*sequence
	var walk func(i int, at int32, ready, useful float64)
	walk = func(i int, at int32, ready, useful float64) {
		if i == n {
			out = append(out, t.sequence(z, ready, useful, slices.Clone(minutes), slices.Clone(kinds)))
			return
		}
		arcs, _ := g.of(i, at)
		for _, a := range arcs {
			kinds[i], minutes[i] = a.kind, a.minutes
			walk(i+1, a.to, math.Min(ready, a.ready), useful+a.useful)
		}
	}
	walk(0, 0, 1, 0)
	return out
}

// usual is the course of the first arcs.
func (g *graph) usual(t *task, z *zone) *sequence {
	return g.path(t, z, func(int, int32) int32 { return 0 })
}

// path is the sequence along the chosen arcs, numbered within their node.
func (g *graph) path(t *task, z *zone, choose func(i int, at int32) int32) *sequence {
	n := len(g.arcs)
	kinds := make([]byte, n)
	at := int32(0)
	var way []arc
	for i := range n {
		arcs, _ := g.of(i, at)
		a := arcs[choose(i, at)]
		way, kinds[i], at = append(way, a), byte(a.kind), a.to
	}
	if s := g.known[string(kinds)]; s != nil {
		return s
	}
	minutes, ks := make([]float64, n), make([]kind, n)
	ready, useful := 1.0, 0.0
	for i, a := range way {
		minutes[i], ks[i] = a.minutes, a.kind
		ready, useful = math.Min(ready, a.ready), useful+a.useful
	}
	s := t.sequence(z, ready, useful, minutes, ks)
	g.known[string(kinds)] = s
	return s
}

// floored is what of a graph is left under a floor of readiness: many quests ask one floor after the other.
type floored struct {
	floor  float64
	made   bool
	levels [][]int32
	arcs   [][]flooredArc
}

type flooredArc struct {
	to, place       int32 // place among the arcs of its node in the graph
	minutes, useful float64
}

// under drops the arcs below the floor, and those to coats from which nothing is left.
func (g *graph) under(floor float64) *floored {
	f := &g.floored
	if f.made && f.floor == floor {
		return f
	}
	n := len(g.arcs)
	if !f.made {
		f.levels, f.arcs = make([][]int32, n), make([][]flooredArc, n)
	}
	f.floor, f.made = floor, true
	dead := []bool{false}
	for i := n - 1; i >= 0; i-- {
		levels, arcs := f.levels[i][:0], f.arcs[i][:0]
		gone := make([]bool, len(g.levels[i]))
		for at := range g.levels[i] {
			levels = append(levels, int32(len(arcs)))
			mine, _ := g.of(i, int32(at))
			for k, a := range mine {
				if a.ready >= floor && !dead[a.to] {
					arcs = append(arcs, flooredArc{a.to, int32(k), a.minutes, a.useful})
				}
			}
			gone[at] = int(levels[at]) == len(arcs)
		}
		f.levels[i], f.arcs[i], dead = levels, arcs, gone
	}
	return f
}

// least is the path of least Σ (price + perMinute)·minutes − worth·use among those that are at least so ready and take no
// more than left in any session (nil: no limit); ok is false where there is none. The value counts the use of before the
// first session too.
func (g *graph) least(q quest, left []float64) (value float64, choose func(int, int32) int32, ok bool) {
	n := len(g.arcs)
	if g.ready < q.floor {
		return 0, nil, false
	}
	f := g.under(q.floor)
	g.value[n][0] = 0
	for i := n - 1; i >= 0; i-- {
		cost, after, value, chosen := q.perMinute+q.price[i], g.value[i+1], g.value[i], g.chosen[i]
		limit := math.Inf(1)
		if left != nil {
			limit = left[i] + eps
		}
		arcs := f.arcs[i]
		for at, begin := range f.levels[i] {
			end := len(arcs)
			if at+1 < len(f.levels[i]) {
				end = int(f.levels[i][at+1])
			}
			best, pick := math.Inf(1), int32(-1)
			for k := int(begin); k < end; k++ {
				a := &arcs[k]
				if a.minutes > limit {
					continue
				}
				if v := cost*a.minutes - q.worth*a.useful + after[a.to]; v < best {
					best, pick = v, a.place
				}
			}
			value[at], chosen[at] = best, pick
		}
	}
	if math.IsInf(g.value[0][0], 1) {
		return 0, nil, false
	}
	return g.value[0][0] - q.worth*g.useful, func(i int, at int32) int32 { return g.chosen[i][at] }, true
}

// readies are the readinesses that occur on arcs.
func (g *graph) readies(dst []float64) []float64 {
	dst = append(dst, g.ready)
	for _, level := range g.arcs {
		last := math.NaN()
		for _, a := range level {
			if a.ready != last && a.ready < 1 {
				dst, last = append(dst, a.ready), a.ready
			}
		}
	}
	return dst
}
