package phantom

import "math"

// face draws what is not hair of the coat, and the hair that belongs to it: nose, eye, brows, ear.
func (b *brush) nose() {
	x, y := b.s.place(-76.6, 118.2)
	m := b.s.mm
	b.disc(x, y, 3.3*m, 2.7*m, rgb{30, 27, 28}, 1, 0.8)
	b.disc(x-0.5*m, y+1.1*m, 1.5*m, 0.7*m, rgb{128, 124, 126}, 0.5, 1.6)
	b.disc(x-1.1*m, y-0.7*m, 0.75*m, 0.5*m, rgb{8, 7, 8}, 0.9, 0.8)
}

func (b *brush) eye() {
	x, y := b.s.place(eyePlace[0], eyePlace[1])
	m := b.s.mm
	b.disc(x, y, 3.1*m, 2.5*m, rgb{40, 30, 26}, 0.55, 2.2)
	b.disc(x, y, 1.95*m, 1.8*m, rgb{24, 16, 13}, 1, 0.6)
	b.disc(x-0.1*m, y-0.6*m, 1.2*m, 0.8*m, rgb{92, 54, 30}, 0.75, 1.2)
	b.disc(x-0.1*m, y, 0.95*m, 0.95*m, rgb{10, 8, 8}, 0.9, 0.6)
	b.disc(x-0.55*m, y+0.65*m, 0.5*m, 0.5*m, rgb{250, 250, 250}, 1, 0.6)
	b.disc(x+0.6*m, y-0.5*m, 0.28*m, 0.28*m, rgb{200, 200, 205}, 0.6, 0.6)
}

// disc is an ellipse in mm with an edge softened over soft px per … of its smaller radius.
func (b *brush) disc(x, y, rx, ry float64, col rgb, alpha, softPX float64) {
	px, py := b.v.px(x, y)
	k := b.v.perMM
	ax, ay := rx*k, ry*k
	reach := int(max(ax, ay)+softPX) + 2
	for j := max(0, int(py)-reach); j < min(b.c.h, int(py)+reach+1); j++ {
		for i := max(0, int(px)-reach); i < min(b.c.w, int(px)+reach+1); i++ {
			u, w := (float64(i)-px)/ax, (float64(j)-py)/ay
			q := math.Sqrt(u*u + w*w)
			cov := smooth(1+softPX/ay/2, 1-softPX/ay/2, q)
			if cov == 0 {
				continue
			}
			o := j*b.c.w + i
			if b.c.clip != nil {
				cov *= float64(b.c.clip[o]) / 255
			}
			b.c.blend(o, col, float32(cov*alpha))
		}
	}
}

// ear draws the folded ear: a V that drops forward from a fold level with the skull.
func (b *brush) ear(rise float64) {
	m := b.s.mm
	pts := [][2]float64{{-46.6, 134.2}, {-43, 136.2}, {-38.5, 135.6}, {-37, 132.5}, {-41, 127}, {-47.6, 119.6}, {-50.2, 121.4}, {-50, 127}}
	poly := func(dx, dy, grow float64) ([]float32, []float32) {
		var xs, ys []float32
		n := len(pts)
		for i := range n {
			a, p, q, d := pts[(i+n-1)%n], pts[i], pts[(i+1)%n], pts[(i+2)%n]
			for j := range 6 {
				x, y := catmullRom(a[0], a[1], p[0], p[1], q[0], q[1], d[0], d[1], float64(j)/6)
				y += rise * smooth(119, 136, y)
				x, y = -44+(x+44)*grow+dx, 128+(y-128)*grow+dy
				x, y = b.s.place(x, y)
				px, py := b.v.px(x, y)
				xs, ys = append(xs, float32(px)), append(ys, float32(py))
			}
		}
		return xs, ys
	}
	w, h := b.c.w, b.c.h
	paintIn := func(dx, dy, grow float64, col rgb, alpha float32) []uint8 {
		cov := make([]uint8, w*h)
		xs, ys := poly(dx, dy, grow)
		fill(cov, w, h, xs, ys)
		lo, hi := ys[0], ys[0]
		for _, y := range ys {
			lo, hi = min(lo, y), max(hi, y)
		}
		for i := max(0, int(lo)-2) * w; i < min(h, int(hi)+3)*w; i++ {
			if cov[i] != 0 && b.c.clip[i] != 0 {
				b.c.blend(i, col, alpha*float32(cov[i])*float32(b.c.clip[i])/65025)
			}
		}
		return cov
	}
	for i := range 4 {
		paintIn(0.6, -0.6-0.3*float64(i), 1.03+0.03*float64(i), rgb{34, 24, 20}, 0.10)
	}
	base := b.p.ear()
	paintIn(0, 0, 1, lit(base, 0.72), 1)
	// Short hair down the leather, lighter at the fold.
	var ts []tuft
	for range 900 {
		i := b.rng.IntN(1000)
		u, v := float64(i%32)/32, b.rng.Float64()
		// From the fold (v 0) to the tip (v 1).
		x := (-46.5+9*u)*(1-v) + (-49.3+1.2*u)*v
		y := 135.4 - 15*v + 0.8*math.Sin(u*math.Pi)*(1-v)
		if x > -39.5+(135-y)*-0.72+2.2 {
			continue
		}
		y += rise * smooth(119, 136, y)
		col := b.jittered(base)
		light := float32(1.06 - 0.30*v - 0.12*u)
		px, py := b.s.place(x, y)
		dx, dy := b.s.lie(x, y, -0.35, -1)
		l := (1.6 + 2*b.rng.Float64()) * m
		dx += (b.rng.Float64() - 0.5) * 0.5
		ts = append(ts, tuft{key: -y + b.rng.Float64()*4, x0: px, y0: py, x1: px + dx*l*0.5, y1: py + dy*l*0.5, x2: px + dx*l, y2: py + dy*l,
			w0: 0.26 * m, w2: 0.1 * m, root: lit(col, light*0.85), tip: lit(col, light*1.1), alpha: 0.7})
	}
	b.draw(ts)
}

// tufted draws a lock of long hair: brows forward over the eye, beard forward and down.
func (b *brush) locks(n int, from func() (x, y, dx, dy, lenMM float64), widthMM float64, dark float32) {
	var ts []tuft
	for range n {
		x, y, dx, dy, l := from()
		px, py := b.s.place(x, y)
		ex, ey := b.s.lie(x, y, dx, dy)
		at := b.f.at(px, py)
		col := b.jittered(b.p.root(px, py, layHead, b.rng))
		light := (0.35 + 0.65*at.light) * dark
		bend := (b.rng.Float64() - 0.35) * 0.25 * l
		w := widthMM * (0.7 + 0.6*b.rng.Float64())
		ts = append(ts, tuft{key: -py + b.rng.Float64()*14, x0: px, y0: py, x1: px + ex*l*0.5 - ey*bend, y1: py + ey*l*0.5 + ex*bend,
			x2: px + ex*l, y2: py + ey*l - 0.06*l, w0: w, w2: w * 0.25, root: lit(col, light*0.82), tip: lit(col, light*1.08), alpha: 0.85})
	}
	b.draw(ts)
}
