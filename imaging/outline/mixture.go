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
	mean    [maxNumbers]float32
	inverse [maxNumbers * (maxNumbers + 1) / 2]float32 // lower triangle by rows of the inverse of the Cholesky factor, so that |L⁻¹(x − mean)|² is the distance
	log     float32                                    // of weight and normalisation
}

// maxNumbers is how many numbers a sample may have.
const maxNumbers = 5

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
		logs := make([]float32, len(m.parts))
		if len(m.parts) != k {
			k = len(m.parts)
			weights = weights[:count*k]
		}
		for i := range count {
			most := float32(math.Inf(-1))
			for c := range m.parts {
				logs[c] = m.parts[c].logDensity(at(i), most-nothing)
				most = max(most, logs[c])
			}
			sum := 0.0
			of := weights[i*k : i*k+k]
			for c, l := range logs {
				of[c] = 0
				if most-l < nothing {
					of[c] = math.Exp(float64(l - most))
					sum += of[c]
				}
			}
			for c := range of {
				of[c] /= sum
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
	p := part{log: float32(math.Log(weight) - logDet/2 - float64(n)/2*math.Log(2*math.Pi))}
	i := 0
	for a := range n {
		p.mean[a] = float32(mean[a])
		for b := 0; b <= a; b++ {
			p.inverse[i] = float32(inv[a*n+b])
			i++
		}
	}
	return p, true
}

// logDensity is written out, for most of the time of a cut goes by here; x has three or five numbers. Where it turns out
// below least it may come back higher than it is, but below least.
func (p *part) logDensity(x []float32, least float32) float32 {
	l := &p.inverse
	d0, d1, d2 := x[0]-p.mean[0], x[1]-p.mean[1], x[2]-p.mean[2]
	v0, v1, v2 := l[0]*d0, l[1]*d0+l[2]*d1, l[3]*d0+l[4]*d1+l[5]*d2
	log := p.log - (v0*v0+v1*v1+v2*v2)/2
	if len(x) < maxNumbers || log < least {
		return log
	}
	d3, d4 := x[3]-p.mean[3], x[4]-p.mean[4]
	v3, v4 := l[6]*d0+l[7]*d1+l[8]*d2+l[9]*d3, l[10]*d0+l[11]*d1+l[12]*d2+l[13]*d3+l[14]*d4
	return log - (v3*v3+v4*v4)/2
}

// nothing is how much less likely, by its logarithm, a part is that does not count beside another.
const nothing = 10

// logDensity is the logarithm of the density at x, down to a floor: what is far from everything is told apart by nothing.
func (m *mixture) logDensity(x []float32) float64 {
	const least = -60
	most, second := float32(least), float32(2*least)
	for i := range m.parts {
		switch l := m.parts[i].logDensity(x, most-nothing); {
		case l > most:
			most, second = l, most
		case l > second:
			second = l
		}
	}
	if most-second > nothing {
		return float64(most)
	}
	return float64(most) + math.Log1p(math.Exp(float64(second-most)))
}
