package measure

import (
	"math"
	"testing"
)

// The edge of an upright round post is where the tangent from the camera meets it: R·D/√(D² − R²) from its middle in the plane
// through it, however it is turned; with hair on it, of the larger radius (A).
func TestTheEdgeOfARoundPostStaysWhereItIsTurned(t *testing.T) {
	const radius, distance = 60.0, 2500.0
	s := station{at: XY{X: radius}, out: XY{X: 1}, girth: radius}
	for _, depth := range []float64{0, 15} {
		r := radius + depth
		want := r * distance / math.Sqrt(distance*distance-r*r)
		for _, deg := range []float64{-20, -5, 0, 10} {
			q := pose{}
			q[qYaw] = deg * math.Pi / 180
			if got := new(body).place(&s, depth, &q, distance); math.Abs(got.X-want) > 1e-9 || math.Abs(got.Y) > 1e-9 {
				t.Errorf("%v mm of hair, turned by %v°: %+v, expected %.6f", depth, deg, got, want)
			}
		}
	}
}

// A board that is turned about its middle: its far end by perspective (A).
func TestAFlatPlaceIsForeshortenedAsAPinholeSeesIt(t *testing.T) {
	const distance = 2000.0
	s := station{at: XY{X: 150, Y: 80}, near: 30}
	q := pose{}
	q[qYaw], q[qX], q[qY] = 0.15, 40, -20
	sin, cos := math.Sincos(0.15)
	x, z := 150*cos-30*sin, 150*sin+30*cos
	k := distance / (distance - z)
	if got := new(body).place(&s, 0, &q, distance); math.Abs(got.X-k*(x+40)) > 1e-9 || math.Abs(got.Y-k*(80-20)) > 1e-9 {
		t.Errorf("%+v", got)
	}
}
