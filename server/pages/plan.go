package pages

import (
	"html/template"
	"net/http"

	"thatch/server/salon"
	"thatch/server/status"
	"thatch/timeline"
	"thatch/timeline/coat"
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
	Sheets []planSheet
	Grid   *planGrid
	Strip  *planStrip
	If     ifLinks
	Query  template.URL      // of what is tried; "": nothing is
	Was    []tally           // how many zones stand how without what is tried
	Kept   []timeline.Zone   // no band is asked of them
	Undo   timeline.Phrase   // what was kept last and can be undone; zero: nothing
	Never  []timeline.Phrase // warnings of zones that cannot be ready in time, and when they would be
	Mind   []timeline.Phrase // the other warnings
	Beyond int               // zones that are too late
	Ahead  []aheadShow
}

type aheadShow struct {
	timeline.Show
	Days int
	Move moves
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
	Status  coat.Status // how much of it is the dog's own
}

// planSheet is one session of the plan: what is done, and what is left alone with its reasons.
type planSheet struct {
	On      timeline.Day
	Minutes float64
	Do      []plan.Line
	Leave   []plan.Line
	Move    moves
	Short   int // table time said for that day; 0: as usual
}

var planView = declare[planPage]("plan")

// plan shows the plan, or with a change in the query what it would be under it; nothing is kept by looking.
func (s *Site) plan(w http.ResponseWriter, r *http.Request) error {
	c, err := whatIfOf(form{Values: r.URL.Query()})
	if err != nil {
		f := form{}
		return f.again(err, func(code int) error { return s.showPlan(w, r, code, f, nil) })
	}
	return s.showPlan(w, r, 0, form{}, c)
}

func (s *Site) showPlan(w http.ResponseWriter, r *http.Request, code int, f form, tried *salon.WhatIf) error {
	var page salon.PlanPage
	var err error
	if tried != nil {
		page, err = s.salon.PlanPageIf(r.Context(), idOf(r, "id"), *tried)
	} else {
		page, err = s.salon.PlanPage(r.Context(), idOf(r, "id"))
	}
	if err != nil {
		return err
	}
	if t := page.Tried; t != nil && t.Fault != nil && code == 0 {
		code = status.Of(t.Fault)
	}
	sp := speakerOf(visitOf(r).settings)
	p := planPage{
		frame: frame{Status: code, Tab: "plan", Dog: navOf(page.Dog)}, PlanPage: page, Form: f,
		Map: dogDrawing{Prefix: "pl", Target: "plan-", Title: sp.T("dog.map"), Says: sp.T("dog.map.hint"), Marks: map[timeline.Zone]zoneMark{}},
	}
	for _, v := range page.Shows {
		if v.On >= page.Today {
			p.Ahead = append(p.Ahead, aheadShow{v, int(v.On - page.Today), movesOf(salon.WhatIf{Kind: plan.ShowMoved, Show: v.ID})})
		}
	}
	if p.Undo, err = s.salon.KeptSay(r.Context(), page.Dog); err != nil {
		return err
	}
	p.If = ifLinksOf(page)
	var before *plan.Plan
	if t := page.Tried; t != nil && t.Fault == nil {
		p.Query, before = whatIfQuery(t.Change), t.Before
		p.Was = tallyOf(before)
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
			p.Zones = append(p.Zones, planZone{z, o, page.Targets[z], page.Forecast.Zones[z].Status})
		} else {
			p.Kept = append(p.Kept, z)
		}
	}
	p.Tally = tallyOf(page.Plan)
	for _, t := range p.Tally {
		if t.Verdict == plan.TooLate {
			p.Beyond = t.Zones
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
		sheet := planSheet{On: v.On, Minutes: v.Minutes, Move: movesOf(salon.WhatIf{Kind: salon.SessionMoved, On: v.On})}
		for _, b := range page.Dog.Cadence.Days {
			if b.On == v.On {
				sheet.Short = b.Minutes
			}
		}
		for _, l := range v.Zones {
			if l.Do == timeline.Leave {
				sheet.Leave = append(sheet.Leave, l)
			} else {
				sheet.Do = append(sheet.Do, l)
			}
		}
		p.Sheets = append(p.Sheets, sheet)
	}
	p.Grid = gridOf(sp, page.Plan, before, p.Ahead)
	if before == nil {
		p.Strip = stripOf(sp, page, p.Ahead)
	}
	return planView.show(s, w, r, p)
}

// tallyOf counts the zones of a plan by how they stand.
func tallyOf(p *plan.Plan) []tally {
	var out []tally
	for _, v := range []plan.Verdict{plan.OnTrack, plan.Tight, plan.TooLate} {
		n := 0
		for _, o := range p.Zones {
			if o.Verdict == v {
				n++
			}
		}
		if n > 0 {
			out = append(out, tally{v, n})
		}
	}
	return out
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
		return f.again(err, func(code int) error { return s.showPlan(w, r, code, f, nil) })
	}
	sayNext(w, r, "dog.saved", "", "")
	return seeOther(w, r, "/dogs/"+string(dog.ID)+"/plan")
}
