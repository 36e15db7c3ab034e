package align

import (
	"math"
	"sort"

	"thatch/timeline"
)

// Result lays a photo over a reference: the photo's pixels, mirrored first if Mirrored, onto the reference's.
type Result struct {
	Mirrored     bool
	Transform    Similarity                   // the trunk's; where that cannot be fitted, the best there is, so that pictures can still be looked at
	Parts        map[timeline.Part]Similarity // the parts that could be fitted; the trunk's scale holds for all
	ScaleRatio   float64                      // of Transform
	RotationDeg  float64                      // of Transform
	RMSPX        float64                      // over the trunk points that were used, px of the reference
	ResidualsPX  map[timeline.Point]float64   // of every common point under its own part's transform, px of the reference
	Outliers     []timeline.Point             // trunk points that the others outvoted
	StretchRatio float64                      // length against height, photo over reference; 1 for the same view, 0 not known
	YawDeg       float64                      // the turn away from side-on that StretchRatio would mean
	Comparable   bool
	Why          timeline.Phrase // where not Comparable, why
}

const (
	minTrunkPoints = 3
	maxYawDeg      = 10.0
	maxScaleRatio  = 4.0  // beyond it one of the photos has too few pixels on the dog
	maxRMSShare    = 0.03 // of the body's length
	grossShare     = 0.12 // of the body's length: a slip of the finger, not a turned dog
	minBodyPX      = 60.0
)

// parts lists the points a part is fitted by; where a leg meets the trunk, the trunk's point is its upper end.
var parts = []struct {
	part   timeline.Part
	points []timeline.Point
}{
	{timeline.PartHead, []timeline.Point{timeline.Nose, timeline.Eye, timeline.Occiput}},
	{timeline.PartForeleg, []timeline.Point{timeline.Elbow, timeline.FrontPaw}},
	{timeline.PartHindleg, []timeline.Point{timeline.Hock, timeline.HindPaw}},
}

// Align lays photo over ref. A photo facing the other way is mirrored first. The trunk is fitted by the robust
// similarity over its common points, each moved inward by its expected depth and weighted by its sd; head and each leg
// by a turn and a shift at the trunk's scale, since the same camera saw them at the same distance.
// It always answers; whether the answer may be measured or compared is Comparable, and why not is Why.
func Align(ref, photo Placed) Result {
	res := Result{Parts: map[timeline.Part]Similarity{}, ResidualsPX: map[timeline.Point]float64{}, Transform: Identity(), ScaleRatio: 1}
	for _, side := range []Placed{ref, photo} {
		for _, p := range timeline.Points() {
			if xy, ok := side.Landmarks[p]; ok && !finite(xy) {
				res.Why = timeline.Say("align.why.not_finite", "point", p)
				return res
			}
		}
	}
	rf, pf := ref.facing(), photo.facing()
	res.Mirrored = rf != "" && pf != "" && rf != pf

	to, toSD := ref.body(false)
	from, fromSD := photo.body(res.Mirrored)
	res.look(ref, photo, from, to)

	bodyPX, photoBodyPX := ref.bodyPX(), photo.bodyPX()
	var names []timeline.Point
	var src, dst []XY
	var w []float64
	weights := map[timeline.Point]float64{}
	for _, p := range timeline.Points() {
		a, okA := from[p]
		b, okB := to[p]
		if !okA || !okB || p.Part() != timeline.PartTrunk {
			continue
		}
		// The photo's errors arrive scaled; the scale is not known yet, the bodies' lengths are near enough for a weight.
		sd := math.Hypot(toSD[p], fromSD[p]*bodyPX/math.Max(photoBodyPX, 1))
		pose := poseTrunkShare
		if p == timeline.Elbow {
			pose = poseElbowShare
		}
		sd = math.Hypot(sd, pose*bodyPX)
		weights[p] = 1 / math.Max(sd*sd, 1e-12)
		names, src, dst, w = append(names, p), append(src, a), append(dst, b), append(w, weights[p])
	}
	if len(names) < minTrunkPoints {
		res.Why = timeline.Say("align.why.too_few", "n", minTrunkPoints-len(names), "have", len(names), "points", missing(ref, photo))
		return res
	}
	fit, err := robust(src, dst, w, 1)
	if err != nil {
		res.Why = timeline.Say("align.why.no_fit")
		return res
	}
	res.use(fit.Similarity)
	res.Parts[timeline.PartTrunk] = fit.Similarity
	used, sum := 0, 0.0
	for i, p := range names {
		res.ResidualsPX[p] = fit.ResidualsPX[i]
		if fit.Inlier[i] {
			used, sum = used+1, sum+fit.ResidualsPX[i]*fit.ResidualsPX[i]
		} else {
			res.Outliers = append(res.Outliers, p)
		}
	}
	res.RMSPX = math.Sqrt(sum / float64(used))
	res.fitParts(from, to)
	sdRatio := res.stretch(ref, from, to, weights, bodyPX)
	res.judge(bodyPX, photoBodyPX, sdRatio)
	return res
}

func (r *Result) use(s Similarity) {
	r.Transform, r.ScaleRatio, r.RotationDeg = s, s.Scale(), s.RotationDeg()
}

// look finds a transform good enough to show both pictures over each other, should the trunk's not come about.
func (r *Result) look(ref, photo Placed, from, to map[timeline.Point]XY) {
	if photo.WidthPX > 0 && ref.WidthPX > 0 {
		r.use(Similarity{A: float64(ref.WidthPX) / float64(photo.WidthPX)})
	}
	var src, dst []XY
	for _, p := range timeline.Points() {
		a, okA := from[p]
		b, okB := to[p]
		if okA && okB {
			src, dst = append(src, a), append(dst, b)
		}
	}
	if s, err := LeastSquares(src, dst, nil); err == nil {
		r.use(s)
	}
}

func (r *Result) fitParts(from, to map[timeline.Point]XY) {
	for _, part := range parts {
		var src, dst []XY
		var names []timeline.Point
		for _, p := range part.points {
			a, okA := from[p]
			b, okB := to[p]
			if okA && okB {
				src, dst, names = append(src, a), append(dst, b), append(names, p)
			}
		}
		s := r.Transform
		if len(src) >= 2 {
			if fit, err := leastSquares(src, dst, nil, r.ScaleRatio); err == nil {
				s = fit
				r.Parts[part.part] = fit
			}
		}
		for i, p := range names {
			if p.Part() == part.part {
				r.ResidualsPX[p] = distance(s.Apply(src[i]), dst[i])
			}
		}
	}
}

// stretch compares length with height: a dog turned by θ is shorter by cos θ and as high as before. It sets StretchRatio
// and YawDeg and returns the ratio's standard deviation; all stay 0 where the points do not span length and height.
func (r *Result) stretch(ref Placed, from, to map[timeline.Point]XY, w map[timeline.Point]float64, bodyPX float64) float64 {
	u := ref.axis()
	var along, across line
	for _, p := range timeline.Points() {
		a, okA := from[p]
		b, okB := to[p]
		if !okA || !okB || p.Part() != timeline.PartTrunk {
			continue
		}
		a = r.Transform.Apply(a)
		if distance(a, b) > grossShare*bodyPX {
			continue
		}
		along.add(b.X*u.X+b.Y*u.Y, a.X*u.X+a.Y*u.Y, w[p])
		across.add(b.Y*u.X-b.X*u.Y, a.Y*u.X-a.X*u.Y, w[p])
	}
	// The table does not move with the dog, so its line through the paws is the best lower end of a height.
	if a, b, ok := groundBelow(from, to, r.Transform); ok && distance(a, b) <= grossShare*bodyPX {
		tap := tapShare * bodyPX
		across.add(b.Y*u.X-b.X*u.Y, a.Y*u.X-a.X*u.Y, 1/(2*tap*tap))
	}
	kx, sx, okX := along.slope(0.5 * bodyPX)
	ky, sy, okY := across.slope(0.3 * bodyPX)
	if !okX || !okY {
		return 0
	}
	r.StretchRatio = kx / ky
	c := math.Min(r.StretchRatio, 1/r.StretchRatio)
	r.YawDeg = math.Acos(math.Min(1, math.Max(-1, c))) * 180 / math.Pi
	return math.Hypot(sx, sy)
}

// groundBelow is the foot of the withers on the line through both paws, in the photo (through s) and in the reference.
func groundBelow(from, to map[timeline.Point]XY, s Similarity) (a, b XY, ok bool) {
	foot := func(at map[timeline.Point]XY) (XY, bool) {
		f, okF := at[timeline.FrontPaw]
		h, okH := at[timeline.HindPaw]
		p, okP := at[timeline.WithersPt]
		d := distance(f, h)
		if !okF || !okH || !okP || d == 0 {
			return XY{}, false
		}
		t := ((p.X-f.X)*(h.X-f.X) + (p.Y-f.Y)*(h.Y-f.Y)) / (d * d)
		return XY{X: f.X + t*(h.X-f.X), Y: f.Y + t*(h.Y-f.Y)}, true
	}
	a, okA := foot(from)
	b, okB := foot(to)
	return s.Apply(a), b, okA && okB
}

// line is a weighted straight line y(x).
type line struct{ x, y, w []float64 }

func (l *line) add(x, y, w float64) { l.x, l.y, l.w = append(l.x, x), append(l.y, y), append(l.w, w) }

// slope is by weighted least squares without the points that lie more than 3 sd off Theil and Sen's line (P. K. Sen,
// JASA 63, 1968), so that one wrong point does not look like a turn; not ok where x spans less than minSpan.
func (l *line) slope(minSpan float64) (k, sd float64, ok bool) {
	var ks, kw []float64
	for i := range l.x {
		for j := range i {
			if d := l.x[i] - l.x[j]; math.Abs(d) > minSpan/2 {
				ks, kw = append(ks, (l.y[i]-l.y[j])/d), append(kw, math.Abs(d))
			}
		}
	}
	if len(ks) == 0 {
		return 0, 0, false
	}
	k = weightedMedian(ks, kw)
	var bs []float64
	for i := range l.x {
		bs = append(bs, l.y[i]-k*l.x[i])
	}
	b := weightedMedian(bs, l.w)
	var sw, sx, sy float64
	var in []int
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range l.x {
		if d := l.y[i] - k*l.x[i] - b; d*d*l.w[i] <= 9 {
			in = append(in, i)
			sw, sx, sy = sw+l.w[i], sx+l.w[i]*l.x[i], sy+l.w[i]*l.y[i]
			lo, hi = math.Min(lo, l.x[i]), math.Max(hi, l.x[i])
		}
	}
	if !(hi-lo > minSpan) {
		return 0, 0, false
	}
	var xx, xy float64
	for _, i := range in {
		dx := l.x[i] - sx/sw
		xx, xy = xx+l.w[i]*dx*dx, xy+l.w[i]*dx*(l.y[i]-sy/sw)
	}
	k = xy / xx
	return k, 1 / math.Sqrt(xx), k > 0
}

func (r *Result) judge(bodyPX, photoBodyPX, sdRatio float64) {
	// The grace keeps a square dog from being refused by chance; what it costs is measured in the tests.
	limit := 1/math.Cos(maxYawDeg*math.Pi/180) - 1 + 0.7*sdRatio
	switch {
	case bodyPX < minBodyPX || photoBodyPX < minBodyPX:
		r.Why = timeline.Say("align.why.too_small")
	case r.ScaleRatio > maxScaleRatio || r.ScaleRatio < 1/maxScaleRatio:
		r.Why = timeline.Say("align.why.scale", "ratio", math.Round(10*math.Max(r.ScaleRatio, 1/r.ScaleRatio))/10)
	case r.StretchRatio > 0 && r.StretchRatio < 1/(1+limit):
		r.Why = timeline.Say("align.why.yaw", "deg", int(math.Round(r.YawDeg)))
	case r.StretchRatio > 1+limit:
		r.Why = timeline.Say("align.why.yaw_reference", "deg", int(math.Round(r.YawDeg)))
	case len(r.Outliers) > 1:
		r.Why = timeline.Say("align.why.disagree", "points", r.Outliers, "n", len(r.Outliers))
	case r.RMSPX > maxRMSShare*bodyPX:
		r.Why = timeline.Say("align.why.disagree", "points", []timeline.Point{r.worst()}, "n", 1)
	default:
		r.Comparable = true
	}
}

// worst is the trunk point with the largest residual.
func (r *Result) worst() timeline.Point {
	var at timeline.Point
	for _, p := range timeline.Points() {
		if p.Part() == timeline.PartTrunk && (at == "" || r.ResidualsPX[p] > r.ResidualsPX[at]) {
			if _, ok := r.ResidualsPX[p]; ok {
				at = p
			}
		}
	}
	return at
}

// missing are the trunk points that are not placed on both photos.
func missing(ref, photo Placed) []timeline.Point {
	var out []timeline.Point
	for _, p := range timeline.Points() {
		_, a := ref.Landmarks[p]
		_, b := photo.Landmarks[p]
		if p.Part() == timeline.PartTrunk && !(a && b) {
			out = append(out, p)
		}
	}
	return out
}

func weightedMedian(v, w []float64) float64 {
	ids := make([]int, len(v))
	total := 0.0
	for i := range v {
		ids[i], total = i, total+w[i]
	}
	sort.SliceStable(ids, func(i, j int) bool { return v[ids[i]] < v[ids[j]] })
	sum := 0.0
	for _, i := range ids {
		if sum += w[i]; sum >= total/2 {
			return v[i]
		}
	}
	return math.NaN()
}
