package outline

import (
	"math"
	"testing"

	"thatch/timeline"
)

func TestADipAndARiseOfTheToplineAreTold(t *testing.T) {
	// A back that falls by 1 in 20, with a dip of 6 px at a third and a rise of 4 px at two thirds.
	r := Result{}
	for x := 0.0; x <= 300; x++ {
		y := 100 + x/20
		y += 6*math.Exp(-math.Pow((x-100)/12, 2)) - 4*math.Exp(-math.Pow((x-200)/12, 2))
		r.Polygon = append(r.Polygon, XY{X: x, Y: y})
	}
	r.Polygon = append(r.Polygon, XY{X: 300, Y: 300}, XY{X: 0, Y: 300})
	for name, marks := range map[string]timeline.Landmarks{
		"facing left":  {timeline.WithersPt: {X: 10, Y: 110}, timeline.TailSet: {X: 290, Y: 120}},
		"facing right": {timeline.WithersPt: {X: 290, Y: 120}, timeline.TailSet: {X: 10, Y: 110}},
	} {
		got, ok := r.Topline(marks)
		if !ok || math.Abs(got.MaxLowPX-6) > 0.2 || math.Abs(got.MaxHighPX-4) > 0.2 {
			t.Errorf("%s: %+v %v", name, got, ok)
		}
		if got.From.X != marks[timeline.WithersPt].X {
			t.Errorf("%s: from %v", name, got.From)
		}
	}
	for name, marks := range map[string]timeline.Landmarks{
		"no points": nil, "no tail set": {timeline.WithersPt: {X: 10, Y: 110}},
		"one place": {timeline.WithersPt: {X: 10, Y: 110}, timeline.TailSet: {X: 12, Y: 110}},
		"elsewhere": {timeline.WithersPt: {X: 800, Y: 110}, timeline.TailSet: {X: 900, Y: 110}},
	} {
		if got, ok := r.Topline(marks); ok {
			t.Errorf("%s: %+v", name, got)
		}
	}
}
