package pages

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"thatch/server/salon"
	"thatch/timeline"
	"thatch/web/words"
)

type changesPage struct {
	frame
	Lines  []changeLine
	People []timeline.Person
	Of     string
	Person timeline.ID
	Older  string // address of the next page; "": this is the last
}

type changeLine struct {
	salon.ChangeLine
	Sentence string // "changes.op." and this is its key
	What     string // the thing as people know it
	RoleWord string // what the note says, where it is a role
	To       string // address of the thing; "": it has none
}

var changesView = declare[changesPage]("changes")

func (s *Site) changes(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	before, err := strconv.ParseInt(q.Get("before"), 10, 64)
	if q.Get("before") != "" && (err != nil || before < 1) {
		return timeline.NewFault(timeline.Invalid, "fault.form")
	}
	of := salon.ChangesOf{Before: before, Person: timeline.ID(q.Get("person")), Key: timeline.ID(q.Get("key")), Of: q.Get("of")}
	lines, err := s.salon.Changes(r.Context(), of)
	if err != nil {
		return err
	}
	p := changesPage{frame: frame{Tab: "settings"}, Of: of.Of, Person: of.Person}
	if p.People, err = s.salon.People(r.Context()); err != nil {
		return err
	}
	sp := speakerOf(visitOf(r).settings)
	for _, l := range lines.Lines {
		p.Lines = append(p.Lines, changeOf(sp, l))
	}
	if lines.More > 0 {
		next := url.Values{"before": {strconv.FormatInt(lines.More, 10)}}
		for k, v := range map[string]string{"of": of.Of, "person": string(of.Person), "key": string(of.Key)} {
			if v != "" {
				next.Set(k, v)
			}
		}
		p.Older = "/changes?" + next.Encode()
	}
	return changesView.show(s, w, r, p)
}

func changeOf(sp words.Speaker, l salon.ChangeLine) changeLine {
	out := changeLine{ChangeLine: l, Sentence: strings.ReplaceAll(l.Op, " ", "_"), To: placeOf(l), What: l.Label}
	if l.Zone != "" {
		out.What += ", " + word(sp, l.Zone)
	}
	if !l.On.IsZero() {
		out.What += ", " + sp.Day(l.On)
	}
	if out.What == "" {
		out.What = sp.T("changes.gone")
	}
	if l.Role != "" {
		out.RoleWord = sp.T("role." + string(l.Role))
	}
	return out
}

func placeOf(l salon.ChangeLine) string {
	key := string(l.Key)
	switch {
	case l.Kind == "settings":
		return "/settings"
	case l.Kind == "person" && l.Label != "":
		return "/people/" + key
	case l.Gone:
		return ""
	}
	switch l.Kind {
	case "dog":
		return "/dogs/" + key
	case "session":
		return "/sessions/" + key
	case "photo":
		return "/photos/" + key
	case "show":
		return "/shows/" + key
	case "heap":
		return "/heap/" + key
	case "reading":
		return "/dogs/" + string(l.Dog) + "/readings"
	case "link":
		return "/dogs/" + string(l.Dog) + "/client"
	case "check":
		return "/check"
	case "invitation":
		return "/people"
	}
	return ""
}
