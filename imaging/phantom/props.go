package phantom

import (
	"math"
	"math/rand/v2"

	"thatch/timeline"
)

// along is the place on the edge at a share of the zone's stretch, in the order of the skin line, and its outward normal.
func (m *figure) along(z timeline.Zone, share float64) (x, y, nx, ny float64) {
	from, to := -1, -1
	for i := range m.near {
		if m.near[i].zone == z {
			if from < 0 {
				from = i
			}
			to = i
		} else if from >= 0 {
			break
		}
	}
	v := &m.near[from+int(share*float64(to-from))]
	return v.tx, v.ty, v.snx, v.sny
}

// lead draws a noose behind the ears and the lead up out of the picture.
func (m *figure) lead(c *canvas) {
	mm := m.s.mm
	cx, cy, cnx, cny := m.along(timeline.Crest, 0.1)
	tx, ty, tnx, tny := m.along(timeline.Throat, 0.8)
	band := rgb{58, 46, 92}
	// Round the neck from throat to crest, bulging toward the ears.
	const n = 40
	path := make([][2]float64, 0, n+1)
	for i := range n + 1 {
		t := float64(i) / n
		s := math.Sin(math.Pi * t)
		path = append(path, [2]float64{(tx+1.2*tnx)*(1-t) + (cx+1.2*cnx)*t + 2.5*mm*s, (ty+1.2*tny)*(1-t) + (cy+1.2*cny)*t - 1.5*mm*s})
	}
	m.tape(c, path, 2.2*mm, band, true)
	up := make([][2]float64, 0, n+1)
	for i := range n + 1 {
		t := float64(i) / n
		up = append(up, [2]float64{cx - 1.5*cnx - 6*mm*t - 4*mm*math.Sin(math.Pi*t), cy - 1.5*cny + t*110*mm})
	}
	m.tape(c, up, 2*mm, band, false)
	x, y := m.v.px(cx+0.6*cnx, cy+0.6*cny)
	m.flesh(c, []bone{{x, y, x + 0.01, y, 2 * mm * m.v.perMM, 2 * mm * m.v.perMM, 0}}, rgb{188, 170, 110}, 0.1)
}

// tape draws a woven band along a path of the picture plane, mm. Where it lies on the coat (on) its edges go under hair.
func (m *figure) tape(c *canvas, path [][2]float64, widthMM float64, col rgb, on bool) {
	rng := rand.New(rand.NewPCG(uint64(m.cam.Seed), 0x1ead))
	half := widthMM / 2 * m.v.perMM
	done := map[int]float64{}
	for i := range len(path) - 1 {
		ax, ay := m.v.px(path[i][0], path[i][1])
		bx, by := m.v.px(path[i+1][0], path[i+1][1])
		l := math.Hypot(bx-ax, by-ay)
		if l == 0 {
			continue
		}
		ux, uy := (bx-ax)/l, (by-ay)/l
		for y := max(0, int(min(ay, by)-half)-2); y <= min(c.h-1, int(max(ay, by)+half)+2); y++ {
			for x := max(0, int(min(ax, bx)-half)-2); x <= min(c.w-1, int(max(ax, bx)+half)+2); x++ {
				dx, dy := float64(x)-ax, float64(y)-ay
				s, d := dx*ux+dy*uy, dx*uy-dy*ux
				if s < -0.5 || s > l+0.5 {
					continue
				}
				a := max(0, min(1, half+0.5-math.Abs(d)))
				k := y*c.w + x
				if a <= done[k] {
					continue
				}
				weave := 0.9 + 0.16*math.Sin((float64(i)*l+s+math.Abs(d))/2.2) - 0.25*math.Pow(d/half, 4) + 0.1*d/half
				c.blend(k, col.times(float32(weave)), float32((a-done[k])/(1-done[k])))
				done[k] = a
			}
		}
	}
	if !on {
		return
	}
	// Hairs that the noose presses up lie over its edges.
	b := &brush{c: c, v: m.v, g: &m.sight, f: m.f, p: paintOf(m.s), s: m.s, rng: rng, shade: 1}
	var ts []tuft
	for range int(40 * float64(len(path)) / 10) {
		p := path[1+rng.IntN(len(path)-2)]
		x, y := p[0]+spread(rng, widthMM), p[1]+spread(rng, widthMM)
		if px, py := m.v.px(x, y); px < 0 || py < 0 || int(px) >= c.w || int(py) >= c.h || m.nearCov[int(py)*c.w+int(px)] < 200 {
			continue
		}
		gx, gy := b.ground(x, y)
		at := b.f.at(gx, gy)
		_, over := b.f.height(gx, gy)
		hair := lit(b.jittered(b.p.root(gx, gy, over, rng)), at.under(over))
		l := 4 + 5*rng.Float64()
		dx, dy := float64(at.dx)+spread(rng, 0.4), float64(at.dy)+spread(rng, 0.4)
		ts = append(ts, tuft{key: rng.Float64(), x0: x - dx*l/2, y0: y - dy*l/2, x1: x, y1: y + 0.5, x2: x + dx*l/2, y2: y + dy*l/2, w0: 0.6, w2: 0.25, root: hair, tip: hair, alpha: 0.85})
	}
	b.draw(ts)
}

// bone is a tapered capsule in px, z toward the camera.
type bone struct{ x0, y0, x1, y1, r0, r1, z float64 }

// flesh draws bones as one rounded, lit body; where two meet, the skin runs over within blend px.
func (m *figure) flesh(c *canvas, bones []bone, col rgb, blend float64) {
	lox, loy, hix, hiy := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, b := range bones {
		r := max(b.r0, b.r1) + 3
		lox, loy = min(lox, b.x0-r, b.x1-r), min(loy, b.y0-r, b.y1-r)
		hix, hiy = max(hix, b.x0+r, b.x1+r), max(hiy, b.y0+r, b.y1+r)
	}
	x0, y0, x1, y1 := max(0, int(lox)), max(0, int(loy)), min(c.w, int(hix)+1), min(c.h, int(hiy)+1)
	if x0 >= x1 || y0 >= y1 {
		return
	}
	w, h := x1-x0, y1-y0
	high, cover := make([]float64, w*h), make([]float64, w*h)
	for i := range high {
		x, y := float64(x0+i%w), float64(y0+i/w)
		top := math.Inf(-1)
		for _, b := range bones {
			dx, dy := b.x1-b.x0, b.y1-b.y0
			t := max(0, min(1, ((x-b.x0)*dx+(y-b.y0)*dy)/(dx*dx+dy*dy)))
			d := math.Hypot(x-b.x0-t*dx, y-b.y0-t*dy)
			r := b.r0 + (b.r1-b.r0)*t
			cover[i] = max(cover[i], min(1, r+0.5-d))
			z := b.z - 3*(d-r)
			if d < r {
				z = b.z + math.Sqrt(r*r-d*d)
			}
			// Smooth maximum, polynomial (Quilez).
			k := max(0, blend-math.Abs(z-top))
			if math.IsInf(top, -1) {
				k = 0
			}
			top = max(top, z) + k*k/(4*blend)
		}
		high[i] = top
	}
	at := func(i, j int) float64 { return high[max(0, min(h-1, j))*w+max(0, min(w-1, i))] }
	reach := max(2, int(1.2*blend))
	for i, a := range cover {
		if a <= 0 {
			continue
		}
		x, y := i%w, i/w
		gx, gy := max(-2.5, min(2.5, (at(x+1, y)-at(x-1, y))/2)), max(-2.5, min(2.5, (at(x, y+1)-at(x, y-1))/2))
		n := 1 / math.Sqrt(1+gx*gx+gy*gy)
		d := (0.22*gx + 0.66*gy + 0.72) * n
		light := 0.42 + 0.66*max(0, (d+0.3)/1.3)
		hollow := (at(x-reach, y)+at(x+reach, y)+at(x, y-reach)+at(x, y+reach))/4 - high[i]
		light -= max(0, min(0.22, hollow/(6*blend)))
		skin := col.times(float32(light))
		// Shaded skin is redder.
		skin.g *= float32(1 - 0.10*max(0, 0.95-light))
		skin.b *= float32(1 - 0.16*max(0, 0.95-light))
		c.blend((y0+y)*c.w+x0+x, skin, float32(a))
	}
}

// hand draws a groomer's hand and forearm, the arm coming in from outside the picture, behind the dog or before its head.
func (m *figure) hand(c *canvas, where Hand) {
	mm := m.s.mm
	// In mm of the dog's size a hand is as large for a small dog: 85 mm across, fingers 16 mm thick, in the picture plane.
	var ox, oy, rot float64 // of the grip, and the direction from which the arm comes
	var held []bone
	k := m.v.perMM
	// u along the arm, outward; w across it, upward for an arm from the rear.
	limb := func(u0, w0, u1, w1, r0, r1, z float64) bone {
		sin, cos := math.Sincos(rot * math.Pi / 180)
		x0, y0 := m.v.px(ox+u0*cos-w0*sin, oy+u0*sin+w0*cos)
		x1, y1 := m.v.px(ox+u1*cos-w1*sin, oy+u1*sin+w1*cos)
		return bone{x0, y0, x1, y1, r0 * k, r1 * k, z * k}
	}
	switch where {
	case HandTail: // fingers closed over the tail, the thumb along it
		x0, y0, _, _ := m.along(timeline.Tail, 0.30)
		x1, y1, _, _ := m.along(timeline.Tail, 0.70)
		ox, oy, rot = (x0+x1)/2, (y0+y1)/2, 18
		for i, w := range []float64{-27, -9.5, 8, 24} {
			reach := []float64{0.82, 0.95, 1, 0.9}[i]
			held = append(held, limb(32, w*0.8, 2, w, 10.5, 10, 12), limb(2, w, -15*reach, w-1, 10, 8.4, 10))
		}
		held = append(held, limb(44, 26, 14, 42, 11.5, 9.5, 16), limb(14, 42, -6, 44, 9.5, 8, 14))
	case HandChin: // the palm below the jaw, the thumb along the muzzle
		x0, y0, _, _ := m.along(timeline.Beard, 0.3)
		ox, oy, rot = x0, y0-6*mm, 236
		for i, w := range []float64{-27, -9.5, 8, 24} {
			reach := []float64{0.7, 0.9, 1, 0.85}[i]
			held = append(held, limb(32, w*0.8, 4, w, 10.5, 9.8, 8), limb(4, w, -20*reach, w+2, 9.8, 8, 4))
		}
		held = append(held, limb(46, -24, 16, -44, 11.5, 9.5, 14), limb(16, -44, -10, -47, 9.5, 7.8, 12))
	default:
		return
	}
	skin, sleeve := rgb{216, 162, 132}, rgb{70, 96, 92}
	m.flesh(c, append([]bone{
		limb(60, -2, 240, 0, 24, 31, 0), limb(34, 4, 66, 0, 27, 25, 2), limb(34, -12, 60, -6, 24, 24, 2), limb(36, 16, 52, 6, 20, 20, 3),
	}, held...), skin, 5*k)
	m.flesh(c, []bone{limb(158, 0, 320, 6, 36, 42, 4), limb(320, 6, 900, 40, 42, 56, 4), limb(156, 0, 168, 0, 38, 37, 4)}, sleeve, 4*k)
}
