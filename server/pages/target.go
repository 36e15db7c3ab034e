package pages

import (
	"net/http"
	"strings"

	"thatch/imaging/overlay"
	"thatch/server/salon"
	"thatch/timeline"
)

type targetPage struct {
	frame
	salon.TargetLook
	Form   form
	Fields [2]targetField
	EdgeD  string           // path data of the photo's edge
	How    string           // key of the sentence on where the lines come from
	Others []timeline.Photo // shown of the other photos, newest first
}

// targetOthersShown are so many other photos, the newest; all of them are one tap away.
const targetOthersShown = 12

// targetField is one line as numbers and as a drawing.
type targetField struct {
	Name  string // of the field
	Label string // key
	Value string // one place a line
	D     string // path data
}

var (
	targetView   = declare[targetPage]("target")
	targetLabels = [2]string{"target.line.neck", "target.line.rear"}
	targetNames  = [2]string{"line1", "line2"}
	targetHow    = map[string]string{"kept": "target.how.kept", "laid": "target.how.laid", "edge": "target.how.edge", "points": "target.how.points"}
)

func (s *Site) target(w http.ResponseWriter, r *http.Request) error {
	return s.showTarget(w, r, 0, timeline.ID(r.URL.Query().Get("photo")), form{})
}

func (s *Site) showTarget(w http.ResponseWriter, r *http.Request, code int, photo timeline.ID, f form) error {
	look, err := s.salon.TargetLook(r.Context(), idOf(r, "id"), photo)
	if err != nil {
		return err
	}
	p := targetPage{frame: frame{Status: code, Dog: navOf(look.Dog)}, TargetLook: look, Form: f, How: targetHow[look.From]}
	for _, ph := range look.Photos {
		if ph.ID != look.Photo.ID && (len(p.Others) < targetOthersShown || r.URL.Query().Get("photos") == "all") {
			p.Others = append(p.Others, ph)
		}
	}
	if len(look.Edge) > 0 {
		p.EdgeD = overlay.PathD(closed([][]timeline.XY{look.Edge})...)
	}
	for i := range p.Fields {
		p.Fields[i] = targetField{Name: targetNames[i], Label: targetLabels[i]}
		if i < len(look.Lines) {
			p.Fields[i].Value, p.Fields[i].D = placesText(look.Lines[i]), overlay.PathD(look.Lines[i])
		}
		if f.Values != nil {
			p.Fields[i].Value = f.Get(targetNames[i])
		}
	}
	return targetView.show(s, w, r, p)
}

// placesText is a line as placesOf reads it.
func placesText(line []timeline.XY) string {
	rows := make([]string, len(line))
	for i, q := range line {
		rows[i] = px(q.X) + " " + px(q.Y)
	}
	return strings.Join(rows, "\n")
}

func (s *Site) saveTarget(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	dog, photo := idOf(r, "id"), timeline.ID(f.Get("photo"))
	rev, err := f.rev()
	var lines [][]timeline.XY
	for i := 0; i < len(targetNames) && err == nil; i++ {
		var line []timeline.XY
		line, err = placesOf(f, targetNames[i])
		lines = append(lines, line)
	}
	if err == nil {
		_, err = s.salon.SaveTarget(r.Context(), dog, rev, photo, lines)
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showTarget(w, r, code, photo, f) })
	}
	sayNext(w, r, "target.saved", "", "")
	return seeOther(w, r, "/dogs/"+string(dog)+"/target")
}

func (s *Site) removeTarget(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	rev, err := f.rev()
	if err == nil {
		err = s.salon.RemoveTarget(r.Context(), idOf(r, "id"), rev)
	}
	if err != nil {
		return err
	}
	sayNext(w, r, "target.removed", "", "")
	return seeOther(w, r, "/dogs/"+string(idOf(r, "id"))+"/target")
}
