package guess

import (
	"math"
	"sync"

	"thatch/timeline"
)

// shapeCells is the side of the square on which silhouettes are compared, sigmaCells one standard deviation of where a
// silhouette's pixels lie in it.
const (
	shapeCells = 56
	sigmaCells = 12.0
)

// silhouettes are the template facing left and right, with and without its tail, each of unit spread.
var silhouettes = sync.OnceValue(func() (out []struct {
	side timeline.Side
	cell []bool
}) {
	for _, side := range []timeline.Side{timeline.SideLeft, timeline.SideRight} {
		for _, tail := range []bool{true, false} {
			const perBody = 150.0
			m := newMask(400, 320)
			sign := 1.0
			if side == timeline.SideRight {
				sign = -1
			}
			back := drawn.mark(timeline.TailSet)
			for _, part := range drawn.parts {
				var ring []XY
				for _, c := range part {
					if tail || c.x < back.x-0.01 || c.y > back.y {
						ring = append(ring, XY{X: 200 + perBody*sign*c.x, Y: 140 + perBody*c.y})
					}
				}
				m.paint(ring)
			}
			out = append(out, struct {
				side timeline.Side
				cell []bool
			}{side, m.spreadOut()})
		}
	}
	return out
})

// moments are the middle of a silhouette and its spread in both directions.
type moments struct{ n, cx, cy, sx, sy float64 }

func momentsOf(n float64, sum [4]float64) moments {
	if n == 0 {
		return moments{}
	}
	m := moments{n: n, cx: sum[0] / n, cy: sum[1] / n}
	m.sx, m.sy = math.Sqrt(max(sum[2]/n-m.cx*m.cx, 0)), math.Sqrt(max(sum[3]/n-m.cy*m.cy, 0))
	return m
}

func (m *mask) moments() moments {
	n, sum := 0.0, [4]float64{}
	for i, v := range m.in {
		if v {
			x, y := float64(i%m.w), float64(i/m.w)
			n++
			sum[0], sum[1], sum[2], sum[3] = sum[0]+x, sum[1]+y, sum[2]+x*x, sum[3]+y*y
		}
	}
	return momentsOf(n, sum)
}

// spreadOut draws a silhouette on the square, its middle in the middle and its spread one sigma in either direction, so that
// long dogs and high ones are compared by their form.
func spreadOut(w, h int, m moments, in func(i int) bool, out []bool) {
	for j := range shapeCells {
		y := int(math.Round(m.cy + (float64(j)-(shapeCells-1)/2.0)/sigmaCells*m.sy))
		for i := range shapeCells {
			x := int(math.Round(m.cx + (float64(i)-(shapeCells-1)/2.0)/sigmaCells*m.sx))
			out[j*shapeCells+i] = x >= 0 && y >= 0 && x < w && y < h && in(y*w+x)
		}
	}
}

func (m *mask) spreadOut() []bool {
	out := make([]bool, shapeCells*shapeCells)
	spreadOut(m.w, m.h, m.moments(), func(i int) bool { return m.in[i] }, out)
	return out
}

// likeDog is how much of a silhouette's form is that of the template, 0 to 1, which way it faces then, and how much more than
// the other way.
func likeDog(cells []bool) (like float64, side timeline.Side, surer float64) {
	best := map[timeline.Side]float64{}
	for _, s := range silhouettes() {
		best[s.side] = max(best[s.side], overlap(cells, s.cell))
	}
	l, r := best[timeline.SideLeft], best[timeline.SideRight]
	if l >= r {
		return l, timeline.SideLeft, l - r
	}
	return r, timeline.SideRight, r - l
}
