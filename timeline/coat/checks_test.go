package coat

import (
	"bufio"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/optimize"
	"gonum.org/v1/gonum/stat/distuv"

	"thatch/timeline"
	"thatch/timeline/outside"
)

// nist reads the two columns of a NIST StRD nonlinear regression file (NIST/ITL, public domain): y, then x.
func nist(t *testing.T, name string) (x, y []float64) {
	t.Helper()
	f, err := os.Open(filepath.Join(outside.Dir(t, "nist"), name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	in := false
	for s := bufio.NewScanner(f); s.Scan(); {
		w := strings.Fields(s.Text())
		if len(w) == 3 && w[0] == "Data:" && w[1] == "y" && w[2] == "x" {
			in = true
			continue
		}
		if !in || len(w) != 2 {
			continue
		}
		a, errA := strconv.ParseFloat(w[0], 64)
		b, errB := strconv.ParseFloat(w[1], 64)
		if errA != nil || errB != nil {
			t.Fatalf("%s: %q is not a row of data", name, s.Text())
		}
		y, x = append(y, a), append(x, b)
	}
	return x, y
}

// growthSights are readings of a hair that grows from nothing at x = 0 by the monomolecular curve, of equal variance.
func growthSights(x, y []float64, variance float64) []sight {
	var out []sight
	for i := range x {
		out = append(out, sight{mm: y[i], variance: variance, confirmed: true, spans: []span{{curve: Monomolecular{}, known: true, unitsKnown: x[i]}}})
	}
	return out
}

// The NIST parametrisation b1(1 − e^(−b2·x)) is ours with L∞ = b1, r = b1·b2.
func TestMonomolecularCurveAgainstNIST(t *testing.T) {
	cases := []struct {
		file       string
		starts     [][2]float64
		b1, b2     float64
		rss        float64
		rssTol     float64
		curve      map[float64]float64
		n          int
		residualSD float64
	}{
		// Kind E: NIST StRD Misra1a, certified; curve values kind X: the formula evaluated independently.
		{"Misra1a.dat", [][2]float64{{500, 0.0001}, {250, 0.0005}}, 238.94212918, 5.5015643181e-4, 0.12455138894, 1e-9, map[float64]float64{760: 81.65035779, 77.6: 9.98626636}, 14, 1.0187876330e-1},
		// Kind E: NIST StRD BoxBOD, certified; curve values kind X.
		{"BoxBOD.dat", [][2]float64{{1, 1}, {100, 0.75}}, 213.80940889, 0.54723748542, 1168.0088766, 1e-6, map[float64]float64{1: 90.11086351, 10: 212.91114362}, 6, 1.7088072423e+1},
	}
	for _, c := range cases {
		t.Run(c.file, func(t *testing.T) {
			x, y := nist(t, c.file)
			if len(x) != c.n {
				t.Fatalf("%d observations, want %d", len(x), c.n)
			}
			for at, want := range c.curve {
				nearRel(t, "curve", Monomolecular{}.Length(0, c.b1*c.b2, c.b1, at), want, 1e-7)
			}
			rss := 0.0
			for i := range x {
				d := y[i] - Monomolecular{}.Length(0, c.b1*c.b2, c.b1, x[i])
				rss += d * d
			}
			nearRel(t, "residual sum of squares", rss, c.rss, c.rssTol)

			// Under flat priors the mode of the posterior is the least-squares fit. Searched in logarithms of b1 and r.
			like := readingsLikelihood(growthSights(x, y, c.residualSD*c.residualSD))
			out := make([]float64, 1)
			problem := optimize.Problem{Func: func(p []float64) float64 {
				b1, r := math.Exp(p[0]), math.Exp(p[1])
				if math.IsInf(b1, 0) || math.IsInf(r, 0) || b1 == 0 {
					return math.Inf(1)
				}
				out[0] = 0
				like([]float64{r}, []float64{0}, []float64{b1}, out)
				return -out[0]
			}}
			for _, s := range c.starts {
				at := []float64{math.Log(s[0]), math.Log(s[0] * s[1])}
				for range 3 { // restarted, for the simplex may collapse early
					res, err := optimize.Minimize(problem, at, &optimize.Settings{Converger: &optimize.FunctionConverge{Absolute: 1e-15, Iterations: 300}}, &optimize.NelderMead{})
					if err != nil {
						t.Fatal(err)
					}
					at = res.X
				}
				b1 := math.Exp(at[0])
				nearRel(t, "b1", b1, c.b1, 1e-6)
				nearRel(t, "b2", math.Exp(at[1])/b1, c.b2, 1e-6)
			}
		})
	}
}

// Kind E: NIST StRD Misra1a and BoxBOD, certified: under flat priors the mode of the grid posterior is the least-squares
// fit. The grid is laid about either start and narrowed on its mode, moved where the mode is at its edge.
func TestModeOfTheGridPosteriorAgainstNIST(t *testing.T) {
	for _, c := range []struct {
		file   string
		starts [][2]float64
		b1, b2 float64
		sd     float64 // certified residual sd
	}{
		{"Misra1a.dat", [][2]float64{{500, 0.0001}, {250, 0.0005}}, 238.94212918, 5.5015643181e-4, 1.0187876330e-1},
		{"BoxBOD.dat", [][2]float64{{1, 1}, {100, 0.75}}, 213.80940889, 0.54723748542, 1.7088072423e+1},
	} {
		x, y := nist(t, c.file)
		like := readingsLikelihood(growthSights(x, y, c.sd*c.sd))
		for _, s := range c.starts {
			at := [3]float64{math.Log(s[0] * s[1]), 0, math.Log(s[0])} // log rate, lag, log full
			width := 3.0
			for range 400 {
				axes := [3]axis{{log: true, mu: at[rateAxis], sd: 1}, {}, {log: true, mu: at[fullAxis], sd: 1}}
				g := newGrid(axes, [3]float64{-width, 0, -width}, [3]float64{width, 0, width}, [3]int{41, 1, 41}, like)
				for k := range g.axes {
					clear(g.axes[k].logP)
				}
				g.weigh()
				best := 0
				for k, w := range g.w {
					if w > g.w[best] {
						best = k
					}
				}
				r, f := best/41, best%41
				at[rateAxis] += g.axes[rateAxis].z[r]
				at[fullAxis] += g.axes[fullAxis].z[f]
				if inside := min(r, f, 40-r, 40-f) > 2; inside {
					width *= 0.8
				}
				if width < 1e-6 {
					break
				}
			}
			b1 := math.Exp(at[fullAxis])
			nearRel(t, c.file+": b1", b1, c.b1, 1e-4)
			nearRel(t, c.file+": b2", math.Exp(at[rateAxis])/b1, c.b2, 1e-4)
		}
	}
}

func normalAxis(mean, sd float64) axis { return axis{mu: mean, sd: sd, low: math.Inf(-1)} }

// valueSeen is the likelihood of one reading of the axis's own value.
func valueSeen(y, sd float64) likelihood {
	return pointwise(func(rate, _, _ float64) float64 { return logNormal(y, rate, sd*sd) })
}

func TestGridPosteriorAgainstTextbooks(t *testing.T) {
	cases := []struct {
		name            string
		mean, sd, y, se float64
		wantMean        float64
		wantVar         float64
	}{
		// Kind E: Johnson, Ott, Dogucu, Bayes Rules!, ch. 5.
		{"mean of 25 hippocampal volumes", 6.5, 0.4, 5.735, 0.5 / 5, 5.78, 0.009411765},
		// Kinds E and M: Box & Tiao, two physicists, one reading.
		{"physicist A", 900, 20, 850, 40, 890, 17.88854 * 17.88854},
		{"physicist B", 800, 80, 850, 40, 840, 35.77709 * 35.77709},
		// Kind E: Tsay, ex. 12.1: prior N(0, 25), variance 4: 25x/29.
		{"local form", 0, 5, 3.1, 2, 25 * 3.1 / 29, 3.448276},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			g := posteriorGrid([3]axis{normalAxis(c.mean, c.sd), {}, {}}, valueSeen(c.y, c.se))
			mean, variance := g.moments(rateAxis)
			near(t, "mean", mean, c.wantMean, 1e-4)
			near(t, "sd", math.Sqrt(variance), math.Sqrt(c.wantVar), 1e-4)

			// The same among the other two axes, as in a zone, where the grid is coarser.
			g = posteriorGrid([3]axis{normalAxis(c.mean, c.sd), {log: true, mu: math.Log(18), sd: 0.35}, {mu: 50, sd: 12, low: 2}}, valueSeen(c.y, c.se))
			mean, variance = g.moments(rateAxis)
			near(t, "mean of three axes", mean, c.wantMean, 1e-4)
			near(t, "sd of three axes", math.Sqrt(variance), math.Sqrt(c.wantVar), 1e-4)
		})
	}
}

// Kind A: 25 single updates are one update by all 25, to rounding.
func TestSingleUpdatesAreOneUpdate(t *testing.T) {
	axes := [3]axis{normalAxis(6.5, 0.4), {}, {}}
	lo, hi := [3]float64{-5}, [3]float64{5}
	n := [3]int{801, 1, 1}
	nothing := pointwise(func(_, _, _ float64) float64 { return 0 })
	singly := newGrid(axes, lo, hi, n, nothing)
	for i := range 25 {
		y := 5.735 + 0.1*float64(i-12) // mean 5.735
		one := newGrid(axes, lo, hi, n, valueSeen(y, 0.5))
		for k := range singly.logL {
			singly.logL[k] += one.logL[k]
		}
		singly.weigh()
	}
	once := newGrid(axes, lo, hi, n, valueSeen(5.735, 0.1))
	m1, v1 := singly.moments(rateAxis)
	m2, v2 := once.moments(rateAxis)
	near(t, "mean", m1, m2, 1e-12)
	near(t, "variance", v1, v2, 1e-12)
	near(t, "mean against the book", m1, 5.78, 1e-7)
	near(t, "variance against the book", v1, 0.009411765, 1e-7)
}

// Kind A: mean, sd and quantiles of LogNormal(ln 18, 0.35).
func TestLagDistribution(t *testing.T) {
	d := distuv.LogNormal{Mu: math.Log(18), Sigma: 0.35}
	near(t, "mean", d.Mean(), 19.137, 0.01)
	near(t, "sd", d.StdDev(), 6.908, 0.01)
	a := axis{log: true, mu: d.Mu, sd: d.Sigma}
	near(t, "2.5 %", a.quantile(0.025), 9.06, 0.01)
	near(t, "97.5 %", a.quantile(0.975), 35.74, 0.01)
	p, err := ProfileNamed("rough")
	if err != nil {
		t.Fatal(err)
	}
	pr := zonePrior(p, p.Zones[timeline.Back], Dog{}, Priors{})
	near(t, "profile's 2.5 %", pr.lag.quantile(0.025), 9.06, 0.01)
	// The lattice's own moments of it, as every forecast sees them.
	sum, sq := 0.0, 0.0
	for i := range latticeN {
		v := pr.lag.quantile(latticePoint(i, lagAxis))
		sum += v
		sq += v * v
	}
	mean := sum / latticeN
	near(t, "lattice mean", mean, 19.137, 0.01)
	near(t, "lattice sd", math.Sqrt(sq/latticeN-mean*mean), 6.908, 0.05) // the midpoint rule leaves out half a node of either tail
}

// Kind A: the integral of the seasonal modulation in closed form.
func TestSeasonUnits(t *testing.T) {
	s := SeasonPeaking(0.10, 172)
	near(t, "S(100, 170)", s.Units(100, 170), 75.295312, 1e-6)
	near(t, "a full year", s.Units(0, 365.25), 365.25, 1e-6)
	near(t, "S(80.6875, 263.3125)", s.Units(80.6875, 263.3125), 194.251269, 1e-6)
	near(t, "no season", Season{}.Units(100, 170), 70, 0)
}

// Kind A: arithmetic of the growth law, through a whole file.
func TestPinnedGrowth(t *testing.T) {
	p := mustDay(t, "2026-01-01")
	m := mustModel(t, oneZone(p+120, Zone{Layers: []Layer{{Pulled: p, Share: 1}}}, pinned(0.36, 14, 38)))
	for _, c := range []struct {
		age  timeline.Day
		want float64
	}{{0, 0}, {14, 0}, {28, 5.04}, {56, 15.12}, {70, 20.16}, {84, 25.2}, {120, 38}} {
		z := m.Forecast(p + c.age).Zones[timeline.Back]
		for _, d := range []Dist{z.LongestMM, z.VisibleMM, z.MeanMM} {
			near(t, "length", d.Median, c.want, 1e-9)
			near(t, "p10", d.P10, c.want, 1e-9)
			near(t, "p90", d.P90, c.want, 1e-9)
		}
	}

	m = mustModel(t, oneZone(p, Zone{Layers: []Layer{{Pulled: p, Share: 1}}}, pinned(0.38, 18, 50)))
	near(t, "L(70)", m.Forecast(p + 70).Zones[timeline.Back].LongestMM.Median, 19.76, 1e-3)
	// Days to one inch and to 20 mm: the day before it is shorter, the day after longer, and the line between them meets it there.
	for mm, want := range map[float64]float64{25.4: 84.842, 20: 70.632} {
		day := timeline.Day(math.Floor(want))
		a := m.Forecast(p + day).Zones[timeline.Back].LongestMM.Median
		b := m.Forecast(p + day + 1).Zones[timeline.Back].LongestMM.Median
		near(t, "days", float64(day)+(mm-a)/(b-a), want, 1e-3)
	}
}

// Kind A: quantiles of a normal rate times a known growing time. A rate given among the priors is normal (cut at 0); the
// starting guess of a profile is lognormal and has other tails.
func TestForecastOfNormalRate(t *testing.T) {
	f, err := Parse(strings.NewReader(`{"dog":{"name":"Bracken"},"today":"2026-01-01","zones":{"back":{"layers":[{"pulled":"2026-01-01","share":1}]}},
		"priors":{"back":{"rate_mm_per_day":{"mean":0.38,"sd":0.10},"lag_days":{"median":18,"sd_log":0},"length_max_mm":{"mean":50,"sd":0}}}}`))
	if err != nil {
		t.Fatal(err)
	}
	d := mustModel(t, f).Forecast(f.Today + 70).Zones[timeline.Back].LongestMM
	near(t, "median", d.Median, 19.760, 0.005)
	near(t, "p10", d.P10, 13.096, 0.005)
	near(t, "p90", d.P90, 26.424, 0.005)
}

// Kind A: K equal layers, the oldest taken every 14 days: before taking, the longest is K·14 days old.
func TestRollingCoat(t *testing.T) {
	longest := func(k int) float64 {
		first := mustDay(t, "2026-01-01")
		z := Zone{}
		for i := range k {
			z.Layers = append(z.Layers, Layer{Pulled: first + 14*timeline.Day(i), Share: 1 / float64(k)})
		}
		last := z.Layers[k-1].Pulled
		rounds := timeline.Day(3*k + 1)
		for i := timeline.Day(1); i <= rounds; i++ {
			z.Work = append(z.Work, WorkDone{On: last + 14*i, Do: timeline.Take, Share: 1 / float64(k)})
		}
		m := mustModel(t, oneZone(last+14*rounds, z, pinned(0.38, 18, 50)))
		return m.ForecastStart(last + 14*rounds).Zones[timeline.Back].LongestMM.Median
	}
	near(t, "4 layers", longest(4), 14.44, 1e-9)
	near(t, "6 layers", longest(6), 25.08, 1e-9)
	k := 1
	for ; longest(k) < 25; k++ {
	}
	if k != 6 {
		t.Errorf("layers for 25 mm = %d, want 6", k)
	}
}

// Kind E: FCI standard 169, wire fox terrier (read in a poor copy): about 20 mm on the shoulder, 40 mm on withers, back,
// ribs and quarters must be possible to ask for, and reachable.
func TestBreedStandardLengthsCanBeAsked(t *testing.T) {
	p, err := ProfileNamed("rough")
	if err != nil {
		t.Fatal(err)
	}
	today := mustDay(t, "2026-01-01")
	wanted := map[timeline.Zone]float64{timeline.Shoulder: 20, timeline.Withers: 40, timeline.Back: 40, timeline.Ribs: 40, timeline.Thigh: 40, timeline.Rump: 40}
	f := File{Dog: Dog{Name: "Bracken"}, Today: today, Zones: map[timeline.Zone]Zone{}, Shows: []Show{{On: today + 150, Targets: map[timeline.Zone]Target{}}}}
	for z, mm := range wanted {
		f.Zones[z] = Zone{Layers: []Layer{{Pulled: today, Share: 1}}}
		f.Shows[0].Targets[z] = Target{MinMM: mm - 8, MaxMM: mm + 8}
		if full := p.Zones[z].LengthMaxMM.Mean; full < mm {
			t.Errorf("%s: %g mm is beyond the full length %g mm", z, mm, full)
		}
	}
	m := mustModel(t, f)
	for z := range wanted {
		best := 0.0
		for day := today; day <= today+200; day += 5 {
			best = max(best, m.Zone(z).Readiness(nil, day, f.Shows[0].Targets[z]))
		}
		if best < 0.3 {
			t.Errorf("%s: readiness never above %.2f", z, best)
		}
	}
}
