package outline

import (
	"image"
	"image/png"
	"math"
	"math/rand"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"thatch/imaging"
	"thatch/timeline/outside"
)

type masked struct {
	name  string
	img   *image.NRGBA
	truth []bool
	w, h  int
}

func maskedPhotos(t testing.TB) (out []masked) {
	dir := outside.Dir(t, "photos")
	masks, _ := filepath.Glob(filepath.Join(dir, "masks", "*.png"))
	for _, m := range masks {
		name := filepath.Base(m[:len(m)-4])
		f, err := os.Open(m)
		if err != nil {
			t.Fatal(err)
		}
		mi, err := png.Decode(f)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		p, err := os.Open(filepath.Join(dir, name+".jpg"))
		if err != nil {
			continue
		}
		info, _ := p.Stat()
		img, err := imaging.Decode(t.Context(), p, info.Size(), imaging.Facts{})
		p.Close()
		if err != nil {
			t.Fatal(err)
		}
		b := mi.Bounds()
		one := masked{name, img, make([]bool, b.Dx()*b.Dy()), b.Dx(), b.Dy()}
		for i := range one.truth {
			r, _, _, _ := mi.At(b.Min.X+i%one.w, b.Min.Y+i/one.w).RGBA()
			one.truth[i] = r > 0x7fff
		}
		out = append(out, one)
	}
	if len(out) == 0 {
		t.Fatal("no photo with a mask")
	}
	return out
}

func contourOf(m []bool, w, h int) []image.Point {
	at := func(p image.Point) bool { return p.X >= 0 && p.Y >= 0 && p.X < w && p.Y < h && m[p.Y*w+p.X] }
	i := slices.Index(m, true)
	if i < 0 {
		return nil
	}
	s := image.Pt(i%w, i/w)
	dirs := []image.Point{{1, 0}, {1, 1}, {0, 1}, {-1, 1}, {-1, 0}, {-1, -1}, {0, -1}, {1, -1}}
	out, p, d := []image.Point{s}, s, 6
	for n := 0; n < 8*len(m); n++ {
		moved := false
		for k := range 8 {
			e := (d + 6 + k) % 8
			if q := p.Add(dirs[e]); at(q) {
				p, d, moved = q, e, true
				break
			}
		}
		if !moved || p == s && n > 2 {
			break
		}
		out = append(out, p)
	}
	return out
}

func fewPoints(c []image.Point, k int) []image.Point {
	step := len(c)/400 + 1
	var q []image.Point
	for i := 0; i < len(c); i += step {
		q = append(q, c[i])
	}
	for len(q) > k {
		best, at := math.Inf(1), 0
		for i := range q {
			a, b, c := q[(i+len(q)-1)%len(q)], q[i], q[(i+1)%len(q)]
			if area := math.Abs(float64((b.X-a.X)*(c.Y-a.Y) - (c.X-a.X)*(b.Y-a.Y))); area < best {
				best, at = area, i
			}
		}
		q = append(q[:at], q[at+1:]...)
	}
	return q
}

func edgeOf(m []bool, w, h int) []image.Point {
	at := func(x, y int) bool { return x >= 0 && y >= 0 && x < w && y < h && m[y*w+x] }
	var out []image.Point
	for y := range h {
		for x := range w {
			if at(x, y) && !(at(x-1, y) && at(x+1, y) && at(x, y-1) && at(x, y+1)) {
				out = append(out, image.Pt(x, y))
			}
		}
	}
	return out
}

func meanNearest(a, m []bool, w, h int) float64 {
	// distance from each edge pixel of a to the nearest edge pixel of m
	edge := make([]bool, w*h)
	for _, p := range edgeOf(m, w, h) {
		edge[p.Y*w+p.X] = true
	}
	d := squaredDistance(edge, true, w, h)
	sum, n := 0.0, 0
	for _, p := range edgeOf(a, w, h) {
		sum += math.Sqrt(float64(d[p.Y*w+p.X]))
		n++
	}
	return sum / float64(n)
}

func toplineOff(t, g []bool, w, h, x0, x1 int) float64 {
	top := func(m []bool, x int) int {
		for y := range h {
			if m[y*w+x] {
				return y
			}
		}
		return h
	}
	var e []float64
	for x := x0 + (x1-x0)/4; x < x1-(x1-x0)/4; x++ {
		e = append(e, math.Abs(float64(top(t, x)-top(g, x))))
	}
	return med(e)
}

func med(v []float64) float64 {
	s := slices.Sorted(slices.Values(v))
	return s[len(s)/2]
}

type figures struct{ iou, worst, boundary, topline, topWorst float64 }

// scored draws rough points once a photo and scores what f makes of them.
func scored(photos []masked, k int, jitter float64, seed int64, f func(m masked, pts []XY) []bool) figures {
	rng := rand.New(rand.NewSource(seed))
	var iou, bnd, top []float64
	for _, m := range photos {
		c := contourOf(largest(m.truth, m.w, m.h), m.w, m.h)
		x0, x1 := m.w, 0
		for _, p := range c {
			x0, x1 = min(x0, p.X), max(x1, p.X)
		}
		l := float64(x1 - x0)
		var pts []XY
		for _, p := range fewPoints(c, k) {
			pts = append(pts, XY{X: float64(p.X) + rng.NormFloat64()*jitter*l, Y: float64(p.Y) + rng.NormFloat64()*jitter*l})
		}
		got := f(m, pts)
		inter, union := 0, 0
		for i := range got {
			if got[i] && m.truth[i] {
				inter++
			}
			if got[i] || m.truth[i] {
				union++
			}
		}
		iou = append(iou, float64(inter)/float64(union))
		bnd = append(bnd, 50*(meanNearest(m.truth, got, m.w, m.h)+meanNearest(got, m.truth, m.w, m.h))/l)
		top = append(top, 100*toplineOff(m.truth, got, m.w, m.h, x0, x1)/l)
	}
	return figures{med(iou), slices.Min(iou), med(bnd), med(top), slices.Max(top)}
}

func found(t testing.TB, guess func([]XY) Guess) func(m masked, pts []XY) []bool {
	return func(m masked, pts []XY) []bool {
		r, err := Find(m.img, guess(pts))
		if err != nil {
			t.Fatal(err)
		}
		return r.Mask()
	}
}

// over scores several draws and takes the median of each figure, as one draw may be lucky.
func over(photos []masked, draws, points int, f func(m masked, pts []XY) []bool) (out figures) {
	var all [5][]float64
	for s := range draws {
		one := scored(photos, points, 0.01, int64(s+1), f)
		for i, v := range []float64{one.iou, one.worst, one.boundary, one.topline, one.topWorst} {
			all[i] = append(all[i], v)
		}
	}
	return figures{med(all[0]), med(all[1]), med(all[2]), med(all[3]), med(all[4])}
}

// Check 34 (E): real dogs with hand-drawn masks, from rough points, five draws or THATCH_MANY. What the masks' contours are
// thinned and jittered by is that of the corpus's own scorer.
func TestTheOutlineOfRealDogsFromRoughPoints(t *testing.T) {
	photos := maskedPhotos(t)
	for _, c := range []struct {
		points                        int
		iou, worst, boundary, topline float64
	}{
		{20, 0.92, 0.85, 0.85, 0.28},
		{8, 0.85, 0.76, 2.2, 0.35},
	} {
		got := over(photos, outside.Many(t, 5), c.points, found(t, PointsGuess))
		t.Logf("%d photos, %d points: IoU median %.3f worst %.3f, boundary %.2f %%, topline %.3f %% worst %.2f %%", len(photos), c.points, got.iou, got.worst, got.boundary, got.topline, got.topWorst)
		if got.iou < c.iou || got.worst < c.worst || got.boundary > c.boundary || got.topline > c.topline {
			t.Errorf("%d points: worse than %+v", c.points, c)
		}
	}
}

// The dog's last outline, shifted by 1.5 % of the body's length, turned by 2° and scaled by 2 %; in each draw to another side.
func TestTheOutlineOfRealDogsFromAnEarlierOne(t *testing.T) {
	photos := maskedPhotos(t)
	var iou, worst []float64
	for draw := range outside.Many(t, 5) {
		side := math.Pi/4 + 2*math.Pi*float64(draw)/float64(outside.Many(t, 5))
		got := scored(photos, 20, 0.01, 1, func(m masked, _ []XY) []bool {
			r, err := Find(m.img, OutlineGuess(moved(m, side)))
			if err != nil {
				t.Fatal(err)
			}
			return r.Mask()
		})
		t.Logf("IoU median %.3f worst %.3f, boundary %.2f %%, topline %.2f %%", got.iou, got.worst, got.boundary, got.topline)
		iou, worst = append(iou, got.iou), append(worst, got.worst)
	}
	if med(iou) < 0.92 || med(worst) < 0.85 {
		t.Errorf("IoU median %.3f, worst %.3f", med(iou), med(worst))
	}
}

// moved is the dog's outline, shifted to a side, turned and scaled.
func moved(m masked, side float64) []XY {
	ring := rings(largest(m.truth, m.w, m.h), m.w, m.h)[0]
	left, right, cx, cy := math.Inf(1), math.Inf(-1), 0.0, 0.0
	for _, p := range ring {
		left, right = min(left, p.X), max(right, p.X)
		cx, cy = cx+p.X/float64(len(ring)), cy+p.Y/float64(len(ring))
	}
	sin, cos := math.Sincos(2 * math.Pi / 180)
	shift := 0.015 * (right - left)
	for i, p := range ring {
		x, y := 1.02*(p.X-cx), 1.02*(p.Y-cy)
		ring[i] = XY{X: cx + cos*x - sin*y + shift*math.Cos(side), Y: cy + sin*x + cos*y + shift*math.Sin(side)}
	}
	return ring
}

func BenchmarkFind(b *testing.B) {
	photos := maskedPhotos(b)
	for _, k := range []int{20, 8} {
		b.Run(strconv.Itoa(k)+"_points", func(b *testing.B) {
			n := 0
			for b.Loop() {
				m := photos[n%len(photos)]
				n++
				var points []XY
				for _, p := range fewPoints(contourOf(largest(m.truth, m.w, m.h), m.w, m.h), k) {
					points = append(points, XY{X: float64(p.X), Y: float64(p.Y)})
				}
				if _, err := Find(m.img, PointsGuess(points)); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
