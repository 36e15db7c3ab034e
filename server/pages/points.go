package pages

import (
	"math"
	"net/http"
	"strconv"

	"thatch/server/status"
	"thatch/timeline"
)

type pointsPage struct {
	frame
	DogName  string
	Photo    timeline.Photo
	Form     form
	Points   []pointField
	Proposed bool // the places are proposed, nobody has confirmed them
	Outlined bool // told by the dog's outline
	Edged    bool // the photo has an edge, onto which a tap may be moved
	From     timeline.Photo
	Why      timeline.Phrase // why nothing can be proposed
}

// pointField is one point with its two numbers, px of the upright original; "" where it is not placed.
type pointField struct {
	Point timeline.Point
	Part  timeline.Part
	X, Y  string
	Look  string // of a proposal: "sure", "check", or "usual", a mere placeholder; "" where a person placed it
}

var pointsView = declare[pointsPage]("points")

// points is the editor: what was confirmed, or, with ?propose or on a photo without points, what is proposed.
func (s *Site) points(w http.ResponseWriter, r *http.Request) error {
	photo, err := s.salon.Photo(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	p := pointsPage{Photo: photo}
	lm, look := photo.Landmarks, func(timeline.Point) string { return "" }
	if len(lm) == 0 || r.URL.Query().Has("propose") {
		proposal, err := s.salon.ProposePoints(r.Context(), photo.ID)
		switch {
		case timeline.KindOf(err) == timeline.Invalid && err != nil:
			p.Why = status.Fault(err).Say
		case err != nil:
			return err
		default:
			p.Proposed, p.Outlined, p.From, lm = true, proposal.Outlined, proposal.From, proposal.Landmarks
			look = func(pt timeline.Point) string { return lookOf(proposal.Confidence[pt]) }
		}
	}
	for _, pt := range timeline.Points() {
		f := pointField{Point: pt, Part: pt.Part()}
		if at, ok := lm[pt]; ok {
			f.X, f.Y, f.Look = px(at.X), px(at.Y), look(pt)
		}
		p.Points = append(p.Points, f)
	}
	return s.showPoints(w, r, p)
}

func (s *Site) showPoints(w http.ResponseWriter, r *http.Request, p pointsPage) error {
	dog, err := s.salon.Dog(r.Context(), p.Photo.Dog)
	if err != nil {
		return err
	}
	edge, err := s.salon.EdgeLook(r.Context(), p.Photo.ID)
	if err != nil {
		return err
	}
	p.Edged = edge.Edge.Rev > 0
	p.Tab, p.Dog, p.DogName = "photo", navOf(dog), dog.Name
	return pointsView.show(s, w, r, p)
}

// sureFrom is the confidence from which on a proposed point is called sure; judgement, no source.
const sureFrom = 0.5

func lookOf(confidence float64) string {
	switch {
	case confidence >= sureFrom:
		return "sure"
	case confidence > 0:
		return "check"
	}
	return "usual"
}

func px(v float64) string { return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64) }

func (s *Site) savePoints(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	photo, err := s.salon.Photo(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	rev, err := f.rev()
	var lm timeline.Landmarks
	if err == nil {
		lm, err = landmarksOf(f)
	}
	if err == nil {
		_, err = s.salon.SavePoints(r.Context(), photo.ID, rev, lm)
	}
	if err != nil {
		return f.again(err, func(code int) error {
			p := pointsPage{frame: frame{Status: code}, Photo: photo, Form: f}
			for _, pt := range timeline.Points() {
				p.Points = append(p.Points, pointField{Point: pt, Part: pt.Part(), X: f.text("x." + string(pt)), Y: f.text("y." + string(pt))})
			}
			return s.showPoints(w, r, p)
		})
	}
	sayNext(w, r, "points.saved", "", "")
	return seeOther(w, r, "/photos/"+string(photo.ID))
}

// landmarksOf reads the pairs of numbers; a pair left empty is a point that is not placed.
func landmarksOf(f form) (timeline.Landmarks, error) {
	lm := timeline.Landmarks{}
	for _, pt := range timeline.Points() {
		tx, ty := f.text("x."+string(pt)), f.text("y."+string(pt))
		if tx == "" && ty == "" {
			continue
		}
		x, errX := strconv.ParseFloat(tx, 64)
		y, errY := strconv.ParseFloat(ty, 64)
		if errX != nil || errY != nil || math.IsNaN(x+y) || math.IsInf(x+y, 0) {
			return nil, timeline.NewFault(timeline.Invalid, "fault.points.number", "point", pt).In("x." + string(pt))
		}
		lm[pt] = timeline.XY{X: x, Y: y}
	}
	return lm, nil
}
