package outline

import (
	"encoding/json"
	"image"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"thatch/imaging/phantom"
	"thatch/timeline"
)

// drawn is a phantom and an outline of it that somebody may want to correct.
func drawn(t testing.TB, seed int64, w, h int) (*image.NRGBA, phantom.Truth, Result) {
	dog := phantom.RandomDog(seed)
	img, truth := phantom.Render(dog, phantom.RingReady(20), phantom.Pose{}, phantom.Frame(dog, w, h), phantom.Rooms()[seed%4])
	var rough []XY
	for _, p := range fewPoints(contourOf(largest(dogIn(truth), w, h), w, h), 40) {
		rough = append(rough, XY{X: float64(p.X), Y: float64(p.Y)})
	}
	r, err := Find(img, PointsGuess(rough))
	if err != nil {
		t.Fatal(err)
	}
	return img, truth, r
}

func dogIn(truth phantom.Truth) []bool {
	out := make([]bool, len(truth.Mask.Pix))
	for i, v := range truth.Mask.Pix {
		out[i] = v == 255
	}
	return out
}

// farFrom are the corners of an outline that lie farther than d from every stroke.
func farFrom(r Result, strokes []Stroke, d float64) map[XY]bool {
	out := map[XY]bool{}
	for _, ring := range append([][]XY{r.Polygon}, r.Holes...) {
		for _, p := range ring {
			far := true
			for _, s := range strokes {
				// The window is a rectangle around the stroke.
				far = far && !s.box().grown(d).has(p)
			}
			if far {
				out[p] = true
			}
		}
	}
	return out
}

func TestWhatIsPaintedStaysAndTheFarEdgeIsUntouched(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for seed := range int64(2) {
		size := [][2]int{{1200, 900}, {2016, 1512}}[seed%2]
		img, _, prev := drawn(t, 300+seed, size[0], size[1])
		body := bodyOf(prev)
		for n := range 25 {
			// A stroke that begins on the edge and goes a little way to either side.
			kind := []string{PaintIn, PaintOut}[n%2]
			at := prev.Polygon[rng.IntN(len(prev.Polygon))]
			s := Stroke{Kind: kind, RadiusPX: body * (0.005 + 0.03*rng.Float64()), Points: []XY{at}}
			for range rng.IntN(4) {
				a, l := 2*math.Pi*rng.Float64(), 0.04*body*rng.Float64()
				at = XY{X: min(max(at.X+l*math.Cos(a), 0), float64(size[0]-1)), Y: min(max(at.Y+l*math.Sin(a), 0), float64(size[1]-1))}
				s.Points = append(s.Points, at)
			}
			got, err := Correct(img, prev, []Stroke{s})
			if err != nil {
				t.Fatalf("dog %d, stroke %d %+v: %v", seed, n, s, err)
			}
			mask, wrong := got.Mask(), 0
			for p, d := range distancesFrom(s.Points, s.RadiusPX, size[0], size[1]) {
				if float64(d) <= s.RadiusPX && mask[p] != (kind == PaintIn) {
					wrong++
				}
			}
			if wrong > 0 {
				t.Errorf("dog %d, stroke %d (%s, radius %.1f): %d painted pixels are not as they were painted", seed, n, kind, s.RadiusPX, wrong)
			}
			c := correction{img: img, cell: max(1, float64(size[0])/finerPX), body: body}
			now := farFrom(got, []Stroke{s}, 0)
			for p := range farFrom(prev, []Stroke{s}, c.reach(s)-s.RadiusPX+20*borderCells*c.cell) {
				if !now[p] && kind == PaintIn {
					t.Fatalf("dog %d, stroke %d: the far edge moved at %v", seed, n, p)
				}
				if !now[p] && kind == PaintOut { // a foot may have been cut off, but no edge has moved
					for q := range now {
						if math.Hypot(p.X-q.X, p.Y-q.Y) < 5 {
							t.Fatalf("dog %d, stroke %d: the far edge moved from %v to %v", seed, n, p, q)
						}
					}
				}
			}
		}
	}
}

func bodyOf(r Result) float64 {
	left, right := math.Inf(1), math.Inf(-1)
	for _, p := range r.Polygon {
		left, right = min(left, p.X), max(right, p.X)
	}
	return right - left
}

// A paw that the cut left out comes back from one dab on it; a piece of wall that was taken for dog goes by one dab.
func TestOneDabBringsBackWhatWasLeftOut(t *testing.T) {
	img, truth, prev := drawn(t, 310, 2016, 1512)
	paw := truth.Landmarks[timeline.FrontPaw]
	body := bodyOf(prev)
	for name, c := range map[string]struct {
		keep func(p XY) XY
		kind string
	}{
		"cut off above the paw": {func(p XY) XY {
			if math.Hypot(p.X-paw.X, p.Y-paw.Y) < 0.07*body {
				p.Y = min(p.Y, paw.Y-0.05*body)
			}
			return p
		}, PaintIn},
		"the edge too low": {func(p XY) XY {
			if math.Hypot(p.X-paw.X, p.Y-paw.Y) < 0.07*body && p.Y > paw.Y-0.01*body {
				p.Y += 0.05 * body
			}
			return p
		}, PaintOut},
	} {
		bad, x, n := prev, 0.0, 0.0
		bad.Polygon = nil
		for _, p := range prev.Polygon {
			bad.Polygon = append(bad.Polygon, c.keep(p))
			if c.keep(p) != p {
				x, n = x+p.X, n+1
			}
		}
		paw.X = x / n
		dab := Stroke{Kind: c.kind, RadiusPX: 0.015 * body, Points: []XY{{X: paw.X, Y: paw.Y - 0.02*body}, {X: paw.X, Y: paw.Y - 0.06*body}}}
		if c.kind == PaintOut {
			dab.Points = []XY{{X: paw.X - 0.03*body, Y: paw.Y + 0.045*body}, {X: paw.X + 0.03*body, Y: paw.Y + 0.045*body}}
		}
		got, err := Correct(img, bad, []Stroke{dab})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		before, after := overlap(bad.Mask(), dogIn(truth)), overlap(got.Mask(), dogIn(truth))
		t.Logf("%s: overlap %.4f, then %.4f", name, before, after)
		if good := overlap(prev.Mask(), dogIn(truth)); good-after > (good-before)/2 || before >= good {
			t.Errorf("%s: overlap %.4f, then %.4f", name, before, after)
		}
	}
}

func TestAHoleIsMadeByPaintingOutInsideAndClosedByPaintingIn(t *testing.T) {
	img, _ := disc(900, 700, 450, 350, 250)
	var ring []XY
	for i := range 400 {
		a := float64(i) * math.Pi / 200
		ring = append(ring, XY{X: 450 + 250*math.Cos(a), Y: 350 + 250*math.Sin(a)})
	}
	prev := Result{WidthPX: 900, HeightPX: 700, Polygon: ring}
	dab := func(kind string) Stroke { return Stroke{Kind: kind, RadiusPX: 30, Points: []XY{{X: 450, Y: 350}}} }
	got, err := Correct(img, prev, []Stroke{dab(PaintOut)})
	if err != nil || len(got.Holes) != 1 || !reflect.DeepEqual(got.Polygon, prev.Polygon) {
		t.Fatalf("%d holes, %v", len(got.Holes), err)
	}
	again, err := Correct(img, got, []Stroke{dab(PaintIn)})
	if err != nil || len(again.Holes) != 0 || !reflect.DeepEqual(again.Polygon, prev.Polygon) {
		t.Fatalf("%d holes, %v", len(again.Holes), err)
	}
	// Both at once, the later one wins.
	both, err := Correct(img, prev, []Stroke{dab(PaintOut), dab(PaintIn)})
	if err != nil || len(both.Holes) != 0 {
		t.Errorf("%d holes, %v", len(both.Holes), err)
	}
}

func TestADragReplacesAStretchOfTheEdgeAndNothingElse(t *testing.T) {
	img, _ := disc(900, 700, 450, 350, 250)
	var ring []XY
	for i := range 400 {
		a := float64(i) * math.Pi / 200
		ring = append(ring, XY{X: 450 + 250*math.Cos(a), Y: 350 + 250*math.Sin(a)})
	}
	prev := Result{WidthPX: 900, HeightPX: 700, Polygon: ring, Method: FromPoints}
	line := []XY{{X: 400, Y: 100}, {X: 430, Y: 80}, {X: 480, Y: 80}, {X: 510, Y: 110}}
	for name, way := range map[string][]XY{"from left to right": line, "from right to left": {line[3], line[2], line[1], line[0]}} {
		got, err := Correct(img, prev, []Stroke{{Kind: Drag, Points: way}})
		if err != nil || got.Method != FromPoints {
			t.Fatal(name, err)
		}
		has := map[XY]bool{}
		for _, p := range got.Polygon {
			has[p] = true
		}
		for _, p := range line {
			if !has[p] {
				t.Errorf("%s: the edge misses %v", name, p)
			}
		}
		for _, p := range ring {
			if between := p.Y < 350 && p.X > 405 && p.X < 505; !between && (p.X < 395 || p.X > 515 || p.Y > 350) && !has[p] {
				t.Errorf("%s: the edge left %v", name, p)
			} else if between && has[p] {
				t.Errorf("%s: the old edge is still at %v", name, p)
			}
		}
		if !got.has(XY{X: 450, Y: 90}) {
			t.Errorf("%s: what the drag took in is out", name)
		}
	}
}

func TestACorrectionThatIsNoneIsSaidToBeSo(t *testing.T) {
	img, _ := disc(300, 200, 150, 100, 60)
	var ring []XY
	for i := range 100 {
		a := float64(i) * math.Pi / 50
		ring = append(ring, XY{X: 150 + 60*math.Cos(a), Y: 100 + 60*math.Sin(a)})
	}
	prev := Result{WidthPX: 300, HeightPX: 200, Polygon: ring}
	dot := []XY{{X: 150, Y: 40}}
	for name, c := range map[string]struct {
		prev   Result
		stroke Stroke
		key    string
	}{
		"of no kind":          {prev, Stroke{Kind: "rub", Points: dot, RadiusPX: 5}, "fault.outline.stroke_kind"},
		"without width":       {prev, Stroke{Kind: PaintIn, Points: dot}, "fault.outline.stroke_radius"},
		"of no width at all":  {prev, Stroke{Kind: PaintIn, Points: dot, RadiusPX: math.NaN()}, "fault.outline.stroke_radius"},
		"as wide as all":      {prev, Stroke{Kind: PaintIn, Points: dot, RadiusPX: 200}, "fault.outline.stroke_radius"},
		"nowhere":             {prev, Stroke{Kind: PaintIn, RadiusPX: 5}, "fault.outline.stroke_points"},
		"at no number":        {prev, Stroke{Kind: PaintIn, RadiusPX: 5, Points: []XY{{X: math.NaN()}}}, "fault.outline.stroke_points"},
		"a drag of one point": {prev, Stroke{Kind: Drag, Points: dot}, "fault.outline.stroke_points"},
		"a drag elsewhere":    {prev, Stroke{Kind: Drag, Points: []XY{{X: 150, Y: 100}, {X: 152, Y: 100}}}, "fault.outline.drag_far"},
		"apart from the dog":  {prev, Stroke{Kind: PaintIn, RadiusPX: 5, Points: []XY{{X: 20, Y: 20}}}, "fault.outline.apart"},
		"too long":            {prev, Stroke{Kind: Drag, Points: make([]XY, maxPoints+1)}, "fault.outline.stroke_points"},
		"of no outline":       {Result{WidthPX: 300, HeightPX: 200}, Stroke{Kind: PaintIn, Points: dot, RadiusPX: 5}, "fault.outline.nothing_to_correct"},
	} {
		got, err := Correct(img, c.prev, []Stroke{c.stroke})
		var f *timeline.Fault
		if timeline.KindOf(err) != timeline.Invalid || !asFault(err, &f) || f.Say.Key != c.key {
			t.Errorf("%s: %v, want %s", name, err, c.key)
		}
		if !reflect.DeepEqual(got, c.prev) {
			t.Errorf("%s: the outline has changed", name)
		}
	}
}

func TestStrokesSurviveJSON(t *testing.T) {
	in := []Stroke{{Kind: PaintIn, Points: []XY{{X: 1, Y: 2.5}}, RadiusPX: 12}, {Kind: Drag, Points: []XY{{X: 3, Y: 4}, {X: 5, Y: 6}}}}
	b, err := json.Marshal(in)
	if err != nil || string(b) != `[{"kind":"in","points":[[1,2.5]],"radius_px":12},{"kind":"drag","points":[[3,4],[5,6]]}]` {
		t.Fatalf("%s %v", b, err)
	}
	var out []Stroke
	if err := json.Unmarshal(b, &out); err != nil || !reflect.DeepEqual(in, out) {
		t.Errorf("%+v %v", out, err)
	}
}

func BenchmarkCorrect(b *testing.B) {
	img, _, prev := drawn(b, 300, 2016, 1512)
	at := prev.Polygon[len(prev.Polygon)/3]
	for b.Loop() {
		if _, err := Correct(img, prev, []Stroke{{Kind: PaintIn, RadiusPX: 20, Points: []XY{at}}}); err != nil {
			b.Fatal(err)
		}
	}
}
