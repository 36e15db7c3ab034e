package align

import (
	"image"
	"image/color"
	"math"
	"reflect"
	"testing"

	"thatch/timeline"
)

// drawn is the dog of stood as flat limbs of our own, with two patches and an eye, seen through s before a shaded wall.
func drawn(s Similarity, w, h int, light float64) *image.NRGBA {
	lm := stood()
	limb := func(r float64, ps ...timeline.Point) func(XY) bool {
		return func(p XY) bool {
			for i := 0; i+1 < len(ps); i++ {
				a, b := lm[ps[i]], lm[ps[i+1]]
				t := clamp01(((p.X-a.X)*(b.X-a.X) + (p.Y-a.Y)*(b.Y-a.Y)) / (square(b.X-a.X) + square(b.Y-a.Y)))
				if distance(p, at(a.X+t*(b.X-a.X), a.Y+t*(b.Y-a.Y))) < r {
					return true
				}
			}
			return false
		}
	}
	trunk := hull([]XY{lm[timeline.WithersPt], lm[timeline.MidBack], lm[timeline.TailSet], lm[timeline.Buttock], lm[timeline.Prosternum], lm[timeline.Elbow], at(1000, 760)})
	shapes := []struct {
		in   func(XY) bool
		grey float64
	}{
		{func(p XY) bool { return beyond(trunk, p) == 0 }, 205},
		{limb(70, timeline.WithersPt, timeline.Occiput), 205},
		{limb(45, timeline.Occiput, timeline.Eye, timeline.Nose), 120},
		{limb(38, timeline.Elbow, timeline.FrontPaw), 190},
		{limb(38, timeline.Buttock, timeline.Hock, timeline.HindPaw), 190},
		{func(p XY) bool { return distance(p, at(850, 500)) < 90 }, 70},
		{func(p XY) bool { return distance(p, lm[timeline.Eye]) < 16 }, 20},
		{func(p XY) bool { return distance(p, lm[timeline.Nose]) < 22 }, 25},
	}
	inv := s.Inverse()
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			p := inv.Apply(at(float64(x), float64(y)))
			v := 110 + 25*math.Sin(float64(x)/170) + 10*math.Cos(float64(y)/110)
			for _, sh := range shapes {
				if sh.in(p) {
					v = sh.grey
				}
			}
			g := uint8(math.Min(255, v*light))
			img.SetNRGBA(x, y, color.NRGBA{g, g, g, 255})
		}
	}
	return img
}

func TestPointsAreProposedFromTheLastPhoto(t *testing.T) {
	half := Similarity{A: 0.5}
	prev, lm := drawn(half, 800, 700, 1), seen(stood(), half, 0)
	for _, c := range []struct {
		name   string
		s      Similarity
		w, h   int
		light  float64
		mirror bool
	}{
		{"the same picture", half, 800, 700, 1, false},
		{"darker, shifted and smaller", Similarity{A: 0.4, TX: 110, TY: 60}, 800, 700, 0.7, false},
		{"rolled and larger, in a larger frame", Turn(1, 5, at(640, 560)).Compose(Similarity{A: 0.72, TX: 90, TY: 10}), 1280, 1120, 1.1, false},
		{"facing the other way", Similarity{A: 0.45, TX: 40, TY: 40}, 800, 700, 0.9, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			next, want, facing := drawn(c.s, c.w, c.h, c.light), seen(stood(), c.s, 0), timeline.SideLeft
			if c.mirror {
				next, want, facing = Mirror(next), seen(stood(), c.s, c.w), timeline.SideRight
			}
			got := Propose(prev, lm, timeline.SideLeft, next)
			if !got.Found || got.Facing != facing || len(got.Landmarks) != 12 {
				t.Fatalf("found %v, facing %q, %d points", got.Found, got.Facing, len(got.Landmarks))
			}
			for p, xy := range want {
				if e := distance(got.Landmarks[p], xy) / (800 * c.s.Scale()); e > 0.01 || got.Confidence[p] < 0.3 || got.Confidence[p] > 1 {
					t.Errorf("%s: off by %.2f %% of the body's length, confidence %.2f", p, 100*e, got.Confidence[p])
				}
			}
			if again := Propose(prev, lm, timeline.SideLeft, next); !reflect.DeepEqual(got, again) {
				t.Error("asked again it answers otherwise")
			}
		})
	}
}

func TestWithoutADogThePointsAreMerePlaceholders(t *testing.T) {
	half := Similarity{A: 0.5}
	prev, lm := drawn(half, 800, 700, 1), seen(stood(), half, 0)
	wall := drawn(Similarity{A: 0.5, TX: 5000}, 1600, 1400, 1)
	two := timeline.Landmarks{timeline.WithersPt: at(1, 2), timeline.Nose: at(math.NaN(), 1), "knee": at(3, 4)}
	for _, c := range []struct {
		name string
		prev *image.NRGBA
		lm   timeline.Landmarks
		next *image.NRGBA
		n    int
	}{
		{"an empty wall", prev, lm, wall, 12},
		{"too few points", prev, two, wall, 1},
		{"no points", prev, nil, wall, 0},
		{"no old picture", image.NewNRGBA(image.Rectangle{}), lm, wall, 12},
		{"no new picture", prev, lm, image.NewNRGBA(image.Rectangle{}), 12},
		{"all points on one spot", prev, seen(stood(), Similarity{TX: 400, TY: 300}, 0), wall, 12},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := Propose(c.prev, c.lm, timeline.SideLeft, c.next)
			if got.Found || len(got.Landmarks) != c.n {
				t.Fatalf("found %v, %d points, want %d", got.Found, len(got.Landmarks), c.n)
			}
			for p := range got.Landmarks {
				if got.Confidence[p] > 0.05 {
					t.Errorf("%s: confidence %.2f", p, got.Confidence[p])
				}
			}
		})
	}
	if got := Propose(prev, lm, timeline.SideLeft, wall).Landmarks[timeline.WithersPt]; distance(got, at(590.5, 400.5)) > 1e-9 {
		t.Errorf("placeholder at %v", got)
	}
}
