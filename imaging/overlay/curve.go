package overlay

import (
	"math"

	"thatch/timeline"
)

// XY is a place in pixels; the centre of the top left pixel is (0, 0).
type XY = timeline.XY

// Sample is one place on a Curve.
type Sample struct {
	At   XY
	Out  XY      // unit normal, away from the body
	SPX  float64 // distance along the stroke from its start, px
	Zone timeline.Zone
}

// Curve is the skin line, in strokes that do not touch: first the upper one from the occiput along the back to the
// buttock, then, where prosternum and elbow are placed, the forechest downwards. Samples lie close: about a
// hundred and fiftieth of the body's length.
type Curve struct{ Strokes [][]Sample }

// Zones returns the zones the curve passes, in its order, each once.
func (c Curve) Zones() []timeline.Zone {
	var out []timeline.Zone
	seen := map[timeline.Zone]bool{}
	for _, st := range c.Strokes {
		for _, s := range st {
			if !seen[s.Zone] {
				seen[s.Zone] = true
				out = append(out, s.Zone)
			}
		}
	}
	return out
}

// Path is the curve itself, to be drawn.
func (c Curve) Path() Path {
	var out Path
	for _, st := range c.Strokes {
		line := make([]XY, len(st))
		for i, s := range st {
			line[i] = s.At
		}
		out = append(out, line)
	}
	return out
}

// knot is a point the curve passes, with the zone whose coat stands there, and how far on the way to the next placed
// point it lies: 0 for a placed point itself.
type knot struct {
	at    XY
	zone  timeline.Zone
	after timeline.Point // the placed point it is or follows
	share float64
}

// pointZones: the zone whose depth an outline point carries.
var pointZones = []struct {
	point timeline.Point
	zone  timeline.Zone
}{
	{timeline.Occiput, timeline.Crest}, {timeline.WithersPt, timeline.Withers}, {timeline.MidBack, timeline.Back},
	{timeline.TailSet, timeline.Rump}, {timeline.Buttock, timeline.Thigh},
}

// Where one zone of the upper line ends and the next begins, as shares of the way: crest and withers from occiput to
// withers, withers to rump from withers to tail set, rump and thigh from tail set to buttock. By eye; no source.
const (
	crestEnds   = 0.88
	withersEnds = 0.13
	backEnds    = 0.62
	loinEnds    = 0.85
	rumpEnds    = 0.35
)

// SkinLine is the smooth curve where the dog's edge would be without hair: through the trunk's outline points, each
// moved inward along the curve's normal by its zone's depth (depthPX, px; absent: 0), so that it bends with withers,
// mid-back and tail set. Withers and tail set must be placed; occiput, mid-back and buttock are used where they are.
// facing ("" allowed) settles which way is out only where no point below the back is placed. The error is a Fault.
func SkinLine(lm timeline.Landmarks, depthPX map[timeline.Zone]float64, facing timeline.Side) (Curve, error) {
	for _, p := range []timeline.Point{timeline.WithersPt, timeline.TailSet} {
		if _, ok := lm[p]; !ok {
			return Curve{}, timeline.NewFault(timeline.Invalid, "fault.overlay.no_point", "point", p).At("skin line")
		}
	}
	for _, p := range timeline.Points() {
		if xy, ok := lm[p]; ok && !finite(xy) {
			return Curve{}, timeline.NewFault(timeline.Invalid, "fault.overlay.not_finite", "point", p).At("skin line")
		}
	}
	for z, d := range depthPX {
		if math.IsNaN(d) || math.IsInf(d, 0) || d < 0 {
			return Curve{}, timeline.NewFault(timeline.Invalid, "fault.overlay.depth", "zone", z).At("skin line")
		}
	}
	w, t := lm[timeline.WithersPt], lm[timeline.TailSet]
	back := length(sub(t, w))
	if back < 8 {
		return Curve{}, timeline.NewFault(timeline.Invalid, "fault.overlay.too_small").At("skin line")
	}
	side := upSide(lm, facing)
	step := back / 100

	upper := upperKnots(lm)
	c := Curve{Strokes: [][]Sample{stroke(upper, depthPX, side, step, upperZone(lm, upper))}}
	if front := forechest(lm); front != nil {
		// Downwards along the front the body lies on the other hand than rearwards along the back.
		c.Strokes = append(c.Strokes, stroke(front, depthPX, -side, step, func(int, float64) timeline.Zone { return timeline.Forechest }))
	}
	return c, nil
}

// upSide is +1 where out is on the left hand of somebody walking the back from front to rear, as (dy, −dx) is.
func upSide(lm timeline.Landmarks, facing timeline.Side) float64 {
	w := lm[timeline.WithersPt]
	d := sub(lm[timeline.TailSet], w)
	n := XY{X: d.Y, Y: -d.X}
	sum := 0.0
	for _, p := range []timeline.Point{timeline.Elbow, timeline.Prosternum, timeline.FrontPaw, timeline.HindPaw, timeline.Hock, timeline.Buttock} {
		if xy, ok := lm[p]; ok {
			sum += dot(sub(xy, w), n)
		}
	}
	switch {
	case sum < 0:
		return 1
	case sum > 0:
		return -1
	case facing == timeline.SideRight:
		return -1
	case facing == timeline.SideLeft || n.Y <= 0:
		return 1
	}
	return -1
}

// upperKnots are the placed points of the upper line with knots of our own between: without them a curve through the
// bend at the withers would hang below a neck that runs straight, and cut the corner of the hindquarters, which fall
// steeply from below the tail. By eye of a drawn terrier; no source.
func upperKnots(lm timeline.Landmarks) []knot {
	var out []knot
	for _, pz := range pointZones {
		xy, ok := lm[pz.point]
		if !ok {
			continue
		}
		out = append(out, knot{at: xy, zone: pz.zone, after: pz.point})
		switch w, t := lm[timeline.WithersPt], lm[timeline.TailSet]; pz.point {
		case timeline.Occiput:
			for _, u := range []float64{0.3, 0.75} {
				out = append(out, knot{lerp(xy, w, u), timeline.Crest, pz.point, u})
			}
		case timeline.TailSet:
			b, ok := lm[timeline.Buttock]
			if !ok {
				continue
			}
			d, along := sub(b, t), scale(sub(t, w), 1/length(sub(t, w)))
			rear := scale(along, dot(d, along))
			if down := sub(d, rear); dot(rear, along) > 0.02*length(sub(t, w)) {
				out = append(out, knot{add(t, add(scale(rear, 0.75), scale(down, 0.2))), timeline.Thigh, pz.point, rumpEnds})
			}
		}
	}
	return out
}

// upperZone tells the zone at share u of the way after knot i.
func upperZone(lm timeline.Landmarks, ks []knot) func(i int, u float64) timeline.Zone {
	mid := 0.5
	if m, ok := lm[timeline.MidBack]; ok {
		a, b := length(sub(m, lm[timeline.WithersPt])), length(sub(lm[timeline.TailSet], m))
		mid = a / math.Max(a+b, 1e-9)
	}
	return func(i int, u float64) timeline.Zone {
		end := 1.0
		if ks[i+1].after == ks[i].after {
			end = ks[i+1].share
		}
		u = ks[i].share + u*(end-ks[i].share)
		switch ks[i].after {
		case timeline.Occiput:
			if u < crestEnds {
				return timeline.Crest
			}
			return timeline.Withers
		case timeline.TailSet:
			if u < rumpEnds {
				return timeline.Rump
			}
			return timeline.Thigh
		case timeline.MidBack:
			u = mid + u*(1-mid)
		case timeline.WithersPt:
			if ks[i+1].after == timeline.MidBack {
				u *= mid
			}
		}
		switch {
		case u < withersEnds:
			return timeline.Withers
		case u < backEnds:
			return timeline.Back
		case u < loinEnds:
			return timeline.Loin
		}
		return timeline.Rump
	}
}

// forechest is the front edge about the prosternum: as far up as half the way down to the elbow, and as far down. Its
// bow is that of a drawn terrier, by eye.
func forechest(lm timeline.Landmarks) []knot {
	p, okP := lm[timeline.Prosternum]
	e, okE := lm[timeline.Elbow]
	if !okP || !okE {
		return nil
	}
	along := sub(lm[timeline.TailSet], lm[timeline.WithersPt])
	along = scale(along, 1/length(along))
	d := sub(e, p)
	rear := scale(along, dot(d, along))
	down := sub(d, rear)
	if length(down) < 2 || dot(rear, along) <= 0 {
		return nil
	}
	at := func(r, v float64) knot {
		return knot{at: add(p, add(scale(rear, r), scale(down, v))), zone: timeline.Forechest}
	}
	return []knot{at(-0.055, -0.47), at(0, 0), at(0.15, 0.5)}
}

// stroke moves the knots inward by their depths and samples the spline through them; zone tells the zone at share u of
// the span after knot i.
func stroke(ks []knot, depthPX map[timeline.Zone]float64, side, step float64, zone func(i int, u float64) timeline.Zone) []Sample {
	at := make([]XY, len(ks))
	for i := range ks {
		at[i] = ks[i].at
	}
	on := newSpline(at)
	moved := make([]XY, len(ks))
	for i, k := range ks {
		moved[i] = sub(k.at, scale(outward(on.tangent(i), side), depthPX[k.zone]))
	}
	sp := newSpline(moved)
	var out []Sample
	for i := range len(ks) - 1 {
		n := max(4, int(math.Ceil(length(sub(moved[i+1], moved[i]))/step)))
		for j := range n {
			u := float64(j) / float64(n)
			p, d := sp.at(i, u)
			out = append(out, Sample{At: p, Out: outward(d, side), Zone: zone(i, u)})
		}
	}
	last := len(ks) - 2
	p, d := sp.at(last, 1)
	out = append(out, Sample{At: p, Out: outward(d, side), Zone: zone(last, 1)})
	for i := 1; i < len(out); i++ {
		out[i].SPX = out[i-1].SPX + length(sub(out[i].At, out[i-1].At))
	}
	return out
}

func outward(tangent XY, side float64) XY {
	l := length(tangent)
	if l == 0 {
		return XY{}
	}
	return XY{X: side * tangent.Y / l, Y: -side * tangent.X / l}
}
