package pages

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"net/http"

	"thatch/imaging/overlay"
	"thatch/server/status"
	"thatch/timeline"
)

// edgeShape is an edge as the script of the page is given it. Places follow each other as x, y, px of the upright original.
type edgeShape struct {
	Rev     timeline.Rev `json:"rev"`
	Polygon []float64    `json:"polygon"`
	Holes   [][]float64  `json:"holes"`
	HolesD  string       `json:"holes_d"`
	Runs    []edgeRun    `json:"runs"`
	Zones   []edgeState  `json:"zones"`
	How     string       `json:"how"` // sentences
	Says    string       `json:"says"`
	Why     string       `json:"why"`
	BodyPX  float64      `json:"body_px"`
}

type edgeState struct {
	Zone  timeline.Zone `json:"zone"`
	State string        `json:"state"`
	Why   string        `json:"why"` // code of the reason
	Says  string        `json:"says"`
}

func (s *Site) edgeShape(w http.ResponseWriter, r *http.Request) error {
	look, err := s.salon.EdgeLook(r.Context(), idOf(r, "id"))
	if err != nil {
		return s.tellFault(w, r, err)
	}
	sp := speakerOf(visitOf(r).settings)
	out := edgeShape{
		Rev: look.Edge.Rev, Polygon: flat(look.Edge.Polygon), Holes: [][]float64{}, HolesD: overlay.PathD(closed(look.Edge.Holes)...),
		Runs: runsOf(look), Zones: []edgeState{}, BodyPX: math.Round(look.BodyPX),
	}
	for _, hole := range look.Edge.Holes {
		out.Holes = append(out.Holes, flat(hole))
	}
	for _, z := range look.Zones {
		state := stateOf(z)
		out.Zones = append(out.Zones, edgeState{z.Zone, state, z.LookOnly, sp.Say(edgeWord(z))})
	}
	if look.Edge.Rev > 0 {
		out.How, out.Says = sp.T(edgeHow[look.Edge.Method]), sp.Say(edgeSays(look))
	}
	if !look.Why.IsZero() {
		out.Why = sp.Say(look.Why)
	}
	return tell(w, http.StatusOK, out)
}

func flat(line []timeline.XY) []float64 {
	out := make([]float64, 0, 2*len(line))
	for _, q := range line {
		out = append(out, math.Round(q.X*10)/10, math.Round(q.Y*10)/10)
	}
	return out
}

func unflat(v []float64) []timeline.XY {
	out := make([]timeline.XY, 0, len(v)/2)
	for i := 0; i+1 < len(v); i += 2 {
		out = append(out, timeline.XY{X: v[i], Y: v[i+1]})
	}
	return out
}

// tell answers a script.
func tell(w http.ResponseWriter, code int, v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return err
	}
	h := w.Header()
	h.Set("Content-Type", "application/json; charset=utf-8")
	h.Set("Cache-Control", "no-store")
	w.WriteHeader(code)
	_, _ = w.Write(b) // the browser went away: nobody to tell
	return nil
}

// tellFault tells a script what was wrong, in a sentence.
func (s *Site) tellFault(w http.ResponseWriter, r *http.Request, err error) error {
	if errors.Is(err, context.Canceled) && r.Context().Err() != nil {
		return nil // whoever asked has gone
	}
	if timeline.KindOf(err) == timeline.Internal {
		s.log.Error("page", "method", r.Method, "route", routeOf(r), "error", err)
	}
	return tell(w, status.Of(err), map[string]string{"fault": speakerOf(visitOf(r).settings).Fault(status.Fault(err))})
}
