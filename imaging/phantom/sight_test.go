package phantom

import (
	"math"
	"testing"

	"thatch/timeline"
)

// turned is a dog of the seed that stands askew before a pinhole.
func turned(seed int64) (Dog, Coat, Pose, Camera) {
	d, c, p, cam := random(seed, 1344, 1008)
	p.YawDeg, p.PitchDeg = -12+4*float64(seed%7), -5+2.5*float64(seed%5)
	cam.DistanceMM = 2000 + 125*float64(seed%9)
	return d, c, p, cam
}

// pinhole projects by the textbook's K·[R|t] (Hartley, Zisserman, Multiple View Geometry, ch. 6; kind A), written
// without a word of sight and view: the dog's place (x behind, y up, z toward the camera) is turned by the yaw, set in
// front of the camera, divided by its distance and turned by the roll.
func pinhole(d Dog, p Pose, cam Camera, x, y, z float64) (px, py float64) {
	d = d.orDefaults()
	middle := 0.33 * d.WithersMM * d.Build.Body
	yaw, roll := p.YawDeg*math.Pi/180, cam.RollDeg*math.Pi/180
	right := middle + (x-middle)*math.Cos(yaw) - z*math.Sin(yaw) - cam.CenterXMM
	near := (x-middle)*math.Sin(yaw) + z*math.Cos(yaw)
	if p.Facing == timeline.SideRight {
		right = -right
	}
	down := cam.CenterYMM - y
	f := cam.DistanceMM / cam.MMPerPX
	u, v := f*right/(cam.DistanceMM-near), f*down/(cam.DistanceMM-near)
	return float64(cam.WidthPX-1)/2 + u*math.Cos(roll) - v*math.Sin(roll), float64(cam.HeightPX-1)/2 + u*math.Sin(roll) + v*math.Cos(roll)
}

func TestPlacesGoThroughATextbookPinhole(t *testing.T) {
	for seed := range int64(9) {
		d, c, p, cam := turned(seed)
		tr := TruthOf(d, c, p, cam)
		s := stand(d.orDefaults(), p)
		for name, at := range map[timeline.Point][3]float64{timeline.Eye: eyePlace, timeline.Elbow: elbowPlace} {
			x, y := s.place(at[0], at[1])
			px, py := pinhole(d, p, cam, x, y, at[2]*s.mm)
			if e := math.Hypot(px-tr.Landmarks[name].X, py-tr.Landmarks[name].Y); e > 1e-6 {
				t.Errorf("seed %d: %s is off by %g px", seed, name, e)
			}
		}
		if math.Abs(tr.FocalPX*cam.MMPerPX-cam.DistanceMM) > 1e-9 {
			t.Errorf("focal length %.3f px", tr.FocalPX)
		}
		// The scale where the optical axis meets the dog's plane: a vertical millimetre there.
		x0 := 0.33 * d.WithersMM * d.Build.Body
		x := x0 + (cam.CenterXMM-x0)/math.Cos(p.YawDeg*math.Pi/180)
		ax, ay := pinhole(d, p, cam, x, cam.CenterYMM-0.5, 0)
		bx, by := pinhole(d, p, cam, x, cam.CenterYMM+0.5, 0)
		if got := 1 / math.Hypot(bx-ax, by-ay); math.Abs(got/tr.MMPerPX-1) > 1e-9 {
			t.Errorf("seed %d: %.9f mm a px at the axis, truth says %.9f", seed, got, tr.MMPerPX)
		}
	}
}

// Kind A: the body's surface at a vertex is swept in small steps through the textbook's pinhole; nothing of it may be
// seen further out than skin line and outline say.
func TestSkinLineAndOutlineAreTheContoursOfTheRoundedBody(t *testing.T) {
	for seed := range int64(9) {
		d, c, p, cam := turned(seed)
		m := model(d, c, p, cam)
		for i := 0; i < len(m.near); i += 7 {
			v := m.near[i]
			_, tipY := v.tip()
			if v.y < 2 || tipY < 2 || v.depth > 3*v.round { // soles are cut off at the table
				continue
			}
			for _, one := range []struct {
				what         string
				radius, x, y float64
			}{{"skin", v.round, v.sx, v.sy}, {"coat", v.round + v.depth + v.rough, v.tx, v.ty}} {
				at := m.v.xy(one.x, one.y)
				// Outward in the picture: from the centre of the rounding to its seen edge.
				cx, cy := v.x-v.round*v.nx, v.y-v.round*v.ny
				ox, oy := pinhole(d, p, cam, cx, cy, v.z)
				ux, uy := at.X-ox, at.Y-oy
				l := math.Hypot(ux, uy)
				ux, uy = ux/l, uy/l
				best := math.Inf(-1)
				for deg := -60.0; deg <= 60; deg += 0.1 {
					sin, cos := math.Sincos(deg * math.Pi / 180)
					x, y := pinhole(d, p, cam, cx+one.radius*v.nx*cos, cy+one.radius*v.ny*cos, v.z+one.radius*sin)
					best = max(best, (x-ox)*ux+(y-oy)*uy)
				}
				if math.Abs(best-l) > 0.02+0.004*l {
					t.Errorf("seed %d vertex %d (%s): the %s reaches %.3f px, its line lies at %.3f", seed, i, v.zone, one.what, best, l)
				}
			}
		}
	}
}

func TestATurnedDogIsForeshortenedAndHasKeystone(t *testing.T) {
	d := Dog{Seed: 2}
	cam := Frame(d, 1344, 1008)
	length := func(p Pose, c Camera) float64 {
		l := TruthOf(d, RingReady(18), p, c).SkinLandmarks
		return l[timeline.TailSet].X - l[timeline.WithersPt].X
	}
	square := length(Pose{}, cam)
	for _, yaw := range []float64{-15, -5, 10, 20} {
		if got, want := length(Pose{YawDeg: yaw}, cam)/square, math.Cos(yaw*math.Pi/180); math.Abs(got-want) > 0.012 {
			t.Errorf("yaw %v°: the trunk is %.4f as long, cos is %.4f", yaw, got, want)
		}
	}
	// The rounded rear moves less than a flat picture's would: a flat one loses 1.5 % of its half length at 10°.
	// Keystone: with the tail nearer, heights at the rear look larger by about z/D against those at the front.
	cam.DistanceMM = 2200
	tall := func(p Pose) float64 {
		l := TruthOf(d, Coat{}, p, cam).SkinLandmarks
		return (l[timeline.HindPaw].Y - l[timeline.TailSet].Y) / (l[timeline.FrontPaw].Y - l[timeline.WithersPt].Y)
	}
	turn := tall(Pose{YawDeg: 12}) / tall(Pose{YawDeg: -12})
	apart := 0.66 * 350 * math.Sin(12*math.Pi/180) / 2200
	if turn < 1+1.2*apart || turn > 1+2.8*apart {
		t.Errorf("rear to front changes by %.4f between the turns, want about %.4f", turn, 1+2*apart)
	}
}

func TestAFarPinholeIsTheOrthographicCamera(t *testing.T) {
	d, c, p, cam := random(4, 1344, 1008)
	a := TruthOf(d, c, p, cam)
	cam.DistanceMM = 1e8
	b := TruthOf(d, c, p, cam)
	for i, q := range a.SkinLine {
		if math.Hypot(q.X-b.SkinLine[i].X, q.Y-b.SkinLine[i].Y) > 0.01 {
			t.Fatalf("vertex %d: %v and %v", i, q, b.SkinLine[i])
		}
	}
}

func TestDepthIsSeenInFullAtTheContourOfATurnedDog(t *testing.T) {
	for seed := range int64(8) {
		d, c, p, cam := turned(seed)
		tr := TruthOf(d, c, p, cam)
		for z, got := range measuredDepth(tr) {
			// Parts up to 200 mm nearer than the dog's plane look a tenth larger.
			if want := tr.DepthMM[z]; math.Abs(got-want) > 0.35+0.1*want {
				t.Errorf("seed %d %s: %.2f mm in the picture, %.2f on the dog", seed, z, got, want)
			}
		}
		if len(tr.Depths) != len(tr.SkinLine) {
			t.Fatalf("%d depths of %d vertices", len(tr.Depths), len(tr.SkinLine))
		}
	}
}

func TestDepthsAreTheSameInEveryPictureOfACoat(t *testing.T) {
	d, c, _, cam := random(3, 640, 480)
	a := TruthOf(d, c, Pose{}, cam)
	cam.Seed, cam.DistanceMM = 77, 2000
	b := TruthOf(d, c, Pose{YawDeg: 9}, cam)
	for i := range a.Depths {
		if a.Depths[i] != b.Depths[i] || a.SkinZones[i] != b.SkinZones[i] {
			t.Fatalf("vertex %d: %v and %v", i, a.Depths[i], b.Depths[i])
		}
	}
}

func TestPitchTiltsTheTrunkAndLeavesTheFeet(t *testing.T) {
	d := Dog{Seed: 4, WithersMM: 350}
	cam := Frame(d, 1000, 750)
	at := func(p Pose, k timeline.Point) timeline.XY { return TruthOf(d, RingReady(18), p, cam).SkinLandmarks[k] }
	lift := func(k timeline.Point) float64 {
		return (at(Pose{}, k).Y - at(Pose{PitchDeg: 5}, k).Y) * cam.MMPerPX
	}
	// Kind A: x − middle times the sine of 5°, in hundredths of 350 mm.
	for k, want := range map[timeline.Point]float64{
		timeline.WithersPt: 33 * 3.5 * math.Sin(5*math.Pi/180), timeline.TailSet: (33 - 65.5) * 3.5 * math.Sin(5*math.Pi/180),
		timeline.FrontPaw: 0, timeline.HindPaw: 0,
	} {
		if got := lift(k); math.Abs(got-want) > 0.6 {
			t.Errorf("%s rises by %.2f mm, want %.2f", k, got, want)
		}
	}
}
