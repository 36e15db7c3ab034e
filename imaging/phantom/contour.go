package phantom

import (
	"math"
	"math/rand/v2"

	"thatch/timeline"
)

// vertex is a place of the skin line with its outward normal and the coat that stands on it, in mm of the dog's
// sagittal plane, and beside it how the camera sees it, in mm of the picture plane.
type vertex struct {
	x, y   float64
	nx, ny float64
	z      float64 // of the contour toward the camera, while the dog stands square
	round  float64 // radius on which the body turns away from the camera here
	seen
	zone   timeline.Zone
	depth  float64 // smooth, along the normal
	length float64 // of the hair here
	rough  float64 // of single locks, mean 0 over each lock
	shown  bool    // its outline vertex was not cut off with a loop
}

func (v vertex) tip() (float64, float64) {
	d := v.depth + v.rough
	// Soles stand on the table: no hair below it.
	return v.x + v.nx*d, max(v.y+v.ny*d, min(v.y, 0))
}

// stepMM is the spacing of the contour's vertices: finer than a lock, coarser than a pixel of a phone's photo reduced to half.
const stepMM = 0.6

// depthBlendMM is the standard deviation with which depth passes from zone to zone.
const depthBlendMM = 6.0

// skinLine samples the closed curve through the nodes every stepMM and stands the coat on it.
func skinLine(nodes []node, s stance, coat Coat, rng *rand.Rand) (vs []vertex, marks map[timeline.Point]int) {
	n := len(nodes)
	px, py := make([]float64, n), make([]float64, n)
	girths := make([]girth, n)
	for i, d := range nodes {
		px[i], py[i] = s.place(d.x, d.y)
		girths[i] = girthOf(d)
	}
	marks = map[timeline.Point]int{}
	for i := range nodes {
		a, b, c, d := (i+n-1)%n, i, (i+1)%n, (i+2)%n
		chord := math.Hypot(px[c]-px[b], py[c]-py[b])
		k := max(2, int(math.Round(chord/stepMM)))
		if nodes[i].mark != "" {
			marks[nodes[i].mark] = len(vs)
		}
		z := coat.of(nodes[i].like)
		for j := range k {
			x, y := catmullRom(px[a], py[a], px[b], py[b], px[c], py[c], px[d], py[d], float64(j)/float64(k))
			t := float64(j) / float64(k)
			vs = append(vs, vertex{x: x, y: y, zone: nodes[i].zone, depth: z.DepthMM() * nodes[i].factor, length: z.LengthMM * nodes[i].factor, shown: true,
				z: (girths[b].z*(1-t) + girths[c].z*t) * s.mm, round: (girths[b].round*(1-t) + girths[c].round*t) * s.mm})
		}
	}
	normals(vs)
	coat.unevenIn(vs)
	blend(vs, depthBlendMM, func(v *vertex) *float64 { return &v.depth }, func(v *vertex) *float64 { return &v.length })
	blend(vs, girthBlendMM, func(v *vertex) *float64 { return &v.z }, func(v *vertex) *float64 { return &v.round })
	locks(vs, rng)
	return vs, marks
}

// catmullRom is the centripetal curve between b and c (Barry, Goldman 1988; knots by the square root of the
// chord), which makes no loops of its own.
func catmullRom(ax, ay, bx, by, cx, cy, dx, dy, t float64) (float64, float64) {
	k0 := math.Sqrt(math.Hypot(bx-ax, by-ay))
	k1 := math.Sqrt(math.Hypot(cx-bx, cy-by))
	k2 := math.Sqrt(math.Hypot(dx-cx, dy-cy))
	f := func(a, b, c, d float64) float64 {
		m1 := (b-a)/k0*k1 - (c-a)/(k0+k1)*k1 + (c - b)
		m2 := (c - b) - (d-b)/(k1+k2)*k1 + (d-c)/k2*k1
		t2, t3 := t*t, t*t*t
		return (2*t3-3*t2+1)*b + (t3-2*t2+t)*m1 + (3*t2-2*t3)*c + (t3-t2)*m2
	}
	return f(ax, bx, cx, dx), f(ay, by, cy, dy)
}

// normals points every normal outward: the line runs over the back to the rear, so outward is to its left.
func normals(vs []vertex) {
	n := len(vs)
	const reach = 4
	for i := range vs {
		a, b := &vs[(i+n-reach)%n], &vs[(i+reach)%n]
		tx, ty := b.x-a.x, b.y-a.y
		l := math.Hypot(tx, ty)
		vs[i].nx, vs[i].ny = -ty/l, tx/l
	}
}

// blend smooths fields along the closed line, by three box means of about the wanted deviation.
func blend(vs []vertex, sdMM float64, fields ...func(*vertex) *float64) {
	n := len(vs)
	half := int(math.Round(sdMM / stepMM)) // three boxes of 2h+1: sd ≈ h
	buf := make([]float64, n)
	for _, f := range fields {
		for range 3 {
			sum := 0.0
			for j := -half; j <= half; j++ {
				sum += *f(&vs[(j+n)%n])
			}
			for i := range vs {
				buf[i] = sum / float64(2*half+1)
				sum += *f(&vs[(i+half+1)%n]) - *f(&vs[(i-half+n)%n])
			}
			for i := range vs {
				*f(&vs[i]) = buf[i]
			}
		}
	}
}

// locks roughens the line by locks of hair that lie higher or lower. Each has mean 0, so that neither the mean nor
// the median depth of a zone moves. What single strands do beyond that is drawn (edge.go), not part of the line.
func locks(vs []vertex, rng *rand.Rand) {
	for i := 0; i < len(vs); {
		v := vs[i]
		k := min(len(vs)-i, int((4+0.35*v.depth)*(0.6+0.9*rng.Float64())/stepMM)+2)
		amp := min(1.1, 0.042*v.depth) * (rng.Float64()*2 - 0.8)
		for j := range k {
			u := (float64(j) + 0.5) / float64(k)
			vs[i+j].rough = amp * math.Sin(2*math.Pi*u) * smooth(0.3, 2, vs[i+j].depth)
		}
		i += k
	}
}

// outlineOf is the line of the tips, its loops cut off, and which skin vertex each place belongs to.
// Loops arise where the skin turns inward more tightly than the coat is deep.
func outlineOf(vs []vertex) (xs, ys []float64, from []int) {
	n := len(vs)
	tx, ty := make([]float64, n), make([]float64, n)
	for i := range vs {
		tx[i], ty[i] = vs[i].tx, vs[i].ty
	}
	const loopMM = 190 // longer than any loop a coat makes, shorter than the way round a leg or the tail
	reach := int(math.Round(loopMM / stepMM))
	for i := 0; i < n; {
		xs, ys, from = append(xs, tx[i]), append(ys, ty[i]), append(from, i)
		next := i + 1
		ax, ay := tx[i], ty[i]
		bx, by := tx[(i+1)%n], ty[(i+1)%n]
		lox, hix, loy, hiy := min(ax, bx), max(ax, bx), min(ay, by), max(ay, by)
		for j := min(i+reach, n-2); j > i+1; j-- {
			cx, cy, dx, dy := tx[j], ty[j], tx[j+1], ty[j+1]
			if max(cx, dx) < lox || min(cx, dx) > hix || max(cy, dy) < loy || min(cy, dy) > hiy {
				continue
			}
			if x, y, ok := crossing(ax, ay, bx, by, cx, cy, dx, dy); ok {
				xs, ys, from = append(xs, x), append(ys, y), append(from, i)
				for k := i + 1; k <= j; k++ {
					vs[k].shown = false
				}
				next = j + 1
				break
			}
		}
		i = next
	}
	return xs, ys, from
}

func crossing(ax, ay, bx, by, cx, cy, dx, dy float64) (x, y float64, ok bool) {
	rx, ry, sx, sy := bx-ax, by-ay, dx-cx, dy-cy
	den := rx*sy - ry*sx
	if den == 0 {
		return 0, 0, false
	}
	t := ((cx-ax)*sy - (cy-ay)*sx) / den
	u := ((cx-ax)*ry - (cy-ay)*rx) / den
	if t < 0 || t > 1 || u < 0 || u > 1 {
		return 0, 0, false
	}
	return ax + t*rx, ay + t*ry, true
}

// of is the coat of a zone; a zone left out takes its group's first known zone, or a short covering coat.
func (c Coat) of(z timeline.Zone) ZoneCoat {
	if v, ok := c[z]; ok {
		return v
	}
	for _, o := range z.Group().Zones() {
		if v, ok := c[o]; ok {
			return v
		}
	}
	return ZoneCoat{LengthMM: 12, LoftMM: 0.5, InHair: 1}
}
