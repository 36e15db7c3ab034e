package pages

import (
	"math"
	"net/http"
	"slices"
	"strings"

	"thatch/server/salon"
	"thatch/web/words"
)

// kindNames are the built-in kinds of coat in words, and what each is like.
var kindNames = map[string][2]string{
	"rough":        {"kind.rough", "kind.rough.text"},
	"broken":       {"kind.broken", "kind.broken.text"},
	"long_jacket":  {"kind.long_jacket", "kind.long_jacket.text"},
	"no_undercoat": {"kind.no_undercoat", "kind.no_undercoat.text"},
}

// kindName is what a kind of coat is called: its own name, or that of the built-in one in the salon's language.
func kindName(sp words.Speaker, key, own string) string {
	if name, ok := kindNames[key]; ok {
		return sp.T(name[0])
	}
	return own
}

type kindsPage struct {
	frame
	BuiltIn []kindLine
	Own     []kindLine
}

// kindLine is one kind of coat as lists show it.
type kindLine struct {
	salon.CoatKind
	Called string
	From   string // the built-in one that one of the salon's own was made from
	Text   string
}

var kindsView = declare[kindsPage]("profiles")

func (s *Site) kinds(w http.ResponseWriter, r *http.Request) error {
	lines, err := s.kindLines(r)
	if err != nil {
		return err
	}
	p := kindsPage{frame: frame{Tab: "settings"}}
	for _, l := range lines {
		if l.Own {
			p.Own = append(p.Own, l)
		} else {
			p.BuiltIn = append(p.BuiltIn, l)
		}
	}
	return kindsView.show(s, w, r, p)
}

// kindLines are the kinds of coat that a dog may be given.
func (s *Site) kindLines(r *http.Request) ([]kindLine, error) {
	kinds, err := s.salon.Kinds(r.Context())
	if err != nil {
		return nil, err
	}
	sp := speakerOf(visitOf(r).settings)
	out := make([]kindLine, len(kinds))
	for i, k := range kinds {
		out[i] = kindLineOf(sp, k)
	}
	return out, nil
}

func kindLineOf(sp words.Speaker, k salon.CoatKind) kindLine {
	l := kindLine{CoatKind: k, Called: kindName(sp, k.Key, k.Name), From: kindName(sp, k.Base, "")}
	if !k.Own {
		l.Text = sp.T(kindNames[k.Key][1])
	}
	return l
}

// kindChoices are the kinds of coat for a dog's form: those that are offered, and the one that she has.
func (s *Site) kindChoices(r *http.Request, has string) ([]kindLine, error) {
	lines, err := s.kindLines(r)
	if err != nil || has == "" || slices.ContainsFunc(lines, func(l kindLine) bool { return l.Key == has }) {
		return lines, err
	}
	k, err := s.salon.Kind(r.Context(), has)
	if err != nil {
		return nil, err
	}
	return append(lines, kindLineOf(speakerOf(visitOf(r).settings), k.CoatKind)), nil
}

type kindPage struct {
	frame
	kindLine
	Parts []kindPart
	Form  form // of copying or renaming
}

type kindPart struct {
	salon.KindPart
	Lines []kindValue
}

// kindValue is one value in words.
type kindValue struct {
	salon.KindValue
	Says     string
	WasSays  string // built in
	Typed    string // for a field
	Selected bool   // of a yes or no
}

var kindView = declare[kindPage]("profile")

func (s *Site) kind(w http.ResponseWriter, r *http.Request) error {
	return s.showKind(w, r, 0, form{})
}

func (s *Site) showKind(w http.ResponseWriter, r *http.Request, code int, f form) error {
	k, err := s.salon.Kind(r.Context(), string(idOf(r, "key")))
	if err != nil {
		return err
	}
	sp := speakerOf(visitOf(r).settings)
	p := kindPage{frame: frame{Status: code, Tab: "settings"}, kindLine: kindLineOf(sp, k.CoatKind), Form: f}
	for _, part := range k.Parts {
		p.Parts = append(p.Parts, kindPartOf(sp, part))
	}
	return kindView.show(s, w, r, p)
}

func kindPartOf(sp words.Speaker, part salon.KindPart) kindPart {
	out := kindPart{KindPart: part}
	out.Note = cited(sp, part.Note)
	for _, v := range part.Values {
		x := kindValue{KindValue: v, Says: valueSays(sp, v.Path, v.Form, v.Value), WasSays: valueSays(sp, v.Path, v.Form, v.BuiltIn), Typed: valueTyped(sp, v.Path, v.Form, v.Value)}
		x.Source = cited(sp, v.Source)
		x.Selected, _ = v.Value.(bool)
		out.Lines = append(out.Lines, x)
	}
	return out
}

// emptyable: a wanted length of 0 is one that is not asked.
func emptyable(path string) bool { return strings.Contains(path, ".target.") }

// valueSays is a value as one reads it.
func valueSays(sp words.Speaker, path string, how salon.ValueForm, v any) string {
	switch v := v.(type) {
	case bool:
		if v {
			return sp.T("kinds.yes")
		}
		return sp.T("kinds.no")
	case string:
		return sp.T("kinds.curve." + v)
	case float64:
		switch {
		case v == 0 && emptyable(path):
			return sp.T("kinds.notset")
		case how == salon.FormLength:
			return sp.Length(v)
		case how == salon.FormPercent:
			return plainNumber(sp, v*100) + " %"
		}
		return plainNumber(sp, v)
	}
	return ""
}

// cited is where a value is from: what is built in in the words of who reads, what a salon wrote as it wrote it.
func cited(sp words.Speaker, source string) string {
	if key := "cited." + source; sp.Has(key) {
		return sp.T(key)
	}
	return source
}

// valueTyped is a value as its field holds it.
func valueTyped(sp words.Speaker, path string, how salon.ValueForm, v any) string {
	n, ok := v.(float64)
	switch {
	case !ok:
		text, _ := v.(string)
		return text
	case n == 0 && emptyable(path):
		return ""
	case how == salon.FormLength:
		return sp.LengthNumber(n)
	case how == salon.FormPercent:
		return plainNumber(sp, n*100)
	}
	return plainNumber(sp, n)
}

// plainNumber is a number with up to three decimals.
func plainNumber(sp words.Speaker, v float64) string {
	return sp.Decimal(math.Round(v*1000)/1000, -1)
}

func (s *Site) copyKind(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	k, err := s.salon.CopyKind(r.Context(), string(idOf(r, "key")), f.text("name"))
	if err != nil {
		return f.again(err, func(code int) error { return s.showKind(w, r, code, f) })
	}
	sayNext(w, r, "kind.copied", "", "")
	return seeOther(w, r, "/kinds/"+k.Key)
}

func (s *Site) renameKind(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	id := idOf(r, "key")
	rev, err := f.rev()
	if err == nil {
		_, err = s.salon.RenameKind(r.Context(), id, rev, f.text("name"))
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showKind(w, r, code, f) })
	}
	sayNext(w, r, "kind.saved", "", "")
	return seeOther(w, r, "/kinds/"+string(id))
}

func (s *Site) resetKind(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	id := idOf(r, "key")
	rev, err := f.rev()
	if err == nil {
		_, err = s.salon.ResetKind(r.Context(), id, rev)
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showKind(w, r, code, f) })
	}
	sayNext(w, r, "kind.reset", "", "")
	return seeOther(w, r, "/kinds/"+string(id))
}

func (s *Site) trashKind(w http.ResponseWriter, r *http.Request) error {
	if _, err := readForm(w, r); err != nil {
		return err
	}
	id := idOf(r, "key")
	if err := s.salon.TrashKind(r.Context(), id); err != nil {
		return err
	}
	sayNext(w, r, "kind.trashed", "profile", id)
	return seeOther(w, r, "/kinds")
}
