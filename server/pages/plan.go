package pages

import (
	"net/http"
	"slices"

	"thatch/server/salon"
	"thatch/timeline"
	"thatch/timeline/plan"
	"thatch/web/words"
)

type planPage struct {
	frame
	salon.PlanPage
	Form   form
	Map    dogDrawing
	Tally  []tally
	Zones  []planZone
	Kept   []timeline.Zone // no band is asked of them
	Sheets []planSheet
	Grid   *planGrid
	Never  []timeline.Phrase // warnings of zones that cannot be ready in time, and when they would be
	Mind   []timeline.Phrase // the other warnings
	Late   int               // zones that are too late
	Ahead  []aheadShow
}

type aheadShow struct {
	timeline.Show
	Days int
}

// tally is how many zones stand so.
type tally struct {
	Verdict plan.Verdict
	Zones   int
}

// planZone is how one zone stands, those that have a band.
type planZone struct {
	Zone    timeline.Zone
	Outlook plan.ZoneOutlook
	Target  *salon.TargetMM
}

// planSheet is one session of the plan: what is done, and what is left alone with its reasons.
type planSheet struct {
	On      timeline.Day
	Minutes float64
	Do      []plan.Line
	Leave   []plan.Line
}

// planGrid is zones by days, sessions and shows in one row of days.
type planGrid struct {
	Days []gridDay
	Rows []gridRow
}

type gridDay struct {
	On   timeline.Day
	Show string // "" : a session
}

type gridRow struct {
	Zone  timeline.Zone
	Cells []gridCell
}

type gridCell struct {
	Class string // leave, card, tidy, cut, few, part, top, all, show
	Short string // one or two signs
	Says  string
}

var planView = declare[planPage]("plan")

func (s *Site) plan(w http.ResponseWriter, r *http.Request) error {
	return s.showPlan(w, r, 0, form{})
}

func (s *Site) showPlan(w http.ResponseWriter, r *http.Request, code int, f form) error {
	page, err := s.salon.PlanPage(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	sp := speakerOf(visitOf(r).settings)
	p := planPage{
		frame: frame{Status: code, Tab: "plan", Dog: navOf(page.Dog)}, PlanPage: page, Form: f,
		Map: dogDrawing{Prefix: "pl", Target: "plan-", Title: sp.T("dog.map"), Says: sp.T("dog.map.hint"), Marks: map[timeline.Zone]zoneMark{}},
	}
	for _, v := range page.Shows {
		if v.On >= page.Today {
			p.Ahead = append(p.Ahead, aheadShow{v, int(v.On - page.Today)})
		}
	}
	if page.Plan == nil {
		return planView.show(s, w, r, p)
	}
	for _, z := range timeline.Zones() {
		o, ok := page.Plan.Zones[z]
		if !ok {
			continue
		}
		p.Map.Marks[z] = verdictMark(o.Verdict, word(sp, o.Verdict))
		if o.Verdict != plan.NoBand {
			p.Zones = append(p.Zones, planZone{z, o, page.Targets[z]})
		} else {
			p.Kept = append(p.Kept, z)
		}
	}
	for _, v := range []plan.Verdict{plan.OnTrack, plan.Tight, plan.TooLate} {
		n := 0
		for _, z := range p.Zones {
			if z.Outlook.Verdict == v {
				n++
			}
		}
		if n > 0 {
			p.Tally = append(p.Tally, tally{v, n})
		}
		if v == plan.TooLate {
			p.Late = n
		}
	}
	for _, say := range page.Plan.Warnings {
		if say.Key == "warn.plan.too_late" || say.Key == "warn.plan.never" {
			p.Never = append(p.Never, say)
		} else {
			p.Mind = append(p.Mind, say)
		}
	}
	for _, v := range page.Plan.Sessions {
		sheet := planSheet{On: v.On, Minutes: v.Minutes}
		for _, l := range v.Zones {
			if l.Do == timeline.Leave {
				sheet.Leave = append(sheet.Leave, l)
			} else {
				sheet.Do = append(sheet.Do, l)
			}
		}
		p.Sheets = append(p.Sheets, sheet)
	}
	p.Grid = gridOf(sp, page.Plan, p.Ahead)
	return planView.show(s, w, r, p)
}

func gridOf(sp words.Speaker, p *plan.Plan, shows []aheadShow) *planGrid {
	g := &planGrid{}
	for _, v := range p.Sessions {
		g.Days = append(g.Days, gridDay{On: v.On})
	}
	for _, v := range shows {
		g.Days = append(g.Days, gridDay{On: v.On, Show: v.Name})
	}
	slices.SortStableFunc(g.Days, func(a, b gridDay) int { return int(a.On - b.On) })
	for _, z := range timeline.Zones() {
		if _, ok := p.Zones[z]; !ok {
			continue
		}
		row := gridRow{Zone: z}
		for _, d := range g.Days {
			if d.Show != "" {
				row.Cells = append(row.Cells, gridCell{Class: "show"})
				continue
			}
			cell := gridCell{Class: "leave", Short: "·", Says: word(sp, timeline.Leave)}
			for _, v := range p.Sessions {
				if v.On != d.On {
					continue
				}
				if l := mainLine(v, z); l != nil {
					cell = cellOf(sp, *l)
				}
			}
			row.Cells = append(row.Cells, cell)
		}
		g.Rows = append(g.Rows, row)
	}
	return g
}

// mainLine is what is done with a zone in a session, nil: it is left. Where it is carded and pulled, the pull is the news.
func mainLine(v plan.Session, z timeline.Zone) *plan.Line {
	var out *plan.Line
	for i, l := range v.Zones {
		if l.Zone == z && l.Do != timeline.Leave && (out == nil || out.Do == timeline.Card) {
			out = &v.Zones[i]
		}
	}
	return out
}

func cellOf(sp words.Speaker, l plan.Line) gridCell {
	c := gridCell{Says: doing(sp, l.Do, l.Share, l.Top)}
	switch {
	case l.Do == timeline.Strip:
		c.Class, c.Short = "all", sp.T("plan.cell.all")
	case l.Do == timeline.Take && l.Top:
		c.Class, c.Short = "top", sp.T("plan.cell.top")
	case l.Do == timeline.Take && l.Share <= timeline.ShareFew+0.01:
		c.Class, c.Short = "few", sp.T("plan.cell.few")
	case l.Do == timeline.Take:
		c.Class, c.Short = "part", partSign(l.Share)
	case l.Do == timeline.Card:
		c.Class, c.Short = "card", sp.T("plan.cell.card")
	case l.Do == timeline.Tidy:
		c.Class, c.Short = "tidy", sp.T("plan.cell.tidy")
	default:
		c.Class, c.Short = "cut", sp.T("plan.cell.cut")
	}
	return c
}

func partSign(share float64) string {
	switch {
	case share < 0.3:
		return "¼"
	case share < 0.42:
		return "⅓"
	}
	return "½"
}

// book keeps the dog's next day, her rhythm and her table time; the plan follows.
func (s *Site) book(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	dog, err := s.salon.Dog(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	if dog.Rev, err = f.rev(); err == nil {
		dog.Cadence.Next, err = f.day("next")
	}
	if err == nil {
		dog.Cadence.EveryDays, err = f.whole("every_days", 1, 365)
	}
	if err == nil {
		dog.Cadence.Minutes, err = f.whole("minutes", 1, 600)
	}
	if err == nil {
		_, err = s.salon.UpdateDog(r.Context(), dog)
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showPlan(w, r, code, f) })
	}
	sayNext(w, "dog.saved", "", "")
	return seeOther(w, r, "/dogs/"+string(dog.ID)+"/plan")
}
