package outline

import (
	"image"
	"image/color"
	"math"
	"slices"
	"testing"

	"thatch/imaging/phantom"
	"thatch/timeline"
	"thatch/timeline/outside"
)

// offEdge is how far a ring lies outside (+) or inside (−) of each place of the true edge, mm, by zone.
func offEdge(ring []XY, truth phantom.Truth) map[timeline.Zone][]float64 {
	sense := 1.0
	if area(ring) < 0 {
		sense = -1
	}
	by := map[timeline.Zone][]float64{}
	for i := 0; i < len(truth.Outline); i += 3 {
		p := truth.Outline[i]
		best, off := math.Inf(1), 0.0
		for j, q := range ring {
			if d := math.Hypot(q.X-p.X, q.Y-p.Y); d < best {
				next := ring[(j+1)%len(ring)]
				nx, ny := sense*(next.Y-q.Y), -sense*(next.X-q.X)
				best, off = d, ((q.X-p.X)*nx+(q.Y-p.Y)*ny)/math.Hypot(nx, ny)
			}
		}
		by[truth.OutlineZones[i]] = append(by[truth.OutlineZones[i]], off*truth.MMPerPX)
	}
	return by
}

func TestTheFineEdgeLiesWhereTheDrawnCoatEnds(t *testing.T) {
	for seed := range int64(outside.Many(t, 2)) {
		dog := phantom.RandomDog(200 + seed)
		img, truth := phantom.Render(dog, phantom.RingReady(20), phantom.Pose{}, phantom.Frame(dog, 2016, 1512), phantom.Rooms()[seed%4])
		var rough []XY
		for i := 0; i < len(truth.Outline); i += len(truth.Outline) / 40 {
			rough = append(rough, truth.Outline[i])
		}
		cut, err := Find(img, PointsGuess(rough))
		if err != nil {
			t.Fatal(err)
		}
		by := offEdge(Fine(img, cut).Polygon, truth)
		for _, z := range []timeline.Zone{timeline.Crest, timeline.Withers, timeline.Back, timeline.Loin, timeline.Rump, timeline.Thigh, timeline.Forechest} {
			v := by[z]
			slices.Sort(v)
			low, middle, high := v[len(v)/20], v[len(v)/2], v[len(v)*19/20]
			t.Logf("dog %d %s %s: %+.2f mm (%+.2f to %+.2f)", seed, dog.Colour, z, middle, low, high)
			if math.Abs(middle) > 0.5 || low < -1.2 || high > 1.5 {
				t.Errorf("dog %d %s: the edge of the %s is off by %+.2f mm (%+.2f to %+.2f)", seed, dog.Colour, z, middle, low, high)
			}
		}
	}
}

// square is a grey picture with a darker square, its edge between pixels.
func squarePicture(dark, light uint8) (*image.NRGBA, []XY) {
	img := image.NewNRGBA(image.Rect(0, 0, 600, 400))
	const x0, y0, x1, y1 = 200.3, 100.6, 400.4, 300.2
	cover := func(v, lo, hi float64) float64 { // of pixel v by lo to hi
		return math.Max(0, math.Min(hi, v+0.5)-math.Max(lo, v-0.5))
	}
	for y := range 400 {
		for x := range 600 {
			a := cover(float64(x), x0, x1) * cover(float64(y), y0, y1)
			l := a*linear[dark] + (1-a)*linear[light]
			v := 0
			for v < 255 && linear[v] < l {
				v++
			}
			img.SetNRGBA(x, y, color.NRGBA{uint8(v), uint8(v), uint8(v), 255})
		}
	}
	return img, []XY{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
}

func TestTheFineEdgeOfASquareIsFoundBetweenPixels(t *testing.T) {
	img, truth := squarePicture(60, 180)
	rough := []XY{{X: 198.5, Y: 98.8}, {X: 402, Y: 99}, {X: 402.1, Y: 302}, {X: 198.4, Y: 301.9}}
	got := Fine(img, Result{WidthPX: 600, HeightPX: 400, Polygon: resample(rough, 3)})
	for _, p := range got.Polygon {
		if p.X < 215 || p.X > 385 { // corners are rounded: a coat has none
			continue
		}
		if off := math.Min(math.Abs(p.Y-truth[0].Y), math.Abs(p.Y-truth[2].Y)); off > 0.1 {
			t.Errorf("at x %.1f the edge is %.2f px off", p.X, off)
		}
	}
}

func TestWhereBothSidesLookTheSameTheEdgeStays(t *testing.T) {
	img, _ := squarePicture(120, 120)
	rough := resample([]XY{{X: 198, Y: 98}, {X: 403, Y: 98}, {X: 403, Y: 303}, {X: 198, Y: 303}}, fineStepPX)
	got := Fine(img, Result{WidthPX: 600, HeightPX: 400, Polygon: rough})
	for _, p := range got.Polygon {
		if math.Abs(math.Abs(p.X-300.5)-math.Abs(p.Y-200.5)) < 5 {
			continue // walking in equal steps cuts a corner
		}
		if d := math.Min(math.Min(math.Abs(p.X-198), math.Abs(p.X-403)), math.Min(math.Abs(p.Y-98), math.Abs(p.Y-303))); d > 1e-6 {
			t.Fatalf("moved to %v", p)
		}
	}
}

func BenchmarkFine(b *testing.B) {
	dog := phantom.RandomDog(3)
	img, truth := phantom.Render(dog, phantom.RingReady(20), phantom.Pose{}, phantom.Frame(dog, 2016, 1512), phantom.Rooms()[0])
	r := Result{WidthPX: 2016, HeightPX: 1512, Polygon: truth.Outline}
	b.ResetTimer()
	for range b.N {
		Fine(img, r)
	}
}
