package measure

import (
	"math"

	"thatch/timeline"
)

// Depth is how far a coat stands off the body, with its standard deviation.
type Depth struct{ MM, SDMM float64 }

// Shot is one side-on photo as it is measured.
type Shot struct {
	Outline   []XY // the dog's edge, closed, px of the upright photo
	Landmarks timeline.Landmarks
	Facing    timeline.Side // where the nose points
	WidthPX   int           // of the upright photo, uncropped: the camera looks at its middle
	HeightPX  int
	MMPerPX   float64 // at the dog
	SDMMPerPX float64
	// DistanceMM from the camera to the dog, for what perspective does to a dog that is turned a little; 0: not known.
	DistanceMM float64
	TapSDPX    float64                // error of a coordinate of a point; 0: 0.25 % of the body's length
	Skip       map[timeline.Zone]bool // zones whose edge is not to be used: not confirmed, crossed by a lead
	Sitting    int                    // index of the sitting it belongs to
}

// Sitting is a time at which the coat stood still: one phase of a session. What the coat model expects has no place here: what
// is measured is to test it.
type Sitting struct {
	ByHand map[timeline.Zone]Depth // readings by comb
}

// bodyShare is the usual tap error, as a share of the body's length (point of chest to point of buttock).
const bodyShare = 0.0025

// minScale and maxScale bound what a phone photo of a dog can have, mm per px.
const minScale, maxScale = 0.01, 20

// view is a shot in the dog's own sense: mm from the middle of the picture, x to the rear, y up.
type view struct {
	shot     *Shot
	walk     *contour
	zones    []timeline.Zone
	edge     []XY // of the walk, mm
	marks    timeline.Landmarks
	tapMM    float64
	scaleSD  float64 // of the log of the scale
	distance float64
	mirror   float64 // −1 where the nose points right
	cx, cy   float64
	bodyMM   float64
}

func newView(s *Shot) (*view, bool) {
	if !(s.MMPerPX > minScale && s.MMPerPX < maxScale) || s.SDMMPerPX < 0 || math.IsNaN(s.SDMMPerPX) || s.WidthPX <= 0 || s.HeightPX <= 0 {
		return nil, false
	}
	c, ok := walk(s.Outline, s.Landmarks, s.Facing)
	if !ok {
		return nil, false
	}
	v := &view{shot: s, walk: c, zones: c.zones(s.Landmarks), mirror: 1, distance: s.DistanceMM,
		cx: float64(s.WidthPX-1) / 2, cy: float64(s.HeightPX-1) / 2, scaleSD: s.SDMMPerPX / s.MMPerPX, marks: timeline.Landmarks{}}
	if s.Facing == timeline.SideRight {
		v.mirror = -1
	}
	if v.distance <= 0 {
		v.distance = usualDistanceMM
	}
	for _, p := range c.at {
		v.edge = append(v.edge, v.mm(p))
	}
	for p, xy := range s.Landmarks {
		if s := xy.X + xy.Y; !math.IsNaN(s) && !math.IsInf(s, 0) {
			v.marks[p] = v.mm(xy)
		}
	}
	v.bodyMM = 1.45 * c.back * s.MMPerPX // where chest or buttock is not placed; by the drawn dogs' proportions
	if a, has := v.marks[timeline.Prosternum]; has {
		if b, has := v.marks[timeline.Buttock]; has {
			v.bodyMM = math.Hypot(a.X-b.X, a.Y-b.Y)
		}
	}
	v.tapMM = s.TapSDPX * s.MMPerPX
	if !(v.tapMM > 0) {
		v.tapMM = bodyShare * v.bodyMM
	}
	return v, true
}

// usualDistanceMM is that of the protocol, where the photo does not tell.
const usualDistanceMM = 2500

func (v *view) mm(p XY) XY {
	return XY{X: v.mirror * (p.X - v.cx) * v.shot.MMPerPX, Y: -(p.Y - v.cy) * v.shot.MMPerPX}
}
