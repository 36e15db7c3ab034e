package pages

import (
	"html/template"
	"net/http"

	"thatch/server/salon"
	"thatch/timeline"
	"thatch/timeline/coat"
)

type growthPage struct {
	frame
	DogDoc timeline.Dog
	Chart  salon.Chart
	SVG    template.HTML
	Table  []growthRow
	Picker dogDrawing
	Today  []growthZone
}

// growthRow is one day of the chart in figures: session days, readings and shows.
type growthRow struct {
	On       timeline.Day
	What     string
	Expected *coat.Dist
	Reading  *float64
}

type growthZone struct {
	Zone   timeline.Zone
	F      coat.ZoneForecast
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
	sp := speakerOf(visitOf(r).settings)
	p := growthPage{
		frame: frame{Tab: "growth", Dog: navOf(page.Dog)}, DogDoc: page.Dog, Chart: chart, SVG: chartSVG(sp, chart),
		Picker: dogDrawing{Prefix: "grow", Target: "zone-", Title: sp.T("growth.picker"), Says: word(sp, zone), Marks: map[timeline.Zone]zoneMark{zone: {Class: "z-on"}}},
	}
	for _, z := range timeline.Zones() {
		if f, ok := page.Forecast.Zones[z]; ok {
			p.Today = append(p.Today, growthZone{z, f, page.Targets[z]})
		}
	}
	at := map[timeline.Day]coat.Dist{}
	for i, d := range chart.Days {
		at[d] = chart.LongestMM[i]
	}
	row := func(on timeline.Day, what string, reading *float64) {
		g := growthRow{On: on, What: what, Reading: reading}
		if d, ok := at[on]; ok {
			g.Expected = &d
		}
		p.Table = append(p.Table, g)
	}
	read := map[timeline.Day]*float64{}
	for i := range chart.Readings {
		read[chart.Readings[i].On] = &chart.Readings[i].LengthMM
	}
	for _, v := range chart.Sessions {
		what := sp.T("growth.notworked")
		if v.Do != "" {
			what = doing(sp, v.Do, v.Share, false)
		}
		row(v.On, what, read[v.On])
		delete(read, v.On)
	}
	for _, v := range chart.Readings {
		if read[v.On] != nil {
			row(v.On, sp.T("growth.measured"), read[v.On])
		}
	}
	row(chart.Today, sp.T("growth.today"), nil)
	for _, v := range chart.Shows {
		row(v.On, v.Name, nil)
	}
	return growthView.show(s, w, r, p)
}
