package pages

import (
	"math"
	"net/http"
	"strconv"
	"strings"

	"thatch/server/salon"
	"thatch/timeline"
)

type kindEditPage struct {
	frame
	kindLine
	Part kindPart
	Form form
}

// WrongPath is the value that the fault lies in; "" none of them. A fault is placed by its whole path: two values may end alike.
func (p kindEditPage) WrongPath() string {
	if p.Form.Fault == nil {
		return ""
	}
	return p.Form.Fault.Field
}

var kindEditView = declare[kindEditPage]("profileedit")

func (s *Site) kindPart(w http.ResponseWriter, r *http.Request) error {
	return s.showKindPart(w, r, 0, form{})
}

// partOf is one part of one of the salon's own kinds of coat; a built-in one has nothing to change.
func (s *Site) partOf(r *http.Request) (salon.KindPage, salon.KindPart, error) {
	k, err := s.salon.Kind(r.Context(), string(idOf(r, "key")))
	if err != nil {
		return k, salon.KindPart{}, err
	}
	name := string(idOf(r, "part"))
	for _, part := range k.Parts {
		if part.Name == name && k.Own {
			return k, part, nil
		}
	}
	return k, salon.KindPart{}, timeline.NewFault(timeline.NotFound, "fault.not_found")
}

func (s *Site) showKindPart(w http.ResponseWriter, r *http.Request, code int, f form) error {
	k, part, err := s.partOf(r)
	if err != nil {
		return err
	}
	sp := speakerOf(visitOf(r).settings)
	p := kindEditPage{frame: frame{Status: code, Tab: "settings"}, kindLine: kindLineOf(sp, k.CoatKind), Part: kindPartOf(sp, part), Form: f}
	if f.Values == nil {
		p.Form.Values = map[string][]string{"rev": {asText(int(k.Rev))}}
		for _, v := range p.Part.Lines {
			p.Form.Set(v.Path, v.Typed)
			if v.Selected {
				p.Form.Set(v.Path, "yes")
			}
		}
	}
	return kindEditView.show(s, w, r, p)
}

// saveKindPart changes what was typed, or gives one value or all of the part back where that button was pressed.
func (s *Site) saveKindPart(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	k, part, err := s.partOf(r)
	if err != nil {
		return err
	}
	id := timeline.ID(k.Key)
	rev, err := f.rev()
	says := "kind.saved"
	switch reset := f.Get("reset"); {
	case err != nil:
	case reset != "":
		says = "kind.reset"
		var paths []string
		for _, v := range part.Values {
			if reset == "all" || reset == v.Path {
				paths = append(paths, v.Path)
			}
		}
		if len(paths) == 0 {
			err = timeline.NewFault(timeline.Invalid, "fault.kind.value", "name", short(reset))
			break
		}
		_, err = s.salon.ResetKind(r.Context(), id, rev, paths...)
	default:
		var values map[string]any
		if values, err = typedValues(r, f, part); err == nil {
			_, err = s.salon.ChangeKind(r.Context(), id, rev, values, f.text("source"))
		}
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showKindPart(w, r, code, f) })
	}
	sayNext(w, r, says, "", "")
	to := "/kinds/" + k.Key
	if says == "kind.reset" {
		to += "/" + part.Name
	}
	return seeOther(w, r, to)
}

// typedValues are the values of a part as they were typed. A field that still shows what was is just that: what was rounded
// for the screen is not stored rounded.
func typedValues(r *http.Request, f form, part salon.KindPart) (map[string]any, error) {
	sp := speakerOf(visitOf(r).settings)
	out := map[string]any{}
	for _, v := range part.Values {
		text := f.text(v.Path)
		switch v.Form {
		case salon.FormYesNo:
			out[v.Path] = text != ""
			continue
		case salon.FormChoice:
			if text != "" {
				out[v.Path] = text
			}
			continue
		}
		if text == valueTyped(sp, v.Path, v.Form, v.Value) {
			continue
		}
		if text == "" && emptyable(v.Path) {
			out[v.Path] = 0.0
			continue
		}
		if v.Form == salon.FormLength {
			mm, err := f.length(r, v.Path)
			if err != nil {
				return nil, err
			}
			out[v.Path] = mm
			continue
		}
		n, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(strings.Replace(text, ",", ".", 1), "%")), 64)
		if err != nil || math.IsNaN(n) || math.IsInf(n, 0) {
			return nil, timeline.NewFault(timeline.Invalid, "fault.kind.number", "text", short(text)).In(v.Path)
		}
		if v.Form == salon.FormPercent {
			n /= 100
		}
		out[v.Path] = n
	}
	return out, nil
}
