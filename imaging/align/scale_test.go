package align

import (
	"errors"
	"math"
	"testing"

	"thatch/timeline"
)

// A (analytic): withers 700 px over a sloping ground line, height 340 mm and 10 mm of coat: 0.5 mm per px.
func TestScaleComesFromTheHeightAtTheWithers(t *testing.T) {
	tilt := Turn(1, 6, XY{X: 500, Y: 500})
	lm := timeline.Landmarks{
		timeline.WithersPt: tilt.Apply(XY{X: 500, Y: 300}),
		timeline.FrontPaw:  tilt.Apply(XY{X: 400, Y: 1000}), timeline.HindPaw: tilt.Apply(XY{X: 1000, Y: 1000}),
	}
	s, sd, err := ScaleFromWithers(lm, 340, 10, ScaleSD{HeightMM: 3, DepthMM: 4})
	if err != nil || math.Abs(s-0.5) > 1e-12 || math.Abs(sd/s-5.0/340) > 1e-12 {
		t.Errorf("%v ± %v, %v; want 0.5, relative sd √(3² + 4²)/340", s, sd, err)
	}
	// The withers stand a sixth of the way to the hind paw: √(1 + (1/6)² + (5/6)²) of a tap.
	_, sd, _ = ScaleFromWithers(lm, 340, 10, ScaleSD{TapPX: 7})
	if want := 0.5 * 0.01 * math.Sqrt(1+1.0/36+25.0/36); math.Abs(sd-want) > 1e-12 {
		t.Errorf("sd from taps %v, want %v", sd, want)
	}
}

func TestScaleIsRefusedWhereItIsNotKnown(t *testing.T) {
	lm := func(f func(timeline.Landmarks)) timeline.Landmarks {
		l := stood()
		f(l)
		return l
	}
	none := func(timeline.Landmarks) {}
	for _, c := range []struct {
		name   string
		lm     timeline.Landmarks
		height float64
		key    string
	}{
		{"no height", lm(none), 0, "fault.align.scale_no_height"},
		{"a negative height", lm(none), -3, "fault.align.scale_number"},
		{"a height that is no number", lm(none), math.NaN(), "fault.align.scale_number"},
		{"no hind paw", lm(func(l timeline.Landmarks) { delete(l, timeline.HindPaw) }), 350, "fault.align.scale_no_point"},
		{"withers at infinity", lm(func(l timeline.Landmarks) { l[timeline.WithersPt] = XY{X: math.Inf(1)} }), 350, "fault.align.scale_no_point"},
		{"paws on one spot", lm(func(l timeline.Landmarks) { l[timeline.HindPaw] = l[timeline.FrontPaw] }), 350, "fault.align.scale_paws_equal"},
		{"withers on the table", lm(func(l timeline.Landmarks) { l[timeline.WithersPt] = l[timeline.FrontPaw] }), 350, "fault.align.scale_flat"},
	} {
		_, _, err := ScaleFromWithers(c.lm, c.height, 5, ScaleSD{})
		var f *timeline.Fault
		if !errors.As(err, &f) || f.Say.Key != c.key || f.Kind != timeline.Invalid {
			t.Errorf("%s: %v, want %s", c.name, err, c.key)
		}
	}
}
