package phantom

import (
	"bytes"
	"encoding/json"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"thatch/timeline"
)

// random is a dog, coat, pose and camera of the seed. The checks below are all analytic (A): the truth against
// the construction it claims, by code that shares nothing with the drawing.
func random(seed int64, width, height int) (Dog, Coat, Pose, Camera) {
	rng := rand.New(rand.NewPCG(uint64(seed), 99))
	d := RandomDog(seed)
	c := Overgrown(12+38*rng.Float64()).Toward(RingReady(12+14*rng.Float64()), rng.Float64())
	for _, z := range timeline.Zones() {
		v := c[z]
		v.LengthMM *= 0.8 + 0.4*rng.Float64()
		v.LieRatio = 0.33 + 0.24*rng.Float64()
		c[z] = v
	}
	p := RandomPose(rng)
	if seed%2 == 1 {
		p.Facing = timeline.SideRight
	}
	return d, c, p, Frame(d, width, height).Held(rng)
}

func TestDepthBetweenSkinAndOutlineIsTheTruth(t *testing.T) {
	worst := 0.0
	for seed := range int64(12) {
		tr := TruthOf(random(seed, 1344, 1008))
		for z, d := range measuredDepth(tr) {
			diff := math.Abs(d - tr.DepthMM[z])
			worst = max(worst, diff)
			if diff > 0.3 {
				t.Errorf("seed %d %s: measured %.2f mm, truth %.2f mm", seed, z, d, tr.DepthMM[z])
			}
		}
		for _, z := range timeline.Zones() {
			if _, ok := tr.DepthMM[z]; ok != z.InOutline() {
				t.Errorf("seed %d: %s in the outline is %v, has a depth is %v", seed, z, z.InOutline(), ok)
			}
		}
	}
	t.Logf("worst difference %.3f mm", worst)
}

func TestDepthIsLieTimesLengthPlusLoft(t *testing.T) {
	for seed := range int64(12) {
		d, c, p, cam := random(seed, 640, 480)
		tr := TruthOf(d, c, p, cam)
		for z, got := range tr.DepthMM {
			want := c[z].LieRatio*c[z].LengthMM + c[z].LoftMM
			// Depth passes smoothly from zone to zone: the middle of a narrow zone keeps a little of its neighbours.
			if math.Abs(got-want) > 0.3+0.12*want {
				t.Errorf("seed %d %s: %.2f mm, lie × length + loft is %.2f", seed, z, got, want)
			}
		}
	}
}

// measuredDepth is, zone by zone, the median distance from the skin line along its normal to the outline.
func measuredDepth(tr Truth) map[timeline.Zone]float64 {
	by := map[timeline.Zone][]float64{}
	n := len(tr.SkinLine)
	sign := 1.0
	if area(tr.SkinLine) < 0 {
		sign = -1
	}
	for i := range n {
		z := tr.SkinZones[i]
		if !z.InOutline() {
			continue
		}
		a, b, p := tr.SkinLine[(i+n-5)%n], tr.SkinLine[(i+5)%n], tr.SkinLine[i]
		l := math.Hypot(b.X-a.X, b.Y-a.Y)
		nx, ny := sign*(b.Y-a.Y)/l, -sign*(b.X-a.X)/l
		best, hx, hy := math.Inf(1), 0.0, 0.0
		for j := range tr.Outline {
			q, r := tr.Outline[j], tr.Outline[(j+1)%len(tr.Outline)]
			if x, y, ok := crossing(p.X-nx*4, p.Y-ny*4, p.X+nx*150, p.Y+ny*150, q.X, q.Y, r.X, r.Y); ok {
				if d := (x-p.X)*nx + (y-p.Y)*ny; d < best {
					best, hx, hy = d, x, y
				}
			}
		}
		// In a corner the normal runs into the coat of another place (the rump's into the tail): nearer to that skin.
		off := math.Inf(1)
		for _, q := range tr.SkinLine {
			off = min(off, math.Hypot(q.X-hx, q.Y-hy))
		}
		if !math.IsInf(best, 1) && (best-off)*tr.MMPerPX < 0.5 {
			by[z] = append(by[z], best*tr.MMPerPX)
		}
	}
	out := map[timeline.Zone]float64{}
	for z, d := range by {
		slices.Sort(d)
		out[z] = d[len(d)/2]
	}
	return out
}

func area(ps []timeline.XY) float64 {
	s := 0.0
	for i, p := range ps {
		q := ps[(i+1)%len(ps)]
		s += p.X*q.Y - q.X*p.Y
	}
	return s / 2
}

func TestMaskIsTheOutlineFilled(t *testing.T) {
	for seed := range int64(4) {
		tr := TruthOf(random(seed, 800, 600))
		polys := append([][]timeline.XY{tr.Outline}, tr.Far...)
		dog, differ := 0, 0
		for y := range 600 {
			in := make([]bool, 800)
			for _, ps := range polys {
				wind := windingRow(ps, float64(y), 800)
				for x := range in {
					in[x] = in[x] || wind[x] != 0
				}
			}
			for x := range in {
				m := tr.Mask.Pix[y*tr.Mask.Stride+x] == 255
				if m {
					dog++
				}
				if m != in[x] {
					differ++
				}
			}
		}
		if dog < 30000 || float64(differ) > 0.006*float64(dog) {
			t.Errorf("seed %d: %d pixels of %d differ from the polygons", seed, differ, dog)
		}
		// The outline has no loops left: its shoelace area is that of the near side, within the far legs' share.
		if a := math.Abs(area(tr.Outline)); a > float64(dog) || a < 0.88*float64(dog) {
			t.Errorf("seed %d: outline encloses %.0f px², mask %d", seed, a, dog)
		}
	}
}

// windingRow is the winding number of the closed polygon at the pixel centres of row y.
func windingRow(ps []timeline.XY, y float64, width int) []int {
	w := make([]int, width)
	for i, p := range ps {
		q := ps[(i+1)%len(ps)]
		if (p.Y <= y) == (q.Y <= y) {
			continue
		}
		x := p.X + (y-p.Y)/(q.Y-p.Y)*(q.X-p.X)
		d := 1
		if q.Y > p.Y {
			d = -1
		}
		for k := max(0, int(math.Ceil(x))); k < width; k++ {
			w[k] += d
		}
	}
	return w
}

func TestEveryPointIsKnownAndPointsOfTheEdgeLieOnTheOutline(t *testing.T) {
	for seed := range int64(10) {
		tr := TruthOf(random(seed, 1344, 1008))
		for _, p := range timeline.Points() {
			at, ok := tr.Landmarks[p]
			if _, skin := tr.SkinLandmarks[p]; !ok || !skin {
				t.Fatalf("%s is missing", p)
			}
			xs, ys := make([]float64, len(tr.Outline)), make([]float64, len(tr.Outline))
			for i, q := range tr.Outline {
				xs[i], ys[i] = q.X, q.Y
			}
			x, y := nearest(xs, ys, at.X, at.Y)
			gap := math.Hypot(x-at.X, y-at.Y)
			if p == timeline.Eye || p == timeline.Elbow {
				if gap < 3 || tr.Mask.GrayAt(int(at.X+0.5), int(at.Y+0.5)).Y != 255 {
					t.Errorf("seed %d: %s lies at the edge or outside", seed, p)
				}
			} else if gap > 1 {
				t.Errorf("seed %d: %s lies %.2f px off the outline", seed, p, gap)
			}
		}
	}
}

func TestTheCameraIsASimilarity(t *testing.T) {
	for seed := range int64(6) {
		d, c, p, cam := random(seed, 900, 700)
		a := TruthOf(d, c, p, cam)
		b := cam
		b.RollDeg += 4
		b.MMPerPX *= 1.3
		b.CenterXMM += 20
		to := TruthOf(d, c, p, b)
		// Least squares in complex numbers: q = z·p + t.
		var mp, mq complex128
		for _, k := range timeline.Points() {
			mp += complex(a.Landmarks[k].X, a.Landmarks[k].Y) / 12
			mq += complex(to.Landmarks[k].X, to.Landmarks[k].Y) / 12
		}
		var num complex128
		den := 0.0
		for _, k := range timeline.Points() {
			u := complex(a.Landmarks[k].X, a.Landmarks[k].Y) - mp
			v := complex(to.Landmarks[k].X, to.Landmarks[k].Y) - mq
			num += v * complex(real(u), -imag(u))
			den += real(u)*real(u) + imag(u)*imag(u)
		}
		z := num / complex(den, 0)
		scale, turn := math.Hypot(real(z), imag(z)), math.Atan2(imag(z), real(z))*180/math.Pi
		if math.Abs(scale*1.3-1) > 1e-9 || math.Abs(turn-4) > 1e-9 {
			t.Errorf("seed %d: scale %.12f, turn %.12f°", seed, scale*1.3, turn)
		}
		// Millimetres: withers on the skin stand WithersMM above the table, whatever the camera.
		wp, ground := to.SkinLandmarks[timeline.WithersPt], b.view(to.Facing)
		x, y := ground.mm(wp.X, wp.Y)
		if math.Abs(y-d.WithersMM) > 1e-6 || math.Abs(x) > 1e-6 {
			t.Errorf("seed %d: withers at %.3f, %.3f mm of %.3f", seed, x, y, d.WithersMM)
		}
	}
}

func TestADogFacingRightIsTheMirrorImage(t *testing.T) {
	d := RandomDog(3)
	cam := Frame(d, 801, 600)
	left := TruthOf(d, RingReady(18), Pose{}, cam)
	right := TruthOf(d, RingReady(18), Pose{Facing: timeline.SideRight}, cam)
	for _, p := range timeline.Points() {
		a, b := left.Landmarks[p], right.Landmarks[p]
		if math.Abs(800-a.X-b.X) > 1e-9 || math.Abs(a.Y-b.Y) > 1e-9 {
			t.Errorf("%s: left %v, right %v", p, a, b)
		}
	}
}

func TestAPoseMovesItsPartAndNoOther(t *testing.T) {
	d := Dog{Seed: 4, WithersMM: 350}
	cam := Frame(d, 1000, 750)
	at := func(p Pose) timeline.Landmarks { return TruthOf(d, RingReady(18), p, cam).SkinLandmarks }
	still := at(Pose{})
	moved := func(p Pose, k timeline.Point) float64 {
		m := at(p)
		return math.Hypot(m[k].X-still[k].X, m[k].Y-still[k].Y) * cam.MMPerPX
	}
	for _, c := range []struct {
		name  string
		pose  Pose
		point timeline.Point
		min   float64
		max   float64
	}{
		{"head up moves the nose", Pose{HeadDeg: 10}, timeline.Nose, 35, 60},
		{"head up leaves the withers", Pose{HeadDeg: 10}, timeline.WithersPt, 0, 1e-9},
		{"head up leaves the point of chest", Pose{HeadDeg: 10}, timeline.Prosternum, 0, 1e-9},
		{"back up moves mid-back by as much", Pose{BackFlexMM: 8}, timeline.MidBack, 7.8, 8.01},
		{"back up leaves the tail set nearly", Pose{BackFlexMM: 8}, timeline.TailSet, 0, 0.4},
		{"hind feet back", Pose{HindFeetMM: 20}, timeline.HindPaw, 18, 22},
		{"hind feet back leave the front paw", Pose{HindFeetMM: 20}, timeline.FrontPaw, 0, 1e-9},
		{"forefeet back", Pose{ForeFeetMM: 12}, timeline.FrontPaw, 11, 12.1},
		{"forefeet back leave the elbow nearly", Pose{ForeFeetMM: 12}, timeline.Elbow, 0, 1},
	} {
		if got := moved(c.pose, c.point); got < c.min || got > c.max {
			t.Errorf("%s: %s moves %.2f mm, want %.2f to %.2f", c.name, c.point, got, c.min, c.max)
		}
	}
	if at(Pose{HeadDeg: 10})[timeline.Nose].Y >= still[timeline.Nose].Y {
		t.Error("a raised head should raise the nose")
	}
}

func TestTheSameSeedGivesTheSamePixels(t *testing.T) {
	d, c, p, cam := random(5, 320, 240)
	a, ta := Render(d, c, p, cam, Scene{})
	b, tb := Render(d, c, p, cam, Scene{})
	if !bytes.Equal(a.Pix, b.Pix) || !slices.Equal(ta.Outline, tb.Outline) {
		t.Error("two renders of the same arguments differ")
	}
	cam.Seed++
	e, te := Render(d, c, p, cam, Scene{})
	if bytes.Equal(a.Pix, e.Pix) || slices.Equal(ta.Outline, te.Outline) {
		t.Error("another seed gives the same picture")
	}
	if slices.Equal(te.SkinLine, ta.SkinLine) == false {
		t.Error("the skin moves with the camera's seed")
	}
}

func TestTheDogIsSeenWhereTheMaskSaysSo(t *testing.T) {
	d := Dog{Seed: 9, WithersMM: 360, Colour: White}
	cam := Frame(d, 1000, 750)
	cam.NoiseSD = 0
	img, tr := Render(d, Overgrown(40), Pose{}, cam, Rooms()[1])
	// The room alone: the same camera looking at the same place with the dog far outside.
	wallOff := 0
	r := room{scene: Rooms()[1], v: cam.view(timeline.SideLeft), h: d.WithersMM}
	empty := &canvas{img: newImage(1000, 750), w: 1000, h: 750}
	r.draw(empty, cam)
	develop(empty.img, cam)
	dogSame, dog := 0, 0
	for i, m := range tr.Mask.Pix {
		diff := 0
		for c := range 3 {
			diff = max(diff, int(math.Abs(float64(img.Pix[4*i+c])-float64(empty.img.Pix[4*i+c]))))
		}
		_, y := r.v.mm(float64(i%1000), float64(i/1000))
		switch {
		case m == 255:
			dog++
			if diff < 6 {
				dogSame++
			}
		case y > tableBackMM+2 && diff > 40:
			wallOff++
		}
	}
	if float64(dogSame) > 0.04*float64(dog) {
		t.Errorf("%d of %d dog pixels look like the empty room", dogSame, dog)
	}
	// Single wisps may end outside.
	if float64(wallOff) > 0.02*float64(dog) {
		t.Errorf("%d pixels outside the mask are no wall", wallOff)
	}
}

func TestOddInputIsDrawnWithoutPanic(t *testing.T) {
	bald := Coat{}
	for _, z := range timeline.Zones() {
		bald[z] = ZoneCoat{}
	}
	for name, f := range map[string]func() Truth{
		"tiny picture": func() Truth {
			_, tr := Render(Dog{}, RingReady(18), Pose{}, Camera{WidthPX: 3, HeightPX: 2}, Scene{})
			return tr
		},
		"dog out of sight": func() Truth {
			_, tr := Render(Dog{}, RingReady(18), Pose{}, Camera{WidthPX: 60, HeightPX: 40, MMPerPX: 1, CenterXMM: 5000}, Scene{})
			return tr
		},
		"close up": func() Truth {
			_, tr := Render(Dog{}, RingReady(18), Pose{}, Camera{WidthPX: 90, HeightPX: 60, MMPerPX: 0.5, CenterYMM: 300}, Scene{})
			return tr
		},
		"upside down": func() Truth {
			_, tr := Render(Dog{}, RingReady(18), Pose{}, Camera{WidthPX: 90, HeightPX: 60, MMPerPX: 9, RollDeg: 180}, Scene{})
			return tr
		},
		"no coat said": func() Truth {
			_, tr := Render(Dog{}, nil, Pose{}, Camera{WidthPX: 90, HeightPX: 60}, Scene{})
			return tr
		},
		"a dog without hair": func() Truth {
			_, tr := Render(Dog{}, bald, Pose{}, Camera{WidthPX: 90, HeightPX: 60}, Scene{})
			return tr
		},
		"very long hair": func() Truth {
			_, tr := Render(Dog{}, Overgrown(110), Pose{}, Camera{WidthPX: 90, HeightPX: 60}, Scene{})
			return tr
		},
	} {
		t.Run(name, func(t *testing.T) {
			tr := f()
			if len(tr.Outline) < 100 || len(tr.Landmarks) != 12 {
				t.Errorf("truth is incomplete: %d vertices, %d points", len(tr.Outline), len(tr.Landmarks))
			}
			for _, p := range tr.Outline {
				if math.IsNaN(p.X) || math.IsNaN(p.Y) {
					t.Fatal("NaN in the outline")
				}
			}
		})
	}
}

func TestLandmarksFileReadsBack(t *testing.T) {
	tr := TruthOf(random(1, 320, 240))
	var b bytes.Buffer
	if err := WriteLandmarks(&b, map[string]timeline.Landmarks{"a.jpg": tr.Landmarks}); err != nil {
		t.Fatal(err)
	}
	var back map[string]timeline.Landmarks
	if err := json.Unmarshal(b.Bytes(), &back); err != nil {
		t.Fatal(err)
	}
	for p, at := range tr.Landmarks {
		if got := back["a.jpg"][p]; math.Hypot(got.X-at.X, got.Y-at.Y) > 1e-9 {
			t.Errorf("%s: wrote %v, read %v", p, at, got)
		}
	}
}

func TestASampleIsVariedAndCanBeStopped(t *testing.T) {
	seen := map[string]bool{}
	for s := range Sample(7, 2, 2, 2) {
		seen[s.Name] = true
		if s.Camera.WidthPX != 2016 || s.DayOffset != 14*s.Session {
			t.Errorf("%s: day %d", s.Name, s.DayOffset)
		}
		if len(seen) == 3 {
			break
		}
	}
	if !seen["dog1-session1-photo1.jpg"] || !seen["dog1-session2-photo1.jpg"] || len(seen) != 3 {
		t.Errorf("names %v", seen)
	}
}
