package pages

import (
	"flag"
	"os"
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
	for name, sp := range map[string]words.Speaker{"mm": {Units: words.Millimetres}, "in": {Units: words.Inches}} {
		file := "testdata/chart-" + name + ".svg"
		got := string(chartSVG(sp, c))
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
	if chartSVG(words.Speaker{}, salon.Chart{Days: []timeline.Day{first}}) != "" {
		t.Error("one day is drawn as a chart")
	}
}
