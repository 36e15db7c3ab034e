package guess

import (
	"math"
	"slices"
)

// candidate is a heap of patches that may be the dog.
type candidate struct {
	in                            []bool // by patch
	like, apart, told, rim, share float64
	score                         float64
}

const (
	levels       = 14   // at which a map is cut
	tints        = 14   // of colours that a candidate's are told by
	groups       = 6    // of colours, each of whose choices may make the dog
	leastShare   = 0.03 // of the picture that a dog covers
	mostShare    = 0.72
	sameOverlap  = 0.88 // candidates that overlap by more are one
	clearColour  = 10   // difference of colour across an edge that cannot be overlooked
	mostRimShare = 0.30 // of a silhouette's edge along the border of the picture
	climbs       = 60   // patches that a candidate may gain or lose
)

// candidates are the pieces that stay together when the maps of what stands out are cut at many levels, and when colours are
// chosen by groups; best first.
func (p *patchwork) candidates(maps [][]float64) []candidate {
	var out []candidate
	seen := map[string]bool{}
	offer := func(in func(k int) bool) {
		for _, piece := range p.connected(in) {
			p.fill(piece)
			key := make([]byte, len(piece))
			for i, in := range piece {
				if in {
					key[i] = 1
				}
			}
			if seen[string(key)] {
				continue
			}
			seen[string(key)] = true
			if c, ok := p.judge(piece); ok {
				out = append(out, c)
			}
		}
	}
	for _, v := range maps {
		for _, level := range p.levelsOf(v) {
			offer(func(k int) bool { return v[k] >= level })
		}
	}
	of := p.clusters(groups, weights{1, 1, 1}, 0)
	for set := 1; set < 1<<groups-1; set++ {
		offer(func(k int) bool { return set>>of[k]&1 == 1 })
	}
	return p.distinct(out)
}

// distinct sorts candidates, best first, and leaves out those that are about the same as a better one.
func (p *patchwork) distinct(all []candidate) (out []candidate) {
	slices.SortStableFunc(all, func(a, b candidate) int {
		switch {
		case a.score > b.score:
			return -1
		case a.score < b.score:
			return 1
		}
		return 0
	})
	for _, c := range all {
		if !slices.ContainsFunc(out, func(o candidate) bool { return p.overlap(o.in, c.in) > sameOverlap }) {
			out = append(out, c)
		}
	}
	return out
}

func (p *patchwork) overlap(a, b []bool) float64 {
	both, any := 0, 0
	for k, c := range p.patches {
		if a[k] && b[k] {
			both += c.n
		}
		if a[k] || b[k] {
			any += c.n
		}
	}
	return float64(both) / float64(max(any, 1))
}

// judge scores a candidate: by its form, by how much colours differ across its edge, and by how much of its edge the border
// of the picture makes. ok is false where it is no dog.
func (p *patchwork) judge(in []bool) (c candidate, ok bool) {
	c.in = in
	n, rim, edge, clear := 0, 0, 0, 0.0
	var dog, all [tints]float64
	var sum [4]float64
	for k, is := range in {
		a := &p.patches[k]
		all[p.tint[k]] += float64(a.n)
		if !is {
			continue
		}
		dog[p.tint[k]] += float64(a.n)
		n, rim = n+a.n, rim+a.rim
		for j, v := range a.sum {
			sum[j] += v
		}
		for s, b := range a.beside {
			if !in[b.to] {
				edge += b.long
				clear += float64(b.long) * a.clear[s]
			}
		}
	}
	c.share = float64(n) / float64(len(p.of))
	c.rim = float64(rim) / float64(max(rim+edge, 1))
	if c.share < leastShare || c.share > mostShare || edge == 0 || c.rim > mostRimShare {
		return c, false
	}
	m := momentsOf(float64(n), sum)
	if m.sx < 0.7*m.sy || m.sx > 3*m.sy {
		return c, false
	}
	c.apart = clear / float64(edge)
	spreadOut(p.w, p.h, m, func(i int) bool { return in[p.of[i]] }, p.cells)
	c.like, _, _ = likeDog(p.cells)
	c.told = told(dog[:], all[:])
	// Any of these may be changed by a third.
	c.score = 2*c.like + c.apart + c.told - 2*c.rim + 0.9*min(math.Sqrt(c.share), 0.5)
	return c, true
}

// told is how much a patch's colour says about whether it is the dog's: the information that both share, over what there is
// to know, 0 to 1.
func told(dog, all []float64) float64 {
	h := func(a, b float64) (sum float64) {
		for _, v := range [2]float64{a, b} {
			if v > 0 {
				sum -= v * math.Log(v/(a+b))
			}
		}
		return sum
	}
	n, d, rest := 0.0, 0.0, 0.0
	for i := range dog {
		n, d = n+all[i], d+dog[i]
		rest += h(dog[i], all[i]-dog[i])
	}
	return 1 - rest/max(h(d, n-d), 1e-9)
}

// climb gives a candidate the patches beside it, or takes from it those at its edge, one after the other or as many as are of
// one colour and hold together, as a saddle does, as long as that makes it better.
func (p *patchwork) climb(c candidate) candidate {
	for range climbs {
		best := c
		try := func(next []bool, taken bool) {
			if n, ok := p.judge(next); ok && n.score > best.score+1e-9 && (!taken || p.whole(next)) {
				best = n
			}
		}
		for k := range p.patches {
			if slices.ContainsFunc(p.patches[k].beside, func(b side) bool { return c.in[b.to] != c.in[k] }) {
				next := slices.Clone(c.in)
				next[k] = !next[k]
				try(next, c.in[k])
			}
		}
		for _, field := range p.fields {
			touches, in := false, c.in[field[0]]
			for _, k := range field {
				touches = touches || slices.ContainsFunc(p.patches[k].beside, func(b side) bool { return c.in[b.to] != in })
			}
			if !touches {
				continue
			}
			next := slices.Clone(c.in)
			for _, k := range field {
				next[k] = !in
			}
			try(next, true)
		}
		if best.score < c.score+leastGain {
			break
		}
		c = best
	}
	return c
}

const leastGain = 0.002

func (p *patchwork) whole(in []bool) bool {
	n := 0
	for _, is := range in {
		if is {
			n++
		}
	}
	for k, is := range in {
		if is {
			return p.reach(k, func(k int) bool { return in[k] }, make([]bool, len(in))) == n
		}
	}
	return false
}

// reach marks what is connected to k and returns how many patches that is.
func (p *patchwork) reach(k int, in func(int) bool, seen []bool) (n int) {
	stack := []int{k}
	seen[k] = true
	for len(stack) > 0 {
		a := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		n++
		for _, b := range p.patches[a].beside {
			if !seen[b.to] && in(b.to) {
				seen[b.to] = true
				stack = append(stack, b.to)
			}
		}
	}
	return n
}

// fill adds what a piece encloses and is small: a patch of another colour on the dog.
func (p *patchwork) fill(piece []bool) {
	const small = 0.02
	n := 0
	for k, in := range piece {
		if in {
			n += p.patches[k].n
		}
	}
	done := make([]bool, len(piece))
	for k := range piece {
		if piece[k] || done[k] {
			continue
		}
		seen := make([]bool, len(piece))
		p.reach(k, func(k int) bool { return !piece[k] }, seen)
		area, open := 0, false
		for j, is := range seen {
			if is {
				done[j] = true
				area += p.patches[j].n
				open = open || p.patches[j].rim > 0
			}
		}
		if !open && float64(area) < small*float64(n) {
			for j, is := range seen {
				piece[j] = piece[j] || is
			}
		}
	}
}

// levelsOf are levels of a map that let in from a dog's least share of the picture to its largest.
func (p *patchwork) levelsOf(v []float64) (out []float64) {
	order := make([]int, len(v))
	for k := range order {
		order[k] = k
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case v[a] > v[b]:
			return -1
		case v[a] < v[b]:
			return 1
		}
		return 0
	})
	n, next := 0, 0
	for _, k := range order {
		n += p.patches[k].n
		want := leastShare + (mostShare-leastShare)*math.Pow(float64(next)/(levels-1), 1.3)
		if next < levels && float64(n) >= want*float64(len(p.of)) {
			out = append(out, v[k])
			next++
		}
	}
	return out
}

// connected are the pieces of patches that touch and are no crumbs.
func (p *patchwork) connected(in func(k int) bool) (out [][]bool) {
	done := make([]bool, len(p.patches))
	for k := range p.patches {
		if done[k] || !in(k) {
			continue
		}
		piece := make([]bool, len(p.patches))
		p.reach(k, in, piece)
		n := 0
		for j, is := range piece {
			if is {
				done[j] = true
				n += p.patches[j].n
			}
		}
		if float64(n) >= leastShare*float64(len(p.of)) {
			out = append(out, piece)
		}
	}
	return out
}

// silhouette is a candidate as pixels.
func (p *patchwork) silhouette(c candidate) *mask {
	m := newMask(p.w, p.h)
	for i, k := range p.of {
		m.in[i] = c.in[k]
	}
	return m
}

// patchesOf are the patches of which a silhouette covers more than half.
func (p *patchwork) patchesOf(m *mask) []bool {
	count := make([]int, len(p.patches))
	for i, k := range p.of {
		if m.in[i] {
			count[k]++
		}
	}
	out := make([]bool, len(p.patches))
	for k, n := range count {
		out[k] = 2*n > p.patches[k].n
	}
	return out
}
