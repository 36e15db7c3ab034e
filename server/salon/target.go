package salon

import (
	"context"
	"math"
	"slices"

	"thatch/imaging/align"
	"thatch/timeline"
)

// TargetLook is the outline that is wanted for a dog, on one of her photos.
type TargetLook struct {
	Dog    timeline.Dog
	Line   timeline.TargetLine // as kept; Rev 0: not drawn yet
	Photo  timeline.Photo      // it is shown on; zero ID: no photo has the points for it
	Lines  [][]timeline.XY     // neck into back, tail set to hock; px of Photo. Where none is kept, a start
	From   string              // "kept", "laid" (kept on another photo, laid over this one), "edge" or "points"
	Edge   []timeline.XY       // of Photo, to draw beside it; nil: none
	Photos []timeline.Photo    // on which it can be drawn, newest first
}

// targetPlaces is of how many places a line is made: close enough that it bends smoothly.
const targetPlaces = 24

// maxTargetPlaces bounds one line that comes from outside.
const maxTargetPlaces = 200

// targetPoints are the ends of the two lines, and what lies between where there is no edge to follow.
var targetPoints = [2][]timeline.Point{
	{timeline.Occiput, timeline.WithersPt, timeline.MidBack},
	{timeline.TailSet, timeline.Buttock, timeline.Hock},
}

func canTarget(p timeline.Photo) bool {
	for _, line := range targetPoints {
		for _, pt := range line {
			if _, ok := p.Landmarks[pt]; !ok {
				return false
			}
		}
	}
	return p.Side.Measured()
}

// TargetLook shows the outline that is wanted for a dog on a photo; photo "": the one that it was drawn on, else the newest
// that has an edge and points.
func (s *Salon) TargetLook(ctx context.Context, dog, photo timeline.ID) (TargetLook, error) {
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return TargetLook{}, err
	}
	out := TargetLook{Dog: d, Line: timeline.TargetLine{Dog: dog}}
	kept, err := s.st.TargetLine(ctx, dog)
	if err == nil {
		out.Line = kept
	} else if !isNotFound(err) {
		return out, err
	}
	all, err := s.st.Photos(ctx, dog)
	if err != nil {
		return out, err
	}
	edges, err := s.st.Edges(ctx, dog)
	if err != nil {
		return out, err
	}
	for _, p := range slices.Backward(all) {
		if canTarget(p) {
			out.Photos = append(out.Photos, p)
		}
	}
	if len(out.Photos) == 0 && photo == "" {
		return out, nil
	}
	find := func(id timeline.ID) bool {
		i := slices.IndexFunc(out.Photos, func(p timeline.Photo) bool { return p.ID == id })
		if i >= 0 {
			out.Photo = out.Photos[i]
		}
		return i >= 0
	}
	switch {
	case photo != "":
		if !find(photo) {
			return out, invalid("photo", "fault.target.photo")
		}
	case out.Line.Rev > 0 && find(out.Line.Photo):
	default:
		out.Photo = out.Photos[0]
		for _, p := range out.Photos {
			if len(edges[p.ID].Polygon) > 0 {
				out.Photo = p
				break
			}
		}
	}
	e := edges[out.Photo.ID]
	out.Edge = e.Polygon
	return out, s.targetStart(&out, e, all)
}

// targetStart fills in the lines as they are shown on the photo.
func (s *Salon) targetStart(out *TargetLook, e timeline.Edge, all []timeline.Photo) error {
	if out.Line.Rev > 0 {
		if out.Line.Photo == out.Photo.ID {
			out.Lines, out.From = out.Line.Lines, "kept"
			return nil
		}
		i := slices.IndexFunc(all, func(p timeline.Photo) bool { return p.ID == out.Line.Photo })
		if i >= 0 {
			if out.Lines = laidOver(out.Line.Lines, all[i], out.Photo); out.Lines != nil {
				out.From = "laid"
				return nil
			}
		}
	}
	out.From = "points"
	zones := zonesOf(e, out.Photo)
	for _, pts := range targetPoints {
		var line []timeline.XY
		if len(e.Polygon) > 0 {
			line = alongEdge(e.Polygon, zones, out.Photo.Landmarks[pts[0]], out.Photo.Landmarks[pts[len(pts)-1]])
		}
		if len(line) > 1 {
			out.From = "edge"
		} else {
			line = nil
			for _, pt := range pts {
				line = append(line, out.Photo.Landmarks[pt])
			}
		}
		out.Lines = append(out.Lines, evenly(line, targetPlaces))
	}
	return nil
}

// laidOver are lines of one photo as they lie on another of the dog; nil where the two cannot be laid over each other.
func laidOver(lines [][]timeline.XY, from, to timeline.Photo) (out [][]timeline.XY) {
	laid := align.Align(asPlaced(to), asPlaced(from))
	if _, fitted := laid.Parts[timeline.PartTrunk]; !fitted {
		return nil
	}
	for _, line := range lines {
		out = append(out, overParts(line, laid, from))
	}
	return out
}

// asPlaced is a photo for alignment, nothing being known of its coat.
func asPlaced(p timeline.Photo) align.Placed {
	return align.Placed{Landmarks: p.Landmarks, Facing: p.Facing, WidthPX: p.WidthPX, HeightPX: p.HeightPX}
}

// wantedOn is the outline that is wanted for the photo's dog, as it lies on the photo; nil where none was drawn or it cannot
// be laid there.
func (s *Salon) wantedOn(ctx context.Context, p timeline.Photo) ([][]timeline.XY, error) {
	kept, err := s.st.TargetLine(ctx, p.Dog)
	if isNotFound(err) || err == nil && !p.Side.Measured() {
		return nil, nil
	}
	if err != nil || kept.Photo == p.ID {
		return kept.Lines, err
	}
	from, err := s.st.Photo(ctx, kept.Photo)
	if isNotFound(err) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return laidOver(kept.Lines, from, p), nil
}

// alongEdge is the edge between the places nearest to a and b, the shorter way round, without the tail.
func alongEdge(ring []timeline.XY, zones []timeline.Zone, a, b timeline.XY) []timeline.XY {
	near := func(p timeline.XY) int {
		best, d := 0, math.Inf(1)
		for i, q := range ring {
			if l := math.Hypot(q.X-p.X, q.Y-p.Y); l < d && zones[i] != timeline.Tail {
				best, d = i, l
			}
		}
		return best
	}
	from, to := near(a), near(b)
	n := len(ring)
	walk := func(step int) (line []timeline.XY, length float64) {
		for i := from; ; i = (i + step + n) % n {
			if zones[i] != timeline.Tail {
				if len(line) > 0 {
					last := line[len(line)-1]
					length += math.Hypot(ring[i].X-last.X, ring[i].Y-last.Y)
				}
				line = append(line, ring[i])
			}
			if i == to {
				return line, length
			}
		}
	}
	one, l1 := walk(1)
	other, l2 := walk(-1)
	if l2 < l1 {
		return other
	}
	return one
}

// evenly is a line as n places in equal steps along it.
func evenly(line []timeline.XY, n int) []timeline.XY {
	at := make([]float64, len(line))
	for i := 1; i < len(line); i++ {
		at[i] = at[i-1] + math.Hypot(line[i].X-line[i-1].X, line[i].Y-line[i-1].Y)
	}
	whole := at[len(at)-1]
	out := make([]timeline.XY, 0, n)
	for i, k := 0, 0; k < n; k++ {
		want := whole * float64(k) / float64(n-1)
		for i+2 < len(line) && at[i+1] < want {
			i++
		}
		t := 0.0
		if d := at[i+1] - at[i]; d > 0 {
			t = math.Min(1, (want-at[i])/d)
		}
		out = append(out, timeline.XY{X: line[i].X + t*(line[i+1].X-line[i].X), Y: line[i].Y + t*(line[i+1].Y-line[i].Y)})
	}
	return out
}

// SaveTarget keeps the outline that is wanted for a dog, drawn on one of her photos: two lines, px of the upright original.
func (s *Salon) SaveTarget(ctx context.Context, dog timeline.ID, rev timeline.Rev, photo timeline.ID, lines [][]timeline.XY) (timeline.TargetLine, error) {
	p, err := s.Photo(ctx, photo)
	if err != nil {
		return timeline.TargetLine{}, err
	}
	if p.Dog != dog || !canTarget(p) {
		return timeline.TargetLine{}, invalid("photo", "fault.target.photo")
	}
	if len(lines) != len(targetPoints) {
		return timeline.TargetLine{}, invalid("line1", "fault.target.lines")
	}
	fields := [2]string{"line1", "line2"}
	for i, line := range lines {
		if len(line) < 2 {
			return timeline.TargetLine{}, invalid(fields[i], "fault.target.short")
		}
		if err := placesIn(fields[i], p, line, maxTargetPlaces); err != nil {
			return timeline.TargetLine{}, err
		}
	}
	return s.st.SaveTargetLine(ctx, timeline.TargetLine{Dog: dog, Rev: rev, Photo: photo, Lines: lines, Saved: s.Now()})
}

// RemoveTarget takes the outline that was wanted away.
func (s *Salon) RemoveTarget(ctx context.Context, dog timeline.ID, rev timeline.Rev) error {
	if _, err := s.Dog(ctx, dog); err != nil {
		return err
	}
	return s.st.RemoveTargetLine(ctx, dog, rev)
}
