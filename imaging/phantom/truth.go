package phantom

import (
	"encoding/json"
	"image"
	"io"

	"thatch/timeline"
)

// Truth is what is exactly known of a phantom picture. Places are pixels of the upright picture, the centre of
// the top left pixel being (0, 0). Depths are those of the dog, before it is projected; where the picture shows skin
// and coat of a turned dog, each is the contour of its own surface, and at a contour the normal is seen in full.
type Truth struct {
	Landmarks     timeline.Landmarks        // all points where a groomer taps: those at the dog's edge lie on the visible outline
	SkinLandmarks timeline.Landmarks        // the same without the coat
	Mask          *image.Gray               // 255 dog, 0 not; a pixel is dog where at least half of it is
	SkinLine      []timeline.XY             // closed, of the near side: head, back, tail, near hind leg, belly, near foreleg, chest
	SkinZones     []timeline.Zone           // of each vertex of SkinLine; "" where no zone is measured (nose, toes, soles)
	Outline       []timeline.XY             // closed and free of loops, the same parts with their coat
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
}

// WriteLandmarks writes a landmarks file: {"photo.jpg":{"withers":[x,y],…}}, names in order.
func WriteLandmarks(w io.Writer, of map[string]timeline.Landmarks) error {
	e := json.NewEncoder(w)
	e.SetIndent("", " ")
	return e.Encode(of)
}
