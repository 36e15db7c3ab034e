package guess

import (
	"image"
	"math"
	"slices"

	"thatch/imaging"
)

// patch is a small area of about one colour.
type patch struct {
	lab    [3]float64 // mean L*, a*, b*
	x, y   float64    // middle, in shares of the picture's long side
	n      int        // pixels
	rim    int        // pixels on the border of the picture
	beside []side     // patches it touches, each once
	clear  []float64  // of each side, how clear it is, 0 to 1
	sum    [4]float64 // of x, y, x², y² over its pixels
}

// side is where a patch touches another.
type side struct{ to, long int } // long in pixels

// patchwork is a picture in patches.
type patchwork struct {
	w, h    int
	lab     []float32 // by pixel
	of      []int32   // patch of each pixel
	patches []patch
	tint    []int   // of each patch, its colour among those of the picture
	fields  [][]int // patches of one colour that hold together
	cells   []bool  // to work in
}

const (
	patchesWanted = 420
	slicRounds    = 6
	slicCompact   = 14.0 // colour difference that one spacing of patches is worth
)

// patchworkOf cuts a picture into patches (SLIC: Achanta et al. 2012, IEEE TPAMI 34(11):2274–2282), deterministically.
func patchworkOf(img *image.NRGBA) *patchwork {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	p := &patchwork{w: w, h: h, lab: imaging.Lab(img), of: make([]int32, w*h), cells: make([]bool, shapeCells*shapeCells)}
	step := max(3, int(math.Round(math.Sqrt(float64(w*h)/patchesWanted))))
	type centre struct{ l, a, b, x, y float64 }
	var cs []centre
	for y := step / 2; y < h || len(cs) == 0; y += step {
		for x := step / 2; x < w || x == step/2; x += step {
			xx, yy := min(x, w-1), min(y, h-1)
			o := 3 * (yy*w + xx)
			cs = append(cs, centre{float64(p.lab[o]), float64(p.lab[o+1]), float64(p.lab[o+2]), float64(xx), float64(yy)})
		}
	}
	space := slicCompact * slicCompact / float64(step*step)
	best := make([]float64, w*h)
	for range slicRounds {
		for i := range best {
			best[i] = math.Inf(1)
		}
		for k, c := range cs {
			for y := max(0, int(c.y)-step); y <= min(h-1, int(c.y)+step); y++ {
				for x := max(0, int(c.x)-step); x <= min(w-1, int(c.x)+step); x++ {
					i := y*w + x
					dl, da, db := float64(p.lab[3*i])-c.l, float64(p.lab[3*i+1])-c.a, float64(p.lab[3*i+2])-c.b
					dx, dy := float64(x)-c.x, float64(y)-c.y
					if d := dl*dl + da*da + db*db + space*(dx*dx+dy*dy); d < best[i] {
						best[i], p.of[i] = d, int32(k)
					}
				}
			}
		}
		sum, n := make([]centre, len(cs)), make([]float64, len(cs))
		for i, k := range p.of {
			s := &sum[k]
			s.l, s.a, s.b = s.l+float64(p.lab[3*i]), s.a+float64(p.lab[3*i+1]), s.b+float64(p.lab[3*i+2])
			s.x, s.y, n[k] = s.x+float64(i%w), s.y+float64(i/w), n[k]+1
		}
		for k, s := range sum {
			if n[k] > 0 {
				cs[k] = centre{s.l / n[k], s.a / n[k], s.b / n[k], s.x / n[k], s.y / n[k]}
			}
		}
	}
	p.join(step * step / 4)
	p.measure()
	p.tint = p.clusters(tints, weights{1, 1, 1}, 0)
	p.fields = p.fieldsOf(p.clusters(groups, weights{1, 1, 1}, 0))
	return p
}

// join makes every patch one piece and gives crumbs to the patch before them.
func (p *patchwork) join(least int) {
	out := make([]int32, len(p.of))
	for i := range out {
		out[i] = -1
	}
	next := int32(0)
	var piece []int
	for i := range p.of {
		if out[i] >= 0 {
			continue
		}
		before := int32(-1)
		if i%p.w > 0 {
			before = out[i-1]
		} else if i >= p.w {
			before = out[i-p.w]
		}
		piece = append(piece[:0], i)
		out[i] = next
		for k := 0; k < len(piece); k++ {
			x, y := piece[k]%p.w, piece[k]/p.w
			for _, d := range [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
				xx, yy := x+d[0], y+d[1]
				if xx < 0 || yy < 0 || xx >= p.w || yy >= p.h {
					continue
				}
				if q := yy*p.w + xx; out[q] < 0 && p.of[q] == p.of[i] {
					out[q] = next
					piece = append(piece, q)
				}
			}
		}
		if len(piece) < least && before >= 0 {
			for _, q := range piece {
				out[q] = before
			}
			continue
		}
		next++
	}
	p.of = out
	p.patches = make([]patch, next)
}

func (p *patchwork) measure() {
	long := float64(max(p.w, p.h))
	pairs := make([]map[int32]int, len(p.patches))
	for k := range pairs {
		pairs[k] = map[int32]int{}
	}
	for i, k := range p.of {
		x, y := i%p.w, i/p.w
		c := &p.patches[k]
		c.n++
		c.x, c.y = c.x+float64(x)/long, c.y+float64(y)/long
		for j, v := range [4]float64{float64(x), float64(y), float64(x * x), float64(y * y)} {
			c.sum[j] += v
		}
		for j := range 3 {
			c.lab[j] += float64(p.lab[3*i+j])
		}
		if x == 0 || y == 0 || x == p.w-1 || y == p.h-1 {
			c.rim++
		}
		for _, q := range [2]int{i + 1, i + p.w} {
			if q == i+1 && x+1 == p.w || q >= len(p.of) || p.of[q] == k {
				continue
			}
			pairs[k][p.of[q]]++
			pairs[p.of[q]][k]++
		}
	}
	for k := range p.patches {
		c := &p.patches[k]
		n := float64(max(c.n, 1))
		c.x, c.y = c.x/n, c.y/n
		for j := range 3 {
			c.lab[j] /= n
		}
		for to, long := range pairs[k] {
			c.beside = append(c.beside, side{int(to), long})
		}
		slices.SortFunc(c.beside, func(a, b side) int { return a.to - b.to })
	}
	for k := range p.patches {
		c := &p.patches[k]
		for _, b := range c.beside {
			c.clear = append(c.clear, min(weights{1, 1, 1}.apart(c.lab, p.patches[b.to].lab)/clearColour, 1))
		}
	}
}
