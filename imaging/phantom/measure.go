package phantom

import (
	"math"
	"slices"

	"thatch/timeline"
)

// depths is the median depth, single tips included, of each zone in the outline, over the skin whose coat shows at the edge.
func depths(vs []vertex) map[timeline.Zone]float64 {
	by := map[timeline.Zone][]float64{}
	for i := range vs {
		if vs[i].zone.InOutline() && vs[i].shown {
			by[vs[i].zone] = append(by[vs[i].zone], vs[i].depth+vs[i].rough)
		}
	}
	out := map[timeline.Zone]float64{}
	for z, d := range by {
		slices.Sort(d)
		out[z] = d[len(d)/2]
	}
	return out
}

// landmarks are where a groomer taps, and the same places on the skin. Points of the edge are carried out along
// the normal and set on the nearest place of the outline, which differs only where a loop was cut off.
func (m *figure) landmarks(marks map[timeline.Point]int, xs, ys []float64) (out, skin timeline.Landmarks) {
	out, skin = timeline.Landmarks{}, timeline.Landmarks{}
	for p, i := range marks {
		v := &m.near[i]
		skin[p] = m.v.xy(v.sx, v.sy)
		nx, ny := nearest(xs, ys, v.tx, v.ty)
		out[p] = m.v.xy(nx, ny)
	}
	for p, at := range map[timeline.Point][3]float64{timeline.Eye: eyePlace, timeline.Elbow: elbowPlace} {
		x, y := m.s.place(at[0], at[1])
		x, y, _ = m.sight.at(x, y, at[2]*m.s.mm)
		out[p] = m.v.xy(x, y)
		skin[p] = out[p]
	}
	return out, skin
}

// nearest is the place of the closed polygon nearest to (x, y).
func nearest(xs, ys []float64, x, y float64) (float64, float64) {
	best, bx, by := math.Inf(1), x, y
	for i := range xs {
		j := (i + 1) % len(xs)
		vx, vy := xs[j]-xs[i], ys[j]-ys[i]
		t := 0.0
		if l := vx*vx + vy*vy; l > 0 {
			t = max(0, min(1, ((x-xs[i])*vx+(y-ys[i])*vy)/l))
		}
		px, py := xs[i]+t*vx, ys[i]+t*vy
		if d := (px-x)*(px-x) + (py-y)*(py-y); d < best {
			best, bx, by = d, px, py
		}
	}
	return bx, by
}
