package guess

import "math"

// clusters groups patches by colour, and a little by height in the picture, into k groups (k-means, started by the farthest
// from those chosen: Gonzalez 1985, deterministic).
func (p *patchwork) clusters(k int, w weights, place float64) []int {
	n := len(p.patches)
	at := make([][5]float64, n)
	for i, c := range p.patches {
		at[i] = [5]float64{w[0] * c.lab[0], w[1] * c.lab[1], w[2] * c.lab[2], place * c.x, place * c.y}
	}
	apart := func(a, b [5]float64) (d float64) {
		for j := range a {
			d += (a[j] - b[j]) * (a[j] - b[j])
		}
		return d
	}
	var mean [5]float64
	total := 0.0
	for i, c := range p.patches {
		for j := range mean {
			mean[j] += at[i][j] * float64(c.n)
		}
		total += float64(c.n)
	}
	for j := range mean {
		mean[j] /= total
	}
	centres := [][5]float64{mean}
	near := make([]float64, n)
	for i := range near {
		near[i] = math.Inf(1)
	}
	for len(centres) <= k {
		far := 0
		for i := range near {
			near[i] = min(near[i], apart(at[i], centres[len(centres)-1]))
			if near[i]*math.Sqrt(float64(p.patches[i].n)) > near[far]*math.Sqrt(float64(p.patches[far].n)) {
				far = i
			}
		}
		centres = append(centres, at[far])
	}
	centres = centres[1:] // the mean was only to start from
	of := make([]int, n)
	for range 12 {
		sum, weight := make([][5]float64, k), make([]float64, k)
		for i := range at {
			best := math.Inf(1)
			for c := range centres {
				if d := apart(at[i], centres[c]); d < best {
					best, of[i] = d, c
				}
			}
			for j := range at[i] {
				sum[of[i]][j] += at[i][j] * float64(p.patches[i].n)
			}
			weight[of[i]] += float64(p.patches[i].n)
		}
		for c := range centres {
			if weight[c] > 0 {
				for j := range centres[c] {
					centres[c][j] = sum[c][j] / weight[c]
				}
			}
		}
	}
	return of
}

// fieldsOf are patches of one group that touch, two or more.
func (p *patchwork) fieldsOf(group []int) (out [][]int) {
	done := make([]bool, len(p.patches))
	for k := range p.patches {
		if done[k] {
			continue
		}
		seen := make([]bool, len(p.patches))
		p.reach(k, func(j int) bool { return group[j] == group[k] }, seen)
		var field []int
		for j, is := range seen {
			if is {
				done[j] = true
				field = append(field, j)
			}
		}
		if len(field) > 1 {
			out = append(out, field)
		}
	}
	return out
}
