package align

import (
	"io"

	"thatch/timeline"
)

// ReadLandmarks reads {"photo.jpg":{"withers":[x,y],…},…}. Unknown points are refused by name and place.
func ReadLandmarks(r io.Reader) (map[string]timeline.Landmarks, error) { return nil, nil }

// WriteLandmarks writes what ReadLandmarks reads: photos by name, points in their order.
func WriteLandmarks(w io.Writer, m map[string]timeline.Landmarks) error { return nil }
