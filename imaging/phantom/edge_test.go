package phantom

import (
	"image"
	"image/color"
	"math"
	"testing"

	"thatch/timeline"
)

// coverage is how much of each pixel the dog covers, 0 to 1, from two pictures of it before walls of different grey
// and the same walls empty (Smith, Blinn 1996, Blue screen matting, SIGGRAPH: two backgrounds determine it). NaN where
// the walls do not differ. Kind A.
func coverage(d Dog, coat Coat, p Pose, cam Camera) []float64 {
	cam.NoiseSD, cam.Exposure, cam.WhiteBalance = 0, -1, 0 // below the camera's shoulder it is linear
	scene := func(grey uint8) Scene {
		g := color.NRGBA{grey, grey, grey, 255}
		return Scene{Wall: g, Trim: g, Table: g, LightX: 0.5}
	}
	with := func(grey uint8) *image.NRGBA {
		img, _ := Render(d, coat, p, cam, scene(grey))
		return img
	}
	without := func(grey uint8) *image.NRGBA {
		img := newImage(cam.WidthPX, cam.HeightPX)
		m := model(d, nil, p, cam)
		room{scene: scene(grey), v: m.v, h: m.s.dog.WithersMM}.draw(&canvas{img: img, w: cam.WidthPX, h: cam.HeightPX}, cam)
		develop(img, cam)
		return img
	}
	dark, pale, noDark, noPale := with(40), with(210), without(40), without(210)
	out := make([]float64, cam.WidthPX*cam.HeightPX)
	for i := range out {
		wall := float64(noPale.Pix[4*i+1]) - float64(noDark.Pix[4*i+1])
		if wall < 60 {
			out[i] = math.NaN()
			continue
		}
		out[i] = 1 - (float64(pale.Pix[4*i+1])-float64(dark.Pix[4*i+1]))/wall
	}
	return out
}

func bilinear(a []float64, w, h int, x, y float64) float64 {
	i, j := int(math.Floor(x)), int(math.Floor(y))
	if i < 0 || j < 0 || i+1 >= w || j+1 >= h {
		return math.NaN()
	}
	u, v := x-float64(i), y-float64(j)
	return (a[j*w+i]*(1-u)+a[j*w+i+1]*u)*(1-v) + (a[(j+1)*w+i]*(1-u)+a[(j+1)*w+i+1]*u)*v
}

const (
	profileMM = 9.0
	profileBy = 0.1
)

// profiles is the coverage across the outline of each zone, from profileMM inside to profileMM outside, summed over
// the stations that have the wall outside, and how many these are, stepMM apart.
func profiles(d Dog, coat Coat, p Pose, cam Camera) (sum map[timeline.Zone][]float64, count map[timeline.Zone]int) {
	cov := coverage(d, coat, p, cam)
	m := model(d, coat, p, cam)
	sum, count = map[timeline.Zone][]float64{}, map[timeline.Zone]int{}
	one := make([]float64, int(2*profileMM/profileBy)+1)
	for i := range m.near {
		v := &m.near[i]
		if !v.zone.InOutline() || !v.shown {
			continue
		}
		ok := true
		for k := range one {
			h := -profileMM + profileBy*float64(k)
			q := m.v.xy(v.tx+v.snx*h, v.ty+v.sny*h)
			one[k] = bilinear(cov, cam.WidthPX, cam.HeightPX, q.X, q.Y)
			if math.IsNaN(one[k]) {
				ok = false
				break
			}
		}
		// Outside no other part of the dog, nor what its strands reach: the tail beside the rump, a far leg.
		for h := -4.0; ok && h <= profileMM+4; h += 0.5 {
			for _, side := range []float64{-5, -2.5, 0, 2.5, 5} {
				q := m.v.xy(v.tx+v.snx*h+v.sny*side, v.ty+v.sny*h-v.snx*side)
				x, y := int(q.X+0.5), int(q.Y+0.5)
				if x < 0 || y < 0 || x >= cam.WidthPX || y >= cam.HeightPX {
					continue
				}
				if at := y*cam.WidthPX + x; m.farCov[at] > 0 || h > 3 && m.nearCov[at] > 0 {
					ok = false
				}
			}
		}
		if !ok {
			continue
		}
		if sum[v.zone] == nil {
			sum[v.zone] = make([]float64, len(one))
		}
		count[v.zone]++
		for k := range one {
			sum[v.zone][k] += one[k]
		}
	}
	return sum, count
}

// halfAt is where the profile passes below a half for the last time, mm outside the outline.
func halfAt(s []float64) float64 {
	for k := len(s) - 2; k >= 0; k-- {
		if s[k] >= 0.5 && s[k+1] < 0.5 {
			return -profileMM + profileBy*(float64(k)+(s[k]-0.5)/(s[k]-s[k+1]))
		}
	}
	return math.NaN()
}

// Half of the coverage of each zone reaches the outline, within 0.3 mm in the mean of a few dogs of each length of coat.
func TestHalfOfTheCoverageReachesTheOutline(t *testing.T) {
	for _, coat := range []struct {
		name string
		coat Coat
		pose Pose
		cam  Camera
	}{
		{"short", RingReady(12), Pose{}, Camera{}},
		{"ring ready", RingReady(18), Pose{YawDeg: 8}, Camera{DistanceMM: 2400}},
		{"longer", Overgrown(24), Pose{YawDeg: -8, PitchDeg: 3}, Camera{DistanceMM: 2100, MMPerPX: 1.1}},
		{"overgrown", Overgrown(40), Pose{}, Camera{MMPerPX: 1.3}},
	} {
		t.Run(coat.name, func(t *testing.T) {
			pooled, n := map[timeline.Zone][]float64{}, map[timeline.Zone]int{}
			for seed := range int64(3) {
				d := RandomDog(140 + seed)
				cam := Frame(d, 2016, 1512)
				cam.DistanceMM = coat.cam.DistanceMM
				if coat.cam.MMPerPX > 0 {
					cam.MMPerPX *= coat.cam.MMPerPX
				}
				sum, count := profiles(d, coat.coat, coat.pose, cam)
				for z, s := range sum {
					if pooled[z] == nil {
						pooled[z] = make([]float64, len(s))
					}
					for k := range s {
						pooled[z][k] += s[k]
					}
					n[z] += count[z]
				}
			}
			tested := 0
			for _, z := range timeline.Zones() {
				const least = 60 // 36 mm, some twenty clumps
				if n[z] < least {
					continue
				}
				s := pooled[z]
				for k := range s {
					s[k] /= float64(n[z])
				}
				off, far := halfAt(s), s[len(s)-1-10]
				t.Logf("%-9s %+.2f mm over %.0f mm", z, off, float64(n[z])*stepMM)
				if !(math.Abs(off) <= 0.3) {
					t.Errorf("%s: half of the coverage reaches %+.2f mm from the outline", z, off)
				}
				if far > 0.02 {
					t.Errorf("%s: %.3f covered at 8 mm outside", z, far)
				}
				tested++
			}
			if tested < 10 {
				t.Errorf("only %d zones before the wall", tested)
			}
		})
	}
}

// A rough coat: single strands beyond the outline, gaps below it.
func TestTheEdgeIsMadeOfStrandsAndGaps(t *testing.T) {
	d := RandomDog(150)
	cam := Frame(d, 2016, 1512)
	coat := Overgrown(36)
	cov := coverage(d, coat, Pose{}, cam)
	m := model(d, coat, Pose{}, cam)
	share := func(h float64, is func(a float64) bool) float64 {
		yes, all := 0.0, 0.0
		for i := range m.near {
			v := &m.near[i]
			if v.zone != timeline.Back && v.zone != timeline.Crest || !v.shown {
				continue
			}
			q := m.v.xy(v.tx+v.snx*h, v.ty+v.sny*h)
			all++
			if is(bilinear(cov, cam.WidthPX, cam.HeightPX, q.X, q.Y)) {
				yes++
			}
		}
		return yes / all
	}
	// Standard deviation of where a straight look along the normal meets the first hair.
	ups := func() float64 {
		var n, sum, sq float64
		for i := range m.near {
			v := &m.near[i]
			if v.zone != timeline.Back || !v.shown {
				continue
			}
			for h := 8.0; h > -8; h -= 0.1 {
				q := m.v.xy(v.tx+v.snx*h, v.ty+v.sny*h)
				if bilinear(cov, cam.WidthPX, cam.HeightPX, q.X, q.Y) > 0.5 {
					n, sum, sq = n+1, sum+h, sq+h*h
					break
				}
			}
		}
		return math.Sqrt(sq/n - sum*sum/n/n)
	}
	hair := func(a float64) bool { return a > 0.25 }
	for _, c := range []struct {
		what     string
		got      float64
		min, max float64
	}{
		{"strands 2 mm beyond", share(2, hair), 0.01, 0.2},
		{"strands 3.5 mm beyond", share(3.5, hair), 0.002, 0.08},
		{"gaps 1 mm below", share(-1, func(a float64) bool { return a < 0.6 }), 0.08, 0.5},
		{"gaps 5 mm below", share(-5, func(a float64) bool { return a < 0.9 }), 0, 0.01},
		{"pixels at the edge that are neither dog nor wall", share(0, func(a float64) bool { return a > 0.1 && a < 0.9 }), 0.25, 0.95},
		{"mm that the edge is up and down", ups(), 0.5, 1.6},
	} {
		t.Logf("%s: %.3f", c.what, c.got)
		if c.got < c.min || c.got > c.max {
			t.Errorf("%s: %.3f of the back and crest, want %.3f to %.3f", c.what, c.got, c.min, c.max)
		}
	}
}
