package phantom

import (
	"encoding/json"
	"image"
	"io"

	"thatch/timeline"
)

// Truth is what is exactly known of a phantom picture. Places are pixels of the upright picture, the centre of
// the top left pixel being (0, 0).
type Truth struct {
	Landmarks     timeline.Landmarks        // all points where a groomer taps: those at the dog's edge lie on the visible outline
	SkinLandmarks timeline.Landmarks        // the same without the coat
	Mask          *image.Gray               // 255 dog, 0 not; a pixel is dog where at least half of it is
	SkinLine      []timeline.XY             // closed, of the near side: head, back, tail, near hind leg, belly, near foreleg, chest
	SkinZones     []timeline.Zone           // of each vertex of SkinLine; "" where no zone is measured (nose, toes, soles)
	Outline       []timeline.XY             // closed and free of loops, the same parts with their coat
	OutlineZones  []timeline.Zone           // of each vertex of Outline
	Far           [][]timeline.XY           // closed: the far legs as far as they are drawn, which the mask contains as well
	DepthMM       map[timeline.Zone]float64 // of the zones in the outline: median along the zone, along the skin's normal
	MMPerPX       float64
	RollDeg       float64
	Facing        timeline.Side
	WithersMM     float64
}

// WriteLandmarks writes a landmarks file: {"photo.jpg":{"withers":[x,y],…}}, names in order.
func WriteLandmarks(w io.Writer, of map[string]timeline.Landmarks) error {
	e := json.NewEncoder(w)
	e.SetIndent("", " ")
	return e.Encode(of)
}
