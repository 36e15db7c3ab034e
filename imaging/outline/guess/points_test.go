package guess

import (
	"math"
	"math/rand/v2"
	"testing"

	"thatch/imaging/outline"
	"thatch/imaging/phantom"
	"thatch/timeline"
)

// unlike is a drawn dog beyond those that the template was measured on: builds to the end of what can be drawn, tails of any
// length and carriage, the head up to 20° from where it is drawn.
func unlike(seed int64, w, h int) (phantom.Dog, phantom.Coat, phantom.Pose, phantom.Camera) {
	dog, coat, pose, _ := standing(seed, w, h)
	rng := rand.New(rand.NewPCG(uint64(seed), 0x0dd))
	between := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
	dog.Build = phantom.BuildParams{Leg: between(0.85, 1.1), Body: between(0.9, 1.15), Head: between(0.85, 1.15), Neck: between(0.85, 1.15), Bone: between(0.85, 1.2)}
	dog.Tail = phantom.Tail{LengthRatio: between(0.12, 0.5), ForwardDeg: between(-40, 25)}
	pose.HeadDeg, pose.HindFeetMM = between(-20, 20), between(-40, 40)
	return dog, coat, pose, phantom.Frame(dog, w, h).Held(rng)
}

type pointErrors struct {
	off  map[timeline.Point][]float64 // % of the body's length
	conf map[timeline.Point][]float64
	lost int // no proposal, or facing the wrong way
	n    int
}

func (e *pointErrors) add(tr phantom.Truth, r outline.Result) {
	e.n++
	lm, conf, facing, ok := Points(r)
	if !ok || facing != tr.Facing {
		e.lost++
		return
	}
	body := dist(tr.Landmarks[timeline.Prosternum], tr.Landmarks[timeline.Buttock])
	for _, p := range timeline.Points() {
		e.off[p] = append(e.off[p], 100*dist(lm[p], tr.Landmarks[p])/body)
		e.conf[p] = append(e.conf[p], conf[p])
	}
}

// sure is how many points were said to be right at least as probably as not, and how many of them are within 3 %.
func (e *pointErrors) sure() (said, right int, meanConf float64) {
	for p, offs := range e.off {
		for i, off := range offs {
			if c := e.conf[p][i]; c >= 0.5 {
				said++
				meanConf += c
				if off <= 3 {
					right++
				}
			}
		}
	}
	return said, right, meanConf / math.Max(float64(said), 1)
}

// Kind A: drawn dogs are known exactly.
func TestPointsAreProposedFromASilhouette(t *testing.T) {
	for _, c := range []struct {
		name            string
		dogs            int64
		draw            func(int64, int, int) (phantom.Dog, phantom.Coat, phantom.Pose, phantom.Camera)
		median, p90     float64 // of every point
		lost, leastSaid float64
	}{
		{"dogs like those that were measured", 60, standing, 1, 2, 0, 0.95},
		{"dogs unlike them", 80, unlike, 1.5, 3.5, 0.05, 0.9},
	} {
		e := pointErrors{off: map[timeline.Point][]float64{}, conf: map[timeline.Point][]float64{}}
		for seed := range c.dogs {
			tr := phantom.TruthOf(c.draw(930_000+seed, 640, 480))
			e.add(tr, outline.Result{WidthPX: 640, HeightPX: 480, Polygon: (&mask{640, 480, truthMask(tr)}).ring()})
		}
		for _, p := range timeline.Points() {
			near := 0
			for _, off := range e.off[p] {
				if off <= 3 {
					near++
				}
			}
			t.Logf("%s: %-11s median %.2f p90 %.2f %%, within 3 %%: %3.0f %%, confidence %.2f", c.name, p, median(e.off[p]), quantile(e.off[p], 0.9), 100*float64(near)/float64(len(e.off[p])), median(e.conf[p]))
			if median(e.off[p]) > c.median || quantile(e.off[p], 0.9) > c.p90 {
				t.Errorf("%s: %s median %.2f p90 %.2f", c.name, p, median(e.off[p]), quantile(e.off[p], 0.9))
			}
		}
		said, right, mean := e.sure()
		t.Logf("%s: %d of %d lost; of %d points said to be right, %.2f are, confidence %.2f", c.name, e.lost, e.n, said, float64(right)/float64(said), mean)
		if float64(e.lost) > c.lost*float64(e.n) {
			t.Errorf("%s: %d of %d lost", c.name, e.lost, e.n)
		}
		if float64(right) < 0.8*float64(said) || float64(said) < c.leastSaid*float64(12*e.n) {
			t.Errorf("%s: of %d points said to be right %d are", c.name, said, right)
		}
	}
}
