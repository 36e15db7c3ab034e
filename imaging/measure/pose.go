package measure

import (
	"math"

	"thatch/timeline"
)

// The parameters of one photo's pose.
const (
	qX     = iota // mm, of the trunk's middle in the picture
	qY            //
	qTurn         // rad, anticlockwise
	qScale        // log
	qYaw          // rad, + tail nearer
	qBend         // mm, back up
	qNod          // rad, head up is negative
	qHeadX        // mm
	qHeadY
	qHindX // mm, of the hock
	qHindY
	qLegX // mm, of the thigh's lower end by itself: how much a thigh goes with its hock differs
	poseParams
)

type pose [poseParams]float64

// place is where a place of the skin, moved out by d mm along its normal, lies in a view, mm. What is seen of a dog that is
// turned a little, or off the middle of the picture, is not the line that is seen of her from square on: the body turns away
// from the camera on an arc, and its edge is where its normal stands square to the line of sight.
func (b *body) place(s *station, d float64, q *pose, distance float64) XY {
	p, out := s.at, s.out
	if s.bend > 0 {
		t := ((s.at.X-b.withers.X)*(b.tail.X-b.withers.X) + (s.at.Y-b.withers.Y)*(b.tail.Y-b.withers.Y)) /
			(square(b.tail.X-b.withers.X) + square(b.tail.Y-b.withers.Y))
		if t > 0 && t < 1 {
			p.Y += s.bend * q[qBend] * math.Sin(math.Pi*t)
		}
	}
	if s.neck > 0 {
		sin, cos := math.Sincos(q[qNod] * s.neck)
		x, y := p.X-b.neckFrom.X, p.Y-b.neckFrom.Y
		p = XY{X: b.neckFrom.X + x*cos - y*sin + s.neck*q[qHeadX], Y: b.neckFrom.Y + x*sin + y*cos + s.neck*q[qHeadY]}
		out = XY{X: out.X*cos - out.Y*sin, Y: out.X*sin + out.Y*cos}
	}
	p.X, p.Y = p.X+s.hind*q[qHindX]+s.leg*q[qLegX], p.Y+s.hind*q[qHindY]
	sinYaw, cosYaw := math.Sincos(q[qYaw])
	sin, cos := math.Sincos(q[qTurn])
	x, y, z := p.X-b.middle.X, p.Y-b.middle.Y, s.near
	if out != (XY{}) {
		// The camera in the dog's own sense; then the angle from the middle's normal at which the arc leaves its sight.
		ex, ey := -q[qX]*cos-q[qY]*sin, q[qX]*sin-q[qY]*cos
		ex, ez := ex*cosYaw+distance*sinYaw, -ex*sinYaw+distance*cosYaw
		x, y = x-s.girth*out.X, y-s.girth*out.Y
		radius := s.girth + d
		toward, deep := (ex-x)*out.X+(ey-y)*out.Y, ez-z
		sinA, cosA := math.Sincos(math.Atan2(deep, toward) - math.Acos(math.Max(-1, math.Min(1, radius/math.Hypot(toward, deep)))))
		x, y, z = x+radius*out.X*cosA, y+radius*out.Y*cosA, z+radius*sinA
	}
	x, z = x*cosYaw-z*sinYaw, x*sinYaw+z*cosYaw
	k := math.Exp(q[qScale]) / (1 - z/distance)
	return XY{X: k * (x*cos - y*sin + q[qX]), Y: k * (x*sin + y*cos + q[qY])}
}

// girths are how round the body is at its edge, and how far to the side of the middle that edge lies, in lengths of the back: of
// the drawn dogs, whose trunk is a third as wide as they are high. By eye, no source.
var girths = map[timeline.Zone]struct{ radius, near float64 }{
	timeline.Throat: {0.12, 0}, timeline.Crest: {0.12, 0}, timeline.Forechest: {0.16, 0}, timeline.Withers: {0.14, 0},
	timeline.Back: {0.21, 0}, timeline.Loin: {0.21, 0}, timeline.Rump: {0.16, 0}, timeline.Underline: {0.2, 0}, timeline.Thigh: {0.12, 0.08},
}

// hockNear is how far to the side of the middle the near hock stands, in lengths of the back; pointsNear, other points.
const hockNear = 0.14

var pointsNear = map[timeline.Point]float64{timeline.Elbow: 0.17, timeline.Eye: 0.09, timeline.Hock: hockNear, timeline.HindPaw: hockNear}
