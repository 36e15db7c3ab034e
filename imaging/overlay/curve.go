package overlay

import "thatch/timeline"

// XY is a place in pixels; the centre of the top left pixel is (0, 0).
type XY = timeline.XY

// Sample is one place on a Curve.
type Sample struct {
	At   XY
	Out  XY      // unit normal, away from the body
	SPX  float64 // distance along the stroke from its start, px
	Zone timeline.Zone
}

// Curve is the skin line, in strokes that do not touch: first the upper one from the occiput along the back to the
// buttock, then, where its points are placed, the forechest from above the prosternum down to the elbow.
type Curve struct{ Strokes [][]Sample }

// Zones returns the zones the curve passes, in its order.
func (c Curve) Zones() []timeline.Zone { return nil }

// SkinLine is the smooth curve through the trunk's outline points, each moved inward by its zone's depth in px
// (absent: 0). Facing may be "": told from the points.
func SkinLine(lm timeline.Landmarks, depthPX map[timeline.Zone]float64, facing timeline.Side) (Curve, error) {
	return Curve{}, nil
}

// Offset is the outline of a coat that stands depthMM(zone) off the skin. A NaN depth leaves that zone without a line.
func Offset(c Curve, depthMM func(timeline.Zone) float64, mmPerPX float64) Path { return nil }
