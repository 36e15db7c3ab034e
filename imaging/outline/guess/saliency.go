package guess

import (
	"container/heap"
	"math"
)

// weights says how much L*, a* and b* count when colours are compared.
type weights [3]float64

func (w weights) apart(a, b [3]float64) float64 {
	x, y, z := w[0]*(a[0]-b[0]), w[1]*(a[1]-b[1]), w[2]*(a[2]-b[2])
	return math.Sqrt(x*x + y*y + z*z)
}

const (
	oneColour  = 10.0 // colour difference within which patches are of one region
	oneArea    = 0.25 // of the long side: how far contrast counts
	boundary   = 1.0  // boundary connectivity from which a patch is background
	leastJoint = 0.1  // by which neighbours hold together, however they differ
)

// stands is how much each patch stands out from what reaches the border of the picture, 0 to 1: contrast to patches that
// belong to the background because their region lies along the border for long (boundary connectivity), made smooth over
// patches of like colour by least squares (Zhu, Liang, Wei, Sun 2014, CVPR, 2814–2821).
func (p *patchwork) stands(w weights) []float64 {
	n := len(p.patches)
	total := 0.0
	for _, c := range p.patches {
		total += float64(c.n)
	}
	ground := make([]float64, n)
	for i := range n {
		d := p.geodesic(i, w)
		area, rim := 0.0, 0.0
		for j, g := range d {
			s := math.Exp(-g * g / (2 * oneColour * oneColour))
			// In patches of the mean size, so that small ones count less.
			area += s * float64(p.patches[j].n) / total * float64(n)
			if p.patches[j].rim > 0 {
				rim += s
			}
		}
		c := rim / math.Sqrt(area)
		ground[i] = 1 - math.Exp(-c*c/(2*boundary*boundary))
	}
	contrast := make([]float64, n)
	most := 0.0
	for i, a := range p.patches {
		for j, b := range p.patches {
			dx, dy := a.x-b.x, a.y-b.y
			contrast[i] += w.apart(a.lab, b.lab) * math.Exp(-(dx*dx+dy*dy)/(2*oneArea*oneArea)) * ground[j] * float64(b.n)
		}
		most = max(most, contrast[i])
	}
	if most == 0 {
		return contrast
	}
	// (B + F + L) s = F 1
	m := make([][]float64, n)
	v := make([]float64, n)
	for i := range m {
		m[i] = make([]float64, i+1)
	}
	for i, a := range p.patches {
		fore := contrast[i] / most
		v[i] = fore
		m[i][i] += ground[i] + fore + 1e-6
		for _, b := range a.beside {
			j := b.to
			if j > i {
				continue
			}
			d := w.apart(a.lab, p.patches[j].lab)
			s := math.Exp(-d*d/(2*oneColour*oneColour)) + leastJoint
			m[i][j] -= s
			m[i][i] += s
			m[j][j] += s
		}
	}
	if cholesky(m) {
		forward(m, v)
		backward(m, v)
	}
	return stretched(v)
}

// far is how far each patch is from the border of the picture along the way that changes colour least (Wei, Wen, Zhu, Sun
// 2012, ECCV, part III, 29–42), 0 to 1.
func (p *patchwork) far(w weights) []float64 {
	var starts []int
	for i, c := range p.patches {
		if c.rim > 0 {
			starts = append(starts, i)
		}
	}
	// What differs from the rest of the border is likelier a dog that is cut off: it starts behind.
	behind := make([]float64, len(p.patches))
	for _, i := range starts {
		var ds []float64
		for _, j := range starts {
			if j != i {
				ds = append(ds, w.apart(p.patches[i].lab, p.patches[j].lab))
			}
		}
		behind[i] = kth(ds, len(ds)/8)
	}
	return stretched(p.shortest(starts, behind, w))
}

func stretched(v []float64) []float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, x := range v {
		if !math.IsInf(x, 0) {
			lo, hi = min(lo, x), max(hi, x)
		}
	}
	for i, x := range v {
		v[i] = 0
		if hi > lo {
			v[i] = (min(x, hi) - lo) / (hi - lo)
		}
	}
	return v
}

func (p *patchwork) geodesic(from int, w weights) []float64 {
	return p.shortest([]int{from}, make([]float64, len(p.patches)), w)
}

// shortest is the length of the shortest way to each patch, counted in colour differences (Dijkstra 1959). A small difference
// is none: light changes over a wall.
func (p *patchwork) shortest(starts []int, behind []float64, w weights) []float64 {
	d := make([]float64, len(p.patches))
	for i := range d {
		d[i] = math.Inf(1)
	}
	q := &queue{}
	for _, s := range starts {
		d[s] = behind[s]
		heap.Push(q, reached{s, d[s]})
	}
	const none = 2.5
	for q.Len() > 0 {
		r := heap.Pop(q).(reached)
		if r.d > d[r.i] {
			continue
		}
		for _, b := range p.patches[r.i].beside {
			j := b.to
			if l := r.d + max(w.apart(p.patches[r.i].lab, p.patches[j].lab)-none, 0); l < d[j] {
				d[j] = l
				heap.Push(q, reached{j, l})
			}
		}
	}
	return d
}

type reached struct {
	i int
	d float64
}

type queue []reached

func (q queue) Len() int           { return len(q) }
func (q queue) Less(i, j int) bool { return q[i].d < q[j].d || q[i].d == q[j].d && q[i].i < q[j].i }
func (q queue) Swap(i, j int)      { q[i], q[j] = q[j], q[i] }
func (q *queue) Push(v any)        { *q = append(*q, v.(reached)) }
func (q *queue) Pop() any {
	v := (*q)[len(*q)-1]
	*q = (*q)[:len(*q)-1]
	return v
}
