package align

import (
	"math"

	"thatch/timeline"
)

// ScaleSD are the standard deviations that go into a scale by the height at the withers.
type ScaleSD struct {
	HeightMM float64 // of the measured height at the withers
	DepthMM  float64 // of the depth of the coat there
	TapPX    float64 // of a coordinate of a tapped point
}

// ScaleFromWithers is the scale of a photo in mm per px, and its standard deviation, from the dog's height at the
// withers: s = (H + d)/h, where H is the height (mm, measured through the coat to the body), d the depth of the coat at
// the withers (mm) and h the distance in px of the point on the withers from the ground line through both paws.
//
// It is circular where the depth at the withers is asked: never use it for that. Its relative error is never below
// √(σ_H² + σ_d²)/H. The error is a Fault of kind Invalid.
func ScaleFromWithers(lm timeline.Landmarks, withersHeightMM, depthAtWithersMM float64, sd ScaleSD) (mmPerPX, sdMMPerPX float64, err error) {
	for _, v := range []float64{withersHeightMM, depthAtWithersMM, sd.HeightMM, sd.DepthMM, sd.TapPX} {
		if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
			return 0, 0, timeline.NewFault(timeline.Invalid, "fault.align.scale_number").At("scale from withers")
		}
	}
	if withersHeightMM == 0 {
		return 0, 0, timeline.NewFault(timeline.Invalid, "fault.align.scale_no_height").At("scale from withers")
	}
	for _, p := range []timeline.Point{timeline.WithersPt, timeline.FrontPaw, timeline.HindPaw} {
		if xy, ok := lm[p]; !ok || !finite(xy) {
			return 0, 0, timeline.NewFault(timeline.Invalid, "fault.align.scale_no_point", "point", p).At("scale from withers")
		}
	}
	w, f, h := lm[timeline.WithersPt], lm[timeline.FrontPaw], lm[timeline.HindPaw]
	base := distance(f, h)
	if base == 0 {
		return 0, 0, timeline.NewFault(timeline.Invalid, "fault.align.scale_paws_equal").At("scale from withers")
	}
	heightPX := math.Abs((h.X-f.X)*(w.Y-f.Y)-(h.Y-f.Y)*(w.X-f.X)) / base
	// A dog taller than forty times or lower than a fortieth of its stance is three points on one line, or a slip.
	if heightPX < base/40 {
		return 0, 0, timeline.NewFault(timeline.Invalid, "fault.align.scale_flat").At("scale from withers")
	}
	total := withersHeightMM + depthAtWithersMM
	s := total / heightPX
	// The foot of the perpendicular divides the paws as u : 1−u; each paw's error enters with its share.
	u := ((w.X-f.X)*(h.X-f.X) + (w.Y-f.Y)*(h.Y-f.Y)) / (base * base)
	tap := sd.TapPX * math.Sqrt(1+u*u+(1-u)*(1-u))
	rel := math.Hypot(math.Hypot(sd.HeightMM, sd.DepthMM)/withersHeightMM, tap/heightPX)
	return s, s * rel, nil
}

func finite(p XY) bool {
	s := p.X + p.Y
	return !math.IsNaN(s) && !math.IsInf(s, 0)
}
