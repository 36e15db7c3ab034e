package outline

import (
	"math"
	"math/rand/v2"
)

// mixture is a mixture of normal distributions over vectors of n numbers, fitted by k-means and then a few rounds of
// expectation and maximisation (Dempster, Laird, Rubin 1977).
type mixture struct {
	n     int
	parts []part
}

type part struct {
	mean    []float64
	inverse []float64 // lower triangle by rows of the inverse of the Cholesky factor, so that |L⁻¹(x − mean)|² is the distance
	log     float64   // of weight and normalisation
}

// fitMixture fits k parts to samples of n numbers each. floor is the least variance that a part may have, by number: what
// sensors and codecs blur anyway. Few samples give few parts; none give a mixture that says nothing.
func fitMixture(samples []float32, n, k int, floor []float64, rounds int, rng *rand.Rand) *mixture {
	m := &mixture{n: n}
	count := len(samples) / n
	if k = min(k, count/(4*n)); k < 1 {
		if count == 0 {
			return m
		}
		k = 1
	}
	at := func(i int) []float32 { return samples[i*n : i*n+n] }
	// k-means++ (Arthur, Vassilvitskii 2007), distances in units of the floor.
	scale := make([]float64, n)
	for j := range scale {
		scale[j] = 1 / floor[j]
	}
	apart := func(a []float32, b []float64) (d float64) {
		for j := range b {
			v := float64(a[j]) - b[j]
			d += v * v * scale[j]
		}
		return d
	}
	centres := make([][]float64, 0, k)
	near := make([]float64, count)
	for i := range near {
		near[i] = math.Inf(1)
	}
	pick := rng.IntN(count)
	for len(centres) < k {
		c := make([]float64, n)
		for j := range c {
			c[j] = float64(at(pick)[j])
		}
		centres = append(centres, c)
		sum := 0.0
		for i := range near {
			near[i] = min(near[i], apart(at(i), c))
			sum += near[i]
		}
		if sum == 0 {
			break
		}
		r := rng.Float64() * sum
		for i := range near {
			if r -= near[i]; r <= 0 {
				pick = i
				break
			}
		}
	}
	k = len(centres)
	label := make([]int, count)
	for range 4 {
		for i := range label {
			best := math.Inf(1)
			for c := range centres {
				if d := apart(at(i), centres[c]); d < best {
					best, label[i] = d, c
				}
			}
		}
		sizes := make([]float64, k)
		sums := make([][]float64, k)
		for c := range sums {
			sums[c] = make([]float64, n)
		}
		for i, c := range label {
			sizes[c]++
			for j, v := range at(i) {
				sums[c][j] += float64(v)
			}
		}
		for c := range centres {
			if sizes[c] > 0 {
				for j := range centres[c] {
					centres[c][j] = sums[c][j] / sizes[c]
				}
			}
		}
	}
	weights := make([]float64, count*k)
	for i, c := range label {
		weights[i*k+c] = 1
	}
	m.maximise(samples, weights, k, floor)
	for range rounds {
		logs := make([]float64, len(m.parts))
		if len(m.parts) != k {
			k = len(m.parts)
			weights = make([]float64, count*k)
		}
		for i := range count {
			most := math.Inf(-1)
			for c := range m.parts {
				logs[c] = m.parts[c].logDensity(at(i))
				most = max(most, logs[c])
			}
			sum := 0.0
			for c := range logs {
				logs[c] = math.Exp(logs[c] - most)
				sum += logs[c]
			}
			for c := range logs {
				weights[i*k+c] = logs[c] / sum
			}
		}
		m.maximise(samples, weights, k, floor)
	}
	return m
}

func (m *mixture) maximise(samples []float32, weights []float64, k int, floor []float64) {
	n := m.n
	count := len(samples) / n
	m.parts = m.parts[:0]
	mean, cov := make([]float64, n), make([]float64, n*n)
	for c := range k {
		total := 0.0
		clear(mean)
		clear(cov)
		for i := range count {
			w := weights[i*k+c]
			if w == 0 {
				continue
			}
			total += w
			for j, v := range samples[i*n : i*n+n] {
				mean[j] += w * float64(v)
			}
		}
		if total < float64(n) {
			continue
		}
		for j := range mean {
			mean[j] /= total
		}
		for i := range count {
			w := weights[i*k+c]
			if w == 0 {
				continue
			}
			x := samples[i*n : i*n+n]
			for a := range n {
				da := w * (float64(x[a]) - mean[a])
				for b := 0; b <= a; b++ {
					cov[a*n+b] += da * (float64(x[b]) - mean[b])
				}
			}
		}
		for a := range n {
			for b := 0; b <= a; b++ {
				cov[a*n+b] /= total
			}
			cov[a*n+a] += floor[a]
		}
		if p, ok := newPart(mean, cov, n, total/float64(count)); ok {
			m.parts = append(m.parts, p)
		}
	}
}

// newPart factors a covariance, given by its lower triangle.
func newPart(mean, cov []float64, n int, weight float64) (part, bool) {
	l := append([]float64(nil), cov...)
	logDet := 0.0
	for a := range n {
		for b := 0; b <= a; b++ {
			sum := l[a*n+b]
			for k := range b {
				sum -= l[a*n+k] * l[b*n+k]
			}
			if a == b {
				if sum <= 0 {
					return part{}, false
				}
				l[a*n+a] = math.Sqrt(sum)
				logDet += 2 * math.Log(l[a*n+a])
			} else {
				l[a*n+b] = sum / l[b*n+b]
			}
		}
	}
	inv := make([]float64, n*n)
	for a := range n {
		inv[a*n+a] = 1 / l[a*n+a]
		for b := range a {
			sum := 0.0
			for k := b; k < a; k++ {
				sum += l[a*n+k] * inv[k*n+b]
			}
			inv[a*n+b] = -sum / l[a*n+a]
		}
	}
	return part{
		mean: append([]float64(nil), mean...), inverse: inv,
		log: math.Log(weight) - logDet/2 - float64(n)/2*math.Log(2*math.Pi),
	}, true
}

func (p *part) logDensity(x []float32) float64 {
	n := len(p.mean)
	var d [8]float64
	for j := range n {
		d[j] = float64(x[j]) - p.mean[j]
	}
	sum := 0.0
	for a := range n {
		row := p.inverse[a*n : a*n+a+1]
		v := 0.0
		for b := range row {
			v += row[b] * d[b]
		}
		sum += v * v
	}
	return p.log - sum/2
}

// logDensity is the logarithm of the density at x, down to a floor: what is far from everything is told apart by nothing.
func (m *mixture) logDensity(x []float32) float64 {
	const least = -60
	if len(m.parts) == 0 {
		return least
	}
	most, second := math.Inf(-1), math.Inf(-1)
	for i := range m.parts {
		switch l := m.parts[i].logDensity(x); {
		case l > most:
			most, second = l, most
		case l > second:
			second = l
		}
	}
	return max(most+math.Log1p(math.Exp(second-most)), least)
}
