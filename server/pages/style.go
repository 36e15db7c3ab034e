package pages

import (
	"net/http"
	"net/url"

	"thatch/timeline"
	"thatch/timeline/plan"
	"thatch/web"
)

type stylePage struct {
	frame
	Form     form
	Bad      form
	Picker   dogDrawing
	Map      dogDrawing
	Work     dogDrawing
	Verdicts []plan.Verdict
	On       timeline.Day
	Swatches []string
	Icons    []string
}

var styleView = declare[stylePage]("style")

// style is the guide to our own looks: every part with every state, as the pages use them.
func (s *Site) style(w http.ResponseWriter, r *http.Request) error {
	today, err := s.salon.Today(r.Context())
	if err != nil {
		return err
	}
	sp := speakerOf(visitOf(r).settings)
	verdicts := []plan.Verdict{plan.OnTrack, plan.Tight, plan.TooLate, plan.NoBand}
	marks, work := map[timeline.Zone]zoneMark{}, map[timeline.Zone]zoneMark{}
	for i, z := range timeline.Zones() {
		v := verdicts[[]int{0, 0, 1, 0, 2, 0, 0, 3}[i%8]]
		marks[z] = verdictMark(v, word(sp, v))
		if i%3 == 0 {
			work[z] = zoneMark{Class: "z-worked", Sign: "done", Says: word(sp, timeline.Take)}
		}
	}
	return styleView.show(s, w, r, stylePage{
		Form:     form{Values: url.Values{"zones": {"back", "loin"}, "undercoat": {"some"}}},
		Bad:      form{Values: url.Values{"on": {"31 May"}}, Fault: timeline.NewFault(timeline.Invalid, "fault.form.day", "text", "31 May").In("on")},
		Picker:   dogDrawing{Prefix: "p", Title: sp.T("style.dog.picker"), Says: sp.T("ui.picker.hint"), Target: "zone-"},
		Map:      dogDrawing{Prefix: "m", Title: sp.T("style.dog.map"), Says: sp.T("style.dog.map"), Target: "line-", Marks: marks},
		Work:     dogDrawing{Prefix: "w", Title: sp.T("style.dog.work"), Says: sp.T("style.dog.work"), Target: "line-", Marks: work},
		Verdicts: verdicts,
		On:       today + 23,
		Swatches: []string{"page", "surface", "sunk", "ink", "soft", "action", "show", "late", "photo"},
		Icons:    web.Icons(),
	})
}
