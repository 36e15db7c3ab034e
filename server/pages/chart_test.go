package pages

import (
	"flag"
	"os"
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
