package outline

import (
	"bytes"
	"image"
	"image/color"
	"math"
	"strings"
	"testing"

	"thatch/timeline"
)

// disc is a tan disc on a green ground, both with some noise.
func disc(w, h int, cx, cy, r float64) (*image.NRGBA, []bool) {
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	truth := make([]bool, w*h)
	seed := uint32(5)
	for y := range h {
		for x := range w {
			seed = seed*1664525 + 1013904223
			n := int(seed>>27) - 16
			c := color.NRGBA{uint8(70 + n), uint8(110 + n), uint8(60 + n), 255}
			if math.Hypot(float64(x)-cx, float64(y)-cy) < r {
				truth[y*w+x] = true
				c = color.NRGBA{uint8(170 + n), uint8(130 + n), uint8(80 + n), 255}
			}
			img.SetNRGBA(x, y, c)
		}
	}
	return img, truth
}

func overlap(a, b []bool) float64 {
	both, any := 0, 0
	for i := range a {
		if a[i] && b[i] {
			both++
		}
		if a[i] || b[i] {
			any++
		}
	}
	return float64(both) / float64(any)
}

// A disc is found from a hexagon, at every size of picture, to a part of a pixel of the picture that is cut.
func TestADiscIsFoundFromAHexagon(t *testing.T) {
	for _, size := range [][2]int{{400, 300}, {1300, 1000}, {2016, 1512}} {
		w, h := size[0], size[1]
		cx, cy, r := 0.45*float64(w), 0.5*float64(h), 0.3*float64(h)
		img, truth := disc(w, h, cx, cy, r)
		var hexagon []XY
		for i := range 6 {
			a := float64(i) * math.Pi / 3
			hexagon = append(hexagon, XY{X: cx + 1.03*r*math.Cos(a), Y: cy + 1.03*r*math.Sin(a)})
		}
		got, err := Find(img, PointsGuess(hexagon))
		if err != nil {
			t.Fatal(err)
		}
		if iou := overlap(got.Mask(), truth); iou < 0.985 || len(got.Holes) > 0 || got.WidthPX != w || got.HeightPX != h {
			t.Errorf("%d × %d: overlap %.4f, %d holes", w, h, iou, len(got.Holes))
		}
		px := max(1, float64(w)/workPX)
		for _, p := range got.Polygon {
			if off := math.Abs(math.Hypot(p.X-cx, p.Y-cy) - r); off > 2.5*px {
				t.Fatalf("%d × %d: the edge is off by %.1f px at %v", w, h, off, p)
			}
		}
	}
}

func TestAGuessThatIsNoneIsSaidToBeSo(t *testing.T) {
	img, _ := disc(100, 80, 50, 40, 20)
	for name, c := range map[string]struct {
		polygon []XY
		key     string
	}{
		"nothing":            {nil, "fault.outline.few_points"},
		"two points":         {[]XY{{X: 1, Y: 1}, {X: 9, Y: 9}}, "fault.outline.few_points"},
		"not a number":       {[]XY{{X: math.NaN(), Y: 1}, {X: 9, Y: 9}, {X: 4, Y: 1}}, "fault.outline.not_here"},
		"infinitely far":     {[]XY{{X: math.Inf(1), Y: 1}, {X: 9, Y: 9}, {X: 4, Y: 1}}, "fault.outline.not_here"},
		"one line":           {[]XY{{X: 1, Y: 1}, {X: 50, Y: 50}, {X: 25, Y: 25}}, "fault.outline.nothing_inside"},
		"beside the picture": {[]XY{{X: 300, Y: 1}, {X: 380, Y: 50}, {X: 325, Y: 70}}, "fault.outline.nothing_inside"},
	} {
		_, err := Find(img, PointsGuess(c.polygon))
		var f *timeline.Fault
		if timeline.KindOf(err) != timeline.Invalid || !asFault(err, &f) || f.Say.Key != c.key {
			t.Errorf("%s: %v, want %s", name, err, c.key)
		}
	}
}

func asFault(err error, f **timeline.Fault) (ok bool) {
	*f, ok = err.(*timeline.Fault)
	return ok
}

func TestAPictureOfOneColourOrAFewPixelsComesToAnEnd(t *testing.T) {
	for _, size := range [][2]int{{3, 3}, {5, 400}, {60, 40}} {
		img := image.NewNRGBA(image.Rect(0, 0, size[0], size[1]))
		w, h := float64(size[0]), float64(size[1])
		if _, err := Find(img, PointsGuess([]XY{{X: 0, Y: 0}, {X: w, Y: 0}, {X: w, Y: h}, {X: 0, Y: h}})); err != nil {
			t.Errorf("%v: %v", size, err)
		}
	}
}

// The rings of a mask, filled, are the mask.
func TestRingsAreTheEdgesOfTheMask(t *testing.T) {
	_, mask := disc(120, 90, 60, 45, 30)
	_, hole := disc(120, 90, 66, 50, 9)
	for i := range mask {
		mask[i] = mask[i] && !hole[i]
	}
	got := rings(mask, 120, 90)
	if len(got) != 2 || area(got[0])*area(got[1]) >= 0 || math.Abs(area(got[0])) < math.Abs(area(got[1])) {
		t.Fatalf("%d rings", len(got))
	}
	if iou := overlap(Fill(got, 120, 90), mask); iou < 0.99 {
		t.Errorf("overlap %.4f", iou)
	}
}

func TestAFileOfPointsIsReadOrRefusedByItsPlace(t *testing.T) {
	got, err := ReadPoints(strings.NewReader(`{"a.jpg":[[1,2],[3.5,-4]],"b.jpg":[]}`))
	if err != nil || len(got["a.jpg"]) != 2 || got["a.jpg"][1] != (XY{X: 3.5, Y: -4}) || len(got["b.jpg"]) != 0 {
		t.Errorf("%v %v", got, err)
	}
	for _, bad := range []string{``, `null`, `[]`, `{"a":[[1]]}`, `{"a":[[1,2,3]]}`, `{"a":[[1e9,2]]}`, `{"a":5}`, `{"a":[["x",2]]}`, `{"a":[[1,2]]} x`} {
		if _, err := ReadPoints(strings.NewReader(bad)); timeline.KindOf(err) != timeline.Invalid {
			t.Errorf("%s: %v", bad, err)
		}
	}
}

func TestAFileOfStrokesIsReadOrRefused(t *testing.T) {
	got, err := ReadStrokes(strings.NewReader(`{"a.jpg":[{"kind":"out","points":[[1,2]],"radius_px":5}],"b.jpg":[]}`))
	if err != nil || len(got["a.jpg"]) != 1 || got["a.jpg"][0].RadiusPX != 5 || len(got["b.jpg"]) != 0 {
		t.Errorf("%v %v", got, err)
	}
	for _, bad := range []string{``, `null`, `[]`, `{"a":[1]}`, `{"a":[{"kind":1}]}`, `{"a":[{"kind":"in","size":3}]}`, `{"a":[]} x`, `{"a":[{"points":[[1]]}]}`} {
		if _, err := ReadStrokes(strings.NewReader(bad)); timeline.KindOf(err) != timeline.Invalid {
			t.Errorf("%s: %v", bad, err)
		}
	}
}

func FuzzReadPoints(f *testing.F) {
	f.Add([]byte(`{"a.jpg":[[1,2],[3,4],[5,6]]}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		got, err := ReadPoints(bytes.NewReader(b))
		if err != nil {
			return
		}
		for photo, polygon := range got {
			for _, p := range polygon {
				if s := p.X + p.Y; math.IsNaN(s) || math.IsInf(s, 0) {
					t.Errorf("%q: %v", photo, p)
				}
			}
		}
	})
}

func FuzzReadStrokes(f *testing.F) {
	f.Add([]byte(`{"a.jpg":[{"kind":"in","points":[[1,2],[3,4]],"radius_px":5},{"kind":"drag","points":[[1,2],[3,4]]}]}`))
	img, _ := disc(60, 50, 30, 25, 14)
	var ring []XY
	for i := range 40 {
		a := float64(i) * math.Pi / 20
		ring = append(ring, XY{X: 30 + 14*math.Cos(a), Y: 25 + 14*math.Sin(a)})
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		got, err := ReadStrokes(bytes.NewReader(b))
		if err != nil {
			return
		}
		for _, strokes := range got {
			r, err := Correct(img, Result{WidthPX: 60, HeightPX: 50, Polygon: ring}, strokes)
			if err == nil && len(r.Polygon) == 0 && len(strokes) == 0 {
				t.Error("an outline was lost")
			}
		}
	})
}
