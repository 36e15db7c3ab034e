package phantom

import (
	"math"
	"math/rand/v2"
)

// The edge of a rough coat is no line: clumps of hairs end higher and lower, with gaps between them, and a few
// hairs stand out by millimetres. The truth's outline is the line that half of the coverage reaches, taken over
// some clumps. Below it the coat closes within inset; above it single strands go on.

// raggedMM is the standard deviation of where the clumps of a coat of this depth end, along the normal.
func raggedMM(depth float64) float64 { return min(1.2, 0.3+0.055*depth) }

// meanTip is where the tips of the strands have to end on the average, mm above the outline, for half of the coverage
// to reach it: above, because of gaps and of what their thin ends do not cover; less so the more they lean (along by
// up) and in a hollow, where strands from both sides run together (wide below 1). Fitted to what is drawn, and held
// by a test.
func meanTip(ragged, lean, wide float64) float64 {
	return min(0.45, 0.63*ragged-0.03) - 0.35*(min(2, lean)-0.85) - 1.4*max(0, 1-wide)
}

// leaning is how far along the edge a hair of the length reaches whose tip stands at the height, mm.
func leaning(length, height float64) float64 {
	return min(30, max(2.5, 0.62*math.Sqrt(max(6, length*length-height*height))))
}

// inset is how far below the outline the coat has closed, mm.
func inset(depth float64) float64 { return min(0.7*depth, 1.9*raggedMM(depth)) }

// clumps draws how high one clump after the other ends, in units of its raggedness: in every six one from each sixth
// of a normal distribution, a high one beside a low one, so that no stretch of the coat is deeper by chance. The
// lowest is a gap.
type clumps struct{ next []float64 }

var sixths = [6]float64{-1.38, -0.67, -0.21, 0.21, 0.67, 1.38} // middles of the sixths, to sd 1 with their spread

func (c *clumps) draw(rng *rand.Rand) float64 {
	if len(c.next) == 0 {
		for _, k := range rng.Perm(len(sixths) / 2) {
			if rng.IntN(2) == 0 {
				k = len(sixths) - 1 - k
			}
			for _, q := range [2]int{k, len(sixths) - 1 - k} {
				v := sixths[q] + 0.5*(rng.Float64()-0.5)
				if q == 0 {
					v -= 0.6
				}
				c.next = append(c.next, v)
			}
		}
	}
	v := c.next[0]
	c.next = c.next[1:]
	return v
}

// closed is the line below which nothing shows through, ragged itself, in mm of the picture plane.
func (m *figure) closed(vs []vertex) (xs, ys []float64) {
	line := make([]vertex, len(vs))
	copy(line, vs)
	for i := 0; i < len(line); {
		d := line[i].depth
		k := min(len(line)-i, 1+int((0.6+0.05*d)*(0.5+m.rng.Float64())/stepMM))
		jag := (m.rng.Float64() - 0.5) * raggedMM(d)
		for j := range k {
			v := &line[i+j]
			// Toward the skin along the seen normal.
			in := max(0, inset(v.depth)+jag*smooth(0.3, 2, v.depth)) * v.larger
			v.tx, v.ty = v.tx-v.snx*in, v.ty-v.sny*in
		}
		i += k
	}
	xs, ys, _ = outlineOf(line)
	return xs, ys
}

// fringe draws the hair that makes the edge, strand by strand: leaning with the lie, in clumps whose tips run
// together. each is the spacing of strands along the edge in mm.
func (b *brush) fringe(vs []vertex, widthMM, each float64) []tuft {
	var ts []tuft
	var clump struct{ to, middle, off float64 }
	var heights clumps
	n := float64(len(vs))
	for at, next := 0.0, 0.0; at < n; at = next {
		v := &vs[int(at)]
		// As many to a millimetre of the edge, wherever it is longer or shorter than the skin below it.
		wide := stretch(vs, int(at))
		next = at + each/stepMM/wide*(0.6+0.8*b.rng.Float64())
		if v.depth < 0.6 {
			continue
		}
		ragged := raggedMM(v.depth)
		if at >= clump.to {
			clump.to = at + (0.9+0.075*v.depth)*(0.5+b.rng.Float64())/stepMM/wide
			clump.middle = at + (clump.to-at)*(0.3+0.7*b.rng.Float64())
			clump.off = heights.draw(b.rng) * 0.75 * ragged
		}
		x, y := v.x, v.y
		lie := b.f.at(x, y)
		if lie.cover < 1 && b.rng.Float32() > lie.cover {
			continue
		}
		// Tangent along the lie; its sign from the flank's hair.
		tx, ty := v.sny, -v.snx
		if float64(lie.dx)*tx+float64(lie.dy)*ty < 0 {
			tx, ty = -tx, -ty
		}
		off := meanTip(ragged, leaning(v.length, v.depth)/max(1, v.depth), wide) + clump.off + b.rng.NormFloat64()*0.5*ragged
		w := widthMM * (0.6 + 0.6*b.rng.Float64())
		// Hair of the feet ends at the table; in a corner it runs into its neighbours.
		free := v.shown && v.y > 2*b.s.mm
		stray := free && b.rng.Float64() < 0.05
		if stray {
			off += min(6, (0.7+0.13*v.depth)*b.rng.ExpFloat64())
			w *= 0.8
		}
		h := max(0.3, v.depth+v.rough+off)
		l := leaning(v.length, h) * (0.45 + 0.6*b.rng.Float64())
		if stray {
			l *= 0.8 + 0.5*b.rng.Float64()
		}
		// What shows is the outer part: of most hairs the last third, of some nearly all.
		shows := 0.3 + 0.25*b.rng.Float64()
		if b.rng.Float64() < 0.4 {
			shows = 0.5 + 0.5*b.rng.Float64()
			if !stray {
				w *= 1.5
			}
		}
		// The tip leans toward its clump's.
		pull := (clump.middle - at) * stepMM * wide * 0.75
		if tx*v.sny-ty*v.snx < 0 {
			pull = -pull
		}
		x, y = x-tx*l*shows, y-ty*l*shows
		_, over := b.f.height(x, y)
		col := b.jittered(b.p.root(x, y, over, b.rng))
		light := b.f.at(v.x-v.nx*6, v.y-v.ny*6).under(over)*b.shade*0.9 + float32(0.10*max(0, v.ny))*b.shade
		light *= float32(0.88 + 0.24*b.rng.Float64())
		up, along := h*v.larger, l*v.larger+pull
		bow := (b.rng.Float64() - 0.35) * 0.12 * l
		// The tip stands over the vertex whose depth it has; the root lies back along the lie.
		sx, sy := v.sx-tx*along, v.sy-ty*along
		t := tuft{
			key: float64(over)*1e5 - y + 0.35*x + (b.rng.Float64()-0.5)*20 - 3,
			x0:  sx, y0: sy,
			x1: sx + tx*along*0.47 + v.snx*(up*0.62+bow), y1: sy + ty*along*0.47 + v.sny*(up*0.62+bow),
			x2: sx + tx*along + v.snx*up, y2: sy + ty*along + v.sny*up,
			w0: w, w2: w * 0.42, root: lit(col, light*0.84), tip: lit(col, light*1.12), alpha: 0.9, free: free,
		}
		t.cut(1-shows, 1)
		ts = append(ts, t)
	}
	return ts
}

// stretch is how long the edge is at vertex i for a length of skin.
func stretch(vs []vertex, i int) float64 {
	n := len(vs)
	const reach = 5
	a, b := &vs[(i+n-reach)%n], &vs[(i+reach)%n]
	return max(0.4, min(4, math.Hypot(b.tx-a.tx, b.ty-a.ty)/max(1e-6, math.Hypot(b.sx-a.sx, b.sy-a.sy))))
}

// trim ends a hair of the flank that would leave the dog about the outline, as its neighbours of the fringe do.
func (b *brush) trim(t *tuft) {
	t.free = true
	if b.inside(t.x2, t.y2) {
		return
	}
	lo, hi := 0.0, 1.0
	for range 6 {
		s := (lo + hi) / 2
		u := 1 - s
		if b.inside(u*u*t.x0+2*u*s*t.x1+s*s*t.x2, u*u*t.y0+2*u*s*t.y1+s*s*t.y2) {
			lo = s
		} else {
			hi = s
		}
	}
	l := math.Hypot(t.x2-t.x0, t.y2-t.y0)
	if end := max(0.05, lo+(b.rng.NormFloat64()*0.7-1.2)/max(1, l)); end < 1 {
		t.cut(0, end)
	}
}

// cut leaves the part of the curve between two of its parameters (blossoms of a quadratic, Ramshaw 1989).
func (t *tuft) cut(from, to float64) {
	at := func(a, b float64) (float64, float64) {
		p, q, r := (1-a)*(1-b), a+b-2*a*b, a*b
		return p*t.x0 + q*t.x1 + r*t.x2, p*t.y0 + q*t.y1 + r*t.y2
	}
	x0, y0 := at(from, from)
	x1, y1 := at(from, to)
	t.x2, t.y2 = at(to, to)
	t.x0, t.y0, t.x1, t.y1 = x0, y0, x1, y1
}

// inside tells whether a place of the picture plane lies within the outline that is being drawn.
func (b *brush) inside(x, y float64) bool {
	px, py := b.v.px(x, y)
	i, j := int(px+0.5), int(py+0.5)
	return px > 0 && py > 0 && i < b.c.w && j < b.c.h && b.cov[j*b.c.w+i] > 127
}
