package align

import (
	"math"

	"thatch/timeline"
)

// XY is a place in pixels; the centre of the top left pixel is (0, 0).
type XY = timeline.XY

// Similarity is the transform x' = A·x − B·y + TX, y' = B·x + A·y + TY: scale, turn and shift, never a reflection.
type Similarity struct{ A, B, TX, TY float64 }

// Identity leaves everything where it is.
func Identity() Similarity { return Similarity{A: 1} }

// Turn is the similarity of the given scale and angle that leaves centre in place.
func Turn(scale, deg float64, centre XY) Similarity {
	s, c := math.Sincos(deg * math.Pi / 180)
	t := Similarity{A: scale * c, B: scale * s}
	p := t.Apply(centre)
	t.TX, t.TY = centre.X-p.X, centre.Y-p.Y
	return t
}

// Apply maps p.
func (s Similarity) Apply(p XY) XY {
	return XY{X: s.A*p.X - s.B*p.Y + s.TX, Y: s.B*p.X + s.A*p.Y + s.TY}
}

// Inverse undoes s. It exists only where Valid; otherwise its numbers are not finite.
func (s Similarity) Inverse() Similarity {
	d := s.A*s.A + s.B*s.B
	a, b := s.A/d, -s.B/d
	return Similarity{A: a, B: b, TX: -(a*s.TX - b*s.TY), TY: -(b*s.TX + a*s.TY)}
}

// Compose is s after first: Compose(first).Apply(p) = s.Apply(first.Apply(p)).
func (s Similarity) Compose(first Similarity) Similarity {
	t := s.Apply(XY{X: first.TX, Y: first.TY})
	return Similarity{A: s.A*first.A - s.B*first.B, B: s.B*first.A + s.A*first.B, TX: t.X, TY: t.Y}
}

// Scale is the factor by which lengths grow, > 0 where Valid.
func (s Similarity) Scale() float64 { return math.Hypot(s.A, s.B) }

// RotationDeg is the turn in degrees, −180 to 180, positive from the x axis towards the y axis (clockwise on a screen).
func (s Similarity) RotationDeg() float64 { return math.Atan2(s.B, s.A) * 180 / math.Pi }

// Matrix is [[a, −b, tx], [b, a, ty]], as files carry it.
func (s Similarity) Matrix() [2][3]float64 {
	return [2][3]float64{{s.A, -s.B, s.TX}, {s.B, s.A, s.TY}}
}

// Valid reports whether all numbers are finite and the scale is not zero.
func (s Similarity) Valid() bool {
	sum := s.A + s.B + s.TX + s.TY
	return !math.IsNaN(sum) && !math.IsInf(sum, 0) && s.A*s.A+s.B*s.B > 0
}
