package align

import (
	"math"

	"thatch/timeline"
)

// TapeSD are the standard deviations that go into a scale by two marks a known distance apart.
type TapeSD struct {
	MM    float64 // of the distance between the marks
	TapPX float64 // of a coordinate of a tapped mark
}

// ScaleFromTape is the scale of a photo in mm per px, and its standard deviation, from two marks mm apart that were pointed at:
// s = L/l, with l the distance in px, and (σs/s)² = (σL/L)² + 2(σtap/l)² (propagation of errors, JCGM 100:2008, 5.1.2; each
// end's error along the tape enters once). It holds for the plane of the tape. The error is a Fault of kind Invalid.
func ScaleFromTape(a, b XY, mm float64, sd TapeSD) (mmPerPX, sdMMPerPX float64, err error) {
	l := distance(a, b)
	for _, v := range []float64{mm, sd.MM, sd.TapPX} {
		if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
			return 0, 0, timeline.NewFault(timeline.Invalid, "fault.align.scale_number").At("scale from tape")
		}
	}
	if !finite(a) || !finite(b) || l < 10 || mm == 0 {
		return 0, 0, timeline.NewFault(timeline.Invalid, "fault.align.tape_short").At("scale from tape")
	}
	s := mm / l
	return s, s * math.Hypot(sd.MM/mm, math.Sqrt2*sd.TapPX/l), nil
}
