package drawing

import (
	"math"
	"math/rand/v2"
	"sync"
)

// Scene is what the page on taking photos shows beside the dog from the side: her from above and from behind, and a piece of
// her coat seen close. Path data, each in a frame of its own.
type Scene struct {
	Above, AboveHair   string // 300 × 120 units, nose to the left
	Behind, BehindHair string // 140 × 200 units, paws at 190
	Skin               string // 260 × 150 units: a stretch of the back, closed at the bottom
	Down, Up           string // its coat, brushed down and brushed up
}

// Scenes is made once.
var Scenes = sync.OnceValue(drawScenes)

// aboveHalf and behindHalf are one half of a figure, mirrored into the other.
var (
	aboveHalf  = []XY{{8, 60}, {14, 50}, {34, 47}, {52, 44}, {62, 36}, {78, 38}, {88, 45}, {106, 40}, {128, 30}, {160, 28}, {196, 31}, {226, 30}, {252, 36}, {266, 50}, {276, 56}, {294, 58}, {298, 60}}
	behindHalf = []XY{{70, 2}, {77, 6}, {79, 24}, {84, 36}, {100, 46}, {108, 70}, {106, 104}, {103, 132}, {106, 160}, {108, 182}, {104, 190}, {84, 190}, {82, 178}, {84, 150}, {80, 126}, {70, 116}}
)

func drawScenes() Scene {
	r := rand.New(rand.NewPCG(7, 23)) // always the same hair
	var s Scene
	above := spline(mirrored(aboveHalf, func(p XY) XY { return XY{X: p.X, Y: 120 - p.Y} }), true, 6)
	behind := spline(mirrored(behindHalf, func(p XY) XY { return XY{X: 140 - p.X, Y: p.Y} }), true, 6)
	s.Above, s.Behind = pathD(above, true), pathD(behind, true)
	s.AboveHair = filled(r, above, 300, 120, 9, func(p XY) float64 { return 0.35 * math.Copysign(math.Min(1, math.Abs(p.Y-60)/30), p.Y-60) })
	s.BehindHair = filled(r, behind, 140, 200, 9, func(p XY) float64 { return math.Pi/2 - 0.3*(p.X-70)/40 })

	var line []XY
	for x := 0.0; x <= 260; x += 4 {
		line = append(line, XY{X: x, Y: skinY(x)})
	}
	s.Skin = pathD(append(append([]XY{}, line...), XY{X: 260, Y: 150}, XY{X: 0, Y: 150}), true)
	var down, up hairs
	for x := -40.0; x < 262; x += 4.2 {
		root := XY{X: x + r.Float64()*3, Y: skinY(x)}
		down.stroke(root, hair{-(0.34 + 0.16*r.Float64()), 62 * (0.75 + 0.35*r.Float64()), -4})
		if x > -6 {
			up.stroke(root, hair{-(1.1 + 0.75*r.Float64()), 62 * (0.75 + 0.35*r.Float64()), 5 - 10*r.Float64()})
		}
	}
	s.Down, s.Up = down.String(), up.String()
	return s
}

func skinY(x float64) float64 { return 112 - 8*math.Sin(math.Pi*x/260) }

// mirrored is a half with its mirror image, as a ring.
func mirrored(half []XY, other func(XY) XY) []XY {
	out := append([]XY{}, half...)
	for i := len(half) - 2; i > 0; i-- {
		out = append(out, other(half[i]))
	}
	return out
}

// filled is hair all over a closed outline; lie says which way it lies at a place, radians clockwise from the right.
func filled(r *rand.Rand, body []XY, width, height, gap float64, lie func(XY) float64) string {
	var b hairs
	for y := gap / 2; y < height; y += gap * 0.8 {
		for x := gap / 2; x < width; x += gap {
			p := XY{X: x + r.Float64()*gap*0.8, Y: y + r.Float64()*gap*0.6}
			if inside(body, p) {
				b.stroke(p, hair{lie(p) + r.Float64()*0.5 - 0.25, gap * (0.9 + 0.6*r.Float64()), r.Float64()*3 - 1})
			}
		}
	}
	return b.String()
}
