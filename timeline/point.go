package timeline

// Point is a named place on the dog that is tapped on a side-on photo (in data files: a landmark).
type Point string

const (
	Nose       Point = "nose"
	Eye        Point = "eye"
	Occiput    Point = "occiput"
	WithersPt  Point = "withers"
	MidBack    Point = "mid_back"
	TailSet    Point = "tail_set"
	Buttock    Point = "buttock"
	Prosternum Point = "prosternum"
	Elbow      Point = "elbow"
	Hock       Point = "hock"
	FrontPaw   Point = "front_paw"
	HindPaw    Point = "hind_paw"
)

// Part is a piece of a standing dog that moves as one; head, trunk and each leg are aligned separately.
type Part string

const (
	PartHead    Part = "head"
	PartTrunk   Part = "trunk"
	PartForeleg Part = "foreleg"
	PartHindleg Part = "hindleg"
)

var points = []struct {
	point Point
	part  Part
}{
	{Nose, PartHead}, {Eye, PartHead}, {Occiput, PartHead},
	{WithersPt, PartTrunk}, {MidBack, PartTrunk}, {TailSet, PartTrunk}, {Buttock, PartTrunk}, {Prosternum, PartTrunk}, {Elbow, PartTrunk},
	{FrontPaw, PartForeleg}, {Hock, PartHindleg}, {HindPaw, PartHindleg},
}

// Points returns every point in the order in which they are asked for: nose, along the back, down to the paws.
func Points() []Point {
	out := make([]Point, len(points))
	for i, p := range points {
		out[i] = p.point
	}
	return out
}

// Known reports whether p is one of ours.
func (p Point) Known() bool { return p.Part() != "" }

// Part is the part of the dog that p moves with, or "" for an unknown point.
func (p Point) Part() Part {
	for _, q := range points {
		if q.point == p {
			return q.part
		}
	}
	return ""
}

// XY is a place in the pixels of an upright photo; the centre of the top left pixel is (0, 0).
type XY struct{ X, Y float64 }

// MarshalJSON writes [x,y], as landmark files do.
func (p XY) MarshalJSON() ([]byte, error) { return marshalXY(p) }

// UnmarshalJSON reads [x,y]; anything else, and non-finite numbers, are refused.
func (p *XY) UnmarshalJSON(b []byte) error { return unmarshalXY(b, p) }

// Landmarks are the points placed on one photo, in pixels of the upright photo.
type Landmarks map[Point]XY
