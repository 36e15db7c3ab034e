package align

import (
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sort"
	"testing"

	"thatch/timeline/outside"
)

// Check 33 (X): similarity.json, made with Umeyama's definition (SVD), scikit-image and OpenCV, which agree to
// 7e-13 and 1e-4 px among themselves. Tolerance 1e-9, relative to the size of the number.
func TestLeastSquaresReproducesUmeyamaByDefinition(t *testing.T) {
	b, err := os.ReadFile(filepath.Join(outside.Dir(t, "align"), "similarity.json"))
	if err != nil {
		t.Fatal(err)
	}
	var cases []struct {
		Src, Dst []XY
		Umeyama  [2][3]float64 `json:"umeyama_2x3"`
		SkImage  [2][3]float64 `json:"skimage_2x3"`
		OpenCV   [2][3]float64 `json:"opencv_2x3"`
	}
	if err := json.Unmarshal(b, &cases); err != nil {
		t.Fatal(err)
	}
	if len(cases) != 12 {
		t.Fatalf("%d cases, want 12", len(cases))
	}
	for i, c := range cases {
		s, err := LeastSquares(c.Src, c.Dst, nil)
		if err != nil {
			t.Fatalf("case %d: %v", i, err)
		}
		got := s.Matrix()
		for r := range 2 {
			for k := range 3 {
				for _, want := range []struct {
					name     string
					v, limit float64
				}{{"Umeyama", c.Umeyama[r][k], 1e-9}, {"scikit-image", c.SkImage[r][k], 1e-9}, {"OpenCV", c.OpenCV[r][k], 1e-4}} {
					if d := math.Abs(got[r][k] - want.v); !(d <= want.limit*math.Max(1, math.Abs(want.v))) {
						t.Errorf("case %d [%d][%d]: %.12g, %s has %.12g", i, r, k, got[r][k], want.name, want.v)
					}
				}
			}
		}
	}
}

func TestLeastSquaresRefusesWhatNoTransformFits(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	p := xys(0, 0, 10, 0, 0, 10, 10, 10)
	for _, c := range []struct {
		name     string
		src, dst []XY
		w        []float64
		want     Status
	}{
		{"nothing", nil, nil, nil, TooFew},
		{"one point", p[:1], p[:1], nil, TooFew},
		{"one point with weight", p, p, []float64{0, 1, 0, 0}, TooFew},
		{"lists of different length", p, p[:3], nil, Unequal},
		{"too few weights", p, p, []float64{1, 1}, Unequal},
		{"a NaN", xys(nan, 0, 1, 1, 2, 2), p[:3], nil, NotFinite},
		{"an infinity", p[:3], xys(inf, 0, 1, 1, 2, 2), nil, NotFinite},
		{"numbers whose squares overflow", xys(1e200, 0, 0, 1e200, 5, 1), p[:3], nil, NotFinite},
		{"a negative weight", p, p, []float64{1, 1, -1, 1}, BadWeights},
		{"a weight that is NaN", p, p, []float64{1, 1, nan, 1}, BadWeights},
		{"all sources on one spot", xys(7, 7, 7, 7, 7, 7, 7, 7), p, nil, Coincident},
		{"all targets on one spot", p, xys(7, 7, 7, 7, 7, 7, 7, 7), nil, Coincident},
		{"one spot far from the origin", xys(1e6, 1e6, 1e6, 1e6), p[:2], nil, Coincident},
		{"a square against its mirror image", p, xys(10, 0, 0, 0, 10, 10, 0, 10), nil, NoAgreement},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := LeastSquares(c.src, c.dst, c.w)
			if !errors.Is(err, c.want) {
				t.Errorf("LeastSquares: %v, %v; want %v", s, err, c.want)
			}
			if _, err := Robust(c.src, c.dst, c.w); err == nil {
				t.Error("Robust fitted it")
			}
		})
	}
}

// A (analytic): s ∘ s⁻¹ is the identity, composing is applying one after the other, and a fit finds the transform again.
func TestSimilaritiesAreAGroup(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		s, u := anySimilarity(rnd), anySimilarity(rnd)
		p := at(rnd.Float64()*4000, rnd.Float64()*3000)
		if q := s.Compose(s.Inverse()).Apply(p); distance(p, q) > 1e-8 {
			t.Fatalf("%v: there and back misses by %g px", s, distance(p, q))
		}
		if a, b := s.Compose(u).Apply(p), s.Apply(u.Apply(p)); distance(a, b) > 1e-8 {
			t.Fatalf("composed %v, one after the other %v", a, b)
		}
		src := cloud(rnd, 5)
		dst := make([]XY, len(src))
		for i := range src {
			dst[i] = s.Apply(src[i])
		}
		got, err := LeastSquares(src, dst, []float64{1, 2, 0.5, 3, 1})
		if err != nil || distance(got.Apply(p), s.Apply(p)) > 1e-6 {
			t.Fatalf("%v fitted as %v, %v", s, got, err)
		}
	}
}

// The yardstick (measured with other libraries; rigid points): worst error at any point, median over the draws, with
// one of eight landmarks wrong by 150 px: least squares 33 px, RANSAC 5, least median of squares 4.5. Required ≤ 5.
// Points over 1600 × 1200 px, each coordinate tapped with an sd of 3 px in both photos.
func TestOneWrongPointOfEightDoesNotMoveTheFit(t *testing.T) {
	rnd := rand.New(rand.NewPCG(33, 150))
	var plain, robust []float64
	for range 400 {
		truth := Turn(0.8+0.4*rnd.Float64(), 10*(rnd.Float64()-0.5), at(800, 600))
		truth.TX, truth.TY = truth.TX+100*rnd.NormFloat64(), truth.TY+100*rnd.NormFloat64()
		clean := cloud(rnd, 8)
		src, dst := make([]XY, 8), make([]XY, 8)
		for i, p := range clean {
			q := truth.Apply(p)
			src[i] = at(p.X+3*rnd.NormFloat64(), p.Y+3*rnd.NormFloat64())
			dst[i] = at(q.X+3*rnd.NormFloat64(), q.Y+3*rnd.NormFloat64())
		}
		bad, a := rnd.IntN(8), rnd.Float64()*2*math.Pi
		src[bad].X, src[bad].Y = src[bad].X+150*math.Cos(a), src[bad].Y+150*math.Sin(a)
		worst := func(s Similarity) float64 {
			m := 0.0
			for _, p := range clean {
				m = math.Max(m, distance(s.Apply(p), truth.Apply(p)))
			}
			return m
		}
		ls, err := LeastSquares(src, dst, nil)
		if err != nil {
			t.Fatal(err)
		}
		f, err := Robust(src, dst, nil)
		if err != nil {
			t.Fatal(err)
		}
		plain, robust = append(plain, worst(ls)), append(robust, worst(f.Similarity))
	}
	sort.Float64s(plain)
	sort.Float64s(robust)
	t.Logf("worst error at any point, px: least squares median %.1f p95 %.1f, robust median %.2f p95 %.2f", plain[200], plain[380], robust[200], robust[380])
	if !(robust[200] <= 5) {
		t.Errorf("robust: median %.2f px, want ≤ 5", robust[200])
	}
	if plain[200] < 15 {
		t.Errorf("least squares is off by %.1f px only: the test no longer tests anything", plain[200])
	}
}

func TestRobustIsDeterministicAndNamesTheWrongPoint(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 5))
	for n := 5; n <= 20; n++ {
		src := cloud(rnd, n)
		s := anySimilarity(rnd)
		dst := make([]XY, n)
		for i := range src {
			dst[i] = s.Apply(at(src[i].X+rnd.NormFloat64(), src[i].Y+rnd.NormFloat64()))
		}
		bad := rnd.IntN(n)
		dst[bad].X += 200 * s.Scale()
		a, err := Robust(src, dst, nil)
		b, _ := Robust(src, dst, nil)
		if err != nil || a.Similarity != b.Similarity {
			t.Fatalf("n %d: %v, %v, %v", n, a, b, err)
		}
		if a.Inlier[bad] {
			t.Errorf("n %d: the wrong point %d was believed", n, bad)
		}
	}
}

func anySimilarity(rnd *rand.Rand) Similarity {
	s := Turn(math.Exp(rnd.NormFloat64()*0.5), 360*rnd.Float64(), XY{})
	s.TX, s.TY = 500*rnd.NormFloat64(), 500*rnd.NormFloat64()
	return s
}

func cloud(rnd *rand.Rand, n int) []XY {
	out := make([]XY, n)
	for i := range out {
		out[i] = at(1600*rnd.Float64(), 1200*rnd.Float64())
	}
	return out
}

func at(x, y float64) XY { return XY{X: x, Y: y} }

// xys are points from x, y, x, y, ….
func xys(v ...float64) []XY {
	var out []XY
	for i := 0; i+1 < len(v); i += 2 {
		out = append(out, at(v[i], v[i+1]))
	}
	return out
}
