package phantom

import (
	"math"

	"thatch/timeline"
)

// view turns mm of the dog (facing left) into pixels of the picture.
type view struct {
	ax, ay, bx, by, tx, ty float64 // px = ax·x + bx·y + tx, py = ay·x + by·y + ty
	perMM                  float64
	mirror                 bool
}

func (c Camera) view(facing timeline.Side) view {
	k := 1 / c.MMPerPX
	sin, cos := math.Sincos(c.RollDeg * math.Pi / 180)
	f := 1.0
	if facing == timeline.SideRight {
		f = -1
	}
	v := view{perMM: k, mirror: f < 0}
	// u = f·(x − cx), w = cy − y; turned by the roll, clockwise in a picture whose y runs down.
	v.ax, v.bx = k*f*cos, k*sin
	v.ay, v.by = k*f*sin, -k*cos
	v.tx = float64(c.WidthPX-1)/2 - v.ax*c.CenterXMM - v.bx*c.CenterYMM
	v.ty = float64(c.HeightPX-1)/2 - v.ay*c.CenterXMM - v.by*c.CenterYMM
	return v
}

func (v view) px(x, y float64) (float64, float64) {
	return v.ax*x + v.bx*y + v.tx, v.ay*x + v.by*y + v.ty
}

func (v view) mm(px, py float64) (float64, float64) {
	det := v.ax*v.by - v.bx*v.ay
	dx, dy := px-v.tx, py-v.ty
	return (v.by*dx - v.bx*dy) / det, (v.ax*dy - v.ay*dx) / det
}

func (v view) xy(x, y float64) timeline.XY {
	px, py := v.px(x, y)
	return timeline.XY{X: px, Y: py}
}
