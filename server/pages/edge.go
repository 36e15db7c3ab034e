package pages

import (
	"net/http"

	"thatch/imaging/overlay"
	"thatch/server/salon"
	"thatch/timeline"
)

type edgePage struct {
	frame
	salon.EdgeLook
	Form  form
	Coat  timeline.Phrase // why nothing is measured whatever the edge is; zero: it may be
	Taps  photoTaps
	Runs  []edgeRun
	Holes string // path data
	How   string // key of the sentence on where it was found from; "": there is no edge
	Rough string // what was typed of a rough line
}

// edgeRun is a stretch of the edge as it is drawn.
type edgeRun struct {
	Zone  timeline.Zone `json:"zone"`
	State string        `json:"state"` // "right", "look", "open", or "none": of no zone
	D     string        `json:"d"`     // path data, px of the upright original
}

// edgeReason is why a zone is only looked at, with the key of its words.
type edgeReason struct{ Code, Key string }

var edgeReasons = []edgeReason{
	{"lead", "edge.reason.lead"}, {"hand", "edge.reason.hand"}, {"blurred", "edge.reason.blurred"},
	{"brushed_up", "edge.reason.brushed_up"}, {"furniture", "edge.reason.furniture"},
}

// edgeHow says where an edge was found from.
var edgeHow = map[string]string{
	"points": "edge.how.rough", "outline": "edge.how.last", "landmarks": "edge.how.points", "auto": "edge.how.auto", salon.EdgeAutoUnsure: "edge.how.unsure",
}

var edgeView = declare[edgePage]("edge")

func (s *Site) edge(w http.ResponseWriter, r *http.Request) error {
	return s.showEdge(w, r, 0, form{})
}

func (s *Site) showEdge(w http.ResponseWriter, r *http.Request, code int, f form) error {
	look, err := s.salon.EdgeLook(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	p := edgePage{frame: frame{Status: code, Tab: "photo", Dog: navOf(look.Dog)}, EdgeLook: look, Form: f, Rough: f.Get("points")}
	p.Coat = salon.StateLook(look.Photo)
	p.Taps = photoTaps{Photo: look.Photo, Coat: true, Back: "/photos/" + string(look.Photo.ID) + "/edge", Undo: undoFrom(r.URL.Query(), look.Photo)}
	p.Runs, p.Holes = runsOf(look), overlay.PathD(closed(look.Edge.Holes)...)
	if look.Edge.Rev > 0 {
		p.How = edgeHow[look.Edge.Method]
	}
	return edgeView.show(s, w, r, p)
}

// edgeRow is one zone of the list: how it stands, and what can be said of it.
type edgeRow struct {
	salon.EdgeZone
	State   string
	Says    timeline.Phrase
	Reasons []edgeReason
}

// Says is how far the whole edge has been looked at.
func (p edgePage) Says() timeline.Phrase { return edgeSays(p.EdgeLook) }

// Topline and Others are the zones in the order of the page.
func (p edgePage) Topline() []edgeRow { return p.rows(true) }
func (p edgePage) Others() []edgeRow  { return p.rows(false) }

func (p edgePage) rows(topline bool) (out []edgeRow) {
	for _, z := range p.Zones {
		if z.Topline == topline {
			out = append(out, edgeRow{z, stateOf(z), edgeWord(z), edgeReasons})
		}
	}
	return out
}

// ToplineRight: nothing of the topline is left to be found right.
func (p edgePage) ToplineRight() bool {
	right := false
	for _, z := range p.Topline() {
		if z.Shown && !z.Confirmed {
			return false
		}
		right = right || z.Confirmed
	}
	return right
}

// stateOf is how a zone stands, as classes and scripts call it.
func stateOf(z salon.EdgeZone) string {
	switch {
	case z.LookOnly != "":
		return "look"
	case z.Confirmed:
		return "right"
	case !z.Shown:
		return "absent"
	}
	return "open"
}

// reasonKey is the key of the words of a reason.
func reasonKey(code string) string {
	for _, r := range edgeReasons {
		if r.Code == code {
			return r.Key
		}
	}
	return ""
}

// runsOf are the stretches of an edge between changes of zone, each up to where the next begins.
func runsOf(l salon.EdgeLook) []edgeRun {
	n := len(l.Edge.Polygon)
	if n < 3 {
		return []edgeRun{}
	}
	states := map[timeline.Zone]string{"": "none"}
	for _, z := range l.Zones {
		states[z.Zone] = stateOf(z)
	}
	start := 0
	for start < n && l.Along[start] == l.Along[(start+n-1)%n] {
		start++
	}
	if start == n { // all of one kind
		ring := closed([][]timeline.XY{l.Edge.Polygon})
		return []edgeRun{{l.Along[0], states[l.Along[0]], overlay.PathD(ring...)}}
	}
	runs := []edgeRun{}
	for k := 0; k < n; {
		z := l.Along[(start+k)%n]
		line := []timeline.XY{}
		for ; k < n && l.Along[(start+k)%n] == z; k++ {
			line = append(line, l.Edge.Polygon[(start+k)%n])
		}
		line = append(line, l.Edge.Polygon[(start+k)%n])
		runs = append(runs, edgeRun{z, states[z], overlay.PathD(line)})
	}
	return runs
}

func closed(rings [][]timeline.XY) [][]timeline.XY {
	out := make([][]timeline.XY, 0, len(rings))
	for _, r := range rings {
		if len(r) > 2 {
			out = append(out, append(append([]timeline.XY{}, r...), r[0]))
		}
	}
	return out
}

// edgeWord is how a zone stands, in words.
func edgeWord(z salon.EdgeZone) timeline.Phrase {
	switch stateOf(z) {
	case "look":
		return timeline.Say("edge.state.look", "why", timeline.Say(reasonKey(z.LookOnly)))
	case "right":
		return timeline.Say("edge.state.right")
	case "absent":
		return timeline.Say("edge.state.absent")
	}
	return timeline.Say("edge.state.open")
}

// edgeSays is how far the whole edge has been looked at.
func edgeSays(l salon.EdgeLook) timeline.Phrase {
	switch n := l.Confirmed(); {
	case l.Edge.Rev == 0:
		return timeline.Say("edge.none")
	case n == 0:
		return timeline.Say("edge.found")
	default:
		return timeline.Say("edge.confirmed", "n", n)
	}
}
