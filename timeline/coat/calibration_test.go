package coat

import (
	"math"
	"math/rand/v2"
	"runtime"
	"sort"
	"sync"
	"testing"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"thatch/timeline"
	"thatch/timeline/outside"
)

// The calibration: dogs whose truth is known, worked four times a fortnight apart with readings before the work of the
// last 0, 2 or 4 of these days, and what is then forecast for a day four weeks on, against that truth.
//
// THATCH_MANY sets the number of dogs of each kind; the figures of DEVELOPERS.md are those of 4,000.
const (
	calibrationDogs = 120
	oldPulled       = 98 // days before today on which the whole zone was last pulled
	forecastAhead   = 28 // days after today
	takenEach       = 0.2
	leastDraws      = 50 // effective, for a sampled posterior to be called exact: its median is then known to 0.18 of its sd
)

var (
	calibrationZones = []timeline.Zone{timeline.Back, timeline.Ribs, timeline.Thigh}
	sessionAges      = []float64{oldPulled - 42, oldPulled - 28, oldPulled - 14, oldPulled}
)

// calibrated is one dog: the truth of each zone at the four sessions and on the forecast day, and what the ruler said.
type calibrated struct {
	read  [3][4]float64 // mm
	truth [3]float64    // mm, longest hair on the forecast day
}

// ownDog is drawn from the profile's starting guesses, read with the model's own error and the ruler's.
func ownDog(r *rand.Rand, p Profile) calibrated {
	var out calibrated
	sg, se := lognormalMean1(p.Growth.DogCV), lognormalMean1(p.Growth.ZoneCV)
	g := math.Exp(-sg*sg/2 + sg*r.NormFloat64())
	for k, name := range calibrationZones {
		rate := p.Growth.RateMMPerDay * p.Zones[name].RateFactor * g * math.Exp(-se*se/2+se*r.NormFloat64())
		lag := p.Growth.LagDays.Median * math.Exp(p.Growth.LagDays.SDLog*r.NormFloat64())
		full := drawFull(r, p.Zones[name].LengthMaxMM)
		length := func(age float64) float64 { return math.Min(full, rate*math.Max(0, age-lag)) }
		for i, age := range sessionAges {
			out.read[k][i] = math.Max(0, length(age)+math.Hypot(RulerSDMM, ModelSDMM)*r.NormFloat64())
		}
		out.truth[k] = length(oldPulled + forecastAhead)
	}
	return out
}

func drawFull(r *rand.Rand, d MeanSD) float64 {
	for {
		if full := d.Mean + d.SD*r.NormFloat64(); full >= lowFullMM {
			return full
		}
	}
}

// otherDog is of another truth than the model's: hair grows by a logistic curve; twelve per cent faster in June and slower
// in December; the lag has a gamma distribution of the same mean and sd. Read with the ruler's error alone: this dog's
// departure from the model is its own.
func otherDog(r *rand.Rand, p Profile, today timeline.Day, curve func(rate, full, s float64) float64) calibrated {
	var out calibrated
	season := SeasonPeaking(0.12, 172)
	sg, se := lognormalMean1(p.Growth.DogCV), lognormalMean1(p.Growth.ZoneCV)
	g := math.Exp(-sg*sg/2 + sg*r.NormFloat64())
	prior := distuv.LogNormal{Mu: math.Log(p.Growth.LagDays.Median), Sigma: p.Growth.LagDays.SDLog}
	lags := distuv.Gamma{Alpha: prior.Mean() * prior.Mean() / prior.Variance(), Beta: prior.Mean() / prior.Variance(), Src: r}
	for k, name := range calibrationZones {
		rate := p.Growth.RateMMPerDay * p.Zones[name].RateFactor * g * math.Exp(-se*se/2+se*r.NormFloat64())
		lag, full := lags.Rand(), drawFull(r, p.Zones[name].LengthMaxMM)
		pulled := (today - oldPulled).T()
		length := func(age float64) float64 {
			if age <= lag {
				return 0
			}
			return curve(rate, full, season.Units(pulled+lag, pulled+age))
		}
		for i, age := range sessionAges {
			out.read[k][i] = math.Max(0, length(age)+RulerSDMM*r.NormFloat64())
		}
		out.truth[k] = length(oldPulled + forecastAhead)
	}
	return out
}

// logistic is full/(1 + e^(−4·rate/full·(s − full/2·rate))): of the zone's own rate in its steepest place, half grown when
// steady growth would be. A new hair begins at an eighth of its full length, before any reading here.
func logistic(rate, full, s float64) float64 { return full / (1 + math.Exp(2-4*rate/full*s)) }

// logisticFromNothing is the same S pulled down to begin at 0: slower at first, steeper in the middle. None of the laws that
// the model knows is of this form.
func logisticFromNothing(rate, full, s float64) float64 {
	start := logistic(rate, full, 0)
	return full * (logistic(rate, full, s) - start) / (full - start)
}

// everSlower is full·(1 − e^(−rate·s/full)).
func everSlower(rate, full, s float64) float64 { return full * -math.Expm1(-rate*s/full) }

// file is the dog's coat file with the readings of the last n sessions.
func (c calibrated) file(today timeline.Day, n int) File {
	f := File{Dog: Dog{Name: "Bracken"}, Today: today, Zones: map[timeline.Zone]Zone{}}
	for k, name := range calibrationZones {
		z := Zone{Layers: []Layer{{Pulled: today - oldPulled, Share: 1}}}
		for i := range 4 {
			on := today - 42 + 14*timeline.Day(i)
			z.Work = append(z.Work, WorkDone{On: on, Do: timeline.Take, Share: takenEach})
			if i >= 4-n {
				z.Measured = append(z.Measured, Measured{On: on, LengthMM: c.read[k][i], SDMM: RulerSDMM})
			}
		}
		f.Zones[name] = z
	}
	return f
}

// sampled is the exact posterior of a dog of the model's own kind by importance sampling: draws from the prior, weighted
// by the likelihood, the dog's factor integrated over draws of its own. It shares no code with the grid.
type sampled struct {
	read [3][][4]float64 // of a draw: length at the four sessions
	far  [3][]float64    // of a draw: length on the forecast day
	bend [3][][]float64  // of a draw and of a draw of g: p(rate | g) / p(rate)
}

func newSampled(p Profile, draws, dogDraws int) *sampled {
	s := &sampled{}
	r := rand.New(rand.NewPCG(101, 103))
	sg, se := lognormalMean1(p.Growth.DogCV), lognormalMean1(p.Growth.ZoneCV)
	logG := make([]float64, dogDraws)
	for m := range logG { // stratified
		logG[m] = -sg*sg/2 + sg*distuv.UnitNormal.Quantile((float64(m)+r.Float64())/float64(dogDraws))
	}
	for k, name := range calibrationZones {
		base := math.Log(p.Growth.RateMMPerDay*p.Zones[name].RateFactor) - se*se/2
		all := distuv.Normal{Mu: base - sg*sg/2, Sigma: math.Hypot(sg, se)}
		for range draws {
			lr := all.Mu + all.Sigma*r.NormFloat64()
			rate, lag := math.Exp(lr), p.Growth.LagDays.Median*math.Exp(p.Growth.LagDays.SDLog*r.NormFloat64())
			full := drawFull(r, p.Zones[name].LengthMaxMM)
			var at [4]float64
			for i, age := range sessionAges {
				at[i] = math.Min(full, rate*math.Max(0, age-lag))
			}
			s.read[k] = append(s.read[k], at)
			s.far[k] = append(s.far[k], math.Min(full, rate*math.Max(0, oldPulled+forecastAhead-lag)))
			row := make([]float64, dogDraws)
			for m, g := range logG {
				row[m] = math.Exp(distuv.Normal{Mu: base + g, Sigma: se}.LogProb(lr) - all.LogProb(lr))
			}
			s.bend[k] = append(s.bend[k], row)
		}
	}
	return s
}

// medians are the posterior medians of the longest hair on the forecast day; ess is the smallest effective sample size.
func (s *sampled) medians(c calibrated, n int) (out [3]float64, ess float64) {
	const variance = RulerSDMM*RulerSDMM + ModelSDMM*ModelSDMM
	dogDraws := len(s.bend[0][0])
	var like [3][]float64
	var says [3][]float64
	for k := range out {
		l := make([]float64, len(s.far[k]))
		best := math.Inf(-1)
		for i, at := range s.read[k] {
			for j := 4 - n; j < 4; j++ {
				d := c.read[k][j] - at[j]
				l[i] -= d * d / (2 * variance)
			}
			best = math.Max(best, l[i])
		}
		says[k] = make([]float64, dogDraws)
		for i := range l {
			if l[i] < best-25 {
				l[i] = 0
				continue
			}
			l[i] = math.Exp(l[i] - best)
			for m, b := range s.bend[k][i] {
				says[k][m] += l[i] * b
			}
		}
		like[k] = l
	}
	ess = math.Inf(1)
	for k := range out {
		others := make([]float64, dogDraws)
		for m := range others {
			others[m] = 1
			for o := range says {
				if o != k {
					others[m] *= says[o][m] / stat.Mean(says[o], nil)
				}
			}
		}
		type point struct{ mm, w float64 }
		var points []point
		var sum, sq float64
		for i, l := range like[k] {
			if l == 0 {
				continue
			}
			w := 0.0
			for m, b := range s.bend[k][i] {
				w += b * others[m]
			}
			w *= l
			points = append(points, point{s.far[k][i], w})
			sum += w
			sq += w * w
		}
		ess = math.Min(ess, sum*sum/sq)
		sort.Slice(points, func(i, j int) bool { return points[i].mm < points[j].mm })
		cum := 0.0
		for _, q := range points {
			if cum += q.w; cum >= sum/2 {
				out[k] = q.mm
				break
			}
		}
	}
	return out, ess
}

// tally is what a number of dogs say of the model's forecast.
type tally struct {
	in, all       int
	strays        int // dogs
	err           float64
	width, perDog []float64
}

func (t *tally) cover() float64 { return float64(t.in) / float64(t.all) }
func (t *tally) mae() float64   { return t.err / float64(t.all) }

// standardError of the coverage, from the dogs' own shares: the zones of a dog are not independent.
func (t *tally) standardError() float64 {
	return stat.StdDev(t.perDog, nil) / math.Sqrt(float64(len(t.perDog)))
}

func (t *tally) add(c calibrated, f Forecast) {
	in := 0
	if f.Strays {
		t.strays++
	}
	for k, name := range calibrationZones {
		d := f.Zones[name].LongestMM
		if c.truth[k] >= d.P10 && c.truth[k] <= d.P90 {
			in++
		}
		t.err += math.Abs(c.truth[k] - d.Median)
		t.width = append(t.width, d.P90-d.P10)
	}
	t.in += in
	t.all += len(calibrationZones)
	t.perDog = append(t.perDog, float64(in)/float64(len(calibrationZones)))
}

// eachDog runs f for every dog on all cores; f must not touch what is shared but through what it returns.
func eachDog[T any](n int, f func(i int) T) []T {
	out := make([]T, n)
	var wg sync.WaitGroup
	next := make(chan int)
	for range runtime.GOMAXPROCS(0) {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := range next {
				out[i] = f(i)
			}
		}()
	}
	for i := range n {
		next <- i
	}
	close(next)
	wg.Wait()
	return out
}

// slack is how far a coverage of a sample may lie from its bound by chance: with 4,000 dogs none, for the bounds are of
// 4,000; with fewer three standard errors.
func slack(dogs int, t *tally) float64 {
	if dogs >= 4000 {
		return 0
	}
	return 3 * t.standardError()
}

func TestCalibration(t *testing.T) {
	p, err := ProfileNamed("rough")
	if err != nil {
		t.Fatal(err)
	}
	today := mustDay(t, "2026-05-01")
	dogs := outside.ManyOf(t, calibrationDogs)
	visits := []int{0, 2, 4}
	row := func(kind string, n int, y *tally) {
		t.Logf("%s, %d sessions: 80 %% band covers %.1f %% (standard error %.1f), mean absolute error %.2f mm, median width %.2f mm, %.0f %% stray",
			kind, n, 100*y.cover(), 100*y.standardError(), y.mae(), stat.Quantile(0.5, stat.LinInterp, sorted(y.width), nil), 100*float64(y.strays)/float64(len(y.perDog)))
	}

	t.Run("dogs of the model's own kind", func(t *testing.T) {
		draws := 20_000
		if dogs < 1000 {
			draws = 6000
		}
		exact := newSampled(p, draws, 64)
		type result struct {
			c       calibrated
			f       [3]Forecast
			medians [3][3]float64
			ess     [3]float64
		}
		results := eachDog(dogs, func(i int) result {
			var out result
			out.c = ownDog(rand.New(rand.NewPCG(7, uint64(i))), p)
			for v, n := range visits {
				out.f[v] = newModel(out.c.file(today, n), p).Forecast(today + forecastAhead)
				if n > 0 {
					out.medians[v], out.ess[v] = exact.medians(out.c, n)
				}
			}
			return out
		})
		var widths [3]float64
		for v, n := range visits {
			y := &tally{}
			var ess []float64
			var errGrid, errExact float64
			compared := 0
			for _, r := range results {
				y.add(r.c, r.f[v])
				ess = append(ess, r.ess[v])
				if r.ess[v] < leastDraws {
					continue // too rare a dog for the sample to be called exact
				}
				for k, m := range r.medians[v] {
					compared++
					errGrid += math.Abs(r.c.truth[k] - r.f[v].Zones[calibrationZones[k]].LongestMM.Median)
					errExact += math.Abs(r.c.truth[k] - m)
				}
			}
			row("own kind", n, y)
			widths[v] = stat.Quantile(0.5, stat.LinInterp, sorted(y.width), nil)
			if c, s := y.cover(), slack(dogs, y); c < 0.77-s || c > 0.83+s {
				t.Errorf("%d sessions: the 80 %% band covers %.2f %%", n, 100*c)
			}
			if n > 0 {
				ratio := errGrid / errExact
				t.Logf("own kind, %d sessions: mean absolute error %.3f times that of the exact posterior (%.0f %% of zones compared, effective draws: median %.0f)",
					n, ratio, 100*float64(compared)/float64(y.all), stat.Quantile(0.5, stat.LinInterp, sorted(ess), nil))
				if compared < y.all/2 {
					t.Errorf("%d sessions: only %d zones of %d could be compared", n, compared, y.all)
				}
				if ratio > 1.1 {
					t.Errorf("%d sessions: mean absolute error %.3f times that of the exact posterior", n, ratio)
				}
			}
		}
		t.Logf("own kind: four sessions narrow the median band by %.0f %%", 100*(1-widths[2]/widths[0]))
		if widths[2] > 0.6*widths[0] {
			t.Errorf("four sessions narrow the median band from %.2f to %.2f mm only", widths[0], widths[2])
		}
	})

	for _, other := range []struct {
		name  string
		curve func(rate, full, s float64) float64
		least map[int]float64 // coverage by sessions
	}{
		{"another truth", logistic, map[int]float64{2: 0.50, 4: 0.75}},
		{"another truth, from nothing", logisticFromNothing, map[int]float64{2: 0.50, 4: 0.75}},
		{"another truth, ever slower", everSlower, map[int]float64{2: 0.50, 4: 0.75}},
	} {
		t.Run(other.name, func(t *testing.T) {
			type result struct {
				c calibrated
				f [3]Forecast
			}
			results := eachDog(dogs, func(i int) result {
				var out result
				out.c = otherDog(rand.New(rand.NewPCG(11, uint64(i))), p, today, other.curve)
				for v, n := range visits {
					out.f[v] = newModel(out.c.file(today, n), p).Forecast(today + forecastAhead)
				}
				return out
			})
			for v, n := range visits {
				y := &tally{}
				for _, r := range results {
					y.add(r.c, r.f[v])
				}
				row(other.name, n, y)
				if y.cover() < other.least[n]-slack(dogs, y) {
					t.Errorf("%d sessions: the 80 %% band covers %.2f %%", n, 100*y.cover())
				}
			}
		})
	}
}

func sorted(v []float64) []float64 {
	out := append([]float64(nil), v...)
	sort.Float64s(out)
	return out
}
