package guess

import (
	"math"

	"thatch/timeline"
)

// pose is the template bent onto a silhouette.
type pose struct {
	start  similarity // of the template onto the photo, by area and middle alone
	at     []XY       // corners of the template that were seen, where it has them
	normal []XY       // outward there
	weight []float64
	solved [][]float64
	off    float64 // how far the silhouette lies from the bent template, root mean square, bodies
	covers float64 // share of the silhouette's edge that has found its place on the template
}

const (
	posedSamples = 150 // of the silhouette's edge
	poseRounds   = 11
	shiftSD      = 0.12 // of the start, bodies
	stretchSD    = 0.10 // of the start, per body
	ownPoseSD    = 0.030
)

// poseCovariance is that of how a dog differs from the template where not even place and size are known.
func poseCovariance(a, b XY) float64 {
	d := (a.X-b.X)*(a.X-b.X) + (a.Y-b.Y)*(a.Y-b.Y)
	return shiftSD*shiftSD + stretchSD*stretchSD*(a.X*b.X+a.Y*b.Y) +
		broadSD*broadSD*math.Exp(-d/(2*broadReach*broadReach)) + ownPoseSD*ownPoseSD*math.Exp(-d/(2*ownReach*ownReach))
}

// edgeOf are places a step apart along a closed ring, with the outward normal.
func edgeOf(ring []XY, n int) (at, normal []XY) {
	length := 0.0
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		length += math.Hypot(b.X-a.X, b.Y-a.Y)
	}
	if length == 0 || math.IsInf(length, 0) || math.IsNaN(length) {
		return nil, nil
	}
	step, done := length/float64(n), 0.0
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		l := math.Hypot(b.X-a.X, b.Y-a.Y)
		for t := step*float64(len(at)) - done; t < l && len(at) < n; t += step {
			at = append(at, XY{X: a.X + (b.X-a.X)*t/l, Y: a.Y + (b.Y-a.Y)*t/l})
		}
		done += l
	}
	return at, normalsOf(at)
}

// normalsOf are outward normals of a closed ring walked either way.
func normalsOf(ring []XY) []XY {
	area := 0.0
	n := len(ring)
	for i, a := range ring {
		b := ring[(i+1)%n]
		area += a.X*b.Y - b.X*a.Y
	}
	sign := math.Copysign(1, area)
	out := make([]XY, n)
	for i := range ring {
		a, b := ring[(i+n-2)%n], ring[(i+2)%n]
		x, y := b.X-a.X, b.Y-a.Y
		if l := math.Hypot(x, y); l > 0 {
			out[i] = XY{X: sign * y / l, Y: -sign * x / l}
		}
	}
	return out
}

// seenCorners are the corners of the template's near side that no far leg hides, and the outer ones of far legs.
type seenCorner struct {
	XY
	normal XY
	sd     float64
}

var seenCorners = func() (out []seenCorner) {
	for i, part := range drawn.parts {
		ring := make([]XY, len(part))
		for j, c := range part {
			ring[j] = XY{X: c.x, Y: c.y}
		}
		normals := normalsOf(ring)
		for j, c := range part {
			hidden := false
			for k, other := range drawn.parts {
				hidden = hidden || k != i && within(XY{X: c.x + 0.004*normals[j].X, Y: c.y + 0.004*normals[j].Y}, other)
			}
			if !hidden && j%2 == 0 {
				sd := c.sd
				if i > 0 {
					sd += 0.03 // far legs stand anywhere
				}
				out = append(out, seenCorner{ring[j], normals[j], sd})
			}
		}
	}
	return out
}()

func within(p XY, part []corner) (in bool) {
	for i, a := range part {
		b := part[(i+1)%len(part)]
		if (a.y <= p.Y) != (b.y <= p.Y) && p.X < a.x+(p.Y-a.y)/(b.y-a.y)*(b.x-a.x) {
			in = !in
		}
	}
	return in
}

// poseOf bends the template onto a silhouette by pairing places of both edges that lie near and face the same way, and
// moving the template across its edge there as far as its covariance lets it, again and again (iterated closest points:
// Besl, McKay 1992, IEEE TPAMI 14(2):239–256; across the edge only: Chen, Medioni 1992; with a Gaussian process for how a
// shape may bend: Lüthi, Gerig, Jud, Vetter 2018, IEEE TPAMI 40(8):1860–1873).
func poseOf(ring []XY, side timeline.Side, bySpread bool) (*pose, bool) {
	edge, edgeNormal := edgeOf(ring, posedSamples)
	if len(edge) < posedSamples/2 {
		return nil, false
	}
	p := &pose{}
	if p.start.mirrored = side == timeline.SideRight; !p.begin(ring, bySpread) {
		return nil, false
	}
	// The silhouette as the template sees it.
	for i, q := range edge {
		n := edgeNormal[i]
		edge[i] = p.start.back(q)
		edgeNormal[i] = XY{X: n.X, Y: n.Y}
		if p.start.mirrored {
			edgeNormal[i].X = -n.X
		}
	}
	type pair struct {
		corner int
		across float64 // from where the template has the corner to the silhouette, along the normal
		sd     float64
	}
	bent := make([]XY, len(seenCorners))
	for round := range poseRounds {
		t := float64(round) / (poseRounds - 1)
		reach, slack := 0.30*(1-t)+0.07*t, 0.05*(1-t)+0.004*t
		for i, c := range seenCorners {
			bent[i] = p.bend(c.XY)
		}
		var pairs []pair
		add := func(corner, sample int, sd float64) {
			c := seenCorners[corner]
			pairs = append(pairs, pair{corner, (edge[sample].X-c.X)*c.normal.X + (edge[sample].Y-c.Y)*c.normal.Y, math.Hypot(sd, slack)})
		}
		nearest := func(at XY, normal XY, among []XY, normals func(int) XY) int {
			best, found := reach*reach, -1
			for j, q := range among {
				d := (q.X-at.X)*(q.X-at.X) + (q.Y-at.Y)*(q.Y-at.Y)
				if n := normals(j); d < best && n.X*normal.X+n.Y*normal.Y > 0.4 {
					best, found = d, j
				}
			}
			return found
		}
		for i, c := range seenCorners {
			if j := nearest(bent[i], c.normal, edge, func(j int) XY { return edgeNormal[j] }); j >= 0 {
				add(i, j, c.sd)
			}
		}
		matched, off := 0, 0.0
		for j, q := range edge {
			if i := nearest(q, edgeNormal[j], bent, func(i int) XY { return seenCorners[i].normal }); i >= 0 {
				add(i, j, seenCorners[i].sd+0.01)
				matched++
				off += (bent[i].X-q.X)*(bent[i].X-q.X) + (bent[i].Y-q.Y)*(bent[i].Y-q.Y)
			}
		}
		if len(pairs) < 20 {
			return nil, false
		}
		p.covers, p.off = float64(matched)/float64(len(edge)), math.Sqrt(off/float64(max(matched, 1)))
		n := len(pairs)
		k, v := make([][]float64, n), make([]float64, n)
		p.at, p.normal = p.at[:0], p.normal[:0]
		for a, pa := range pairs {
			ca := seenCorners[pa.corner]
			p.at, p.normal = append(p.at, ca.XY), append(p.normal, ca.normal)
			v[a] = pa.across
			k[a] = make([]float64, a+1)
			for b := range a + 1 {
				cb := seenCorners[pairs[b].corner]
				k[a][b] = poseCovariance(ca.XY, cb.XY) * (ca.normal.X*cb.normal.X + ca.normal.Y*cb.normal.Y)
			}
			k[a][a] += pa.sd * pa.sd
		}
		if !cholesky(k) {
			return nil, false
		}
		forward(k, v)
		backward(k, v)
		p.weight, p.solved = v, k
	}
	return p, true
}

// begin lays the template over a silhouette by its middle and its area, or its spread: a lean dog has little area for its size.
func (p *pose) begin(ring []XY, bySpread bool) bool {
	m, t := ringMoments(ring), templateMoments
	scale := math.Sqrt(m.n / t.n)
	if bySpread {
		scale = math.Sqrt(m.sx * m.sy / (t.sx * t.sy))
	}
	if !(scale > 0) || math.IsInf(scale, 0) {
		return false
	}
	p.start.a = scale
	sign := 1.0
	if p.start.mirrored {
		sign = -1
	}
	p.start.tx, p.start.ty = m.cx-scale*sign*t.cx, m.cy-scale*t.cy
	return true
}

// ringMoments are area, middle and spread of what a closed ring encloses.
func ringMoments(ring []XY) moments {
	if len(ring) == 0 {
		return moments{}
	}
	var area, x, y, xx, yy float64
	o := ring[0] // sums about a place near by keep their digits
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		a, b = XY{X: a.X - o.X, Y: a.Y - o.Y}, XY{X: b.X - o.X, Y: b.Y - o.Y}
		c := a.X*b.Y - b.X*a.Y
		area, x, y = area+c/2, x+(a.X+b.X)*c/6, y+(a.Y+b.Y)*c/6
		xx, yy = xx+(a.X*a.X+a.X*b.X+b.X*b.X)*c/12, yy+(a.Y*a.Y+a.Y*b.Y+b.Y*b.Y)*c/12
	}
	if area == 0 {
		return moments{}
	}
	cx, cy := x/area, y/area
	return moments{n: math.Abs(area), cx: cx + o.X, cy: cy + o.Y, sx: math.Sqrt(max(xx/area-cx*cx, 0)), sy: math.Sqrt(max(yy/area-cy*cy, 0))}
}

var templateMoments = func() moments {
	m := newMask(640, 512)
	const perBody = 240.0
	for _, part := range drawn.parts {
		ring := make([]XY, len(part))
		for i, c := range part {
			ring[i] = XY{X: 320 + perBody*c.x, Y: 200 + perBody*c.y}
		}
		m.paint(ring)
	}
	o := m.moments()
	return moments{n: o.n / perBody / perBody, cx: (o.cx - 320) / perBody, cy: (o.cy - 200) / perBody, sx: o.sx / perBody, sy: o.sy / perBody}
}()

// bend is where a place of the template lies on the silhouette, still in the template's frame.
func (p *pose) bend(q XY) XY {
	dx, dy := 0.0, 0.0
	for i, a := range p.at {
		if i >= len(p.weight) {
			break
		}
		k := poseCovariance(q, a) * p.weight[i]
		dx, dy = dx+k*p.normal[i].X, dy+k*p.normal[i].Y
	}
	return XY{X: q.X + dx, Y: q.Y + dy}
}

func (p *pose) place(q XY) XY { return p.start.to(p.bend(q)) }
