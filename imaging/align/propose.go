package align

import (
	"image"

	"thatch/timeline"
)

// Proposal is where the points of a new photo probably are.
type Proposal struct {
	Landmarks  timeline.Landmarks
	Confidence map[timeline.Point]float64 // 0 (a mere placeholder) to 1
	Facing     timeline.Side
	Found      bool // the dog was found in the new photo; false: the old places, scaled
}

// Propose finds the points of prev again in next.
func Propose(prev *image.NRGBA, prevLandmarks timeline.Landmarks, prevFacing timeline.Side, next *image.NRGBA) Proposal {
	return Proposal{}
}
