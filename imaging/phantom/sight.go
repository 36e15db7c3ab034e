package phantom

import "math"

// sight is how the camera sees a place of the dog: (x, y) mm of the sagittal plane and z toward the camera become
// mm of the picture plane, which view turns into pixels. The picture plane is that of the line the dog stands on.
type sight struct {
	plain    bool // orthographic and square: (x, y) as they are
	mx       float64
	sin, cos float64 // of the yaw
	distance float64 // 0: orthographic
	cx, cy   float64 // where the optical axis meets the picture plane
}

func (c Camera) sight(s stance) sight {
	mx, _ := s.trunkMiddle()
	sin, cos := math.Sincos(max(-60, min(60, s.pose.YawDeg)) * math.Pi / 180)
	return sight{plain: s.pose.YawDeg == 0 && c.DistanceMM == 0, mx: mx, sin: sin, cos: cos, distance: c.DistanceMM, cx: c.CenterXMM, cy: c.CenterYMM}
}

// at is the place in the picture plane, and how much larger than there a thing at (x, y, z) looks.
func (g *sight) at(x, y, z float64) (sx, sy, larger float64) {
	if g.plain {
		return x, y, 1
	}
	dx := x - g.mx
	x, z = g.mx+dx*g.cos-z*g.sin, dx*g.sin+z*g.cos
	if g.distance == 0 {
		return x, y, 1
	}
	k := g.distance / (g.distance - z)
	return g.cx + (x-g.cx)*k, g.cy + (y-g.cy)*k, k
}

// eye is the camera in the dog's own coordinates; far away along the direction of sight where it is orthographic.
func (g *sight) eye() (x, y, z float64) {
	d, ex, ey := g.distance, g.cx-g.mx, g.cy
	if d == 0 {
		d, ex, ey = 1e9, 0, 0
	}
	return g.mx + ex*g.cos + d*g.sin, ey, -ex*g.sin + d*g.cos
}

// seen is a vertex as the camera sees it: the contours of skin and coat, in mm of the picture plane.
type seen struct {
	sx, sy   float64 // skin
	tx, ty   float64 // tip
	snx, sny float64 // outward normal
	larger   float64
}

// contour is the angle from the sagittal normal, toward the camera, at which a surface of the radius round about
// (x, y, z) turns out of sight: where its normal n·cos θ + z·sin θ stands square to the line of sight.
func (g *sight) contour(x, y, z, nx, ny, radius float64) float64 {
	ex, ey, ez := g.eye()
	a, b := (ex-x)*nx+(ey-y)*ny, ez-z
	return math.Atan2(b, a) - math.Acos(max(-1, min(1, radius/math.Hypot(a, b))))
}

// look fills in what the camera sees of every vertex. The body turns away from the contour on an arc of v.round in
// the plane of the normal and the z axis, and the coat on an arc as much larger as it is deep: the surface
// P − round·n + (round + depth)(n·cos θ + z·sin θ). As round varies slowly along the line, its outline is where the
// normal is square to the line of sight.
func (g *sight) look(vs []vertex) {
	for i := range vs {
		v := &vs[i]
		v.larger = 1
		if g.plain {
			v.sx, v.sy = v.x, v.y
			v.tx, v.ty = v.tip()
			v.snx, v.sny = v.nx, v.ny
			continue
		}
		cx, cy := v.x-v.round*v.nx, v.y-v.round*v.ny
		surface := func(radius float64) (x, y, z float64) {
			sin, cos := math.Sincos(g.contour(cx, cy, v.z, v.nx, v.ny, radius))
			// Soles stand on the table: no hair below it.
			return cx + radius*v.nx*cos, max(cy+radius*v.ny*cos, min(v.y, 0)), v.z + radius*sin
		}
		v.sx, v.sy, v.larger = g.at(surface(v.round))
		v.tx, v.ty, _ = g.at(surface(v.round + v.depth + v.rough))
	}
	if g.plain {
		return
	}
	n := len(vs)
	const reach = 4
	for i := range vs {
		a, b := &vs[(i+n-reach)%n], &vs[(i+reach)%n]
		tx, ty := b.sx-a.sx, b.sy-a.sy
		l := max(1e-9, math.Hypot(tx, ty))
		vs[i].snx, vs[i].sny = -ty/l, tx/l
	}
}
