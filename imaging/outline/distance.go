package outline

import "math"

// squaredDistance is the squared distance of each pixel's centre to the nearest one of value v, exact, by two passes of
// lower envelopes (Felzenszwalb, Huttenlocher 2012, Theory of Computing 8:415–428).
func squaredDistance(mask []bool, v bool, w, h int) []float32 {
	const far = 1e12
	d := make([]float32, w*h)
	for i := range d {
		if mask[i] != v {
			d[i] = far
		}
	}
	n := max(w, h)
	f, site, edge := make([]float32, n), make([]int, n), make([]float64, n+1)
	line := func(start, step, n int) {
		for i := range n {
			f[i] = d[start+i*step]
		}
		k := 0
		site[0], edge[0], edge[1] = 0, math.Inf(-1), math.Inf(1)
		for q := 1; q < n; q++ {
			var s float64
			for {
				p := site[k]
				s = (float64(f[q]) + float64(q*q) - float64(f[p]) - float64(p*p)) / float64(2*(q-p))
				if s > edge[k] || k == 0 {
					break
				}
				k--
			}
			if s > edge[k] {
				k++
			}
			site[k], edge[k], edge[k+1] = q, s, math.Inf(1)
			if k == 0 {
				edge[0] = math.Inf(-1)
			}
		}
		k = 0
		for q := range n {
			for edge[k+1] < float64(q) {
				k++
			}
			dq := float32(q - site[k])
			d[start+q*step] = dq*dq + f[site[k]]
		}
	}
	for x := range w {
		line(x, w, h)
	}
	for y := range h {
		line(y*w, 1, w)
	}
	return d
}
