package phantom

import (
	"encoding/json"
	"image"
	"io"

	"thatch/timeline"
)

// Truth is what is exactly known of a phantom picture. Places are pixels of the upright picture, the centre of
// the top left pixel being (0, 0). A rough coat has no sharp edge: single strands go up to 6 mm beyond the outline, and
// gaps below it; in the mean over a zone the coverage passes one half within 0.3 mm of it. Locks of several strands
// that lie higher or lower, about 1 mm, are part of the outline. Depths are those of the dog, before it is projected; where the picture shows skin
// and coat of a turned dog, each is the contour of its own surface, and at a contour the normal is seen in full.
type Truth struct {
	Landmarks     timeline.Landmarks        // all points where a groomer taps: those at the dog's edge lie on the visible outline
	SkinLandmarks timeline.Landmarks        // the same without the coat
	Mask          *image.Gray               // 255 dog, 0 not; a pixel is dog where at least half of it is
	SkinLine      []timeline.XY             // closed, of the near side: head, back, tail, near hind leg, belly, near foreleg, chest
	SkinZones     []timeline.Zone           // of each vertex of SkinLine; "" where no zone is measured (nose, toes, soles)
	Shown         []bool                    // of each vertex of SkinLine: its coat is part of the outline; false in a corner, where the coats of two places run together
	Outline       []timeline.XY             // closed and free of loops, the same parts with their coat: the line that half of the coverage reaches
	OutlineZones  []timeline.Zone           // of each vertex of Outline
	Far           [][]timeline.XY           // closed: the far legs as far as they are drawn, which the mask contains as well
	DepthMM       map[timeline.Zone]float64 // of the zones in the outline: median along the zone, along the skin's normal, single locks included
	Depths        []float64                 // of each vertex of SkinLine, mm along the normal: the coat as it stands, the same in every picture of it
	MMPerPX       float64                   // of the dog's sagittal plane where the optical axis meets it, across the turn (a turned dog is foreshortened by cos yaw along it)
	FocalPX       float64                   // 0: orthographic
	RollDeg       float64
	YawDeg        float64
	PitchDeg      float64
	Facing        timeline.Side
	WithersMM     float64
	Crossed       map[timeline.Zone]string // zones of the outline that a lead or a hand lies across: "lead", "hand"
	Board         []timeline.XY            // corners of Scene.Board's image: top left, top right, bottom right, bottom left; empty without one
}

// WriteLandmarks writes a landmarks file: {"photo.jpg":{"withers":[x,y],…}}, names in order.
func WriteLandmarks(w io.Writer, of map[string]timeline.Landmarks) error {
	e := json.NewEncoder(w)
	e.SetIndent("", " ")
	return e.Encode(of)
}
