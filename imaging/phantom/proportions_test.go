package phantom

import (
	"math"
	"testing"

	"thatch/timeline"
)

// Kind E: FCI standard 345, Jack Russell terrier: the brisket lies midway between withers and ground; 280 mm at the
// withers, 140 mm to the brisket (5.6 kg by its 1 kg for 5 cm of height, which nothing here speaks of). Our elbow lies at the
// brisket; a fiftieth of the height is allowed, for a point is no line.
func TestThePhantomStandsAsAStandardSays(t *testing.T) {
	d := Dog{Seed: 1, WithersMM: 280}
	cam := Frame(d, 1200, 900)
	to := TruthOf(d, Coat{}, Pose{}, cam)
	at := func(p timeline.Point) float64 {
		_, y := cam.orFrame(d).view(to.Facing).mm(to.SkinLandmarks[p].X, to.SkinLandmarks[p].Y)
		return y
	}
	if w := at(timeline.WithersPt); math.Abs(w-280) > 1e-6 {
		t.Errorf("withers at %.3f mm", w)
	}
	if e := at(timeline.Elbow); math.Abs(e-140) > 280.0/50 {
		t.Errorf("elbow at %.1f mm of a dog of 280 mm; the brisket is at 140", e)
	}
}
