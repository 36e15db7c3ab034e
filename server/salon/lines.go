package salon

import (
	"context"
	"math"

	"thatch/imaging/align"
	"thatch/imaging/overlay"
	"thatch/timeline"
	"thatch/timeline/coat"
)

// Judgement, beside the formulas of the scale: a height measured with a stick on a standing dog is good to half a
// centimetre, a point tapped with the loupe to a quarter of a per cent of the body's length.
const (
	heightSDMM = 5.0
	tapShare   = 0.0025
)

// zoneOfPoint is the zone whose hair stands where an outline point is tapped.
var zoneOfPoint = map[timeline.Point]timeline.Zone{
	timeline.WithersPt: timeline.Withers, timeline.MidBack: timeline.Back, timeline.TailSet: timeline.Rump,
	timeline.Buttock: timeline.Thigh, timeline.Prosternum: timeline.Forechest,
}

// frame is a photo that lines can be drawn on: its scale, and the skin line in its pixels.
type frame struct {
	photo     timeline.Photo
	scale     ScaleFigure
	skin      overlay.Curve
	fixedBy   []timeline.Zone // zones whose readings fixed the skin line
	depthSDMM float64
	missing   []timeline.Phrase // why there are no lines; then all else is zero
}

// Overlay is the lines of the photo's own day on it.
func (s *Salon) Overlay(ctx context.Context, photo timeline.ID) (Overlay, error) {
	p, err := s.Photo(ctx, photo)
	if err != nil {
		return Overlay{}, err
	}
	d, err := s.Dog(ctx, p.Dog)
	if err != nil {
		return Overlay{}, err
	}
	h, err := s.history(ctx, d)
	if err != nil {
		return Overlay{}, err
	}
	return s.overlayOn(ctx, h, p)
}

func (s *Salon) overlayOn(ctx context.Context, h history, p timeline.Photo) (Overlay, error) {
	c, err := s.coatOn(ctx, h, p)
	if err != nil {
		return Overlay{}, err
	}
	out := frameOf(c, p).lines(c)
	wanted, err := s.wantedOn(ctx, p)
	if err == nil && len(wanted) > 0 {
		// Above all others: the only line that a hand has drawn.
		out.Lines = append(out.Lines, Line{Kind: LineWanted, D: overlay.PathD(wanted...)})
	}
	return out, err
}

// placed is a photo for alignment, its outline points with the depth of coat expected under them, px.
func placed(c onDay, p timeline.Photo) align.Placed {
	out := align.Placed{Landmarks: p.Landmarks, WidthPX: p.WidthPX, HeightPX: p.HeightPX, Facing: p.Facing}
	scale, err := scaleOf(c, p)
	if err != nil {
		return out
	}
	mmPerPX := scale.MMPerPX
	out.DepthPX, out.DepthSDPX = map[timeline.Point]float64{}, map[timeline.Point]float64{}
	for pt, z := range zoneOfPoint {
		if mm, sd, ok := c.bestDepthMM(z); ok {
			out.DepthPX[pt], out.DepthSDPX[pt] = mm/mmPerPX, sd/mmPerPX
		}
	}
	return out
}

// scaleOf is the photo's scale: by marker or tape, else by the dog's height at the withers.
func scaleOf(c onDay, p timeline.Photo) (ScaleFigure, error) {
	if seen := scaleSeen(p, c.scale); seen.By != "" {
		return seen, nil
	}
	depth, depthSD, ok := c.bestDepthMM(timeline.Withers)
	if !ok {
		depth, depthSD = 0, unknownDepthSDMM
	}
	return scaleByWithers(p, c.h.dog.WithersMM, depth, depthSD)
}

// unknownDepthSDMM is of a coat of which nothing is known: from bare to long.
const unknownDepthSDMM = 10.0

func scaleByWithers(p timeline.Photo, heightMM, depthMM, depthSDMM float64) (ScaleFigure, error) {
	mm, sd, err := align.ScaleFromWithers(p.Landmarks, heightMM, depthMM, align.ScaleSD{HeightMM: heightSDMM, DepthMM: depthSDMM, TapPX: tapShare * bodyPX(p.Landmarks)})
	if err != nil {
		return ScaleFigure{}, err
	}
	return ScaleFigure{By: ScaleByWithers, MMPerPX: mm, SDMMPerPX: sd}, nil
}

func bodyPX(lm timeline.Landmarks) float64 {
	distance := func(a, b timeline.Point) float64 {
		p, okP := lm[a]
		q, okQ := lm[b]
		if !okP || !okQ {
			return 0
		}
		return math.Hypot(p.X-q.X, p.Y-q.Y)
	}
	if d := distance(timeline.Prosternum, timeline.Buttock); d > 0 {
		return d
	}
	return 1.6 * distance(timeline.WithersPt, timeline.TailSet)
}

// frameOf finds scale and skin line of a photo, or says everything that is missing for them.
func frameOf(c onDay, p timeline.Photo) frame {
	f := frame{photo: p, fixedBy: []timeline.Zone{}, missing: []timeline.Phrase{}}
	if !p.Side.Measured() {
		f.missing = append(f.missing, timeline.Say("look.side", "side", p.Side))
		return f
	}
	if c.on.IsZero() {
		f.missing = append(f.missing, timeline.Say("look.no_date"))
	} else if !c.known {
		f.missing = append(f.missing, timeline.Say("look.before_answers", "first", c.h.dog.Answers.On))
	}
	var points []timeline.Point
	needed := []timeline.Point{timeline.WithersPt, timeline.TailSet}
	byHeight := scaleSeen(p, c.scale).By == ""
	if byHeight {
		needed = append(needed, timeline.FrontPaw, timeline.HindPaw)
	}
	for _, pt := range needed {
		if _, ok := p.Landmarks[pt]; !ok {
			points = append(points, pt)
		}
	}
	if len(points) > 0 {
		f.missing = append(f.missing, timeline.Say("look.line_points", "n", len(points), "points", points))
	}
	if byHeight && c.h.dog.WithersMM == 0 {
		f.missing = append(f.missing, timeline.Say("look.withers_height"))
	}
	if len(f.missing) > 0 {
		return f
	}
	scale, err := scaleOf(c, p)
	if err != nil {
		return frame{photo: p, missing: []timeline.Phrase{phraseOf(err)}}
	}
	depthPX := map[timeline.Zone]float64{}
	for _, z := range timeline.Zones() {
		if mm, _, ok := c.bestDepthMM(z); ok {
			depthPX[z] = mm / scale.MMPerPX
		}
		if !math.IsNaN(c.measuredDepthMM(z)) && z.InOutline() {
			f.fixedBy = append(f.fixedBy, z)
		}
	}
	skin, err := overlay.SkinLine(p.Landmarks, depthPX, p.Facing)
	if err != nil {
		return frame{photo: p, missing: []timeline.Phrase{phraseOf(err)}}
	}
	f.scale, f.skin = scale, skin
	_, f.depthSDMM, _ = c.bestDepthMM(timeline.Back)
	return f
}

// lines are a day's lines in the frame's pixels; the frame's own day or, over an aligned photo, the other's.
func (f frame) lines(c onDay) Overlay {
	out := Overlay{
		On: c.on, WidthPX: f.photo.WidthPX, HeightPX: f.photo.HeightPX, Lines: []Line{}, MMPerPX: f.scale.MMPerPX, MMPerPXSD: f.scale.SDMMPerPX, ScaleBy: f.scale.By,
		SkinFrom: f.fixedBy, DepthSDMM: f.depthSDMM, Missing: f.missing, MeasuredZones: []timeline.Zone{},
	}
	if out.SkinFrom == nil {
		out.SkinFrom = []timeline.Zone{}
	}
	if len(f.missing) > 0 {
		return out
	}
	if c.on.IsZero() || !c.known {
		// The frame is fine, the other photo's day is not.
		if c.on.IsZero() {
			out.Missing = append(out.Missing, timeline.Say("look.no_date"))
		} else {
			out.Missing = append(out.Missing, timeline.Say("look.before_answers", "first", c.h.dog.Answers.On))
		}
		return out
	}
	add := func(kind string, path overlay.Path) {
		if d := pathD(path); d != "" {
			out.Lines = append(out.Lines, Line{Kind: kind, D: d})
		}
	}
	at := func(depth func(timeline.Zone) float64) overlay.Path {
		return overlay.Offset(f.skin, depth, f.scale.MMPerPX)
	}
	expected := func(of func(coat.Dist) float64) func(timeline.Zone) float64 {
		return func(z timeline.Zone) float64 {
			d, ok := c.expectedDepthMM(z)
			if !ok {
				return math.NaN()
			}
			return of(d)
		}
	}
	add(LineSkin, f.skin.Path())
	add(LineTargetMin, at(func(z timeline.Zone) float64 {
		if t := c.h.target(z, c.on); t != nil && t.Min > 0 {
			return c.depthOf(t.Min)
		}
		return math.NaN()
	}))
	add(LineTargetMax, at(func(z timeline.Zone) float64 {
		if t := c.h.target(z, c.on); t != nil && t.Max != nil {
			return c.depthOf(*t.Max)
		}
		return math.NaN()
	}))
	add(LineExpectedLow, at(expected(func(d coat.Dist) float64 { return d.P10 })))
	add(LineExpectedHigh, at(expected(func(d coat.Dist) float64 { return d.P90 })))
	add(LineExpected, at(expected(func(d coat.Dist) float64 { return d.Median })))
	add(LineMeasured, at(c.measuredDepthMM))
	for _, z := range f.skin.Zones() {
		if !math.IsNaN(c.measuredDepthMM(z)) {
			out.MeasuredZones = append(out.MeasuredZones, z)
		}
	}
	return out
}

func pathD(p overlay.Path) string {
	if len(p) == 0 {
		return ""
	}
	return overlay.PathD(p...)
}
