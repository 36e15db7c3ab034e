package measure

import (
	"testing"

	"thatch/imaging/phantom"
	"thatch/timeline"
)

// The drawn dogs' own zones, of which this package knows nothing, are met over most of the edge.
func TestZonesAlongTheEdgeAreThoseOfTheDrawnDogs(t *testing.T) {
	for seed := range int64(40) {
		for _, facing := range []timeline.Side{timeline.SideLeft, timeline.SideRight} {
			dog := phantom.RandomDog(seed)
			truth := phantom.TruthOf(dog, phantom.RingReady(20), phantom.Pose{Facing: facing}, phantom.Frame(dog, 2016, 1512))
			got := ZonesAlong(truth.Outline, truth.Landmarks, facing)
			right, of := map[timeline.Zone]int{}, map[timeline.Zone]int{}
			for i, z := range truth.OutlineZones {
				of[z]++
				if got[i] == z {
					right[z]++
				}
			}
			for _, z := range timeline.Zones() {
				if n := of[z]; n > 0 && float64(right[z]) < 0.7*float64(n) {
					t.Errorf("dog %d %s: of %s only %d of %d", seed, facing, z, right[z], n)
				}
			}
		}
	}
}

func TestWithoutWithersOrTailSetNoZoneIsNamed(t *testing.T) {
	dog := phantom.RandomDog(1)
	truth := phantom.TruthOf(dog, phantom.RingReady(20), phantom.Pose{}, phantom.Frame(dog, 2016, 1512))
	for _, p := range []timeline.Point{timeline.WithersPt, timeline.TailSet} {
		lm := timeline.Landmarks{}
		for q, xy := range truth.Landmarks {
			if q != p {
				lm[q] = xy
			}
		}
		for _, z := range ZonesAlong(truth.Outline, lm, timeline.SideLeft) {
			if z != "" {
				t.Fatalf("without %s the edge has a zone %s", p, z)
			}
		}
	}
}
