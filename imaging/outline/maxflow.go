package outline

// grid is a network over the pixels of a w × h picture: each is joined to its eight neighbours, to a source and to a
// sink. solve finds the greatest flow and with it the least cut, by growing search trees from both ends and keeping them
// from one augmentation to the next (Boykov, Kolmogorov 2004, IEEE TPAMI 26(9):1124–1137).
//
// Capacities are whole numbers, so that the flow ends.
type grid struct {
	w, h int
	// left[8*p+d] is what the arc from p in direction d can still carry.
	left []int32
	// ends[p] is what can still come from the source (positive) or go to the sink (negative).
	ends []int32
	in   []bool // pixels outside take no part

	parent []uint8 // direction to the parent, or one of the constants below
	tree   []uint8
	stamp  []int32 // when dist was last right
	dist   []int32
	now    int32
	active []int32 // a ring would do; a queue that is compacted is simpler
	head   int
	queued []bool
	orphan []int32
}

const (
	noParent  = 8
	rootOfEnd = 9 // the parent is the source or the sink itself
)

// Trees that a pixel may be in.
const (
	free uint8 = iota
	sourceTree
	sinkTree
)

// Directions: right, down right, down, down left, and back; the opposite of d is d ^ 4.
var steps = [8][2]int{{1, 0}, {1, 1}, {0, 1}, {-1, 1}, {-1, 0}, {-1, -1}, {0, -1}, {1, -1}}

func newGrid(w, h int) *grid {
	n := w * h
	return &grid{
		w: w, h: h, left: make([]int32, 8*n), ends: make([]int32, n), in: make([]bool, n),
		parent: make([]uint8, n), tree: make([]uint8, n), stamp: make([]int32, n), dist: make([]int32, n), queued: make([]bool, n),
	}
}

// clear empties the network for another one of the same size.
func (g *grid) clear() {
	clear(g.left)
	clear(g.ends)
	clear(g.in)
	clear(g.tree)
	clear(g.stamp)
	clear(g.dist)
	clear(g.queued)
	g.active, g.head, g.orphan, g.now = g.active[:0], 0, g.orphan[:0], 0
}

// join lets p and its neighbour in direction d be cut for the price of capacity, either way.
func (g *grid) join(p, d int, capacity int32) {
	q := p + steps[d][1]*g.w + steps[d][0]
	g.left[8*p+d] += capacity
	g.left[8*q+d^4] += capacity
}

func (g *grid) push(p int32) {
	if !g.queued[p] {
		g.queued[p] = true
		g.active = append(g.active, p)
	}
}

func (g *grid) pop() (int32, bool) {
	for g.head < len(g.active) {
		p := g.active[g.head]
		g.head++
		g.queued[p] = false
		if g.tree[p] != free {
			return p, true
		}
	}
	return 0, false
}

// solve returns which pixels stay with the source.
func (g *grid) solve() []bool {
	offset := [8]int32{}
	for d, s := range steps {
		offset[d] = int32(s[1]*g.w + s[0])
	}
	for p := range g.ends {
		g.parent[p] = noParent
		if !g.in[p] || g.ends[p] == 0 {
			continue
		}
		g.tree[p], g.parent[p], g.dist[p] = sourceTree, rootOfEnd, 1
		if g.ends[p] < 0 {
			g.tree[p] = sinkTree
		}
		g.push(int32(p))
	}
	for {
		p, ok := g.pop()
		if !ok {
			break
		}
		for again := true; again; {
			again = false
			d, found := g.grow(p, &offset)
			if !found {
				break
			}
			g.now++
			g.augment(p, d, &offset)
			for len(g.orphan) > 0 {
				o := g.orphan[len(g.orphan)-1]
				g.orphan = g.orphan[:len(g.orphan)-1]
				g.adopt(o, &offset)
			}
			again = g.tree[p] != free
		}
	}
	out := make([]bool, len(g.ends))
	for p := range out {
		out[p] = g.tree[p] == sourceTree
	}
	return out
}

// grow lets p take free neighbours into its tree, and tells the direction of one that is in the other tree.
func (g *grid) grow(p int32, offset *[8]int32) (int, bool) {
	t := g.tree[p]
	for d := range 8 {
		q := p + offset[d]
		arc := 8*p + int32(d)
		if t == sinkTree {
			if q < 0 || int(q) >= len(g.tree) {
				continue
			}
			arc = 8*q + int32(d^4)
		}
		if g.left[arc] == 0 {
			continue
		}
		switch g.tree[q] {
		case free:
			g.tree[q], g.parent[q] = t, uint8(d^4)
			g.stamp[q], g.dist[q] = g.stamp[p], g.dist[p]+1
			g.push(q)
		case t:
			if g.stamp[q] <= g.stamp[p] && g.dist[q] > g.dist[p] {
				g.parent[q] = uint8(d ^ 4)
				g.stamp[q], g.dist[q] = g.stamp[p], g.dist[p]+1
			}
		default:
			return d, true
		}
	}
	return 0, false
}

// augment pushes what the way through the arc from p in direction d can carry.
func (g *grid) augment(p int32, d int, offset *[8]int32) {
	a, b := p, p+offset[d] // a in the source's tree, b in the sink's
	if g.tree[p] == sinkTree {
		a, b, d = b, a, d^4
	}
	flow := g.left[8*a+int32(d)]
	for x := a; ; x += offset[g.parent[x]] {
		if g.parent[x] == rootOfEnd {
			flow = min(flow, g.ends[x])
			break
		}
		up := x + offset[g.parent[x]]
		flow = min(flow, g.left[8*up+int32(g.parent[x]^4)])
	}
	for x := b; ; x += offset[g.parent[x]] {
		if g.parent[x] == rootOfEnd {
			flow = min(flow, -g.ends[x])
			break
		}
		flow = min(flow, g.left[8*x+int32(g.parent[x])])
	}
	g.left[8*a+int32(d)] -= flow
	g.left[8*b+int32(d^4)] += flow
	for x := a; ; {
		if g.parent[x] == rootOfEnd {
			if g.ends[x] -= flow; g.ends[x] == 0 {
				g.parent[x] = noParent
				g.orphan = append(g.orphan, x)
			}
			break
		}
		dir := g.parent[x]
		up := x + offset[dir]
		g.left[8*x+int32(dir)] += flow
		if g.left[8*up+int32(dir^4)] -= flow; g.left[8*up+int32(dir^4)] == 0 {
			g.parent[x] = noParent
			g.orphan = append(g.orphan, x)
		}
		x = up
	}
	for x := b; ; {
		if g.parent[x] == rootOfEnd {
			if g.ends[x] += flow; g.ends[x] == 0 {
				g.parent[x] = noParent
				g.orphan = append(g.orphan, x)
			}
			break
		}
		dir := g.parent[x]
		up := x + offset[dir]
		g.left[8*up+int32(dir^4)] += flow
		if g.left[8*x+int32(dir)] -= flow; g.left[8*x+int32(dir)] == 0 {
			g.parent[x] = noParent
			g.orphan = append(g.orphan, x)
		}
		x = up
	}
}

// adopt finds another parent for o in its tree, or sets it free.
func (g *grid) adopt(o int32, offset *[8]int32) {
	t := g.tree[o]
	best, bestDist := -1, int32(1<<30)
	for d := range 8 {
		q := o + offset[d]
		if q < 0 || int(q) >= len(g.tree) || g.tree[q] != t {
			continue
		}
		arc := 8*q + int32(d^4)
		if t == sinkTree {
			arc = 8*o + int32(d)
		}
		if g.left[arc] == 0 {
			continue
		}
		// Does the way up from q end at the source or the sink, and how far is it?
		far, ok := int32(0), false
		for x := q; ; {
			if g.stamp[x] == g.now {
				far, ok = far+g.dist[x], true
				break
			}
			if g.parent[x] == rootOfEnd {
				g.stamp[x], g.dist[x] = g.now, 1
				far, ok = far+1, true
				break
			}
			if g.parent[x] == noParent {
				break
			}
			far++
			x += offset[g.parent[x]]
		}
		if !ok {
			continue
		}
		if far < bestDist {
			best, bestDist = d, far
		}
		for x, f := q, far; g.stamp[x] != g.now; f-- {
			g.stamp[x], g.dist[x] = g.now, f
			x += offset[g.parent[x]]
		}
	}
	if best >= 0 {
		g.parent[o] = uint8(best)
		g.stamp[o], g.dist[o] = g.now, bestDist+1
		return
	}
	for d := range 8 {
		q := o + offset[d]
		if q < 0 || int(q) >= len(g.tree) || g.tree[q] != t {
			continue
		}
		arc := 8*q + int32(d^4)
		if t == sinkTree {
			arc = 8*o + int32(d)
		}
		if g.left[arc] != 0 {
			g.push(q)
		}
		if g.parent[q] < 8 && q+offset[g.parent[q]] == o {
			g.parent[q] = noParent
			g.orphan = append(g.orphan, q)
		}
	}
	g.tree[o], g.parent[o] = free, noParent
}
