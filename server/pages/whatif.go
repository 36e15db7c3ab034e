package pages

import (
	"html/template"
	"net/http"
	"net/url"
	"strconv"

	"thatch/server/salon"
	"thatch/timeline"
	"thatch/timeline/plan"
)

// whatIfOf reads a change from an address or a form; nil: none is named.
func whatIfOf(f form) (*salon.WhatIf, error) {
	kind := f.Get("if")
	if kind == "" {
		return nil, nil
	}
	c := salon.WhatIf{Kind: plan.ChangeKind(kind), Show: timeline.ID(f.Get("show"))}
	var err error
	if c.On, err = f.day("on"); err != nil {
		return nil, err
	}
	for name, to := range map[string]*int{"days": &c.Days, "every": &c.EveryDays, "minutes": &c.Minutes} {
		if *to, err = f.whole(name, -100000, 100000); err != nil {
			return nil, err
		}
	}
	return &c, nil
}

// whatIfQuery is the inverse of whatIfOf.
func whatIfQuery(c salon.WhatIf) template.URL {
	q := url.Values{"if": {string(c.Kind)}}
	if c.Show != "" {
		q.Set("show", string(c.Show))
	}
	if !c.On.IsZero() {
		q.Set("on", c.On.String())
	}
	for name, v := range map[string]int{"days": c.Days, "every": c.EveryDays, "minutes": c.Minutes} {
		if v != 0 {
			q.Set(name, strconv.Itoa(v))
		}
	}
	return template.URL(q.Encode())
}

// keepWhatIf keeps what was tried.
func (s *Site) keepWhatIf(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	dog := idOf(r, "id")
	rev, err := f.rev()
	var c *salon.WhatIf
	if err == nil {
		c, err = whatIfOf(f)
	}
	if err == nil && c == nil {
		err = timeline.NewFault(timeline.Invalid, "fault.form")
	}
	if err == nil {
		_, err = s.salon.KeepWhatIf(r.Context(), dog, rev, *c)
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showPlan(w, r, code, f, nil) })
	}
	sayNext(w, r, "plan.kept", "", "")
	return seeOther(w, r, "/dogs/"+string(dog)+"/plan")
}

// undoKept puts back what was kept last.
func (s *Site) undoKept(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	dog := idOf(r, "id")
	rev, err := f.rev()
	if err == nil {
		_, err = s.salon.UndoKept(r.Context(), dog, rev)
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showPlan(w, r, code, f, nil) })
	}
	sayNext(w, r, "plan.undone", "", "")
	return seeOther(w, r, "/dogs/"+string(dog)+"/plan")
}

// ifLink is one change that can be tried.
type ifLink struct {
	To   template.URL // query
	Days int          // moved by, for its words
	N    int          // its figure
	On   bool         // as it is now
}

// ifLinks are the changes that are offered beside the plan.
type ifLinks struct {
	Every   []ifLink // weekly, fortnightly, three-weekly
	Half    ifLink
	Shorter []ifLink // the next visit
	Usual   *ifLink  // the next visit has its usual time again
	First   timeline.Day
}

func ifLinksOf(p salon.PlanPage) ifLinks {
	cad := p.Dog.Cadence
	out := ifLinks{Half: ifLink{To: whatIfQuery(salon.WhatIf{Kind: plan.HalfMinutes}), N: cad.Minutes / 2}}
	for _, n := range []int{7, 14, 21} {
		out.Every = append(out.Every, ifLink{To: whatIfQuery(salon.WhatIf{Kind: plan.EveryDays, EveryDays: n}), N: n, On: cad.EveryDays == n})
	}
	if len(p.Booked) > 0 {
		out.First = p.Booked[0]
		short := 0
		for _, b := range cad.Days {
			if b.On == out.First {
				short = b.Minutes
			}
		}
		for _, n := range []int{20, 40, 60} {
			out.Shorter = append(out.Shorter, ifLink{To: whatIfQuery(salon.WhatIf{Kind: plan.ShortToday, On: out.First, Minutes: n}), N: n, On: short == n})
		}
		if short > 0 {
			out.Usual = &ifLink{To: whatIfQuery(salon.WhatIf{Kind: plan.ShortToday, On: out.First}), N: cad.Minutes}
		}
	}
	return out
}

// moves are the changes offered for one visit or show.
type moves struct {
	Earlier, Later       template.URL // by a week
	DayEarlier, DayLater template.URL
	Skip                 template.URL // "": a show
}

func movesOf(c salon.WhatIf) moves {
	by := func(days int) template.URL {
		c := c
		c.Days = days
		return whatIfQuery(c)
	}
	m := moves{Earlier: by(-7), Later: by(7), DayEarlier: by(-1), DayLater: by(1)}
	if c.Kind == salon.SessionMoved {
		m.Skip = whatIfQuery(salon.WhatIf{Kind: plan.SessionSkipped, On: c.On})
	}
	return m
}
