package pages

import (
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"

	"thatch/server/salon"
	"thatch/timeline"
	"thatch/timeline/plan"
	"thatch/web/words"
)

type dogPage struct {
	frame
	salon.DogPage
	Visits  []dogVisit   // newest first
	Earlier timeline.Day // there are visits before this day; zero: none
	Later   bool         // there are newer visits than these
	Waiting waitingPhotos
	Map     dogDrawing
	Outlook []zoneOutlook
	Groups  []groupOutlook // Outlook by group
	Stands  []standCount   // zones by verdict, those at risk first
	Behind  []zoneOutlook  // too late or tight, the worst first
	Zone    dogZone
	Coming  []comingVisit // the next visits of the plan
	MoreV   int           // visits of the plan that are not listed
	Packed  int           // of Bag
	Near    bool          // the show is so near that its bag is worth a word
}

// standCount is how many zones have a verdict.
type standCount struct {
	Verdict plan.Verdict
	N       int
}

// dogZone is the one zone that is looked at closer.
type dogZone struct {
	zoneOutlook
	Target *salon.TargetMM
	Status any           // coat.Status
	Chart  template.HTML // "": too short to be drawn
}

// comingVisit is a visit of the plan with its main work.
type comingVisit struct {
	On      timeline.Day
	Minutes int
	Needs   string
	Also    string
}

// dogVisit is one session as the timeline shows it.
type dogVisit struct {
	salon.Visit
	Groups   []groupWork
	Measured []visitMM

	Picture  *timeline.Photo // the one that stands for it; nil: none is ready
	HeightPX int             // of Picture, if it is 160 wide
	Laid     string          // how Picture is laid into the strip's frame, as six figures; "": as it is
	Outgrown bool            // she has grown since
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
	Verdict any    // plan.Verdict
	Later   string // the show that rules it, where it is not the next one
	MM      float64
	Known   bool
}

// groupOutlook are the zones of a group.
type groupOutlook struct {
	Group timeline.Group
	Zones []zoneOutlook
}

// A phone shows so many visits of the plan and so many zones by name before the rest is behind a tap.
const (
	dogComing = 3
	dogBehind = 6
)

var dogView = declare[dogPage]("dog")

func (s *Site) dog(w http.ResponseWriter, r *http.Request) error {
	page, err := s.salon.DogPage(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	sp := speakerOf(visitOf(r).settings)
	p := dogPage{frame: frame{Tab: "dog", Dog: navOf(page.Dog)}, DogPage: page}
	if p.Visits, p.Earlier, p.Later, err = visitsBefore(r, sp, page.History); err != nil {
		return err
	}
	p.Waiting = waitingOf(r, page.Unpaired)
	at := "/dogs/" + string(page.Dog.ID)
	p.Map = dogDrawing{Prefix: "d", Path: at + "?zone=", Anchor: "#zone", Title: sp.T("dog.map"), Says: sp.T("dog.map.hint"), Marks: map[timeline.Zone]zoneMark{}}
	for _, z := range timeline.Zones() {
		f, known := page.Forecast.Zones[z]
		line := zoneOutlook{Zone: z, MM: f.LongestMM.Median, Known: known}
		if page.Plan != nil {
			v := page.Plan.Zones[z].Verdict
			line.Verdict, line.Later = v, laterShow(page, page.Plan.Zones[z].Show)
			p.Map.Marks[z] = verdictMark(v, word(sp, v))
		} else if known {
			p.Map.Marks[z] = zoneMark{Says: sp.Length(f.LongestMM.Median)}
		}
		p.Outlook = append(p.Outlook, line)
	}
	p.Groups = inGroups(p.Outlook)
	p.stand()
	if p.Zone, err = s.dogZone(r, p); err != nil {
		return err
	}
	if page.Plan != nil {
		visits, more := first(page.Plan.Sessions, dogComing)
		for _, v := range visits {
			p.Coming = append(p.Coming, comingVisit{v.On, salon.WholeMinutes(v.Minutes), doings(sp, v.Zones, needsNames, pulling...), doings(sp, v.Zones, alsoNames, besides[:len(besides)-1]...)})
		}
		p.MoreV = more
	}
	for i := range p.Visits {
		p.Visits[i].picture(page.Frame)
	}
	for _, b := range page.Bag {
		if b.On {
			p.Packed++
		}
	}
	p.Near = page.Card.NextShow != nil && (page.Card.DaysToShow <= salon.BagDays || p.Packed > 0)
	return dogView.show(s, w, r, p)
}

func inGroups(zones []zoneOutlook) []groupOutlook {
	groups := timeline.Groups()
	out := make([]groupOutlook, len(groups))
	for i, g := range groups {
		out[i].Group = g
		for _, z := range zones {
			if z.Zone.Group() == g {
				out[i].Zones = append(out[i].Zones, z)
			}
		}
	}
	return out
}

// laterShow is the name of the show that rules a verdict, "" where it is the next one.
func laterShow(page salon.DogPage, on timeline.Day) string {
	if page.Card.NextShow == nil || on <= page.Card.NextShow.On {
		return ""
	}
	for _, v := range page.Shows {
		if v.On == on {
			return v.Name
		}
	}
	return ""
}

// stand counts the zones by verdict and puts those that are behind first.
func (p *dogPage) stand() {
	rank := []plan.Verdict{plan.TooLate, plan.Tight, plan.OnTrack}
	for i, v := range rank {
		n := 0
		for _, z := range p.Outlook {
			if z.Verdict == any(v) {
				n++
				if i < 2 {
					p.Behind = append(p.Behind, z)
				}
			}
		}
		if n > 0 {
			p.Stands = append(p.Stands, standCount{v, n})
		}
	}
	if len(p.Behind) > dogBehind {
		p.Behind = p.Behind[:dogBehind]
	}
}

// dogZone is the zone that the address names, else the one that stands worst, else the withers.
func (s *Site) dogZone(r *http.Request, p dogPage) (out dogZone, err error) {
	zone := timeline.Zone(r.URL.Query().Get("zone"))
	switch {
	case zone != "" && !zone.Known():
		return out, timeline.NewFault(timeline.NotFound, "fault.not_found")
	case zone != "":
	case p.Card.Worst != nil:
		zone = p.Card.Worst.Zone
	default:
		zone = timeline.Withers
	}
	for _, z := range p.Outlook {
		if z.Zone == zone {
			out.zoneOutlook = z
		}
	}
	out.Target, out.Status = p.Targets[zone], p.Forecast.Zones[zone].Status
	chart, err := s.salon.Chart(r.Context(), p.DogPage.Dog.ID, zone)
	if err != nil {
		return out, err
	}
	sp := speakerOf(visitOf(r).settings)
	out.Chart = chartSVG(sp, chart, marksOf(sp, chart, aheadOf(p.Plan, zone, chart)), smallChart)
	return out, nil
}

// picture is the visit's one picture, laid so that she stands where she stands in the others.
func (v *dogVisit) picture(f salon.StripFrame) {
	if v.Picture = salon.StripPicture(v.Visit); v.Picture == nil {
		return
	}
	v.HeightPX = int(160*float64(v.Picture.HeightPX)/float64(max(1, v.Picture.WidthPX)) + 0.5)
	v.Outgrown = f.Outgrown(*v.Picture)
	if m, ok := f.Placed(*v.Picture); ok {
		v.Laid = fmt.Sprintf("%.4f %.4f %.4f %.4f %.4f %.4f", m[0], m[1], m[2], m[3], m[4], m[5])
	}
}

// A page shows so many visits: years of them would keep a phone waiting.
const dogVisits = 8

// visitsBefore are the newest visits before the day that the address names, all days where it names none.
func visitsBefore(r *http.Request, sp words.Speaker, all []salon.Visit) (out []dogVisit, earlier timeline.Day, later bool, err error) {
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
		out = append(out, dogVisit{Visit: v, Groups: byGroup(sp, v.Work), Measured: measuredOf(v)})
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

func measuredOf(v salon.Visit) []visitMM {
	var out []visitMM
	for _, z := range timeline.Zones() {
		if f, ok := v.Zones[z]; ok && f.MeasuredMM != nil {
			out = append(out, visitMM{z, f})
		}
	}
	return out
}
