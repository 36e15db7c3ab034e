package salon

import (
	"context"
	"math"
	"slices"

	"thatch/imaging/measure"
	"thatch/imaging/outline"
	"thatch/timeline"
)

// WantedOff is how far the dog's outline stands off a line that is wanted for her, at its farthest places.
type WantedOff struct {
	Line   int     // 0 neck into back, 1 tail set to hock
	OverMM float64 // outside of the line; 0: nowhere clearly
	LackMM float64 // inside of it
	N      int     // photos
}

// Kept reports that the outline follows the line as well as photos can tell.
func (w WantedOff) Kept() bool { return w.OverMM == 0 && w.LackMM == 0 }

// wantedSDMM is how well a line that was drawn on one photo lies on another, mm: points are tapped and the dog bends. Judgement,
// from what proposals of points are off by on drawn dogs.
const wantedSDMM = 2.5

// wanted holds the outline of a sitting's photos against the lines that are wanted. Places at which nobody has found the edge
// right are left out; one is told where its mean over the photos is more than twice as far off as chance makes it.
func (s *Salon) wanted(ctx context.Context, d *photoDepths, t *MeasuredSitting) ([]WantedOff, error) {
	var out []WantedOff
	var places [][]wantedPlace // of each line
	for _, p := range t.Photos {
		edge := d.edgeOf(p.Photo.ID)
		if edge == nil {
			continue
		}
		lines, err := s.wantedOn(ctx, p.Photo)
		if err != nil {
			return nil, err
		}
		for line, at := range lines {
			if line == len(out) {
				out, places = append(out, WantedOff{Line: line}), append(places, make([]wantedPlace, len(at)))
			}
			out[line].N++
			for k, q := range at {
				if off, ok := edge.off(q); ok {
					places[line][k].sumMM += off * p.Scale.MMPerPX
					places[line][k].photos++
				}
			}
		}
	}
	for line := range out {
		w := &out[line]
		for _, at := range places[line] {
			n := float64(at.photos)
			mm := at.sumMM / n
			if at.photos == 0 || 2*at.photos < w.N || math.Abs(mm) < 2*wantedSDMM/math.Sqrt(n) {
				continue
			}
			w.OverMM, w.LackMM = math.Max(w.OverMM, mm), math.Max(w.LackMM, -mm)
		}
	}
	return out, nil
}

// wantedPlace is one place of a line on all photos: every photo has the same places of it.
type wantedPlace struct {
	sumMM  float64
	photos int
}

// lookedEdge is an edge and which of its places somebody has found right.
type lookedEdge struct {
	ring  []timeline.XY
	right []bool
	index *ringIndex
}

// off is how far the edge stands off a place, px, + where the place lies inside of it.
func (e *lookedEdge) off(p timeline.XY) (float64, bool) {
	q, d, ok := e.index.nearest(p)
	if !ok {
		return 0, false
	}
	best, at := math.Inf(1), 0
	for i, v := range e.ring {
		if l := math.Hypot(v.X-q.X, v.Y-q.Y); l < best {
			best, at = l, i
		}
	}
	if !e.right[at] {
		return 0, false
	}
	if !outline.Inside(p, e.ring) {
		d = -d
	}
	return d, true
}

// edgeOf is the edge of a photo that is measured; nil: it is not.
func (d *photoDepths) edgeOf(photo timeline.ID) *lookedEdge {
	p, shot := d.shotOf(photo)
	if shot == nil {
		return nil
	}
	out := &lookedEdge{ring: shot.Outline, right: make([]bool, len(shot.Outline))}
	for i, z := range measure.ZonesAlong(shot.Outline, shot.Landmarks, shot.Facing) {
		// Skull and beard are no zones of a depth, and of the wanted lines neither.
		out.right[i] = slices.Contains(p.Confirmed, z)
	}
	out.index = newRingIndex(shot.Outline, wantedReachMM/shot.MMPerPX)
	return out
}

// wantedReachMM: a line farther from the edge belongs to another part of the dog.
const wantedReachMM = 45.0
