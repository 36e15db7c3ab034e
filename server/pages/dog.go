package pages

import (
	"net/http"
	"slices"
	"strings"

	"thatch/server/salon"
	"thatch/timeline"
	"thatch/web/words"
)

type dogPage struct {
	frame
	salon.DogPage
	Visits  []dogVisit   // newest first
	Earlier timeline.Day // there are visits before this day; zero: none
	Later   bool         // there are newer visits than these
	Map     dogDrawing
	Outlook []zoneOutlook
}

// dogVisit is one session as the timeline shows it.
type dogVisit struct {
	salon.TimelineSession
	Shown    []salon.TimelinePhoto
	More     int // photos that are not shown
	Groups   []groupWork
	Measured []visitMM
}

// visitMM is a zone that was measured that day.
type visitMM struct {
	Zone timeline.Zone
	F    salon.ZoneFigures
}

// groupWork gathers a group's lines: what was done, on how many zones.
type groupWork struct {
	Group timeline.Group
	Says  string // "take a quarter: withers, back, loin; tidy: rump"
}

// zoneOutlook is one line beside the drawn dog.
type zoneOutlook struct {
	Zone    timeline.Zone
	Verdict any // plan.Verdict
	MM      float64
	Known   bool
}

var dogView = declare[dogPage]("dog")

func (s *Site) dog(w http.ResponseWriter, r *http.Request) error {
	page, err := s.salon.DogPage(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	sp := speakerOf(visitOf(r).settings)
	p := dogPage{frame: frame{Tab: "dog", Dog: navOf(page.Dog)}, DogPage: page}
	if p.Visits, p.Earlier, p.Later, err = visitsBefore(r, sp, page.Timeline.Sessions); err != nil {
		return err
	}
	p.Map = dogDrawing{Prefix: "d", Target: "z-", Title: sp.T("dog.map"), Says: sp.T("dog.map.hint"), Marks: map[timeline.Zone]zoneMark{}}
	for _, z := range timeline.Zones() {
		f, known := page.Forecast.Zones[z]
		line := zoneOutlook{Zone: z, MM: f.LongestMM.Median, Known: known}
		if page.Plan != nil {
			v := page.Plan.Zones[z].Verdict
			line.Verdict = v
			p.Map.Marks[z] = verdictMark(v, word(sp, v))
		} else if known {
			p.Map.Marks[z] = zoneMark{Says: sp.Length(f.LongestMM.Median)}
		}
		p.Outlook = append(p.Outlook, line)
	}
	return dogView.show(s, w, r, p)
}

// A page shows so many visits, and of each so many photos: years of them would keep a phone waiting.
const (
	dogVisits = 8
	dogPhotos = 6
)

// visitsBefore are the newest visits before the day that the address names, all days where it names none.
func visitsBefore(r *http.Request, sp words.Speaker, all []salon.TimelineSession) (out []dogVisit, earlier timeline.Day, later bool, err error) {
	var before timeline.Day
	if text := r.URL.Query().Get("before"); text != "" {
		if before, err = timeline.ParseDay(text); err != nil {
			return nil, 0, false, timeline.NewFault(timeline.Invalid, "fault.form.day", "text", text).In("before").Because(err)
		}
	}
	for _, v := range slices.Backward(all) {
		switch {
		case !before.IsZero() && v.On >= before:
			later = true
			continue
		case len(out) == dogVisits:
			return out, out[len(out)-1].On, later, nil
		}
		d := dogVisit{TimelineSession: v, Groups: byGroup(sp, v.Session.Work), Measured: measuredOf(v), Shown: v.Photos}
		if n := len(v.Photos); n > dogPhotos {
			// The first and the last: how she came, and how she went.
			d.Shown = slices.Concat(v.Photos[:dogPhotos/2], v.Photos[n-dogPhotos/2:])
			d.More = n - dogPhotos
		}
		out = append(out, d)
	}
	return out, 0, later, nil
}

// byGroup says a session's work group by group, alike works together; what was left alone is not told.
func byGroup(sp words.Speaker, work []timeline.ZoneWork) []groupWork {
	var out []groupWork
	for _, g := range timeline.Groups() {
		var kinds []string
		zones := map[string][]timeline.Zone{}
		for _, l := range work {
			if l.Zone.Group() != g || l.Do == timeline.Leave {
				continue
			}
			does := doing(sp, l.Do, l.Share, l.TopLayer)
			if zones[does] == nil {
				kinds = append(kinds, does)
			}
			zones[does] = append(zones[does], l.Zone)
		}
		if len(kinds) == 0 {
			continue
		}
		if len(kinds) == 1 && len(zones[kinds[0]]) == len(g.Zones()) {
			out = append(out, groupWork{g, kinds[0]})
			continue
		}
		for i, k := range kinds {
			kinds[i] = sp.T("dog.does", "does", k, "zones", zones[k])
		}
		out = append(out, groupWork{g, strings.Join(kinds, "; ")})
	}
	return out
}

func measuredOf(v salon.TimelineSession) []visitMM {
	var out []visitMM
	for _, z := range timeline.Zones() {
		if f, ok := v.Zones[z]; ok && f.MeasuredMM != nil {
			out = append(out, visitMM{z, f})
		}
	}
	return out
}
