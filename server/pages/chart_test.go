package pages

import (
	"flag"
	"fmt"
	"os"
	"regexp"
	"strings"
	"testing"

	"thatch/server/salon"
	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/web/words"
)

var update = flag.Bool("update", false, "write golden files anew")

func TestTheChartIsDrawnTheSameEveryTime(t *testing.T) {
	first := timeline.Date(2026, 3, 2)
	c := salon.Chart{Zone: timeline.Back, Today: first + 28, PlannedAt: 4}
	for i := range 9 {
		mm := 10 + 2.5*float64(i)
		c.Days = append(c.Days, first+timeline.Day(7*i))
		c.LongestMM = append(c.LongestMM, coat.Dist{Median: mm, P10: mm - 2, P90: mm + 3})
		if i >= 4 {
			c.PlannedMM = append(c.PlannedMM, coat.Dist{Median: mm - 6, P10: mm - 8, P90: mm - 4})
		}
	}
	most := 30.0
	show := timeline.Show{Name: "Hall & Son <Show>", On: first + 49}
	c.Bands = []salon.ChartBand{{From: first, To: first + 49, Show: show, Target: salon.TargetMM{Min: 12, Max: &most}}}
	c.Readings = []timeline.Reading{{On: first + 14, LengthMM: 16}}
	c.Sessions = []salon.ChartSession{{On: first + 14, Do: timeline.Take, Share: 0.25}, {On: first + 28}}
	c.Shows = []timeline.Show{show}
	for i := range 5 {
		c.VisibleMM = append(c.VisibleMM, coat.Dist{Median: 6 + 2*float64(i)})
	}
	marks := []chartMark{{On: first + 14, Class: "growth-pulled", Short: "¼"}, {On: first + 16, Short: "no room"}, {On: first + 28}, {On: first + 42, Class: "growth-ahead", Short: "top"}, {On: first + 300, Short: "after the last day"}}
	for name, of := range map[string]struct {
		sp    words.Speaker
		frame chartFrame
	}{
		"mm": {words.Speaker{Units: words.Millimetres}, wideChart}, "in": {words.Speaker{Units: words.Inches}, wideChart}, "narrow": {words.Speaker{Units: words.Millimetres}, narrowChart},
	} {
		file := "testdata/chart-" + name + ".svg"
		got := string(chartSVG(of.sp, c, marks, of.frame))
		if strings.Contains(got, "no room") || strings.Contains(got, "after the last day") || !strings.Contains(got, ">top<") {
			t.Errorf("%s: words of sessions run into each other or over the edge", name)
		}
		if *update {
			if err := os.MkdirAll("testdata", 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if got != string(want) {
			t.Errorf("%s differs (go test ./server/pages -update writes it anew)", file)
		}
	}
	if chartSVG(words.Speaker{}, salon.Chart{Days: []timeline.Day{first}}, nil, wideChart) != "" {
		t.Error("one day is drawn as a chart")
	}
}

func TestNamesOfShowsDoNotRunIntoEachOther(t *testing.T) {
	first := timeline.Date(2026, 3, 2)
	for name, on := range map[string][]timeline.Day{
		"a week apart": {60, 67}, "at both ends": {2, 98}, "three in a month": {40, 55, 70}, "on one day": {50, 50}, "one whose name is long": {90, 95},
	} {
		for _, f := range []chartFrame{wideChart, smallChart, narrowChart} {
			var shows []timeline.Show
			for i, d := range on {
				shows = append(shows, timeline.Show{Name: []string{"Copperbeech Terrier Day", "Saltmarsh Winter Show of All the Rough Coats", "Fiddlewood"}[i], On: first + d})
			}
			var b strings.Builder
			writeShows(&b, f, shows, first, first+100, func(d timeline.Day) float64 { return f.Left + (f.Right-f.Left)*float64(d-first)/100 })
			type ground struct{ x, y, w float64 }
			var all []ground
			for _, m := range regexp.MustCompile(`<rect class="growth-showground" x="([-0-9.]+)" y="([-0-9.]+)" width="([-0-9.]+)"`).FindAllStringSubmatch(b.String(), -1) {
				var g ground
				fmt.Sscan(m[1], &g.x)
				fmt.Sscan(m[2], &g.y)
				fmt.Sscan(m[3], &g.w)
				if g.x < 0 || g.x+g.w > f.W || g.y < 0 {
					t.Errorf("%s, %s: a name leaves the chart: %+v", name, f.Name, g)
				}
				for _, o := range all {
					if o.y == g.y && g.x < o.x+o.w && o.x < g.x+g.w {
						t.Errorf("%s, %s: %+v and %+v", name, f.Name, o, g)
					}
				}
				all = append(all, g)
			}
			if lines := strings.Count(b.String(), "growth-show\""); len(all) == 0 || lines != len(on) || strings.LastIndex(b.String(), "growth-show\"") > strings.Index(b.String(), "growth-showground") {
				t.Errorf("%s, %s: %d names, %d lines of %d, all lines first", name, f.Name, len(all), lines, len(on))
			}
		}
	}
}
