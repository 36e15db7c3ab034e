package outline

import (
	"image"
	"math"

	"thatch/imaging"
	"thatch/timeline"
)

// XY is a place in pixels; the centre of the top left pixel is (0, 0).
type XY = timeline.XY

// workPX is the long side of the picture that is cut.
const workPX = 512

// Ways to a first guess.
const (
	FromPoints    = "points"    // a rough polygon whose corners were pointed at
	FromOutline   = "outline"   // an outline of the same dog, laid over this photo
	FromLandmarks = "landmarks" // a dog's shape fitted to its points
	FromNothing   = "auto"      // what the picture alone says
)

// Guess is where the edge may run.
type Guess struct {
	Method  string
	Polygon []XY // closed, in pixels of the photo
	// CornerSD is how far a corner may be off, as a share of the body's length in the picture.
	CornerSD float64
	// CornersSD says the same of each corner, in the order of Polygon, where some are surer than others; between two
	// corners it goes evenly from one to the other. A corner without an entry here has CornerSD.
	CornersSD []float64
	// Sag is how much the edge may bend between two corners: its distance from a chord of length l is up to about
	// Sag·l²/4 over the body's length.
	Sag float64
	// Empty is a photo of the same place without the dog, of the same size, upright, from the same camera at its place; or nil.
	// The photos may be shifted by a fiftieth of the body's length and differ in brightness and white.
	Empty *image.NRGBA
}

// cornerSD is how far corner i may be off, as a share of the body's length: never nothing, for no place of an edge is exact.
func (g Guess) cornerSD(i int) float64 {
	const least = 0.001
	if i < len(g.CornersSD) {
		return max(g.CornersSD[i], least)
	}
	return max(g.CornerSD, least)
}

// meanSD is how far its corners may be off on the whole.
func (g Guess) meanSD() float64 {
	sum := 0.0
	for i := range g.Polygon {
		sum += g.cornerSD(i)
	}
	return sum / float64(max(len(g.Polygon), 1))
}

const (
	tapSD    = 0.007 // of the body's length: how far a point may be off that was meant to lie on the edge
	mostSD   = 0.1   // of the body's length: a guess that is off by more is none
	leftOver = 1.0   // what is left out between two corners, beside what a corner brings in
)

// PointsGuess is a guess from points that somebody pointed at. Who puts few points leaves out between them about as much as
// each of them brings in: measured on hand-drawn masks, thinned to 8, 12, 20 and 30 points, the edge lies off the chord by
// three quarters to once the middle triangle of three neighbouring points (twice its area, over the body's length), at any
// place of a short or a long chord alike.
func PointsGuess(polygon []XY) Guess {
	return Guess{Method: FromPoints, Polygon: polygon, CornerSD: min(math.Hypot(tapSD, leftOver*coarseness(polygon)), mostSD)}
}

// coarseness is twice the area of the middle one of the triangles that three neighbouring corners make, as a share of the
// squared length of the body.
func coarseness(polygon []XY) float64 {
	left, right := math.Inf(1), math.Inf(-1)
	triangles := make([]float64, len(polygon))
	for i, p := range polygon {
		left, right = min(left, p.X), max(right, p.X)
		a, b := polygon[(i+len(polygon)-1)%len(polygon)], polygon[(i+1)%len(polygon)]
		triangles[i] = math.Abs((p.X-a.X)*(b.Y-a.Y) - (b.X-a.X)*(p.Y-a.Y))
	}
	if !(right > left) {
		return 0
	}
	return median(triangles) / (right - left) / (right - left)
}

// OutlineGuess is a guess from an earlier outline of the dog, which has moved a little since.
func OutlineGuess(polygon []XY) Guess {
	return Guess{Method: FromOutline, Polygon: polygon, CornerSD: 0.02, Sag: 0}
}

// Result is the edge that was found.
type Result struct {
	WidthPX, HeightPX int    // of the photo
	Polygon           []XY   // the outer edge, closed, in pixels of the photo; nil where no dog was found
	Holes             [][]XY // background inside it, as between the legs
	Method            string
	EmptySays         bool // a photo of the empty place was given and goes with this one
}

// minArea is the least share of the picture that a guess must cover to be one.
const minArea = 1e-3

// Find finds the edge in an upright sRGB picture. The fault is Invalid where the guess is none: fewer than three corners,
// numbers that are not finite, or next to nothing of the picture inside; or where the photo of the empty place is of another
// size.
func Find(img *image.NRGBA, g Guess) (Result, error) {
	out := Result{WidthPX: img.Rect.Dx(), HeightPX: img.Rect.Dy(), Method: g.Method}
	if len(g.Polygon) < 3 {
		return out, timeline.NewFault(timeline.Invalid, "fault.outline.few_points", "n", len(g.Polygon)).At("outline").In("points")
	}
	if e := g.Empty; e != nil {
		if e.Rect.Size() != img.Rect.Size() {
			return out, timeline.NewFault(timeline.Invalid, "fault.outline.empty_size").At("outline").In("empty")
		}
		g.Empty = imaging.Resize(e, workPX)
	}
	small := imaging.Resize(img, workPX)
	w, h := small.Rect.Dx(), small.Rect.Dy()
	sx, sy := float64(w)/float64(out.WidthPX), float64(h)/float64(out.HeightPX)
	polygon := make([]XY, len(g.Polygon))
	left, right := math.Inf(1), math.Inf(-1)
	for i, p := range g.Polygon {
		// Edges of the picture meet, not the centres of its corner pixels.
		polygon[i] = XY{X: (p.X+0.5)*sx - 0.5, Y: (p.Y+0.5)*sy - 0.5}
		if s := p.X + p.Y; math.IsNaN(s) || math.IsInf(s, 0) || math.Abs(p.X) > 1e6 || math.Abs(p.Y) > 1e6 {
			return out, timeline.NewFault(timeline.Invalid, "fault.outline.not_here", "n", i+1).At("outline").In("points")
		}
		left, right = min(left, polygon[i].X), max(right, polygon[i].X)
	}
	// Its own area too: a line has none, however many pixels it meets.
	inside := 0
	for _, v := range Fill([][]XY{polygon}, w, h) {
		if v {
			inside++
		}
	}
	if least := minArea * float64(w*h); float64(inside) < least || math.Abs(area(polygon)) < least || w < 3 || h < 3 {
		return out, timeline.NewFault(timeline.Invalid, "fault.outline.nothing_inside").At("outline").In("points")
	}
	mask, says := cut(small, polygon, right-left, g)
	out.EmptySays = says
	for i, ring := range rings(mask, w, h) {
		for j := range ring {
			ring[j] = XY{X: (ring[j].X+0.5)/sx - 0.5, Y: (ring[j].Y+0.5)/sy - 0.5}
		}
		if i == 0 {
			out.Polygon = ring
		} else {
			out.Holes = append(out.Holes, ring)
		}
	}
	return out, nil
}

// Mask is the dog as pixels of the photo, by rows.
func (r Result) Mask() []bool {
	if len(r.Polygon) == 0 {
		return make([]bool, r.WidthPX*r.HeightPX)
	}
	return Fill(append([][]XY{r.Polygon}, r.Holes...), r.WidthPX, r.HeightPX)
}
