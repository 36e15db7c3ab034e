package outline

import (
	"math"
	"math/rand/v2"
	"testing"
)

// cutCost is the price of a labelling: what is cut between pixels and from source and sink.
func cutCost(w, h int, ends []int32, arcs []int32, source []bool) int64 {
	var sum int64
	for p, e := range ends {
		if e > 0 && !source[p] {
			sum += int64(e)
		}
		if e < 0 && source[p] {
			sum -= int64(e)
		}
		if !source[p] {
			continue
		}
		for d, s := range steps {
			x, y := p%w+s[0], p/w+s[1]
			if x >= 0 && y >= 0 && x < w && y < h && !source[y*w+x] {
				sum += int64(arcs[8*p+d])
			}
		}
	}
	return sum
}

// Against trying every labelling: no other is cheaper. Kind A.
func TestTheCutIsTheCheapestThereIs(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for n := range 400 {
		w, h := 1+rng.IntN(4), 1+rng.IntN(4)
		g := newGrid(w, h)
		for p := range g.ends {
			g.in[p] = true
			g.ends[p] = int32(rng.IntN(41) - 20)
			if rng.IntN(3) == 0 {
				g.ends[p] = 0
			}
		}
		for p := range w * h {
			for d := range 4 {
				x, y := p%w+steps[d][0], p/w+steps[d][1]
				if x >= 0 && y >= 0 && x < w && y < h {
					g.join(p, d, int32(rng.IntN(15)))
				}
			}
		}
		ends, arcs := append([]int32(nil), g.ends...), append([]int32(nil), g.left...)
		got := cutCost(w, h, ends, arcs, g.solve())
		best := int64(math.MaxInt64)
		all := make([]bool, w*h)
		for bits := range 1 << (w * h) {
			for p := range all {
				all[p] = bits>>p&1 == 1
			}
			best = min(best, cutCost(w, h, ends, arcs, all))
		}
		if got != best {
			t.Fatalf("case %d, %d × %d: %d, the cheapest costs %d", n, w, h, got, best)
		}
	}
}
