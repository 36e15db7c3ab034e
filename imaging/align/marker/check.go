package marker

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// missing is the share of the modules that the photo does not show as the card has them.
func missing(s *symbol, g grid) float64 {
	shown := sample(s.patch, &s.fit.view, s.n)
	wrong := 0
	for y := range g {
		for x := range g[y] {
			if shown[y][x] != g[y][x] {
				wrong++
			}
		}
	}
	return float64(wrong) / float64(s.n*s.n)
}

// unseen is the share of the edges that are not where they should be, or not at all.
func unseen(f *fitted, all int) float64 {
	good := 0
	for _, w := range f.weights {
		if w > 0 {
			good++
		}
	}
	return 1 - float64(good)/float64(all)
}

// bend is how far the symbol is from flat, as seen in the photo: what of the offsets follows a smooth surface. A flat card
// leaves none, however it is tilted; a bent one leaves terms of second and third degree. The answer is the largest shift
// of such a surface over the symbol, px, and its standard deviation.
func bend(f *fitted) (px, sd float64) {
	terms := func(u, v float64) [7]float64 {
		return [7]float64{u * u, u * v, v * v, u * u * u, u * u * v, u * v * v, v * v * v}
	}
	const n = 14 + params
	normal, right := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	row := func(s sighting) (r [n]float64) {
		for k, t := range terms(s.u, s.v) {
			r[k], r[7+k] = t*s.normal.X, t*s.normal.Y
		}
		// Whatever the view itself could have taken up is let go along with it.
		for k := range pInk {
			w := f.moved(k, smallStep[k])
			q := w.at(s.u, s.v)
			r[14+k] = ((q.X-s.at.X)*s.normal.X + (q.Y-s.at.Y)*s.normal.Y) / smallStep[k]
		}
		r[14+pInk] = s.sign
		return r
	}
	for i, s := range f.seen {
		// A bent card leaves offsets that the fit took for stray: all but the wildest count here.
		w := 1.0
		if math.Abs(s.off) > 12*f.rmsPX {
			w = 0
		}
		if f.weights[i] == 0 {
			w *= 0.5
		}
		r := row(s)
		for a := range n {
			right.SetVec(a, right.AtVec(a)+w*r[a]*s.off)
			for b := a; b < n; b++ {
				normal.SetSym(a, b, normal.At(a, b)+w*r[a]*r[b])
			}
		}
	}
	size := math.Exp(-f.logS)
	for k := range n {
		// A prior as wide as a tenth of the symbol keeps the sum solvable where terms look alike.
		prior := square(max(f.rmsPX, 0.02) / (0.1 * size))
		if k >= 14 {
			prior = 1e-6 * (normal.At(k, k) + 1)
		}
		normal.SetSym(k, k, normal.At(k, k)+prior)
	}
	var chol mat.Cholesky
	var sol mat.VecDense
	var inverse mat.SymDense
	if !chol.Factorize(normal) || chol.SolveVecTo(&sol, right) != nil || chol.InverseTo(&inverse) != nil {
		return 0, math.Inf(1)
	}
	for _, s := range f.seen {
		r := row(s)
		// Only the part that is not flat, and only along what is seen of it.
		shift, variance := 0.0, 0.0
		for a := range n {
			shift += r[a] * sol.AtVec(a)
			for b := range n {
				variance += r[a] * inverse.At(a, b) * r[b]
			}
		}
		if math.Abs(shift) > px {
			px, sd = math.Abs(shift), f.rmsPX*math.Sqrt(variance)
		}
	}
	return px, sd
}
