package measure

import (
	"math"

	"thatch/timeline"
)

// station is a place of the skin line, in the dog's own mm.
type station struct {
	at    XY // first guess of the skin
	out   XY // unit normal, away from the body
	zone  timeline.Zone
	bend  float64 // how much of the back's bending it takes part in
	neck  float64 // 0 moves with the trunk, 1 with the head
	hind  float64 // 0 moves with the trunk, 1 with the hock
	leg   float64 // how much of the near hind leg's own swing it takes part in
	near  float64 // mm nearer to the camera than the middle of the back
	girth float64 // mm, radius on which the body turns away from the camera here
}

// tie is a point of the dog that photos share.
type tie struct {
	point timeline.Point
	on    *station      // its place; out is zero where it does not lie at the edge
	zone  timeline.Zone // whose depth it stands on; "" none
}

// looseMM is by how much points of the hind leg say less than their taps: the hock stands on a coat that is not measured, and
// the foot turns in its own joints.
var looseMM = map[timeline.Point]float64{timeline.Hock: 6, timeline.HindPaw: 4}

// tieZones are the zones on which the points of the edge stand.
var tieZones = map[timeline.Point]timeline.Zone{
	timeline.Occiput: timeline.Crest, timeline.WithersPt: timeline.Withers, timeline.MidBack: timeline.Back,
	timeline.TailSet: timeline.Rump, timeline.Buttock: timeline.Thigh, timeline.Prosternum: timeline.Forechest,
}

// measured are the zones whose depth is told. Tail, skull, beard and legs turn and open in ways of their own.
var measured = []timeline.Zone{
	timeline.Throat, timeline.Crest, timeline.Forechest, timeline.Withers, timeline.Back, timeline.Loin, timeline.Rump,
	timeline.Underline, timeline.Thigh,
}

// Measured returns the zones whose depth can be told from the side.
func Measured() []timeline.Zone { return append([]timeline.Zone{}, measured...) }

func isMeasured(z timeline.Zone) bool {
	for _, m := range measured {
		if z == m {
			return true
		}
	}
	return false
}

const (
	stepMM    = 5.0  // between stations
	smoothMM  = 9.0  // half the stretch of edge whose direction is taken
	borderMM  = 12.0 // next to another zone no station stands: the coat passes over gradually
	bellyDown = 0.9  // cosine of how far from straight down an underline may look
	startMM   = 12.0 // depth of the first guess where nothing is known
)

// body is the dog that all photos are laid onto.
type body struct {
	stations       []station
	ties           []tie
	withers, tail  XY
	neckFrom       XY // about which the neck bends
	middle         XY
	hip, hockPlace XY
}

// newBody takes the first guess from one view.
func newBody(v *view, depth map[timeline.Zone]float64) *body {
	c := v.walk
	b := &body{withers: v.marks[timeline.WithersPt], tail: v.marks[timeline.TailSet]}
	b.middle = XY{X: (b.withers.X + b.tail.X) / 2, Y: (b.withers.Y + b.tail.Y) / 2}
	back := math.Hypot(b.tail.X-b.withers.X, b.tail.Y-b.withers.Y)
	chest, has := v.marks[timeline.Prosternum]
	if !has {
		chest = XY{X: b.withers.X - 0.35*back, Y: b.withers.Y - 0.5*back}
	}
	b.neckFrom = XY{X: 0.6*b.withers.X + 0.4*chest.X, Y: 0.6*b.withers.Y + 0.4*chest.Y}
	b.hip, b.hockPlace = v.marks[timeline.Buttock], v.marks[timeline.Hock]

	of := func(z timeline.Zone) float64 {
		if d, ok := depth[z]; ok {
			return d
		}
		return startMM
	}
	n := len(v.edge)
	mm := v.shot.MMPerPX
	reach := smoothMM / mm
	next := math.Inf(-1)
	for k := range n {
		z := v.zones[k]
		if !isMeasured(z) || c.s[k] < next {
			continue
		}
		if !c.alone(v.zones, k, borderMM/mm) {
			continue
		}
		out, ok := v.normal(k, reach)
		if !ok {
			continue
		}
		if z == timeline.Underline && out.Y > -bellyDown {
			continue // the front of the thigh, the back of the elbow
		}
		d := of(z)
		s := station{at: XY{X: v.edge[k].X - d*out.X, Y: v.edge[k].Y - d*out.Y}, out: out, zone: z}
		b.share(&s)
		b.stations = append(b.stations, s)
		next = c.s[k] + stepMM/mm
	}
	for _, p := range timeline.Points() {
		xy, has := v.marks[p]
		if !has || p.Part() == timeline.PartForeleg {
			continue
		}
		t := tie{point: p, zone: tieZones[p], on: &station{at: xy}}
		if t.zone != "" {
			k, on := c.mark[p]
			if !on {
				continue
			}
			out, ok := v.normal(k, reach)
			if !ok {
				continue
			}
			d := of(t.zone)
			t.on.zone = t.zone
			t.on.out, t.on.at = out, XY{X: xy.X - d*out.X, Y: xy.Y - d*out.Y}
		}
		b.share(t.on)
		if share, ok := pointsNear[p]; ok {
			t.on.near = share * math.Hypot(b.tail.X-b.withers.X, b.tail.Y-b.withers.Y)
		}
		switch p.Part() {
		case timeline.PartHead:
			t.on.neck = 1
		case timeline.PartHindleg:
			t.on.hind = 1
			if p == timeline.HindPaw && b.hockPlace != (XY{}) && b.hip.Y > b.hockPlace.Y {
				t.on.hind = (b.hip.Y - xy.Y) / (b.hip.Y - b.hockPlace.Y)
			}
		}
		b.ties = append(b.ties, t)
	}
	return b
}

// alone reports whether the edge within reach px before and after k belongs to one zone.
func (c *contour) alone(zones []timeline.Zone, k int, reach float64) bool {
	n := len(c.at)
	for _, step := range [2]int{1, n - 1} {
		for j := k; ; {
			j = (j + step) % n
			if d := c.span(k, j); min(d, c.s[n]-d) > reach || j == k {
				break
			}
			if zones[j] != zones[k] && !(joined[zones[k]] && joined[zones[j]]) {
				return false
			}
		}
	}
	return true
}

// joined are zones of one jacket: over their border the coat goes on.
var joined = map[timeline.Zone]bool{timeline.Withers: true, timeline.Back: true, timeline.Loin: true, timeline.Rump: true}

// normal is the direction away from the body at k, of the straight line that fits the edge within reach px best.
func (v *view) normal(k int, reach float64) (XY, bool) {
	c, n := v.walk, len(v.edge)
	var sx, sy, sxx, sxy, syy, m float64
	var first, last XY
	for j := range n {
		d := c.span(k, j)
		if min(d, c.s[n]-d) > reach {
			continue
		}
		p := v.edge[j]
		sx, sy, sxx, sxy, syy, m = sx+p.X, sy+p.Y, sxx+p.X*p.X, sxy+p.X*p.Y, syy+p.Y*p.Y, m+1
	}
	if m < 3 {
		return XY{}, false
	}
	sxx, sxy, syy = sxx-sx*sx/m, sxy-sx*sy/m, syy-sy*sy/m
	angle := 0.5 * math.Atan2(2*sxy, sxx-syy)
	sin, cos := math.Sincos(angle)
	// The walk goes on to the right hand of the normal: nose to tail over the back, up is out.
	for j := k; ; {
		j = (j + 1) % n
		if c.span(k, j) > reach || j == k {
			break
		}
		last = v.edge[j]
	}
	for j := k; ; {
		j = (j + n - 1) % n
		if c.span(j, k) > reach || j == k {
			break
		}
		first = v.edge[j]
	}
	if (last.X-first.X)*cos+(last.Y-first.Y)*sin < 0 {
		sin, cos = -sin, -cos
	}
	return XY{X: -sin, Y: cos}, true
}

// share says how a place moves when the dog bends, nods or sets a foot elsewhere.
func (b *body) share(s *station) {
	switch s.zone {
	case timeline.Withers, timeline.Back, timeline.Loin, timeline.Rump, "":
		s.bend = 1
	}
	switch s.zone {
	case timeline.Crest, timeline.Throat:
		// 0 at the root of the neck, 1 a neck's length away.
		root := math.Hypot(b.withers.X-b.neckFrom.X, b.withers.Y-b.neckFrom.Y)
		long := math.Hypot(b.tail.X-b.withers.X, b.tail.Y-b.withers.Y) * 0.62
		far := math.Hypot(s.at.X-b.neckFrom.X, s.at.Y-b.neckFrom.Y)
		s.neck = math.Max(0, math.Min(1, (far-0.6*root)/long))
	case timeline.Thigh:
		if b.hockPlace != (XY{}) && b.hip.Y > b.hockPlace.Y {
			s.leg = math.Max(0, math.Min(1, (b.hip.Y-s.at.Y)/(b.hip.Y-b.hockPlace.Y)))
			s.hind = s.leg * s.leg
		}
	}
	if g, ok := girths[s.zone]; ok {
		back := math.Hypot(b.tail.X-b.withers.X, b.tail.Y-b.withers.Y)
		s.girth, s.near = g.radius*back, g.near*back
		if s.zone == timeline.Thigh {
			s.near += s.leg * (hockNear - g.near) * back
		}
	}
}

func square(v float64) float64 { return v * v }
