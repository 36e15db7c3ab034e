package align

import (
	"image"
	"math"

	"thatch/timeline"
)

// Proposal is where the points of a new photo probably are, for a person to confirm.
type Proposal struct {
	Landmarks  timeline.Landmarks         // the points that the old photo has, px of the new one
	Confidence map[timeline.Point]float64 // 0 (a mere placeholder) to 1
	Facing     timeline.Side
	Found      bool // the dog was found in the new photo; false: the old places, scaled to the new frame
}

const (
	coarsePX, middlePX, finePX = 112, 256, 800 // long sides of the planes
	foundScore                 = 0.40          // least agreement that counts as the same dog
	patchShare                 = 0.075         // half side of a point's patch, of the body's length
	reachShare                 = 0.06          // how far a point is looked for
	strayShare                 = 0.03          // beyond it a point disagrees with the trunk
)

// view is the old photo, as it is or mirrored, with its points.
type view struct {
	coarse, middle, fine *plane
	lm                   timeline.Landmarks
	everywhere           []XY // places on and close around the dog
	centre               XY
	bodyPX               float64
}

// Propose finds the points of prev again in next, a later photo of the same side or of the other, taken within a factor
// of 0.7 to 1.4 of the size and ±10° of roll: a sweep over coarse pictures for the whole dog, a climb for head and legs,
// then a patch about every point (normalised cross-correlation of light and of edges); trunk points that stray from the
// trunk's robust similarity are put back. Without a dog found, or with fewer than three points, it answers the old
// places scaled to the new frame, with confidence 0.05 or less. prevFacing "" is told from the points.
func Propose(prev *image.NRGBA, prevLandmarks timeline.Landmarks, prevFacing timeline.Side, next *image.NRGBA) Proposal {
	lm := timeline.Landmarks{}
	for p, xy := range prevLandmarks {
		if p.Known() && finite(xy) {
			lm[p] = xy
		}
	}
	at := Placed{Landmarks: lm, WidthPX: prev.Bounds().Dx(), HeightPX: prev.Bounds().Dy(), Facing: prevFacing}
	facing := at.facing()
	if prev.Bounds().Empty() || next.Bounds().Empty() {
		return placeholder(lm, facing, 1)
	}
	frame := float64(max(next.Bounds().Dx(), next.Bounds().Dy())) / float64(max(at.WidthPX, at.HeightPX))
	if len(lm) < 3 || at.bodyPX() < 0.08*float64(at.WidthPX) {
		return placeholder(lm, facing, frame)
	}

	fine := luma(next, finePX)
	middle := fine.smaller(middlePX)
	coarse := middle.smaller(coarsePX)
	plain := look(prev, at)
	turned := look(Mirror(prev), mirroredPlaced(at))
	var cs []candidate
	for _, v := range []*view{plain, turned} {
		t := cut(v.coarse, thinned(v.everywhere, 320))
		cs = append(cs, sweep(t, v.centre, coarse, frame, v == turned)...)
	}
	top := candidate{score: -1}
	for _, c := range cs {
		v := plain
		if c.mirrored {
			v = turned
		}
		c.t, c.score = climb(cut(v.middle, thinned(v.everywhere, 500)), middle, c.t, v.centre, steps{2.5, 0.06, 3}, nil)
		if c.score > top.score {
			top = c
		}
	}
	if top.score < foundScore {
		return placeholder(lm, facing, frame)
	}
	v := plain
	if top.mirrored {
		v = turned
		facing = opposite(facing)
	}
	t, score := climb(cut(v.fine, thinned(v.everywhere, 1500)), fine, top.t, v.centre, steps{2, 0.01, 0.7}, nil)
	out := v.points(fine, t, score)
	out.Facing = facing
	return out
}

func look(img *image.NRGBA, at Placed) *view {
	v := &view{lm: at.Landmarks, bodyPX: at.bodyPX()}
	v.fine = luma(img, finePX)
	v.middle = v.fine.smaller(middlePX)
	v.coarse = v.middle.smaller(coarsePX)
	var ps []XY
	for _, p := range timeline.Points() {
		if xy, ok := at.Landmarks[p]; ok {
			ps = append(ps, xy)
		}
	}
	v.everywhere = around(ps, 0.09*v.bodyPX, v.bodyPX/60)
	v.centre = mean(v.everywhere)
	return v
}

func mirroredPlaced(p Placed) Placed {
	out := p
	out.Landmarks = timeline.Landmarks{}
	for q, xy := range p.Landmarks {
		out.Landmarks[q] = XY{X: float64(p.WidthPX-1) - xy.X, Y: xy.Y}
	}
	out.Facing = opposite(p.Facing)
	return out
}

func opposite(s timeline.Side) timeline.Side {
	switch s {
	case timeline.SideLeft:
		return timeline.SideRight
	case timeline.SideRight:
		return timeline.SideLeft
	}
	return s
}

// points places every point, twice: the first round betters the trunk's transform, the second starts from it.
func (v *view) points(fine *plane, t Similarity, score float64) Proposal {
	out := Proposal{Landmarks: timeline.Landmarks{}, Confidence: map[timeline.Point]float64{}, Found: true}
	move := map[timeline.Part]Similarity{}
	for _, part := range parts {
		var ps []XY
		for _, p := range part.points {
			if xy, ok := v.lm[p]; ok {
				ps = append(ps, xy)
			}
		}
		move[part.part] = t
		if len(ps) >= 2 {
			c := mean(ps)
			tpl := cut(v.fine, thinned(around(ps, 0.08*v.bodyPX, v.bodyPX/90), 600))
			// A head swings about the withers, a leg about its upper end; the further, the less likely.
			pivot, degs := c, []float64{0, -8, 8}
			if w, ok := v.lm[timeline.WithersPt]; ok && part.part == timeline.PartHead {
				pivot, degs = w, []float64{0, -7, 7, -14, 14, -20, 20}
			}
			best := -2.0
			for _, deg := range degs {
				start := Turn(1, deg, t.Apply(pivot)).Compose(t)
				leash := func(s Similarity) float64 {
					return 0.1*square(distance(s.Apply(c), start.Apply(c))/(t.Scale()*v.bodyPX)/0.08) + 0.04*square(deg/20)
				}
				s, k := climb(tpl, fine, start, c, steps{12, 0, 3}, leash)
				if k > best {
					move[part.part], best = s, k
				}
			}
		}
	}
	move[timeline.PartTrunk] = t
	ncc := map[timeline.Point]float64{}
	for _, reach := range []float64{reachShare, reachShare / 2} {
		for _, p := range timeline.Points() {
			if xy, ok := v.lm[p]; ok {
				out.Landmarks[p], ncc[p] = v.patch(fine, xy, move[p.Part()], reach)
			}
		}
		if s, ok := v.trunk(out.Landmarks, ncc); ok {
			move[timeline.PartTrunk] = s
		}
	}
	span := strayShare * v.bodyPX * t.Scale()
	for p, xy := range out.Landmarks {
		want := move[p.Part()].Apply(v.lm[p])
		off := distance(xy, want) / span
		c := clamp01((ncc[p]-0.25)/0.6) * clamp01((score-0.2)/0.5) * math.Exp(-off*off/2)
		if p.Part() == timeline.PartTrunk && off > 1 {
			out.Landmarks[p] = want
			c = math.Min(c, 0.3)
		}
		out.Confidence[p] = c
	}
	return out
}

// trunk is the robust similarity from the old trunk points to the new ones.
func (v *view) trunk(lm timeline.Landmarks, ncc map[timeline.Point]float64) (Similarity, bool) {
	var src, dst []XY
	var w []float64
	for _, p := range timeline.Points() {
		if xy, ok := lm[p]; ok && p.Part() == timeline.PartTrunk {
			src, dst, w = append(src, v.lm[p]), append(dst, xy), append(w, square(math.Max(0.1, ncc[p]))/square(0.01*v.bodyPX))
		}
	}
	if len(src) < 3 {
		return Similarity{}, false
	}
	f, err := robust(src, dst, w, 1)
	return f.Similarity, err == nil && f.Similarity.Scale() > 0.4 && f.Similarity.Scale() < 2.5
}

// patch looks for the surroundings of one point near where s puts it. Along a smooth edge they agree equally well all
// the way, so being far costs a little; that leaves the point on the edge, where it is expected along it.
func (v *view) patch(fine *plane, xy XY, s Similarity, reach float64) (XY, float64) {
	var ps []XY
	r, step := patchShare*v.bodyPX, math.Max(patchShare*v.bodyPX/14, 1/v.fine.scale)
	for dy := -r; dy <= r; dy += step {
		for dx := -r; dx <= r; dx += step {
			ps = append(ps, XY{X: xy.X + dx, Y: xy.Y + dy})
		}
	}
	t := cut(v.fine, ps)
	span := reach * v.bodyPX * s.Scale()
	leash := func(q Similarity) float64 {
		d := distance(q.Apply(xy), s.Apply(xy)) / span
		if d > 1 {
			return 2
		}
		return 0.12 * d * d
	}
	best, at := -2.0, s
	grid := span / 4
	for i := -3.0; i <= 3; i++ {
		for j := -3.0; j <= 3; j++ {
			q := s
			q.TX, q.TY = s.TX+i*grid, s.TY+j*grid
			if k := t.score(fine, q) - leash(q); k > best {
				best, at = k, q
			}
		}
	}
	at, _ = climb(t, fine, at, xy, steps{math.Max(1, grid*fine.scale/2), 0, 0}, leash)
	return at.Apply(xy), t.score(fine, at)
}

// placeholder is the old places in the new frame.
func placeholder(lm timeline.Landmarks, facing timeline.Side, frame float64) Proposal {
	out := Proposal{Landmarks: timeline.Landmarks{}, Confidence: map[timeline.Point]float64{}, Facing: facing}
	for p, xy := range lm {
		out.Landmarks[p] = XY{X: (xy.X+0.5)*frame - 0.5, Y: (xy.Y+0.5)*frame - 0.5}
		out.Confidence[p] = 0.05
	}
	return out
}

func clamp01(v float64) float64 { return math.Min(1, math.Max(0, v)) }

func square(v float64) float64 { return v * v }
