package guess

import (
	"math"

	"thatch/imaging/outline"
	"thatch/timeline"
)

// onEdge are the points that lie on the dog's edge.
var onEdge = map[timeline.Point]bool{
	timeline.Nose: true, timeline.Occiput: true, timeline.WithersPt: true, timeline.MidBack: true, timeline.TailSet: true,
	timeline.Buttock: true, timeline.Prosternum: true, timeline.Hock: true, timeline.FrontPaw: true, timeline.HindPaw: true,
}

// Points proposes the points of a dog from its outline alone, for a person to confirm: the template of a standing dog is bent
// onto the silhouette, facing either way, and its points go with it; those of the edge are put on it. conf is how probable it
// is that a point lies within 3 % of the body's length of where a groomer would tap. ok is false where the outline is no dog
// seen from the side.
func Points(r outline.Result) (lm timeline.Landmarks, conf map[timeline.Point]float64, facing timeline.Side, ok bool) {
	p, side, ok := bestPose(r.Polygon)
	if !ok {
		return nil, nil, "", false
	}
	lm, conf = timeline.Landmarks{}, map[timeline.Point]float64{}
	sure := p.sure()
	for _, m := range drawn.marks {
		at := p.place(XY{X: m.x, Y: m.y})
		if onEdge[m.point] {
			at = nearestOn(r.Polygon, at)
		}
		lm[m.point], conf[m.point] = at, pointTrust[m.point]*sure
	}
	return lm, conf, side, true
}

// bestPose tries both ways a dog may face.
func bestPose(ring []XY) (best *pose, side timeline.Side, ok bool) {
	for _, q := range ring {
		if math.Abs(q.X) > trustedPX || math.Abs(q.Y) > trustedPX || math.IsNaN(q.X+q.Y) {
			return nil, "", false
		}
	}
	if len(ring) < 8 {
		return nil, "", false
	}
	for _, s := range []timeline.Side{timeline.SideLeft, timeline.SideRight} {
		for _, bySpread := range []bool{false, true} {
			if p, ok := poseOf(ring, s, bySpread); ok && (best == nil || p.misfit() < best.misfit()) {
				best, side = p, s
			}
		}
	}
	return best, side, best != nil && best.misfit() < mostPoseMisfit
}

// misfit is how ill the template fits, bodies: what has found no place counts as far.
func (p *pose) misfit() float64 { return p.off*p.covers + 0.15*(1-p.covers) }

const mostPoseMisfit = 0.05

// sure is 1 for a dog like the drawn ones, falling to 0 where the template hardly fits.
func (p *pose) sure() float64 {
	return min(1, max(0, (mostPoseMisfit-p.misfit())/(mostPoseMisfit-0.015)))
}

// pointTrust is how often a point lies within 3 % of the body's length where the template fits as well as it can: a little
// less than was measured on drawn dogs, their builds and tails beyond those of the template (0.92 occiput, 0.95 middle of the
// back and point of chest, 0.99 the others), for a real dog is none of them.
var pointTrust = map[timeline.Point]float64{
	timeline.Nose: 0.9, timeline.Eye: 0.88, timeline.Occiput: 0.82, timeline.WithersPt: 0.88, timeline.MidBack: 0.85, timeline.TailSet: 0.88,
	timeline.Buttock: 0.88, timeline.Prosternum: 0.84, timeline.Elbow: 0.85, timeline.Hock: 0.9, timeline.FrontPaw: 0.9, timeline.HindPaw: 0.9,
}

func nearestOn(ring []XY, p XY) (best XY) {
	least := math.Inf(1)
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		vx, vy := b.X-a.X, b.Y-a.Y
		t := 0.0
		if l := vx*vx + vy*vy; l > 0 {
			t = min(max(((p.X-a.X)*vx+(p.Y-a.Y)*vy)/l, 0), 1)
		}
		q := XY{X: a.X + t*vx, Y: a.Y + t*vy}
		if d := math.Hypot(p.X-q.X, p.Y-q.Y); d < least {
			least, best = d, q
		}
	}
	return best
}
