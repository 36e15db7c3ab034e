package salon

import (
	"context"
	"image"
	"math"

	"thatch/imaging/align"
	"thatch/imaging/outline"
	"thatch/imaging/outline/guess"
	"thatch/timeline"
)

// EdgeAutoUnsure is the method of an edge that the picture alone gave, and not clearly.
const EdgeAutoUnsure = "auto_unsure"

// sureAuto: from here on what the picture alone says is not called unsure.
const sureAuto = 0.5

// edgeGuess is where the edge of a photo may run, in pixels of its view: the dog's last looked-at edge of that side laid over
// it, else her points, else what the picture says by itself. ok is false where none of them says anything.
func (s *Salon) edgeGuess(ctx context.Context, p timeline.Photo, view *image.NRGBA) (g outline.Guess, ok bool, err error) {
	w, h := view.Bounds().Dx(), view.Bounds().Dy()
	lm := scaled(p.Landmarks, p.WidthPX, w)
	if len(p.Landmarks) >= 3 {
		over, ok, err := s.lastEdgeOver(ctx, p)
		if err != nil {
			return g, false, err
		}
		if ok {
			return outline.OutlineGuess(toWidth(over, p.WidthPX, w)), true, nil
		}
		if g, ok := guess.FromLandmarks(lm, p.Facing, w, h); ok {
			return g, true, nil
		}
	}
	g, confidence, ok := guess.Auto(view)
	if ok && confidence < sureAuto {
		g.Method = EdgeAutoUnsure
	}
	return g, ok, nil
}

// lastEdgeOver is the edge of the dog's photo that is nearest in time, of the same side, with points and a confirmed zone,
// laid over p through the points of both; px of p.
func (s *Salon) lastEdgeOver(ctx context.Context, p timeline.Photo) ([]timeline.XY, bool, error) {
	photos, err := s.st.Photos(ctx, p.Dog)
	if err == nil {
		photos, err = s.ofHerSize(ctx, p, photos)
	}
	if err != nil {
		return nil, false, err
	}
	edges, err := s.st.Edges(ctx, p.Dog)
	if err != nil {
		return nil, false, err
	}
	var best timeline.Photo
	var edge timeline.Edge
	for _, q := range photos {
		e, has := edges[q.ID]
		if q.ID == p.ID || !has || len(e.Confirmed) == 0 || q.Side != p.Side || len(missingTrunk(q.Landmarks)) > 3 {
			continue
		}
		if best.ID == "" || hoursApart(p, q) < hoursApart(p, best) {
			best, edge = q, e
		}
	}
	if best.ID == "" {
		return nil, false, nil
	}
	ref := align.Placed{Landmarks: p.Landmarks, Facing: p.Facing, WidthPX: p.WidthPX}
	other := align.Placed{Landmarks: best.Landmarks, Facing: best.Facing, WidthPX: best.WidthPX}
	laid := align.Align(ref, other)
	if _, fitted := laid.Parts[timeline.PartTrunk]; !fitted {
		return nil, false, nil
	}
	return overParts(edge.Polygon, laid, best), true, nil
}

func hoursApart(a, b timeline.Photo) float64 {
	if a.Moment.Instant.IsZero() || b.Moment.Instant.IsZero() {
		return math.MaxFloat64
	}
	return math.Abs(a.Moment.Instant.Sub(b.Moment.Instant).Hours())
}

// limbs are the lines along which each part of a dog lies.
var limbs = map[timeline.Part][][2]timeline.Point{
	timeline.PartHead:    {{timeline.Nose, timeline.Eye}, {timeline.Eye, timeline.Occiput}, {timeline.Nose, timeline.Occiput}},
	timeline.PartTrunk:   {{timeline.WithersPt, timeline.MidBack}, {timeline.MidBack, timeline.TailSet}, {timeline.TailSet, timeline.Buttock}, {timeline.Prosternum, timeline.WithersPt}, {timeline.Prosternum, timeline.Elbow}, {timeline.Elbow, timeline.Buttock}},
	timeline.PartForeleg: {{timeline.Elbow, timeline.FrontPaw}},
	timeline.PartHindleg: {{timeline.Hock, timeline.HindPaw}},
}

// overParts carries a line from one photo to another, each place with the parts of the dog that it is near: the fourth power
// of the distance lets the nearest part decide and passes from one to the next without a step.
func overParts(line []timeline.XY, laid align.Result, from timeline.Photo) []timeline.XY {
	mirrored := func(q timeline.XY) timeline.XY {
		if laid.Mirrored {
			q.X = float64(from.WidthPX-1) - q.X
		}
		return q
	}
	out := make([]timeline.XY, len(line))
	for i, q := range line {
		var sum timeline.XY
		weight := 0.0
		to := mirrored(q)
		for part, along := range limbs {
			t, ok := laid.Parts[part]
			if !ok {
				continue
			}
			d := math.Inf(1)
			for _, l := range along {
				a, okA := from.Landmarks[l[0]]
				b, okB := from.Landmarks[l[1]]
				if okA && okB {
					d = math.Min(d, toSegment(q, a, b))
				}
			}
			if math.IsInf(d, 1) {
				continue
			}
			w := 1 / math.Pow(d+1, 4)
			at := t.Apply(to)
			sum.X, sum.Y, weight = sum.X+w*at.X, sum.Y+w*at.Y, weight+w
		}
		if weight == 0 {
			out[i] = laid.Transform.Apply(to)
		} else {
			out[i] = timeline.XY{X: sum.X / weight, Y: sum.Y / weight}
		}
	}
	return out
}

func toSegment(p, a, b timeline.XY) float64 {
	ex, ey := b.X-a.X, b.Y-a.Y
	t := 0.0
	if l := ex*ex + ey*ey; l > 0 {
		t = math.Min(1, math.Max(0, ((p.X-a.X)*ex+(p.Y-a.Y)*ey)/l))
	}
	return math.Hypot(p.X-a.X-t*ex, p.Y-a.Y-t*ey)
}

// toWidth carries a line from a picture of one width to the same picture at another.
func toWidth(line []timeline.XY, fromWidthPX, toWidthPX int) []timeline.XY {
	t := between(fromWidthPX, toWidthPX)
	out := make([]timeline.XY, len(line))
	for i, q := range line {
		out[i] = t.Apply(q)
	}
	return out
}
