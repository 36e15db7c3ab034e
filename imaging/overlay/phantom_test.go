package overlay_test

import (
	"math"
	"math/rand/v2"
	"sort"
	"testing"

	"thatch/imaging/overlay"
	"thatch/imaging/phantom"
	"thatch/timeline"
)

// The skin line drawn from tapped points and known depths against the phantom's own: how far a few points reach.
// Distances in mm. Limits: what a curve through five points can do, back and loin tight, crest looser, since nothing is tapped on a neck.
func TestTheSkinLineOfAPhantomIsNearItsTruth(t *testing.T) {
	rnd := rand.New(rand.NewPCG(8, 1))
	off := map[timeline.Zone][]float64{}
	agree, all := 0, 0
	for k := range 8 {
		dog := phantom.Dog{Seed: int64(400 + k), WithersMM: 300 + 90*rnd.Float64()}
		_, truth := phantom.Render(dog, phantom.RingReady(16+20*rnd.Float64()), phantom.Pose{HeadDeg: 12*rnd.Float64() - 6, BackFlexMM: 10*rnd.Float64() - 5}, phantom.Frame(dog, 640, 480), phantom.Scene{})
		depth := map[timeline.Zone]float64{}
		for z, mm := range truth.DepthMM {
			depth[z] = mm / truth.MMPerPX
		}
		c, err := overlay.SkinLine(truth.Landmarks, depth, truth.Facing)
		if err != nil {
			t.Fatal(err)
		}
		for _, st := range c.Strokes {
			for _, s := range st {
				d, zone := math.Inf(1), timeline.Zone("")
				for i, q := range truth.SkinLine {
					if r := math.Hypot(q.X-s.At.X, q.Y-s.At.Y); r < d {
						d, zone = r, truth.SkinZones[i]
					}
				}
				off[s.Zone] = append(off[s.Zone], d*truth.MMPerPX)
				if all++; zone == s.Zone {
					agree++
				}
			}
		}
	}
	limit := map[timeline.Zone]float64{timeline.Back: 2, timeline.Loin: 2, timeline.Withers: 3, timeline.Crest: 5, timeline.Rump: 3, timeline.Thigh: 3, timeline.Forechest: 4}
	for _, z := range timeline.Zones() {
		v := off[z]
		if len(v) == 0 {
			continue
		}
		sort.Float64s(v)
		m := v[len(v)/2]
		t.Logf("%10s median %.2f mm p95 %.2f", z, m, v[len(v)*95/100])
		if !(m <= limit[z]) {
			t.Errorf("%s: median %.2f mm off the skin, want ≤ %.1f", z, m, limit[z])
		}
	}
	t.Logf("zone agrees with the phantom's at %d of %d samples", agree, all)
}
