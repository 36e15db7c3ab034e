package phantom

import (
	"math"
)

// form is what the flank looks like place by place, on a coarse grid in mm of the dog: light, lie and length
// of the hair. Hair reads it at its root.
type form struct {
	x0, y0, cell float64
	nx, ny       int
	light        []float32 // 0 dark to about 1.2
	dx, dy       []float32 // direction of the hair
	length       []float32
	cover        []float32
	limbs        []limb // posed, with their coat, mm
	relief       []float64
	swollen      []float32 // relief toward the camera, mm, smooth; nil while the dog stands square
}

func formOf(s stance, coat Coat, mirror bool) *form {
	f := &form{cell: 1.5 * s.mm}
	x0, y0 := -100*s.mm, -4*s.mm
	f.x0, f.y0 = x0, y0
	f.nx = int(math.Ceil((110*s.mm*s.dog.Build.Body+100*s.mm)/f.cell)) + 2
	f.ny = int(math.Ceil(175*s.mm/f.cell)) + 2
	n := f.nx * f.ny
	f.light, f.dx, f.dy = make([]float32, n), make([]float32, n), make([]float32, n)
	f.length, f.cover = make([]float32, n), make([]float32, n)
	f.pose(s, coat)
	f.comb(s, coat)
	f.shine(s, mirror)
	return f
}

// pose moves the limbs as the skin line is moved and clothes them with the coat of the nearest anchor.
func (f *form) pose(s stance, coat Coat) {
	for _, l := range limbs {
		ax, ay := s.place(l.x0, l.y0)
		bx, by := s.place(l.x1, l.y1)
		thick := s.mm
		if l.over == layFore || l.over == layHind && l.y0 < 50 || l.over == layTail {
			thick *= s.dog.Build.Bone
		}
		f.limbs = append(f.limbs, limb{
			ax, ay, l.r0*thick + 0.8*coat.near(l.x0, l.y0), bx, by, l.r1*thick + 0.8*coat.near(l.x1, l.y1), l.z * s.mm, l.over,
		})
	}
}

// near is the depth of the coat at a place of the standard dog.
func (c Coat) near(x, y float64) float64 {
	best, d := math.Inf(1), 0.0
	for _, a := range anchors {
		if q := (a.x-x)*(a.x-x) + (a.y-y)*(a.y-y); q < best {
			best, d = q, c.of(a.zone).DepthMM()
		}
	}
	return d
}

// comb interpolates lie, length and cover between the anchors (Shepard 1968, inverse distance to the fourth).
func (f *form) comb(s stance, coat Coat) {
	type posed struct{ x, y, dx, dy, length, cover float32 }
	ps := make([]posed, len(anchors))
	for i, a := range anchors {
		x, y := s.place(a.x, a.y)
		dx, dy := s.lie(a.x, a.y, a.dx, a.dy)
		z := coat.of(a.zone)
		ps[i] = posed{float32(x), float32(y), float32(dx), float32(dy), float32(z.LengthMM), float32(z.InHair)}
	}
	soft := float32(9 * s.mm * s.mm)
	for j := range f.ny {
		for i := range f.nx {
			x, y := float32(f.x0+float64(i)*f.cell), float32(f.y0+float64(j)*f.cell)
			var w, dx, dy, l, c float32
			for k := range ps {
				p := &ps[k]
				q := (p.x-x)*(p.x-x) + (p.y-y)*(p.y-y) + soft
				v := 1e6 / (q * q)
				w += v
				dx, dy, l, c = dx+v*p.dx, dy+v*p.dy, l+v*p.length, c+v*p.cover
			}
			n := float32(math.Hypot(float64(dx), float64(dy)))
			o := j*f.nx + i
			f.dx[o], f.dy[o], f.length[o], f.cover[o] = dx/n, dy/n, l/w, c/w
		}
	}
}

// height is the relief toward the camera at a place, and the limb that makes it.
func (f *form) height(x, y float64) (float64, layer) {
	best, over := math.Inf(-1), layTrunk
	for i := range f.limbs {
		l := &f.limbs[i]
		vx, vy := l.x1-l.x0, l.y1-l.y0
		t := ((x-l.x0)*vx + (y-l.y0)*vy) / (vx*vx + vy*vy)
		t = max(0, min(1, t))
		ex, ey := x-l.x0-t*vx, y-l.y0-t*vy
		r := l.r0 + (l.r1-l.r0)*t
		q := ex*ex + ey*ey
		z := l.z
		if q < r*r {
			z += math.Sqrt(r*r - q)
		} else {
			z -= 1.2 * (math.Sqrt(q) - r)
		}
		if z > best {
			best, over = z, l.over
		}
	}
	return best, over
}

// shine lights the relief from above and a little from the window's side.
func (f *form) shine(s stance, mirror bool) {
	z := make([]float64, f.nx*f.ny)
	for j := range f.ny {
		for i := range f.nx {
			z[j*f.nx+i], _ = f.height(f.x0+float64(i)*f.cell, f.y0+float64(j)*f.cell)
		}
	}
	z = boxed(boxed(z, f.nx, f.ny), f.nx, f.ny)
	f.relief = z
	lx, ly, lz := -0.34, 0.72, 0.60
	if mirror {
		lx = -lx
	}
	for j := range f.ny {
		for i := range f.nx {
			at := func(a, b int) float64 {
				return z[max(0, min(f.ny-1, b))*f.nx+max(0, min(f.nx-1, a))]
			}
			gx := (at(i+1, j) - at(i-1, j)) / (2 * f.cell)
			gy := (at(i, j+1) - at(i, j-1)) / (2 * f.cell)
			n := 1 / math.Sqrt(1+gx*gx+gy*gy)
			d := (-gx*lx - gy*ly + lz) * n
			// Wrapped diffuse light, and light that the table and wall send back.
			v := 0.55 + 0.59*math.Max(0, (d+0.35)/1.35)
			v += 0.05 * math.Max(0, gy*n)
			// Hollows are darker: compare with the mean height around.
			hollow := (at(i-3, j)+at(i+3, j)+at(i, j-3)+at(i, j+3))/4 - at(i, j)
			v -= math.Max(-0.02, math.Min(0.16, hollow/(26*s.mm)))
			f.light[j*f.nx+i] = float32(v)
		}
	}
}

func boxed(z []float64, nx, ny int) []float64 {
	out := make([]float64, len(z))
	for j := range ny {
		for i := range nx {
			sum, n := 0.0, 0.0
			for b := max(0, j-1); b <= min(ny-1, j+1); b++ {
				for a := max(0, i-1); a <= min(nx-1, i+1); a++ {
					sum += z[b*nx+a]
					n++
				}
			}
			out[j*nx+i] = sum / n
		}
	}
	return out
}

// under is the light at s on a layer: beard and face are lit by what the table sends back.
func (s spot) under(over layer) float32 {
	if over == layHead {
		return 0.30 + 0.70*s.light
	}
	return s.light
}

// spot is the form at one place.
type spot struct{ light, dx, dy, length, cover float32 }

// cellOf is the cell of the grid that a place lies in, and where in it.
func (f *form) cellOf(x, y float64) (i, j int, u, v float32) {
	gx, gy := (x-f.x0)/f.cell, (y-f.y0)/f.cell
	gx = max(0, min(float64(f.nx-2)+0.999, gx))
	gy = max(0, min(float64(f.ny-2)+0.999, gy))
	i, j = int(gx), int(gy)
	return i, j, float32(gx - float64(i)), float32(gy - float64(j))
}

func (f *form) at(x, y float64) spot {
	i, j, u, v := f.cellOf(x, y)
	o := j*f.nx + i
	w00, w10, w01, w11 := (1-u)*(1-v), u*(1-v), (1-u)*v, u*v
	at := func(a []float32) float32 {
		return a[o]*w00 + a[o+1]*w10 + a[o+f.nx]*w01 + a[o+f.nx+1]*w11
	}
	return spot{at(f.light), at(f.dx), at(f.dy), at(f.length), at(f.cover)}
}

// swell keeps the relief for a dog that is seen at an angle: smooth enough that a turn folds nothing over.
func (f *form) swell() {
	z := f.relief
	for range 6 {
		z = boxed(z, f.nx, f.ny)
	}
	f.swollen = make([]float32, len(z))
	for i, v := range z {
		f.swollen[i] = float32(max(-8*f.cell, v))
	}
}

// bulge is how far toward the camera the near side lies at a place, mm; 0 before swell.
func (f *form) bulge(x, y float64) float64 {
	if f.swollen == nil {
		return 0
	}
	i, j, u, v := f.cellOf(x, y)
	o := j*f.nx + i
	s := f.swollen
	return float64((s[o]*(1-u)+s[o+1]*u)*(1-v) + (s[o+f.nx]*(1-u)+s[o+f.nx+1]*u)*v)
}
