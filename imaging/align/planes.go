package align

import (
	"image"
	"math"
)

// plane is a picture reduced for matching: how light it is, and how steep that is. Coat under another light keeps its
// edges, so both are matched.
type plane struct {
	w, h  int
	scale float64   // px of the plane per px of the picture, ≤ 1
	y, g  []float32 // h × w
}

// into maps px of the picture to px of the plane; the half pixels keep both centres honest.
func (p *plane) into() Similarity {
	d := 0.5*p.scale - 0.5
	return Similarity{A: p.scale, TX: d, TY: d}
}

// luma reduces img by averaging so that its long side is at most longPX.
func luma(img *image.NRGBA, longPX int) *plane {
	b := img.Bounds()
	s := math.Min(1, float64(longPX)/float64(max(b.Dx(), b.Dy())))
	p := &plane{w: max(1, int(float64(b.Dx())*s)), h: max(1, int(float64(b.Dy())*s)), scale: s}
	p.y = make([]float32, p.w*p.h)
	from := func(i int) int { return int(math.Ceil(float64(i) / s)) }
	rows(p.h, func(r int) {
		n := make([]float32, p.w)
		out := p.y[r*p.w : (r+1)*p.w]
		for y := from(r); y < min(from(r+1), b.Dy()); y++ {
			in := img.Pix[img.PixOffset(b.Min.X, b.Min.Y+y):]
			for x := range b.Dx() {
				c := int(float64(x) * s)
				if c >= p.w {
					break
				}
				// Rec. 709 weights on the encoded values: matching needs no linear light.
				out[c] += 0.2126*float32(in[4*x]) + 0.7152*float32(in[4*x+1]) + 0.0722*float32(in[4*x+2])
				n[c]++
			}
		}
		for c := range out {
			out[c] /= max(n[c], 1)
		}
	})
	p.steepness()
	return p
}

// smaller reduces p further.
func (p *plane) smaller(longPX int) *plane {
	s := math.Min(1, float64(longPX)/float64(max(p.w, p.h)))
	q := &plane{w: max(1, int(float64(p.w)*s)), h: max(1, int(float64(p.h)*s)), scale: p.scale * s}
	q.y = make([]float32, q.w*q.h)
	n := make([]float32, q.w*q.h)
	for y := range p.h {
		for x := range p.w {
			if r, c := int(float64(y)*s), int(float64(x)*s); r < q.h && c < q.w {
				q.y[r*q.w+c] += p.y[y*p.w+x]
				n[r*q.w+c]++
			}
		}
	}
	for i := range q.y {
		q.y[i] /= max(n[i], 1)
	}
	q.steepness()
	return q
}

func (p *plane) steepness() {
	p.g = make([]float32, p.w*p.h)
	for y := range p.h {
		for x := range p.w {
			l, r := max(x-1, 0), min(x+1, p.w-1)
			u, d := max(y-1, 0), min(y+1, p.h-1)
			gx := float64(p.y[y*p.w+r] - p.y[y*p.w+l])
			gy := float64(p.y[d*p.w+x] - p.y[u*p.w+x])
			// The root tames the strongest edges: a window frame must not outweigh a back.
			p.g[y*p.w+x] = float32(math.Sqrt(math.Hypot(gx, gy)))
		}
	}
}

// at samples both values; not ok outside.
func (p *plane) at(q XY) (y, g float32, ok bool) {
	if !(q.X >= 0 && q.Y >= 0 && q.X <= float64(p.w-1) && q.Y <= float64(p.h-1)) {
		return 0, 0, false
	}
	x0, y0 := int(q.X), int(q.Y)
	fx, fy := float32(q.X-float64(x0)), float32(q.Y-float64(y0))
	i := y0*p.w + x0
	dx, dy := 1, p.w
	if x0+1 >= p.w {
		dx = 0
	}
	if y0+1 >= p.h {
		dy = 0
	}
	mix := func(v []float32) float32 {
		top := v[i] + fx*(v[i+dx]-v[i])
		low := v[i+dy] + fx*(v[i+dy+dx]-v[i+dy])
		return top + fy*(low-top)
	}
	return mix(p.y), mix(p.g), true
}

// corr is a running zero-mean normalised cross-correlation.
type corr struct{ n, a, b, aa, bb, ab float64 }

func (c *corr) add(a, b float32) {
	x, y := float64(a), float64(b)
	c.n, c.a, c.b = c.n+1, c.a+x, c.b+y
	c.aa, c.bb, c.ab = c.aa+x*x, c.bb+y*y, c.ab+x*y
}

// value is −1 to 1; the floor in grey levels squared keeps noise on a flat wall from correlating.
func (c *corr) value(floor float64) float64 {
	if c.n < 8 {
		return 0
	}
	va, vb := c.aa-c.a*c.a/c.n, c.bb-c.b*c.b/c.n
	return (c.ab - c.a*c.b/c.n) / math.Sqrt((va+floor*c.n)*(vb+floor*c.n))
}

const (
	lumaFloor  = 9.0  // 3 grey levels
	steepFloor = 0.25 // of the root of a grey level's difference
)

// template is a set of places on the old picture with their values there.
type template struct {
	at   []XY // px of the old picture
	y, g []float32
}

func cut(p *plane, places []XY) template {
	var t template
	in := p.into()
	for _, q := range places {
		if y, g, ok := p.at(in.Apply(q)); ok {
			t.at, t.y, t.g = append(t.at, q), append(t.y, y), append(t.g, g)
		}
	}
	return t
}

// score is how well the template, moved by s, agrees with p: −1 to 1. A template that falls out of the picture by more
// than three tenths scores −1: what cannot be seen cannot agree.
func (t template) score(p *plane, s Similarity) float64 {
	m := p.into().Compose(s)
	var cy, cg corr
	for i, q := range t.at {
		if y, g, ok := p.at(m.Apply(q)); ok {
			cy.add(t.y[i], y)
			cg.add(t.g[i], g)
		}
	}
	if cy.n < 0.7*float64(len(t.at)) || cy.n < 8 {
		return -1
	}
	return 0.5*cy.value(lumaFloor) + 0.5*cg.value(steepFloor)
}
