package outline

import (
	"bytes"
	"encoding/json"
	"io"
	"math"

	"thatch/timeline"
)

const (
	maxPointsBytes = 4 << 20
	maxPoints      = 4096 // of one photo
)

// ReadPoints reads {"photo.jpg":[[x,y],…],…}: a rough closed polygon round the dog, in pixels of the upright photo. What is
// anything else is an Invalid fault whose Field says where.
func ReadPoints(r io.Reader) (map[string][]XY, error) {
	b, err := readAll(r)
	if err != nil {
		return nil, err
	}
	var raw map[string][][]float64
	if err := json.Unmarshal(b, &raw); err != nil || raw == nil {
		return nil, timeline.NewFault(timeline.Invalid, "fault.outline.not_points").At("read points").Because(err)
	}
	out := make(map[string][]XY, len(raw))
	for photo, points := range raw {
		if len(points) > maxPoints {
			return nil, timeline.NewFault(timeline.Invalid, "fault.outline.many_points", "photo", photo, "max", maxPoints).At("read points").In(photo)
		}
		polygon := make([]XY, len(points))
		for i, p := range points {
			if len(p) != 2 || math.Abs(p[0]) > 1e6 || math.Abs(p[1]) > 1e6 {
				return nil, timeline.NewFault(timeline.Invalid, "fault.outline.not_here", "n", i+1).At("read points").In(photo)
			}
			polygon[i] = XY{X: p[0], Y: p[1]}
		}
		out[photo] = polygon
	}
	return out, nil
}

// ReadStrokes reads {"photo.jpg":[{"kind":"in","points":[[x,y],…],"radius_px":12},…],…}: corrections of the edges that were
// found. What is anything else is an Invalid fault; whether a stroke can be is told where it is used.
func ReadStrokes(r io.Reader) (map[string][]Stroke, error) {
	b, err := readAll(r)
	if err != nil {
		return nil, err
	}
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	var out map[string][]Stroke
	err = d.Decode(&out)
	if _, more := d.Token(); err != nil || out == nil || more != io.EOF {
		return nil, timeline.NewFault(timeline.Invalid, "fault.outline.not_strokes").At("read strokes").Because(err)
	}
	return out, nil
}

func readAll(r io.Reader) ([]byte, error) {
	b, err := io.ReadAll(io.LimitReader(r, maxPointsBytes+1))
	if err != nil {
		return nil, timeline.NewFault(timeline.Internal, "fault.outline.unreadable").At("read points").Because(err)
	}
	if len(b) > maxPointsBytes {
		return nil, timeline.NewFault(timeline.TooLarge, "fault.outline.too_large").At("read points")
	}
	return b, nil
}
