package pages

import (
	"math"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"thatch/server/salon"
	"thatch/timeline"
)

type tapePage struct {
	frame
	salon.TapeLook
	Form  form
	Marks [2]tapeMark
	Undo  url.Values // the marks that were just taken away; nil: none
}

// tapeMark is one mark as numbers, px of the upright original.
type tapeMark struct {
	Name   string // of its fields, with x or y behind
	Label  string // key
	X, Y   string // "" where nobody has pointed at it
	AtX    string // where it is shown until then
	AtY    string
	Letter string
}

var tapeView = declare[tapePage]("tape")

// tapeFields are the numbers of both marks.
var tapeFields = []string{"ax", "ay", "bx", "by"}

func (s *Site) tape(w http.ResponseWriter, r *http.Request) error {
	return s.showTape(w, r, 0, form{})
}

func (s *Site) showTape(w http.ResponseWriter, r *http.Request, code int, f form) error {
	look, err := s.salon.TapeLook(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	p := tapePage{frame: frame{Status: code, Tab: "photo", Dog: navOf(look.Dog)}, TapeLook: look, Form: f}
	for i, at := range []timeline.XY{look.Tape.A, look.Tape.B} {
		m := tapeMark{Name: tapeFields[2*i][:1], Label: [2]string{"tape.mark.first", "tape.mark.second"}[i], AtX: px(at.X), AtY: px(at.Y), Letter: string("12"[i])}
		if look.Kept {
			m.X, m.Y = m.AtX, m.AtY
		}
		if f.Values != nil {
			m.X, m.Y = f.text(m.Name+"x"), f.text(m.Name+"y")
		}
		p.Marks[i] = m
	}
	if q := r.URL.Query(); !look.Kept && q.Get("mm") != "" {
		if _, err := tapeOf(form{Values: q}); err == nil {
			p.Undo = q
		}
	}
	return tapeView.show(s, w, r, p)
}

// tapeOf reads both marks; each must have been pointed at.
func tapeOf(f form) (t timeline.Tape, err error) {
	var at [4]float64
	for i, name := range tapeFields {
		text := strings.Replace(f.text(name), ",", ".", 1)
		if text == "" {
			return t, timeline.NewFault(timeline.Invalid, "fault.tape.mark").In(name)
		}
		if at[i], err = strconv.ParseFloat(text, 64); err != nil || math.IsNaN(at[i]) || math.IsInf(at[i], 0) {
			return t, timeline.NewFault(timeline.Invalid, "fault.tape.number").In(name)
		}
	}
	return timeline.Tape{A: timeline.XY{X: at[0], Y: at[1]}, B: timeline.XY{X: at[2], Y: at[3]}}, nil
}

func (s *Site) saveTape(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	look, err := s.salon.TapeLook(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	id := look.Photo.ID
	rev, err := f.rev()
	var tape timeline.Tape
	if err == nil {
		tape, err = tapeOf(f)
	}
	if err == nil {
		tape.MM, err = f.lengthKept(r, "mm", look.Tape.MM)
	}
	if err == nil {
		_, err = s.salon.SaveTape(r.Context(), id, rev, tape)
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showTape(w, r, code, f) })
	}
	sayNext(w, r, "tape.saved", "", "")
	return seeOther(w, r, "/photos/"+string(id)+"/tape")
}

// removeTape takes the marks away; the next page has them in its address, to put them back.
func (s *Site) removeTape(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	was, err := s.salon.Photo(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	rev, err := f.rev()
	if err == nil {
		_, err = s.salon.RemoveTape(r.Context(), was.ID, rev)
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showTape(w, r, code, form{Fault: f.Fault}) })
	}
	to := "/photos/" + string(was.ID) + "/tape"
	if t := was.Tape; t != nil {
		to += "?" + url.Values{"ax": {px(t.A.X)}, "ay": {px(t.A.Y)}, "bx": {px(t.B.X)}, "by": {px(t.B.Y)}, "mm": {px(t.MM) + " mm"}}.Encode()
	}
	sayNext(w, r, "tape.removed", "", "")
	return seeOther(w, r, to)
}
