package pages

import (
	"encoding/json"
	"math"
	"net/http"
	"strconv"
	"strings"

	"thatch/server/salon"
	"thatch/timeline"
)

// edgeAction reads, acts, and answers a script with the edge as it is now, a form with the page.
func (s *Site) edgeAction(w http.ResponseWriter, r *http.Request, to string, act func(f form, photo timeline.ID, rev timeline.Rev) error) error {
	script := strings.Contains(r.Header.Get("Accept"), "application/json")
	f, err := readForm(w, r)
	var rev timeline.Rev
	if err == nil {
		rev, err = f.rev()
	}
	if err == nil {
		err = act(f, idOf(r, "id"), rev)
	}
	switch {
	case err != nil && script:
		return s.tellFault(w, r, err)
	case err != nil:
		return f.again(err, func(code int) error { return s.showEdge(w, r, code, f) })
	case script:
		return s.edgeShape(w, r)
	}
	return seeOther(w, r, "/photos/"+string(idOf(r, "id"))+"/edge"+to)
}

func (s *Site) findEdge(w http.ResponseWriter, r *http.Request) error {
	return s.edgeAction(w, r, "", func(f form, photo timeline.ID, rev timeline.Rev) error {
		_, err := s.salon.FindEdge(r.Context(), photo, rev)
		return err
	})
}

func (s *Site) roughEdge(w http.ResponseWriter, r *http.Request) error {
	return s.edgeAction(w, r, "", func(f form, photo timeline.ID, rev timeline.Rev) error {
		line, err := placesOf(f, "points")
		if err == nil {
			_, err = s.salon.RoughEdge(r.Context(), photo, rev, line)
		}
		return err
	})
}

func (s *Site) correctEdge(w http.ResponseWriter, r *http.Request) error {
	return s.edgeAction(w, r, "", func(f form, photo timeline.ID, rev timeline.Rev) error {
		var strokes []salon.EdgeStroke
		if err := json.Unmarshal([]byte(f.Get("strokes")), &strokes); err != nil {
			return timeline.NewFault(timeline.Invalid, "fault.edge.strokes").In("strokes").Because(err)
		}
		_, err := s.salon.CorrectEdge(r.Context(), photo, rev, strokes)
		return err
	})
}

func (s *Site) putBackEdge(w http.ResponseWriter, r *http.Request) error {
	return s.edgeAction(w, r, "", func(f form, photo timeline.ID, rev timeline.Rev) error {
		var was struct {
			Polygon   []float64       `json:"polygon"`
			Holes     [][]float64     `json:"holes"`
			Confirmed []timeline.Zone `json:"confirmed"`
		}
		if err := json.Unmarshal([]byte(f.Get("edge")), &was); err != nil {
			return timeline.NewFault(timeline.Invalid, "fault.edge.no_edge").In("edge").Because(err)
		}
		var holes [][]timeline.XY
		for _, hole := range was.Holes {
			holes = append(holes, unflat(hole))
		}
		_, err := s.salon.PutBackEdge(r.Context(), photo, rev, unflat(was.Polygon), holes, was.Confirmed)
		return err
	})
}

// edgeZones takes what was said of one zone, or of the topline: "right back", "lead crest", "unsaid topline".
func (s *Site) edgeZones(w http.ResponseWriter, r *http.Request) error {
	return s.edgeAction(w, r, "#right", func(f form, photo timeline.ID, rev timeline.Rev) error {
		is, zone, _ := strings.Cut(f.text("say"), " ")
		zones := []timeline.Zone{timeline.Zone(zone)}
		if zone == "topline" {
			zones = salon.ToplineZones()
		}
		_, err := s.salon.SayOfEdge(r.Context(), photo, rev, is, zones...)
		return err
	})
}

// placesOf reads places one a line, as "x y" or "x, y".
func placesOf(f form, name string) ([]timeline.XY, error) {
	var out []timeline.XY
	for i, line := range strings.Split(strings.ReplaceAll(f.text(name), "\r\n", "\n"), "\n") {
		parts := strings.FieldsFunc(line, func(c rune) bool { return c == ' ' || c == ',' || c == ';' || c == '\t' })
		if len(parts) == 0 {
			continue
		}
		var at [2]float64
		var err error
		for k := range at {
			if len(parts) != 2 {
				err = strconv.ErrSyntax
			} else if err == nil {
				at[k], err = strconv.ParseFloat(parts[k], 64)
			}
		}
		if err != nil || math.IsNaN(at[0]+at[1]) || math.IsInf(at[0]+at[1], 0) {
			return nil, timeline.NewFault(timeline.Invalid, "fault.edge.place", "n", i+1).In(name)
		}
		out = append(out, timeline.XY{X: at[0], Y: at[1]})
	}
	return out, nil
}
