package pages

import (
	"html/template"
	"net/http"
	"slices"

	"thatch/server/salon"
	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/timeline/plan"
	"thatch/web/words"
)

type growthPage struct {
	frame
	DogDoc timeline.Dog
	Chart  salon.Chart
	Charts []template.HTML // for a wide and for a narrow screen; empty: too short to be drawn
	Table  []growthRow
	Picker dogDrawing
	Today  []growthZone
	Strays bool // the coat does not grow as the model expects
}

// growthRow is one day of the chart in figures: session days, past and planned, readings and shows.
type growthRow struct {
	On       timeline.Day
	What     string
	Expected *coat.Dist
	Planned  *coat.Dist // at the outline, if the plan is followed
	Reading  *float64
}

type growthZone struct {
	Zone   timeline.Zone
	F      coat.ZoneForecast
	Last   *timeline.Reading // the newest by ruler
	Target *salon.TargetMM
}

var growthView = declare[growthPage]("growth")

func (s *Site) growth(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	zone := timeline.Zone(r.URL.Query().Get("zone"))
	if zone == "" {
		zone = timeline.Withers
	}
	page, err := s.salon.PlanPage(ctx, idOf(r, "id"))
	if err != nil {
		return err
	}
	chart, err := s.salon.Chart(ctx, page.Dog.ID, zone)
	if err != nil {
		return err
	}
	readings, err := s.salon.Readings(ctx, page.Dog.ID)
	if err != nil {
		return err
	}
	sp := speakerOf(visitOf(r).settings)
	p := growthPage{
		frame: frame{Tab: "growth", Dog: navOf(page.Dog)}, DogDoc: page.Dog, Strays: page.Forecast.Strays, Chart: chart,
		Picker: dogDrawing{
			Prefix: "grow", Path: "/dogs/" + string(page.Dog.ID) + "/growth?zone=", Title: sp.T("growth.picker"), Says: word(sp, zone),
			Marks: map[timeline.Zone]zoneMark{zone: {Class: "z-on"}},
		},
	}
	ahead := aheadOf(page.Plan, zone, chart)
	marks := marksOf(sp, chart, ahead)
	for _, f := range []chartFrame{wideChart, narrowChart} {
		if svg := chartSVG(sp, chart, marks, f); svg != "" {
			p.Charts = append(p.Charts, svg)
		}
	}
	last := map[timeline.Zone]*timeline.Reading{}
	for i, v := range readings {
		if was := last[v.Zone]; was == nil || v.On >= was.On {
			last[v.Zone] = &readings[i]
		}
	}
	for _, z := range timeline.Zones() {
		if f, ok := page.Forecast.Zones[z]; ok {
			p.Today = append(p.Today, growthZone{z, f, last[z], page.Targets[z]})
		}
	}
	p.Table = growthTable(sp, chart, ahead)
	return growthView.show(s, w, r, p)
}

// aheadLine is what the plan does with the zone of a chart on a day; nil: it is left.
type aheadLine struct {
	On   timeline.Day
	Line *plan.Line
}

// aheadOf is the plan for one zone, without the days on which work is logged already.
func aheadOf(p *plan.Plan, zone timeline.Zone, c salon.Chart) []aheadLine {
	var out []aheadLine
	if p == nil {
		return nil
	}
	for _, v := range p.Sessions {
		if !slices.ContainsFunc(c.Sessions, func(was salon.ChartSession) bool { return was.On == v.On && was.Do != "" }) {
			out = append(out, aheadLine{v.On, mainLine(v, zone)})
		}
	}
	return out
}

func marksOf(sp words.Speaker, c salon.Chart, ahead []aheadLine) []chartMark {
	var out []chartMark
	for _, v := range c.Sessions {
		m := chartMark{On: v.On}
		if v.Do == timeline.Take || v.Do == timeline.Strip {
			m.Class = "growth-pulled"
		}
		if v.Do != "" && v.Do != timeline.Leave {
			m.Short = cellOf(sp, plan.Line{Zone: c.Zone, Do: v.Do, Share: v.Share, Top: v.Top}).Short
		}
		out = append(out, m)
	}
	for _, v := range ahead {
		m := chartMark{On: v.On}
		if v.Line != nil {
			if v.Line.Do == timeline.Take || v.Line.Do == timeline.Strip {
				m.Class = "growth-ahead"
			}
			m.Short = cellOf(sp, *v.Line).Short
		}
		out = append(out, m)
	}
	return out
}

// growthTable is the chart in figures, in order of day.
func growthTable(sp words.Speaker, c salon.Chart, ahead []aheadLine) []growthRow {
	expected, planned := map[timeline.Day]*coat.Dist{}, map[timeline.Day]*coat.Dist{}
	for i, d := range c.Days {
		expected[d] = &c.LongestMM[i]
		if at := i - c.PlannedAt; at >= 0 && at < len(c.PlannedMM) {
			planned[d] = &c.PlannedMM[at]
		}
	}
	var out []growthRow
	row := func(on timeline.Day, what string, reading *float64) {
		g := growthRow{On: on, What: what, Expected: expected[on], Planned: planned[on], Reading: reading}
		if on > c.Today && g.Planned != nil {
			g.Expected = nil // it knows nothing of the work that the plan does by then
		}
		out = append(out, g)
	}
	isPlanned := func(on timeline.Day) bool {
		return slices.ContainsFunc(ahead, func(v aheadLine) bool { return v.On == on })
	}
	read := map[timeline.Day]*float64{}
	for i := range c.Readings {
		read[c.Readings[i].On] = &c.Readings[i].LengthMM
	}
	for _, v := range c.Sessions {
		if v.Do == "" && isPlanned(v.On) {
			continue
		}
		what := sp.T("growth.notworked")
		if v.Do != "" {
			what = doing(sp, v.Do, v.Share, v.Top)
		}
		row(v.On, what, read[v.On])
		delete(read, v.On)
	}
	for _, v := range ahead {
		what := word(sp, timeline.Leave)
		if v.Line != nil {
			what = doing(sp, v.Line.Do, v.Line.Share, v.Line.Top)
		}
		row(v.On, sp.T("growth.planned", "what", what), read[v.On])
		delete(read, v.On)
	}
	for _, v := range c.Readings {
		if mm := read[v.On]; mm != nil {
			row(v.On, sp.T("growth.measured"), mm)
			delete(read, v.On)
		}
	}
	if !slices.ContainsFunc(out, func(g growthRow) bool { return g.On == c.Today }) {
		row(c.Today, sp.T("growth.today"), nil)
	}
	for _, v := range c.Shows {
		row(v.On, v.Name, nil)
	}
	slices.SortStableFunc(out, func(a, b growthRow) int { return int(a.On - b.On) })
	return out
}
