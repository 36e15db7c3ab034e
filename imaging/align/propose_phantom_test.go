package align_test

import (
	"image"
	"math"
	"math/rand/v2"
	"sort"
	"testing"

	"thatch/imaging/align"
	"thatch/imaging/phantom"
	"thatch/timeline"
)

type shot struct {
	img   *image.NRGBA
	truth phantom.Truth
}

// twoVisits draws one phantom dog on two days: another coat, pose, light, scale and roll, and now and then the other side.
func twoVisits(rnd *rand.Rand, seed int64, wide int) (a, b shot) {
	colours := phantom.Colours()
	dog := phantom.Dog{Seed: seed, WithersMM: 300 + 80*rnd.Float64(), Colour: colours[rnd.IntN(len(colours))]}
	scene := phantom.Rooms()[rnd.IntN(len(phantom.Rooms()))]
	one := func(coat phantom.Coat, facing timeline.Side, shift float64) shot {
		cam := phantom.Frame(dog, wide, wide*3/4)
		cam.MMPerPX *= 1 + 0.25*rnd.Float64()
		cam.RollDeg = 5 * (2*rnd.Float64() - 1)
		cam.CenterXMM += shift * 60 * (2*rnd.Float64() - 1)
		cam.CenterYMM += shift * 30 * (2*rnd.Float64() - 1)
		cam.Exposure, cam.WhiteBalance, cam.Seed = 0.5*(2*rnd.Float64()-1), 0.5*(2*rnd.Float64()-1), rnd.Int64()
		img, truth := phantom.Render(dog, coat, phantom.Pose{
			HeadDeg: 20*rnd.Float64() - 10, BackFlexMM: 10*rnd.Float64() - 5,
			HindFeetMM: 50*rnd.Float64() - 25, ForeFeetMM: 30*rnd.Float64() - 15, Facing: facing,
		}, cam, scene)
		return shot{img, truth}
	}
	facing := timeline.SideLeft
	if rnd.IntN(4) == 0 {
		facing = timeline.SideRight
	}
	return one(phantom.Overgrown(20+25*rnd.Float64()), timeline.SideLeft, 1), one(phantom.RingReady(14+8*rnd.Float64()), facing, 1)
}

// Proposed points against the phantom's truth, between a long coat and a short one. Required: median ≤ 2 % of the body's
// length over all points.
func TestPointsOfAPhantomAreFoundAgainAtItsNextVisit(t *testing.T) {
	rnd := rand.New(rand.NewPCG(2026, 5))
	pairs, wide := 16, 1000
	if testing.Short() {
		pairs = 4
	}
	var errs []float64
	byPoint := map[timeline.Point][]float64{}
	var sure, unsure []float64
	wrongSide, lost := 0, 0
	for k := range pairs {
		a, b := twoVisits(rnd, int64(9000+k), wide)
		got := align.Propose(a.img, a.truth.Landmarks, a.truth.Facing, b.img)
		if !got.Found {
			lost++
		}
		if got.Facing != b.truth.Facing {
			wrongSide++
		}
		body := math.Hypot(b.truth.Landmarks[timeline.Prosternum].X-b.truth.Landmarks[timeline.Buttock].X, b.truth.Landmarks[timeline.Prosternum].Y-b.truth.Landmarks[timeline.Buttock].Y)
		for p, want := range b.truth.Landmarks {
			e := math.Hypot(got.Landmarks[p].X-want.X, got.Landmarks[p].Y-want.Y) / body
			errs = append(errs, e)
			byPoint[p] = append(byPoint[p], e)
			if c := got.Confidence[p]; c >= 0.5 {
				sure = append(sure, e)
			} else {
				unsure = append(unsure, e)
			}
		}
	}
	t.Logf("%d pairs: error in %% of body length median %.2f p90 %.2f p95 %.2f; lost %d, wrong side %d", pairs, 100*quantile(errs, 0.5), 100*quantile(errs, 0.9), 100*quantile(errs, 0.95), lost, wrongSide)
	t.Logf("confidence ≥ 0.5: %d points, median %.2f p90 %.2f; below: %d points, median %.2f", len(sure), 100*quantile(sure, 0.5), 100*quantile(sure, 0.9), len(unsure), 100*quantile(unsure, 0.5))
	for _, p := range timeline.Points() {
		t.Logf("%12s median %.2f p90 %.2f", p, 100*quantile(byPoint[p], 0.5), 100*quantile(byPoint[p], 0.9))
	}
	if m := quantile(errs, 0.5); !(m <= 0.02) {
		t.Errorf("median error %.2f %% of body length, want ≤ 2", 100*m)
	}
}

func quantile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	v = append([]float64(nil), v...)
	sort.Float64s(v)
	return v[int(q*float64(len(v)-1)+0.5)]
}

func BenchmarkPropose1600(b *testing.B) {
	x, y := twoVisits(rand.New(rand.NewPCG(1, 1)), 1, 1600)
	for b.Loop() {
		align.Propose(x.img, x.truth.Landmarks, x.truth.Facing, y.img)
	}
}
