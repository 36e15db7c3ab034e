package phantom

import (
	"math"

	"thatch/timeline"
)

// earZ is how far toward the camera the near ear hangs, in hundredths of the height at the withers.
const earZ = 8.0

// face draws what is not hair of the coat, and the hair that belongs to it: nose, eye, brows, ear.
func (b *brush) nose() {
	x, y := b.spot(-76.9, 120.6, 1)
	m := b.s.mm
	b.disc(x, y, 3.3*m, 2.7*m, rgb{30, 27, 28}, 1, 0.8)
	b.disc(x-0.5*m, y+1.1*m, 1.5*m, 0.7*m, rgb{128, 124, 126}, 0.5, 1.6)
	b.disc(x-1.1*m, y-0.7*m, 0.75*m, 0.5*m, rgb{8, 7, 8}, 0.9, 0.8)
}

func (b *brush) eye() {
	x, y := b.spot(eyePlace[0], eyePlace[1], eyePlace[2])
	m := b.s.mm
	b.disc(x, y, 2.6*m, 2.1*m, rgb{32, 24, 21}, 0.9, 1.6*m*b.v.perMM)
	b.disc(x, y, 1.85*m, 1.65*m, rgb{22, 15, 12}, 1, 1.5)
	b.disc(x-0.1*m, y-0.5*m, 1.05*m, 0.75*m, rgb{84, 50, 29}, 0.7, 2)
	b.disc(x-0.1*m, y, 0.8*m, 0.8*m, rgb{9, 7, 7}, 0.9, 1.5)
	b.disc(x-0.5*m, y+0.5*m, 0.38*m, 0.38*m, rgb{245, 246, 248}, 0.95, 1.2)
}

// toes hints at the paws: the clefts between the toes, and the nails.
func (b *brush) toes() {
	m := b.s.mm
	for _, foot := range []float64{0, 88} {
		z := girthOf(node{x: foot, like: timeline.Feet}).z
		for i := range 3 {
			t := float64(i)
			x, y := b.spot(foot-13.4+2.5*t, 1.0-0.25*t, z)
			b.disc(x, y, 0.75*m, 0.55*m, rgb{46, 40, 38}, 0.8, 1.6)
			x, y = b.spot(foot-11.6+2.4*t, 2.2, z)
			b.disc(x, y, 0.4*m, 1.7*m, rgb{60, 50, 46}, 0.38, 2.5)
		}
	}
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
	pts := [][2]float64{{-48.2, 133.4}, {-44.6, 136.2}, {-40.4, 136}, {-38.6, 133.6}, {-42, 128.8}, {-49.2, 121.2}, {-51.2, 122.4}, {-50.4, 128.6}}
	poly := func(dx, dy, grow float64) ([]float32, []float32) {
		var xs, ys []float32
		n := len(pts)
		for i := range n {
			a, p, q, d := pts[(i+n-1)%n], pts[i], pts[(i+1)%n], pts[(i+2)%n]
			for j := range 6 {
				x, y := catmullRom(a[0], a[1], p[0], p[1], q[0], q[1], d[0], d[1], float64(j)/6)
				y += rise * smooth(122, 136, y)
				x, y = -44+(x+44)*grow+dx, 128+(y-128)*grow+dy
				x, y = b.spot(x, y, earZ)
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
		paintIn(0.7, -0.5-0.35*float64(i), 1.02+0.035*float64(i), rgb{30, 20, 16}, 0.15)
	}
	base := b.p.ear()
	paintIn(0, 0, 1, lit(base, 0.72), 1)
	// Short hair down the leather, lighter at the fold.
	var ts []tuft
	for range 900 {
		i := b.rng.IntN(1000)
		u, v := float64(i%32)/32, b.rng.Float64()
		// From the fold (v 0) to the tip (v 1).
		x := (-48.6+9.9*u)*(1-v) + (-50.6+2.1*u)*v
		y := 135.2 - 13.6*v + 0.9*math.Sin(u*math.Pi)*(1-v)
		y += rise * smooth(122, 136, y)
		col := b.jittered(base)
		light := float32(1.12 - 0.42*v + 0.22*math.Exp(-v*v/0.012) - 0.16*u)
		px, py := b.spot(x, y, earZ)
		dx, dy := b.s.lie(x, y, -0.35, -1)
		l := (1.6 + 2*b.rng.Float64()) * m
		dx += (b.rng.Float64() - 0.5) * 0.5
		ts = append(ts, tuft{key: -y + b.rng.Float64()*4, x0: px, y0: py, x1: px + dx*l*0.5, y1: py + dy*l*0.5, x2: px + dx*l, y2: py + dy*l,
			w0: 0.26 * m, w2: 0.1 * m, root: lit(col, light*0.85), tip: lit(col, light*1.1), alpha: 0.7})
	}
	b.draw(ts)
}

// longHair draws locks of long hair: brows forward over the eye, beard forward and down.
func (b *brush) longHair(n int, from func() (x, y, dx, dy, lenMM float64), widthMM float64, dark float32) {
	var ts []tuft
	for range n {
		x, y, dx, dy, l := from()
		px, py := b.s.place(x, y)
		sx, sy := b.spot(x, y, 5)
		ex, ey := b.s.lie(x, y, dx, dy)
		at := b.f.at(px, py)
		col := b.jittered(b.p.root(px, py, layHead, b.rng))
		light := (0.35 + 0.65*at.light) * dark
		bend := (b.rng.Float64() - 0.35) * 0.25 * l
		w := widthMM * (0.7 + 0.6*b.rng.Float64())
		ts = append(ts, tuft{key: -py + b.rng.Float64()*14, x0: sx, y0: sy, x1: sx + ex*l*0.5 - ey*bend, y1: sy + ey*l*0.5 + ex*bend,
			x2: sx + ex*l, y2: sy + ey*l - 0.06*l, w0: w, w2: w * 0.25, root: lit(col, light*0.82), tip: lit(col, light*1.08), alpha: 0.85})
	}
	b.draw(ts)
}
