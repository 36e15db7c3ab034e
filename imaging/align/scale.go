package align

import "thatch/timeline"

// ScaleSD are the standard deviations that go into a scale by the height at the withers.
type ScaleSD struct {
	HeightMM float64 // of the measured height at the withers
	DepthMM  float64 // of the depth of the coat there
	TapPX    float64 // of a tapped point
}

// ScaleFromWithers is the scale in mm per px and its sd.
func ScaleFromWithers(lm timeline.Landmarks, withersHeightMM, depthAtWithersMM float64, sd ScaleSD) (mmPerPX, sdMMPerPX float64, err error) {
	return 0, 0, nil
}
