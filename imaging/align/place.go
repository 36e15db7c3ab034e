package align

import "thatch/timeline"

// Placed is a photo with its points.
type Placed struct {
	Landmarks timeline.Landmarks
	WidthPX   int // of the upright photo the points belong to
	HeightPX  int
	Facing    timeline.Side // which way the nose points in the picture; "": told from the points

	SDPX      map[timeline.Point]float64 // tap error of a point, px; absent: 0.25 % of the body's length
	DepthPX   map[timeline.Point]float64 // expected depth of the coat at an outline point, px; absent: 0
	DepthSDPX map[timeline.Point]float64 // its standard deviation, px
}

// Result lays a photo over a reference: the photo's pixels, mirrored first if Mirrored, onto the reference's.
type Result struct {
	Mirrored     bool
	Transform    Similarity // the trunk's
	Parts        map[timeline.Part]Similarity
	ScaleRatio   float64                    // of Transform
	RotationDeg  float64                    // of Transform
	RMSPX        float64                    // over the trunk points that were used, px of the reference
	ResidualsPX  map[timeline.Point]float64 // of every common point under its own part's transform, px of the reference
	StretchRatio float64                    // length against height, photo over reference; 1 for the same view; 0 not known
	YawDeg       float64                    // the turn that StretchRatio would mean, degrees
	Comparable   bool
	Why          timeline.Phrase // if not Comparable, why
}
