package salon

import (
	"context"
	"image"
	"math"
	"slices"

	"thatch/imaging/outline"
	"thatch/timeline"
)

// edgeMaker is the version of what finds edges.
const edgeMaker = 1

// EdgeLook is a photo with its edge.
type EdgeLook struct {
	Dog    timeline.Dog
	Photo  timeline.Photo
	Edge   timeline.Edge   // Rev 0: none was found yet
	Along  []timeline.Zone // of every vertex of the edge; "" where no zone is measured
	Zones  []EdgeZone      // every zone in the outline, anatomical order
	Why    timeline.Phrase // why the edge cannot be told apart into zones; zero: it can
	BodyPX float64         // length of the body, or a guess of it: what distances on the dog are shares of
}

// EdgeZone is how far a zone's stretch of the edge has been looked at.
type EdgeZone struct {
	Zone      timeline.Zone
	Shown     bool // some stretch of the edge is its own
	Confirmed bool
	LookOnly  string // of EdgeReasons; "": measured where confirmed
	Single    bool   // looked at for itself, never with others
	Topline   bool
}

// Confirmed is how many zones were found right.
func (l EdgeLook) Confirmed() int { return len(l.Edge.Confirmed) }

// EdgeLook is the photo's edge as it stands. Only photos from the left or the right have one.
func (s *Salon) EdgeLook(ctx context.Context, photo timeline.ID) (EdgeLook, error) {
	p, err := s.Photo(ctx, photo)
	if err != nil {
		return EdgeLook{}, err
	}
	out := EdgeLook{Photo: p}
	if out.Dog, err = s.Dog(ctx, p.Dog); err != nil {
		return out, err
	}
	if out.Edge, err = s.edgeOf(ctx, photo); err != nil {
		return out, err
	}
	if !p.Side.Measured() {
		out.Why = timeline.Say("fault.edge.side")
	}
	out.fill()
	return out, nil
}

// EdgeOf is the photo's edge; Rev 0: none was found yet.
func (s *Salon) edgeOf(ctx context.Context, photo timeline.ID) (timeline.Edge, error) {
	e, err := s.st.Edge(ctx, photo)
	if isNotFound(err) {
		return timeline.Edge{Photo: photo}, nil
	}
	return e, err
}

func (l *EdgeLook) fill() {
	l.Along = zonesOf(l.Edge, l.Photo)
	l.BodyPX = bodyOf(l.Photo.Landmarks, l.Edge.Polygon)
	has := map[timeline.Zone]bool{}
	for _, z := range l.Along {
		has[z] = true
	}
	for _, z := range timeline.Zones() {
		if z.InOutline() {
			l.Zones = append(l.Zones, EdgeZone{
				Zone: z, Shown: has[z], Confirmed: slices.Contains(l.Edge.Confirmed, z), LookOnly: l.Edge.LookOnly[z],
				Single: slices.Contains(singleZones, z), Topline: slices.Contains(toplineZones, z),
			})
		}
	}
	if l.Why.IsZero() && len(l.Edge.Polygon) > 0 && !has[timeline.Back] {
		l.Why = timeline.Say("edge.why.points")
	}
}

// bodyOf is the length of the body: between its two ends, or what withers and tail set or the edge's own width say of it.
func bodyOf(lm timeline.Landmarks, edge []timeline.XY) float64 {
	for _, c := range []struct {
		a, b   timeline.Point
		factor float64
	}{{timeline.Prosternum, timeline.Buttock, 1}, {timeline.WithersPt, timeline.TailSet, 1.6}} {
		a, okA := lm[c.a]
		b, okB := lm[c.b]
		if okA && okB {
			return c.factor * math.Hypot(b.X-a.X, b.Y-a.Y)
		}
	}
	left, right := math.Inf(1), math.Inf(-1)
	for _, q := range edge {
		left, right = math.Min(left, q.X), math.Max(right, q.X)
	}
	return 0.75 * math.Max(0, right-left) // head and tail stand over
}

// FindEdge finds the edge of a photo, anew where there is one. Rev is that of the edge it replaces, 0 where there is none.
// Where no dog is found the fault is Invalid and asks for a rough line.
func (s *Salon) FindEdge(ctx context.Context, photo timeline.ID, rev timeline.Rev) (timeline.Edge, error) {
	return s.reworkEdge(ctx, photo, rev, func(p timeline.Photo, was timeline.Edge, view *image.NRGBA) (outline.Result, error) {
		g, ok, err := s.edgeGuess(ctx, p, view)
		if err != nil {
			return outline.Result{}, err
		}
		if !ok {
			return outline.Result{}, invalid("photo", "fault.edge.no_dog")
		}
		return found(view, g)
	})
}

// RoughEdge finds the edge from a rough polygon that somebody drew round the dog, px of the upright original.
func (s *Salon) RoughEdge(ctx context.Context, photo timeline.ID, rev timeline.Rev, polygon []timeline.XY) (timeline.Edge, error) {
	return s.reworkEdge(ctx, photo, rev, func(p timeline.Photo, was timeline.Edge, view *image.NRGBA) (outline.Result, error) {
		if err := placesIn("points", p, polygon, maxRoughPoints); err != nil {
			return outline.Result{}, err
		}
		return found(view, outline.PointsGuess(toWidth(polygon, p.WidthPX, view.Bounds().Dx())))
	})
}

func found(view *image.NRGBA, g outline.Guess) (outline.Result, error) {
	r, err := outline.Find(view, g)
	if err != nil {
		return r, err
	}
	if len(r.Polygon) == 0 {
		return r, invalid("photo", "fault.edge.no_dog")
	}
	return outline.Fine(view, r), nil
}

const (
	maxRoughPoints  = 400
	maxStrokes      = 64
	maxStrokePoints = 4000
	maxEdgePoints   = 20000
)

// placesIn refuses places that are no numbers or lie far outside the photo.
func placesIn(field string, p timeline.Photo, at []timeline.XY, most int) error {
	if len(at) > most {
		return invalid(field, "fault.edge.many", "n", most)
	}
	marginX, marginY := 0.25*float64(p.WidthPX), 0.25*float64(p.HeightPX)
	for _, q := range at {
		if math.IsNaN(q.X+q.Y) || q.X < -marginX || q.Y < -marginY || q.X > float64(p.WidthPX)+marginX || q.Y > float64(p.HeightPX)+marginY {
			return invalid(field, "fault.edge.outside")
		}
	}
	return nil
}

// reworkEdge makes the next version of an edge from the pixels of the view and keeps it. Zones that have moved are looked at
// again. One photo is worked on by one at a time.
func (s *Salon) reworkEdge(ctx context.Context, photo timeline.ID, rev timeline.Rev, work func(timeline.Photo, timeline.Edge, *image.NRGBA) (outline.Result, error)) (timeline.Edge, error) {
	release, err := s.deriving.take(ctx, "edge of "+string(photo))
	if err != nil {
		return timeline.Edge{}, err
	}
	defer release()
	p, was, err := s.edgeToChange(ctx, photo, rev)
	if err != nil {
		return was, err
	}
	if err := s.derive(ctx, p.SHA256); err != nil {
		return was, err
	}
	letGo, err := s.holdPixels(ctx)
	if err != nil {
		return was, err
	}
	r, err := func() (outline.Result, error) {
		defer letGo()
		view, err := s.decoded(ctx, p.SHA256, PictureView)
		if err != nil {
			return outline.Result{}, err
		}
		return work(p, was, view)
	}()
	if err != nil {
		return was, err
	}
	next := was
	next.Method, next.Maker = r.Method, edgeMaker
	next.Polygon = toWidth(r.Polygon, r.WidthPX, p.WidthPX)
	next.Holes = nil
	for _, hole := range r.Holes {
		next.Holes = append(next.Holes, toWidth(hole, r.WidthPX, p.WidthPX))
	}
	next.Confirmed = stillConfirmed(was, next, zonesOf(was, p), zonesOf(next, p), edgeTolerance(p))
	return s.keepEdge(ctx, next)
}

// edgeToChange is a photo with its edge, which must be the version that the change was made from.
func (s *Salon) edgeToChange(ctx context.Context, photo timeline.ID, rev timeline.Rev) (timeline.Photo, timeline.Edge, error) {
	p, err := s.Photo(ctx, photo)
	if err != nil {
		return p, timeline.Edge{}, err
	}
	if !p.Side.Measured() {
		return p, timeline.Edge{}, invalid("photo", "fault.edge.side")
	}
	e, err := s.edgeOf(ctx, photo)
	if err == nil && e.Rev != rev {
		err = timeline.NewFault(timeline.Conflict, "fault.edge.changed").At("edge of " + string(photo))
	}
	return p, e, err
}

func (s *Salon) keepEdge(ctx context.Context, e timeline.Edge) (timeline.Edge, error) {
	e.Saved = s.Now()
	return s.st.SaveEdge(ctx, e)
}

// PutBackEdge replaces an edge by an earlier version of it, as undo does, with the zones that were found right in that.
func (s *Salon) PutBackEdge(ctx context.Context, photo timeline.ID, rev timeline.Rev, polygon []timeline.XY, holes [][]timeline.XY, confirmed []timeline.Zone) (timeline.Edge, error) {
	p, e, err := s.edgeToChange(ctx, photo, rev)
	if err != nil {
		return e, err
	}
	if e.Rev == 0 || len(polygon) < 8 {
		return e, invalid("polygon", "fault.edge.no_edge")
	}
	n := len(polygon)
	for _, ring := range append([][]timeline.XY{polygon}, holes...) {
		if err := placesIn("polygon", p, ring, maxEdgePoints); err != nil {
			return e, err
		}
		n += len(ring)
	}
	if n > 2*maxEdgePoints {
		return e, invalid("polygon", "fault.edge.many", "n", maxEdgePoints)
	}
	e.Polygon, e.Holes = polygon, holes
	has := zonesOf(e, p)
	e.Confirmed = []timeline.Zone{}
	for _, z := range confirmed {
		if z.InOutline() && slices.Contains(has, z) && e.LookOnly[z] == "" {
			e.Confirmed = append(e.Confirmed, z)
		}
	}
	e.Confirmed = inOrder(e.Confirmed)
	return s.keepEdge(ctx, e)
}
