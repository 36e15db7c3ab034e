package pages

import (
	"fmt"
	"html/template"
	"slices"
	"strings"

	"thatch/server/salon"
	"thatch/timeline"
	"thatch/timeline/plan"
	"thatch/web/words"
)

// planGrid is zones by weeks: each week has its visits and shows in order of day, or an empty column.
type planGrid struct {
	Weeks []gridWeek
	Days  []gridDay
	Rows  []gridRow
}

type gridWeek struct {
	From timeline.Day // its Monday
	Cols int
}

type gridDay struct {
	On    timeline.Day // zero: a week without a visit or a show
	Show  string       // "" : a session
	First bool         // of its week
}

type gridRow struct {
	Zone    timeline.Zone
	Verdict plan.Verdict
	Cells   []gridCell
}

type gridCell struct {
	Class   string // leave, card, tidy, cut, few, part, top, all, show, none
	Short   string // one or two signs
	Says    string
	First   bool // of its week
	Changed bool // another work than before what is tried
}

func mondayOf(d timeline.Day) timeline.Day {
	return d - timeline.Day((int(d.Time().Weekday())+6)%7)
}

// gridOf lays the plan out by weeks; before, where it is not nil, is the plan without what is tried.
func gridOf(sp words.Speaker, p, before *plan.Plan, shows []aheadShow) *planGrid {
	g := &planGrid{}
	var days []gridDay
	for _, v := range p.Sessions {
		days = append(days, gridDay{On: v.On})
	}
	for _, v := range shows {
		days = append(days, gridDay{On: v.On, Show: v.Name})
	}
	if len(days) == 0 {
		return nil
	}
	slices.SortStableFunc(days, func(a, b gridDay) int { return int(a.On - b.On) })
	at := 0
	for week := mondayOf(days[0].On); at < len(days); week += 7 {
		w := gridWeek{From: week}
		for ; at < len(days) && days[at].On < week+7; at++ {
			d := days[at]
			d.First = w.Cols == 0
			g.Days = append(g.Days, d)
			w.Cols++
		}
		if w.Cols == 0 {
			g.Days = append(g.Days, gridDay{First: true})
			w.Cols = 1
		}
		g.Weeks = append(g.Weeks, w)
	}
	for _, z := range timeline.Zones() {
		o, ok := p.Zones[z]
		if !ok {
			continue
		}
		row := gridRow{Zone: z, Verdict: o.Verdict}
		for _, d := range g.Days {
			c := gridCell{Class: "none"}
			switch {
			case d.Show != "":
				c.Class = "show"
			case !d.On.IsZero():
				c = cellOn(sp, p, z, d.On)
				c.Changed = before != nil && cellOn(sp, before, z, d.On).Says != c.Says
			}
			c.First = d.First
			row.Cells = append(row.Cells, c)
		}
		g.Rows = append(g.Rows, row)
	}
	return g
}

func cellOn(sp words.Speaker, p *plan.Plan, z timeline.Zone, on timeline.Day) gridCell {
	for _, v := range p.Sessions {
		if v.On == on {
			if l := mainLine(v, z); l != nil {
				return cellOf(sp, *l)
			}
		}
	}
	return gridCell{Class: "leave", Short: "·", Says: word(sp, timeline.Leave)}
}

// Sizes of the strip, px: a week is as wide as a thumb can move a visit by single days.
const (
	stripDayPX   = 16
	stripEdgePX  = 28
	stripShowsY  = 56
	stripVisitsY = 108
	stripHighPX  = 136
	stripSkinY   = 130
)

// Hair on the strip, px: a drawing of how a coat fills up between visits, not to the scale of this dog's.
const (
	stripHairPX    = 5
	stripHairDayPX = 2
	stripHairDays  = 21 // no longer after so many
)

// planStrip is the weeks as a strip on which visits and shows are moved.
type planStrip struct {
	WidthPX, HighPX int
	First           timeline.Day
	Words           string // every day of the strip in words, parted by "|"
	DayPX, EdgePX   int
	Weeks           []stripWeek
	Marks           []stripMark
	TodayX          int
	ShowsY, VisitsY int
	SkinY           int
	Hair            string // path data
}

type stripWeek struct {
	X    int
	From timeline.Day
}

type stripMark struct {
	X, Y  int
	Day   int // of the strip, 0 the first
	On    timeline.Day
	Show  timeline.ID // "": a visit
	Name  string
	To    string       // anchor
	Query template.URL // of its change, without the days
}

// stripOf is nil where there is nothing to move.
func stripOf(sp words.Speaker, p salon.PlanPage, shows []aheadShow) *planStrip {
	if len(p.Plan.Sessions) == 0 || len(shows) == 0 {
		return nil
	}
	first := mondayOf(p.Today)
	last := shows[len(shows)-1].On
	for _, v := range shows {
		last = max(last, v.On)
	}
	last = mondayOf(last) + 13 // a week more, to move the last show into
	s := &planStrip{First: first, HighPX: stripHighPX, DayPX: stripDayPX, EdgePX: stripEdgePX, ShowsY: stripShowsY, VisitsY: stripVisitsY, SkinY: stripSkinY}
	x := func(d timeline.Day) int { return stripEdgePX + int(d-first)*stripDayPX }
	s.WidthPX = x(last) + stripEdgePX
	s.TodayX = x(p.Today)
	var names []string
	for d := first; d <= last; d++ {
		names = append(names, sp.Day(d))
		if (d-first)%7 == 0 {
			s.Weeks = append(s.Weeks, stripWeek{x(d), d})
		}
	}
	s.Words = strings.Join(names, "|")
	s.Hair = stripHair(first, last, p.Plan.Sessions, x)
	for _, v := range shows {
		s.Marks = append(s.Marks, stripMark{x(v.On), stripShowsY, int(v.On - first), v.On, v.ID, v.Name, "show-" + string(v.ID), whatIfQuery(salon.WhatIf{Kind: plan.ShowMoved, Show: v.ID})})
	}
	for _, v := range p.Plan.Sessions {
		if d := v.On; d <= last {
			s.Marks = append(s.Marks, stripMark{x(d), stripVisitsY, int(d - first), d, "", "", "visit-" + d.String(), whatIfQuery(salon.WhatIf{Kind: salon.SessionMoved, On: d})})
		}
	}
	return s
}

// stripHair is two hairs a day, longer with every day since the visit before.
func stripHair(first, last timeline.Day, visits []plan.Session, x func(timeline.Day) int) string {
	var b strings.Builder
	before := first - stripHairDays
	for d := first; d <= last; d++ {
		for _, v := range visits {
			if v.On == d {
				before = d
			}
		}
		high := stripHairPX + stripHairDayPX*min(int(d-before), stripHairDays)
		for k := range 2 {
			uneven := (int(d)*5 + k*3) % 4
			fmt.Fprintf(&b, "M%d %dl%d-%d", x(d)+k*stripDayPX/2, stripSkinY, 2+high/5, high-uneven)
		}
	}
	return b.String()
}
