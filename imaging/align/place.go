package align

import (
	"math"

	"thatch/timeline"
)

// Placed is a photo with its points.
type Placed struct {
	Landmarks timeline.Landmarks
	WidthPX   int           // of the upright photo the points belong to
	HeightPX  int           //
	Facing    timeline.Side // which way the nose points in the picture; used only where the points themselves do not tell

	SDPX      map[timeline.Point]float64 // tap error of a coordinate, px; absent: 0.25 % of the body's length
	DepthPX   map[timeline.Point]float64 // expected depth of the coat at an outline point, px; absent: not known
	DepthSDPX map[timeline.Point]float64 // its standard deviation, px; absent: 0.6 % of the body's length
}

// Shares of the body's length (prosternum to buttock, about 350 mm on a terrier of that height).
const (
	tapShare       = 0.0025 // error of a tapped coordinate, with a loupe
	depthShare     = 0.006  // error of an expected depth, 2 mm: a coat known by a forecast
	unknownShare   = 0.010  // the coat's own variation where nothing is known of its depth, 3.5 mm
	poseTrunkShare = 0.006  // a trunk is not quite rigid: the back flexes, the chest turns
	poseElbowShare = 0.015  // the elbow swings with the foreleg
)

// outlinePoints lie on the edge of the coat, so that coat moves them; the others lie inside the silhouette.
var outlinePoints = map[timeline.Point]bool{
	timeline.WithersPt: true, timeline.MidBack: true, timeline.TailSet: true, timeline.Buttock: true, timeline.Prosternum: true,
}

// FacingOf tells from the points which way the nose points in the picture; "" where they do not tell.
func FacingOf(lm timeline.Landmarks) timeline.Side {
	front, okF := meanX(lm, timeline.Nose, timeline.Eye, timeline.Prosternum)
	rear, okR := meanX(lm, timeline.Buttock, timeline.TailSet, timeline.HindPaw)
	if !okF {
		front, okF = meanX(lm, timeline.Occiput, timeline.WithersPt, timeline.Elbow, timeline.FrontPaw)
	}
	if !okR {
		rear, okR = meanX(lm, timeline.Hock, timeline.MidBack)
	}
	switch {
	case !okF || !okR || front == rear || math.IsNaN(front-rear):
		return ""
	case front < rear:
		return timeline.SideLeft
	default:
		return timeline.SideRight
	}
}

func meanX(lm timeline.Landmarks, ps ...timeline.Point) (float64, bool) {
	sum, n := 0.0, 0
	for _, p := range ps {
		if xy, ok := lm[p]; ok {
			sum, n = sum+xy.X, n+1
		}
	}
	return sum / float64(max(n, 1)), n > 0
}

// facing is the points' word, else the caller's, else "".
func (p Placed) facing() timeline.Side {
	if f := FacingOf(p.Landmarks); f != "" {
		return f
	}
	if p.Facing.Measured() {
		return p.Facing
	}
	return ""
}

// bodyPX is the body's length, prosternum to buttock, or what other trunk points say of it; 0 where they say nothing.
// The factors are the proportions of a square terrier, by eye: they only scale error bars.
func (p Placed) bodyPX() float64 {
	for _, c := range []struct {
		a, b   timeline.Point
		factor float64
	}{
		{timeline.Prosternum, timeline.Buttock, 1}, {timeline.WithersPt, timeline.TailSet, 1.6},
		{timeline.WithersPt, timeline.Buttock, 1.3}, {timeline.Prosternum, timeline.TailSet, 1.1},
		{timeline.WithersPt, timeline.Elbow, 1.9}, {timeline.Elbow, timeline.TailSet, 1.3}, {timeline.WithersPt, timeline.MidBack, 3},
	} {
		a, okA := p.Landmarks[c.a]
		b, okB := p.Landmarks[c.b]
		if okA && okB {
			return c.factor * distance(a, b)
		}
	}
	return 0
}

// body is the points where the body would have them, without coat, with the sd of a coordinate, px.
// Facing left after it: mirrored x → width − 1 − x where asked.
func (p Placed) body(mirror bool) (at map[timeline.Point]XY, sdPX map[timeline.Point]float64) {
	length := p.bodyPX()
	at, sdPX = map[timeline.Point]XY{}, map[timeline.Point]float64{}
	for pt, xy := range p.Landmarks {
		sd, ok := p.SDPX[pt]
		if !ok {
			sd = tapShare * length
		}
		if outlinePoints[pt] {
			if depth, known := p.DepthPX[pt]; known {
				in := p.inward(pt)
				xy.X, xy.Y = xy.X+depth*in.X, xy.Y+depth*in.Y
				depthSD, ok := p.DepthSDPX[pt]
				if !ok {
					depthSD = depthShare * length
				}
				sd = math.Hypot(sd, depthSD)
			} else {
				sd = math.Hypot(sd, unknownShare*length)
			}
		}
		if mirror {
			xy.X = float64(p.WidthPX-1) - xy.X
		}
		at[pt], sdPX[pt] = xy, sd
	}
	return at, sdPX
}

// inward is the unit vector into the body at an outline point: across the back for the topline's points, along it for
// both ends. The back's own direction is near enough: at 15° off, 10 px of depth move 0.3 px too far.
func (p Placed) inward(pt timeline.Point) XY {
	along := p.axis()
	switch pt {
	case timeline.Buttock:
		return XY{X: -along.X, Y: -along.Y}
	case timeline.Prosternum:
		return along
	}
	// Of the two normals the one that points down in an upright photo.
	n := XY{X: -along.Y, Y: along.X}
	if n.Y < 0 {
		n = XY{X: -n.X, Y: -n.Y}
	}
	return n
}

// axis is the unit vector along the back, from the front to the rear.
func (p Placed) axis() XY {
	for _, c := range [][2]timeline.Point{
		{timeline.WithersPt, timeline.TailSet}, {timeline.WithersPt, timeline.MidBack}, {timeline.MidBack, timeline.TailSet},
		{timeline.Prosternum, timeline.Buttock},
	} {
		a, okA := p.Landmarks[c[0]]
		b, okB := p.Landmarks[c[1]]
		if d := distance(a, b); okA && okB && d > 0 {
			return XY{X: (b.X - a.X) / d, Y: (b.Y - a.Y) / d}
		}
	}
	if p.facing() == timeline.SideRight {
		return XY{X: -1}
	}
	return XY{X: 1}
}
