package phantom

import "math"

// stance turns places of the standard dog into mm of this dog in this pose: x to the rear, y up, from the
// point on the table below the withers.
type stance struct {
	dog  Dog
	pose Pose
	mm   float64 // of one hundredth of the height at the withers
}

func stand(d Dog, p Pose) stance { return stance{dog: d, pose: p, mm: d.WithersMM / 100} }

// elbowY is where the leg begins; above it the trunk.
const elbowY = 50.0

func (s stance) place(x, y float64) (float64, float64) {
	b := s.dog.Build
	x, y = s.bone(x, y)
	x, y = s.tail(x, y)
	// Head and neck about the withers: the neck bends, the head turns as one.
	if w := neckward(x, y); w > 0 {
		hx, hy := x, y
		if h := smooth(-30, -40, x) * smooth(100, 112, y); h > 0 {
			k := 1 + (b.Head-1)*h
			hx, hy = -36+(hx+36)*k, 122+(hy-122)*k
		}
		k := 1 + (b.Neck-1)*w
		hx, hy = -14+(hx+14)*k, 96+(hy-96)*k
		sin, cos := math.Sincos(-s.pose.HeadDeg * math.Pi / 180 * w)
		dx, dy := hx+12, hy-98
		x, y = -12+dx*cos-dy*sin, 98+dx*sin+dy*cos
	}
	if x > 0 {
		x *= b.Body
	}
	if b.Leg != 1 {
		leg := elbowY * b.Leg
		if y < elbowY {
			y *= b.Leg
		} else if y < 100 {
			y = leg + (y-elbowY)*(100-leg)/(100-elbowY)
		}
	}
	x, y = x*s.mm, y*s.mm
	// Pose in mm, after the build. The back flexes between withers and tail set, the belly less.
	span := 66 * s.mm * b.Body
	if t := x / span; t > 0 && t < 1 {
		y += s.pose.BackFlexMM * math.Sin(math.Pi*t) * smooth(52*s.mm, 98*s.mm, y)
	}
	if top := 62 * s.mm; y < top {
		k := (top - y) / top
		k = math.Min(1, k*(1+0.35*(1-k)))
		if hind := 50 * s.mm * b.Body; x > hind {
			x += s.pose.HindFeetMM * k
		} else if x < 8*s.mm {
			if y < 54*s.mm {
				x += s.pose.ForeFeetMM * (54*s.mm - y) / (54 * s.mm)
			}
		}
	}
	if s.pose.PitchDeg != 0 {
		mx, my := s.trunkMiddle()
		sin, cos := math.Sincos(s.pose.PitchDeg * math.Pi / 180)
		w := smooth(3*s.mm, 56*s.mm, y)
		dx, dy := x-mx, y-my
		x += (mx + dx*cos + dy*sin - x) * w
		y += (my - dx*sin + dy*cos - y) * w
	}
	return x, y
}

// trunkMiddle is what the trunk tilts and the dog turns about, mm.
func (s stance) trunkMiddle() (x, y float64) { return 33 * s.mm * s.dog.Build.Body, 75 * s.mm }

// neckward is 0 on the trunk, 1 from the poll forward.
func neckward(x, y float64) float64 {
	// Along the neck's axis from its root to the poll.
	t := ((x+12)*(-22) + (y-94)*(30)) / (22*22 + 30*30)
	if x > 5 || y < 80 {
		return 0
	}
	return smooth(0, 1, t)
}

// bone thickens legs about their axes.
func (s stance) bone(x, y float64) (float64, float64) {
	k := s.dog.Build.Bone
	if k == 1 || y > elbowY {
		return x, y
	}
	fade := smooth(elbowY, elbowY-10, y)
	axis := -6.4
	if x > 30 {
		switch {
		case y > 30:
			axis = 66 + (64-y)*16/30
		default:
			axis = 83 + y*1.6/30
		}
	}
	return axis + (x-axis)*(1+(k-1)*fade), y
}

// tail lengthens and turns the tail about its root.
func (s stance) tail(x, y float64) (float64, float64) {
	if x < 66 || y <= 97 {
		return x, y
	}
	const rootX, rootY = 72.5, 97.0
	w := smooth(97, 106, y)
	k := s.dog.Tail.LengthRatio / 0.36
	dx, dy := (x-rootX)*(1+(s.dog.Build.Bone-1)*w*0.7), (y-rootY)*(1+(k-1)*w)
	sin, cos := math.Sincos(s.dog.Tail.ForwardDeg * math.Pi / 180 * w)
	return rootX + dx*cos - dy*sin, rootY + dx*sin + dy*cos
}

// lie is the direction of a small step (dx, dy) at (x, y) after posing.
func (s stance) lie(x, y, dx, dy float64) (float64, float64) {
	x0, y0 := s.place(x, y)
	x1, y1 := s.place(x+dx*0.5, y+dy*0.5)
	l := math.Hypot(x1-x0, y1-y0)
	if l == 0 {
		return dx, dy
	}
	return (x1 - x0) / l, (y1 - y0) / l
}

// smooth rises from 0 at a to 1 at b (a may lie above b).
func smooth(a, b, v float64) float64 {
	t := (v - a) / (b - a)
	if t <= 0 {
		return 0
	}
	if t >= 1 {
		return 1
	}
	return t * t * (3 - 2*t)
}
