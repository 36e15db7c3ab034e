package align

import (
	"math"
	"sort"
)

// LeastSquares is the similarity without reflection that minimises Σ w·|s(src) − dst|²; w nil means equal weights,
// otherwise one weight ≥ 0 a point. The error is a Status.
//
// It is the closed form in the plane of S. Umeyama, "Least-squares estimation of transformation parameters between two
// point patterns", IEEE TPAMI 13(4), 1991: with points as complex numbers the optimal factor is Σ w·conj(p)·q / Σ w·|p|²
// about the weighted means, and that form cannot turn into a reflection, so the sign correction of the paper falls away.
func LeastSquares(src, dst []XY, w []float64) (Similarity, error) {
	if err := check(src, dst, w); err != nil {
		return Similarity{}, err
	}
	return leastSquares(src, dst, w, 0)
}

// leastSquares fits checked input; fixedScale > 0 leaves only turn and shift free.
func leastSquares(src, dst []XY, w []float64, fixedScale float64) (Similarity, error) {
	var sw, mx, my, nx, ny float64
	for i := range src {
		k := weight(w, i)
		sw += k
		mx, my = mx+k*src[i].X, my+k*src[i].Y
		nx, ny = nx+k*dst[i].X, ny+k*dst[i].Y
	}
	mx, my, nx, ny = mx/sw, my/sw, nx/sw, ny/sw
	var a, b, ss, dd float64
	for i := range src {
		k := weight(w, i)
		px, py, qx, qy := src[i].X-mx, src[i].Y-my, dst[i].X-nx, dst[i].Y-ny
		a += k * (px*qx + py*qy)
		b += k * (px*qy - py*qx)
		ss += k * (px*px + py*py)
		dd += k * (qx*qx + qy*qy)
	}
	if sum := ss + dd + a + b; math.IsNaN(sum) || math.IsInf(sum, 0) {
		return Similarity{}, NotFinite // finite points whose squares are not
	}
	// Spreads at the level of rounding carry no scale and no turn.
	const eps = 1e-24
	if ss <= eps*sw*(mx*mx+my*my) || dd <= eps*sw*(nx*nx+ny*ny) || ss == 0 || dd == 0 {
		return Similarity{}, Coincident
	}
	s := Similarity{A: a / ss, B: b / ss}
	if fixedScale > 0 {
		h := math.Hypot(a, b)
		s = Similarity{A: a / h * fixedScale, B: b / h * fixedScale}
	}
	s.TX = nx - (s.A*mx - s.B*my)
	s.TY = ny - (s.B*mx + s.A*my)
	switch sum := s.A + s.B + s.TX + s.TY; {
	case math.IsNaN(sum) || math.IsInf(sum, 0):
		return Similarity{}, NotFinite
	case s.Scale()*math.Sqrt(ss) <= 1e-12*math.Sqrt(dd):
		// The turns cancel, as for a mirrored pattern: the best similarity without reflection shrinks all to a spot.
		return Similarity{}, NoAgreement
	}
	return s, nil
}

// Robust is the similarity found by least median of squares over every pair and triple of points (P. J. Rousseeuw,
// "Least median of squares regression", JASA 79, 1984), then by least squares over the points within 2.5 robust standard
// deviations, until they stay the same. w as for LeastSquares; it weighs residuals too, so 1/sd² makes them comparable.
// Up to 12 points the search is exhaustive, above that over pairs alone; the same input gives the same answer.
// Two or three points cannot outvote one another: they are fitted by least squares. The error is a Status.
func Robust(src, dst []XY, w []float64) (Fit, error) { return robust(src, dst, w, 0) }

// robust never takes a point out that lies within 2.5 floors, in units of 1/√w.
func robust(src, dst []XY, w []float64, floor float64) (Fit, error) {
	if err := check(src, dst, w); err != nil {
		return Fit{}, err
	}
	var live []int
	for i := range src {
		if weight(w, i) > 0 {
			live = append(live, i)
		}
	}
	in := make([]bool, len(src))
	for _, i := range live {
		in[i] = true
	}
	var s Similarity
	var err error
	n := len(live)
	if n < 4 {
		if s, err = leastSquares(src, dst, w, 0); err != nil {
			return Fit{}, err
		}
	} else {
		var median float64
		if s, median, err = leastMedian(src, dst, w, live); err != nil {
			return Fit{}, err
		}
		// The finite-sample factor of Rousseeuw & Leroy, "Robust Regression and Outlier Detection", 1987, ch. 5.
		sigma := 1.4826 * (1 + 5/float64(n-2)) * math.Sqrt(median)
		for range 10 {
			limit := 2.5 * max(sigma, floor, 1e-9)
			now := make([]bool, len(src))
			count := 0
			for _, i := range live {
				if math.Sqrt(weight(w, i))*distance(s.Apply(src[i]), dst[i]) <= limit {
					now[i], count = true, count+1
				}
			}
			if count < n/2+1 {
				return Fit{}, NoAgreement
			}
			next, err := leastSquares(src, dst, masked(w, now), 0)
			if err != nil {
				return Fit{}, err
			}
			same := equal(now, in)
			s, in = next, now
			if same {
				break
			}
			sigma = spread(s, src, dst, w, in)
		}
	}
	f := Fit{Similarity: s, Inlier: in, ResidualsPX: make([]float64, len(src))}
	for i := range src {
		f.ResidualsPX[i] = distance(s.Apply(src[i]), dst[i])
	}
	f.SigmaPX = spread(s, src, dst, nil, in)
	return f, nil
}

// leastMedian searches the transforms through pairs and triples for the smallest median of weighted squared residuals.
func leastMedian(src, dst []XY, w []float64, live []int) (Similarity, float64, error) {
	n := len(live)
	h := n/2 + 1 // the order statistic ⌊n/2⌋ + ⌊(p+1)/2⌋ for p = 2 points a transform
	best, bestMedian := Similarity{}, math.Inf(1)
	r := make([]float64, n)
	try := func(ids ...int) {
		p, q := make([]XY, len(ids)), make([]XY, len(ids))
		k := make([]float64, len(ids))
		for j, i := range ids {
			p[j], q[j], k[j] = src[i], dst[i], weight(w, i)
		}
		s, err := leastSquares(p, q, k, 0)
		if err != nil {
			return
		}
		for j, i := range live {
			d := distance(s.Apply(src[i]), dst[i])
			r[j] = weight(w, i) * d * d
		}
		sort.Float64s(r)
		if m := r[h-1]; m < bestMedian {
			best, bestMedian = s, m
		}
	}
	for a := range n {
		for b := a + 1; b < n; b++ {
			try(live[a], live[b])
			if n > 12 {
				continue
			}
			for c := b + 1; c < n; c++ {
				try(live[a], live[b], live[c])
			}
		}
	}
	if math.IsInf(bestMedian, 1) {
		return best, 0, Coincident
	}
	return best, bestMedian, nil
}

// check refuses input that no fit may see.
func check(src, dst []XY, w []float64) error {
	if len(src) != len(dst) || (w != nil && len(w) != len(src)) {
		return Unequal
	}
	live := 0
	for i := range src {
		sum := src[i].X + src[i].Y + dst[i].X + dst[i].Y
		if math.IsNaN(sum) || math.IsInf(sum, 0) {
			return NotFinite
		}
		k := weight(w, i)
		if !(k >= 0) || math.IsInf(k, 0) {
			return BadWeights
		}
		if k > 0 {
			live++
		}
	}
	if live < 2 {
		return TooFew
	}
	return nil
}

func weight(w []float64, i int) float64 {
	if w == nil {
		return 1
	}
	return w[i]
}

func masked(w []float64, in []bool) []float64 {
	out := make([]float64, len(in))
	for i, ok := range in {
		if ok {
			out[i] = weight(w, i)
		}
	}
	return out
}

// spread is the standard deviation of one coordinate of the weighted residuals, 4 parameters taken off.
func spread(s Similarity, src, dst []XY, w []float64, in []bool) float64 {
	var ss float64
	n := 0
	for i := range src {
		if in[i] {
			d := distance(s.Apply(src[i]), dst[i])
			ss, n = ss+weight(w, i)*d*d, n+1
		}
	}
	return math.Sqrt(ss / math.Max(1, float64(2*n-4)))
}

func distance(p, q XY) float64 { return math.Hypot(p.X-q.X, p.Y-q.Y) }

func equal(a, b []bool) bool {
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}
