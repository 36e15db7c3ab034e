package outline

import (
	"image"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"thatch/imaging"
)

const (
	// fineStepPX is the spacing of a refined edge, px of the picture.
	fineStepPX = 2.0
	// cellReach is how far the cut's edge may be off, in cells of its own picture.
	cellReach = 2.5
	// besideReach is how wide the stretch is, beyond that, from which a side's colours are taken, in cells.
	besideReach = 5.0
	// alongPX is the standard deviation along the edge over which colours are gathered, in cells; they change from place to
	// place on a coat and on a wall.
	alongCells = 6.0
	// leastApart is by how many of their standard deviations dog and background must differ along the edge; else the cut's
	// edge stays.
	leastApart = 1.6
)

// linear is the light of encoded values: a pixel half covered by a hair is half way in light.
var linear = imaging.LinearLight()

// Fine moves the outer edge of r to where half of the light across it is the dog's, at the resolution of img, which has the
// size that r was found in. Across each place of the edge the colours of both sides are gathered, the direction that parts
// them best taken (Fisher 1936, Annals of Eugenics 7:179–188), and the light that is the dog's summed: the sum is where the
// edge lies, however soft the coat makes it. Where both sides look the same the edge stays.
func Fine(img *image.NRGBA, r Result) Result {
	if len(r.Polygon) < 8 || img.Rect.Dx() != r.WidthPX || img.Rect.Dy() != r.HeightPX {
		return r
	}
	cell := float64(max(r.WidthPX, r.HeightPX)) / workPX
	ring := r.Polygon
	for _, reach := range [2]float64{cellReach, 0.6 * cellReach} {
		ring = finer(img, resample(ring, fineStepPX), cell, reach)
	}
	out := r
	out.Polygon = ring
	return out
}

// profile is the light across one place of the edge, from inside to outside.
type profile struct {
	at, out XY
	rgb     [][3]float64 // one px apart
}

func finer(img *image.NRGBA, ring []XY, cell, reachCells float64) []XY {
	n := len(ring)
	inner := int(math.Ceil(reachCells * cell))
	beside := int(math.Ceil(besideReach * cell))
	half := inner + beside
	ps := make([]profile, n)
	sense := 1.0
	if area(ring) < 0 {
		sense = -1
	}
	k := max(2, int(1.5*cell/fineStepPX))
	for i := range n {
		a, b := ring[(i+n-k)%n], ring[(i+k)%n]
		l := math.Hypot(b.X-a.X, b.Y-a.Y)
		if l == 0 {
			ps[i] = profile{at: ring[i]}
			continue
		}
		// Clockwise as seen: out is to the left of the walk, which is up where it goes to the right.
		p := profile{at: ring[i], out: XY{X: sense * (b.Y - a.Y) / l, Y: -sense * (b.X - a.X) / l}}
		p.rgb = make([][3]float64, 2*half+1)
		for j := range p.rgb {
			t := float64(j - half)
			p.rgb[j] = lightAt(img, p.at.X+t*p.out.X, p.at.Y+t*p.out.Y)
		}
		ps[i] = p
	}
	// The colours of both sides, gathered along the edge.
	sides := make([][2]colours, n)
	for i := range n {
		if ps[i].rgb == nil {
			continue
		}
		for j := range beside {
			sides[i][0].add(ps[i].rgb[j])
			sides[i][1].add(ps[i].rgb[2*half-j])
		}
	}
	window := max(1, int(alongCells*cell/fineStepPX))
	smooth := [2][]colours{}
	for s := range 2 {
		smooth[s] = gather(sides, s, window)
	}
	offs, apart := make([]float64, n), make([]float64, n)
	for i := range n {
		if ps[i].rgb == nil {
			continue
		}
		w, f, b, d := parting(&smooth[0][i], &smooth[1][i])
		if d < leastApart {
			continue
		}
		sum := 0.0
		for j := -inner; j <= inner; j++ {
			v := dot(w, ps[i].rgb[half+j])
			alpha := math.Max(-0.25, math.Min(1.25, (v-b)/(f-b)))
			if j == -inner || j == inner {
				alpha /= 2
			}
			sum += alpha
		}
		offs[i], apart[i] = math.Max(-float64(inner), math.Min(float64(inner), sum-float64(inner))), d-leastApart
	}
	// A lock of hair is no edge: the middle one of some, then their mean.
	around := max(2, int(1.5*cell/fineStepPX))
	middle := make([]float64, n)
	var near []float64
	for i := range n {
		near = near[:0]
		for j := -around; j <= around; j++ {
			q := (i + j + n) % n
			if apart[q] > 0 {
				near = append(near, offs[q])
			}
		}
		if len(near) > around {
			slices.Sort(near)
			middle[i] = near[len(near)/2]
		}
	}
	out := make([]XY, n)
	for i := range n {
		sum, of := 0.0, 0.0
		for j := -around; j <= around; j++ {
			v := 1 - math.Abs(float64(j))/float64(around+1)
			sum, of = sum+v*middle[(i+j+n)%n], of+v
		}
		out[i] = XY{X: ps[i].at.X + sum/of*ps[i].out.X, Y: ps[i].at.Y + sum/of*ps[i].out.Y}
	}
	return out
}

// lightAt is the linear light at a place, between pixels; the picture's border goes on outside.
func lightAt(img *image.NRGBA, x, y float64) (out [3]float64) {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	x, y = math.Max(0, math.Min(float64(w-1), x)), math.Max(0, math.Min(float64(h-1), y))
	x0, y0 := int(x), int(y)
	x1, y1 := min(x0+1, w-1), min(y0+1, h-1)
	fx, fy := x-float64(x0), y-float64(y0)
	for _, c := range [4]struct {
		x, y int
		w    float64
	}{{x0, y0, (1 - fx) * (1 - fy)}, {x1, y0, fx * (1 - fy)}, {x0, y1, (1 - fx) * fy}, {x1, y1, fx * fy}} {
		o := img.PixOffset(img.Rect.Min.X+c.x, img.Rect.Min.Y+c.y)
		for k := range 3 {
			out[k] += c.w * linear[img.Pix[o+k]]
		}
	}
	return out
}

// colours is a number of colours as their moments.
type colours struct {
	n  float64
	s  [3]float64
	ss [6]float64 // rr rg rb gg gb bb
}

func (c *colours) add(v [3]float64) {
	c.n++
	k := 0
	for i := range 3 {
		c.s[i] += v[i]
		for j := i; j < 3; j++ {
			c.ss[k] += v[i] * v[j]
			k++
		}
	}
}

func (c *colours) plus(o *colours, sign float64) {
	c.n += sign * o.n
	for i := range c.s {
		c.s[i] += sign * o.s[i]
	}
	for i := range c.ss {
		c.ss[i] += sign * o.ss[i]
	}
}

// gather sums a side's colours over a window of 2·half+1 places round each.
func gather(sides [][2]colours, s, half int) []colours {
	n := len(sides)
	out := make([]colours, n)
	half = min(half, (n-1)/2)
	var sum colours
	for j := -half; j <= half; j++ {
		sum.plus(&sides[(j+n)%n][s], 1)
	}
	for i := range n {
		out[i] = sum
		sum.plus(&sides[(i+half+1)%n][s], 1)
		sum.plus(&sides[(i-half+n)%n][s], -1)
	}
	return out
}

// parting is the direction in which the dog's colours f and the background's b are farthest apart for their spread, where
// both lie on it, and how far apart in standard deviations.
func parting(dog, background *colours) (w [3]float64, f, b, apart float64) {
	if dog.n < 8 || background.n < 8 {
		return
	}
	spread := mat.NewSymDense(3, nil)
	var diff [3]float64
	k := 0
	for i := range 3 {
		diff[i] = dog.s[i]/dog.n - background.s[i]/background.n
		for j := i; j < 3; j++ {
			v := 0.0
			for _, c := range [2]*colours{dog, background} {
				v += c.ss[k]/c.n - c.s[i]*c.s[j]/(c.n*c.n)
			}
			if i == j {
				v += 2e-5 // a picture's own noise: never divided by nothing
			}
			spread.SetSym(i, j, v)
			k++
		}
	}
	var chol mat.Cholesky
	var x mat.VecDense
	if !chol.Factorize(spread) || chol.SolveVecTo(&x, mat.NewVecDense(3, diff[:])) != nil {
		return
	}
	copy(w[:], x.RawVector().Data)
	for i := range 3 {
		f += w[i] * dog.s[i] / dog.n
		b += w[i] * background.s[i] / background.n
	}
	// Within the direction of Fisher the difference of the means is the sum of the variances.
	return w, f, b, math.Sqrt(math.Max(0, f-b))
}

func dot(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

// resample walks a closed line in equal steps of about step px.
func resample(ring []XY, step float64) []XY {
	whole := 0.0
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		whole += math.Hypot(b.X-a.X, b.Y-a.Y)
	}
	n := max(8, int(math.Round(whole/step)))
	out := make([]XY, 0, n)
	gap := whole / float64(n)
	next, done := 0.0, 0.0
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		l := math.Hypot(b.X-a.X, b.Y-a.Y)
		for next < done+l && len(out) < n {
			t := (next - done) / l
			out = append(out, XY{X: a.X + t*(b.X-a.X), Y: a.Y + t*(b.Y-a.Y)})
			next += gap
		}
		done += l
	}
	return out
}
