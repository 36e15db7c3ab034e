package align

import (
	"math"
	"math/rand/v2"
	"sort"
	"testing"

	"thatch/timeline"
)

// stood is a square dog facing left, drawn by eye: body 800 px long, 820 px high at the withers, 350 mm to 800 px.
func stood() timeline.Landmarks {
	return timeline.Landmarks{
		timeline.Nose: {X: 190, Y: 330}, timeline.Eye: {X: 290, Y: 260}, timeline.Occiput: {X: 410, Y: 225},
		timeline.WithersPt: {X: 590, Y: 400}, timeline.MidBack: {X: 790, Y: 405}, timeline.TailSet: {X: 1050, Y: 420},
		timeline.Buttock: {X: 1160, Y: 520}, timeline.Prosternum: {X: 360, Y: 620}, timeline.Elbow: {X: 560, Y: 820},
		timeline.Hock: {X: 1200, Y: 1000}, timeline.FrontPaw: {X: 540, Y: 1215}, timeline.HindPaw: {X: 1170, Y: 1225},
	}
}

func seen(lm timeline.Landmarks, s Similarity, mirrorWidth int) timeline.Landmarks {
	out := timeline.Landmarks{}
	for p, xy := range lm {
		xy = s.Apply(xy)
		if mirrorWidth > 0 {
			xy.X = float64(mirrorWidth-1) - xy.X
		}
		out[p] = xy
	}
	return out
}

func jittered(lm timeline.Landmarks, rnd *rand.Rand, sdPX float64) timeline.Landmarks {
	out := timeline.Landmarks{}
	for _, p := range timeline.Points() {
		if xy, ok := lm[p]; ok {
			out[p] = XY{X: xy.X + sdPX*rnd.NormFloat64(), Y: xy.Y + sdPX*rnd.NormFloat64()}
		}
	}
	return out
}

func placed(lm timeline.Landmarks) Placed {
	return Placed{Landmarks: lm, WidthPX: 1600, HeightPX: 1400}
}

// A (analytic): a photo moved by a known similarity is brought back by its inverse, whichever way the dog faces.
func TestTheTransformIsFoundAgainWhicheverWayTheDogFaces(t *testing.T) {
	ref := placed(stood())
	moved := Turn(0.8, 4, XY{X: 700, Y: 700})
	for _, c := range []struct {
		name   string
		mirror int
	}{{"the same way", 0}, {"the other way", 1600}} {
		t.Run(c.name, func(t *testing.T) {
			r := Align(ref, placed(seen(stood(), moved, c.mirror)))
			if !r.Comparable || r.Mirrored != (c.mirror > 0) {
				t.Fatalf("comparable %v, why %v, mirrored %v", r.Comparable, r.Why, r.Mirrored)
			}
			if want := moved.Inverse(); distance(r.Transform.Apply(XY{X: 800, Y: 500}), want.Apply(XY{X: 800, Y: 500})) > 1e-6 {
				t.Errorf("transform %v, want %v", r.Transform, want)
			}
			if math.Abs(r.ScaleRatio-1/0.8) > 1e-9 || math.Abs(r.RotationDeg+4) > 1e-9 || r.RMSPX > 1e-6 {
				t.Errorf("scale %v, turn %v, rms %v", r.ScaleRatio, r.RotationDeg, r.RMSPX)
			}
			if len(r.Parts) != 4 || len(r.ResidualsPX) != 12 {
				t.Errorf("parts %v, residuals %v", r.Parts, r.ResidualsPX)
			}
			for p, d := range r.ResidualsPX {
				if d > 1e-6 {
					t.Errorf("%s is off by %g px", p, d)
				}
			}
		})
	}
}

func TestAHeadThatIsRaisedDoesNotMoveTheTrunk(t *testing.T) {
	lm := stood()
	up := Turn(1, 10, lm[timeline.WithersPt])
	for _, p := range []timeline.Point{timeline.Nose, timeline.Eye, timeline.Occiput} {
		lm[p] = up.Apply(lm[p])
	}
	step := lm[timeline.HindPaw]
	step.X += 57 // 25 mm
	lm[timeline.HindPaw] = step
	r := Align(placed(stood()), placed(lm))
	if !r.Comparable || r.RMSPX > 1e-6 {
		t.Fatalf("comparable %v (%v), trunk rms %g px", r.Comparable, r.Why, r.RMSPX)
	}
	if d := r.Parts[timeline.PartHead].RotationDeg(); math.Abs(d+10) > 1e-6 {
		t.Errorf("head turned back by %g°, want −10°", d)
	}
	// The foot went back by 57 px at 227 px below the hock: by 14°, less what it stood forward before.
	if d := r.Parts[timeline.PartHindleg].RotationDeg(); math.Abs(d-14.2) > 0.5 {
		t.Errorf("hind leg turned back by %g°, want about 14°", d)
	}
}

func TestWhatCannotBeComparedSaysWhy(t *testing.T) {
	turned := func(deg float64) timeline.Landmarks {
		return seenTurned(stood(), deg)
	}
	without := func(ps ...timeline.Point) timeline.Landmarks {
		lm := stood()
		for _, p := range ps {
			delete(lm, p)
		}
		return lm
	}
	with := func(p timeline.Point, xy XY) timeline.Landmarks {
		lm := stood()
		lm[p] = xy
		return lm
	}
	two := with(timeline.TailSet, XY{X: 1050, Y: 600})
	two[timeline.Prosternum] = XY{X: 360, Y: 800}
	known := func(lm timeline.Landmarks) Placed {
		p := placed(lm)
		p.DepthPX = map[timeline.Point]float64{}
		for q := range outlinePoints {
			p.DepthPX[q] = 20
		}
		return p
	}
	for _, c := range []struct {
		name       string
		ref, photo Placed
		why        string
	}{
		{"the same photo", placed(stood()), placed(stood()), ""},
		{"one point of six wrong by 150 px is outvoted", placed(stood()), placed(with(timeline.TailSet, XY{X: 1050, Y: 570})), ""},
		{"no points", placed(stood()), placed(nil), "align.why.too_few"},
		{"two trunk points in common", placed(stood()), placed(without(timeline.WithersPt, timeline.MidBack, timeline.TailSet, timeline.Elbow)), "align.why.too_few"},
		{"a point that is no number", placed(stood()), placed(with(timeline.Nose, XY{X: math.NaN()})), "align.why.not_finite"},
		{"two points wrong", placed(stood()), placed(two), "align.why.disagree"},
		{"all points on one spot", placed(stood()), placed(seen(stood(), Similarity{TX: 5, TY: 5}, 0)), "align.why.no_fit"},
		{"turned by 20°", placed(stood()), placed(turned(20)), "align.why.yaw"},
		{"turned by 15°, coat known", known(stood()), known(turned(15)), "align.why.yaw"},
		{"the reference turned by 20°", placed(turned(20)), placed(stood()), "align.why.yaw_reference"},
		{"turned by 5°", known(stood()), known(turned(5)), ""},
		{"five times as large", placed(stood()), placed(seen(stood(), Similarity{A: 0.2}, 0)), "align.why.scale"},
		{"a dog of 40 px", placed(stood()), placed(seen(stood(), Similarity{A: 0.05}, 0)), "align.why.too_small"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := Align(c.ref, c.photo)
			if r.Why.Key != c.why || r.Comparable != (c.why == "") {
				t.Errorf("comparable %v, why %v, want %q (stretch %.3f, outliers %v, rms %.1f)", r.Comparable, r.Why, c.why, r.StretchRatio, r.Outliers, r.RMSPX)
			}
			if !r.Transform.Valid() {
				t.Errorf("no transform to look at: %v", r.Transform)
			}
		})
	}
}

// seenTurned is the dog turned about the upright axis, seen from far away; the elbow lies 60 mm (137 px) nearer.
func seenTurned(lm timeline.Landmarks, deg float64) timeline.Landmarks {
	s, c := math.Sincos(deg * math.Pi / 180)
	out := timeline.Landmarks{}
	for p, xy := range lm {
		z := 0.0
		if p == timeline.Elbow || p.Part() == timeline.PartForeleg || p.Part() == timeline.PartHindleg {
			z = 137
		}
		out[p] = XY{X: 760 + (xy.X-760)*c + z*s, Y: xy.Y}
	}
	return out
}

// How often a turn is refused, and how often a square dog is refused for nothing: taps with an sd of 0.25 % of the
// body's length, coat known to 2 mm (4.6 px) in both photos.
func TestYawIsRefusedBeyondTenDegreesAndSeldomBelow(t *testing.T) {
	rnd := rand.New(rand.NewPCG(10, 20))
	rate := func(deg float64) float64 {
		refused := 0
		for range 400 {
			mk := func(lm timeline.Landmarks) Placed {
				p := placed(jittered(lm, rnd, 0.0025*800))
				p.DepthPX = map[timeline.Point]float64{}
				for q := range outlinePoints {
					in := p.inward(q)
					d := 4.6 * rnd.NormFloat64()
					xy := p.Landmarks[q]
					p.Landmarks[q] = XY{X: xy.X - d*in.X, Y: xy.Y - d*in.Y}
					p.DepthPX[q] = 0
				}
				return p
			}
			if r := Align(mk(stood()), mk(seenTurned(stood(), deg))); !r.Comparable {
				refused++
			}
		}
		return float64(refused) / 400
	}
	r0, r10, r15, r20 := rate(0), rate(10), rate(15), rate(20)
	t.Logf("refused at 0°: %.3f, 10°: %.3f, 15°: %.3f, 20°: %.3f", r0, r10, r15, r20)
	if r0 > 0.03 || r15 < 0.7 || r20 < 0.97 {
		t.Errorf("refused at 0°: %.3f (want ≤ 0.03), 15°: %.3f (≥ 0.7), 20°: %.3f (≥ 0.97)", r0, r15, r20)
	}
}

// Coat that grew is not a dog that moved: points moved inward by their depths are aligned without bias.
func TestKnownDepthKeepsTheTrunkInPlace(t *testing.T) {
	rnd := rand.New(rand.NewPCG(7, 7))
	grown := map[timeline.Point]float64{timeline.WithersPt: 45, timeline.MidBack: 45, timeline.TailSet: 30, timeline.Buttock: 25, timeline.Prosternum: 10}
	coated := func(lm timeline.Landmarks) timeline.Landmarks {
		p := placed(lm)
		out := timeline.Landmarks{}
		for q, xy := range lm {
			in := p.inward(q)
			out[q] = XY{X: xy.X - grown[q]*in.X, Y: xy.Y - grown[q]*in.Y}
		}
		return out
	}
	var with, without []float64
	for range 200 {
		ref, photo := placed(jittered(stood(), rnd, 2)), placed(jittered(coated(stood()), rnd, 2))
		mid := func(r Result) float64 {
			return math.Abs(r.Transform.Apply(stood()[timeline.MidBack]).Y - stood()[timeline.MidBack].Y)
		}
		without = append(without, mid(Align(ref, photo)))
		ref.DepthPX = map[timeline.Point]float64{timeline.WithersPt: 0, timeline.MidBack: 0, timeline.TailSet: 0, timeline.Buttock: 0, timeline.Prosternum: 0}
		photo.DepthPX = grown
		with = append(with, mid(Align(ref, photo)))
	}
	sort.Float64s(with)
	sort.Float64s(without)
	const mmPerPX = 350.0 / 800
	t.Logf("height of the skin at mid-back, error: depth given median %.2f mm p95 %.2f; not given median %.2f mm", with[100]*mmPerPX, with[190]*mmPerPX, without[100]*mmPerPX)
	if with[100]*mmPerPX > 1 || with[100] > without[100]/2 {
		t.Errorf("depth given: %.2f mm, not given: %.2f mm", with[100]*mmPerPX, without[100]*mmPerPX)
	}
}

func TestFacingIsToldFromThePoints(t *testing.T) {
	only := func(ps ...timeline.Point) timeline.Landmarks {
		lm := timeline.Landmarks{}
		for _, p := range ps {
			lm[p] = stood()[p]
		}
		return lm
	}
	for _, c := range []struct {
		name string
		lm   timeline.Landmarks
		want timeline.Side
	}{
		{"nose to the left", stood(), timeline.SideLeft},
		{"nose to the right", seen(stood(), Identity(), 1600), timeline.SideRight},
		{"trunk alone", only(timeline.WithersPt, timeline.MidBack, timeline.TailSet), timeline.SideLeft},
		{"head alone", only(timeline.Nose, timeline.Occiput), ""},
		{"nothing", nil, ""},
	} {
		if got := FacingOf(c.lm); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}
