package plan

import (
	"fmt"
	"testing"
	"time"

	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/web/words"
)

func show1(t *testing.T, f coat.File) {
	st := time.Now()
	p, err := Make(f)
	if err != nil {
		t.Fatal(err)
	}
	fmt.Println("took", time.Since(st), "feasible", p.Feasible, "regret", p.LargestRegret, "mean", p.ReadinessMean, "gap", p.Gap)
	var sp words.Speaker
	for _, s := range p.Sessions {
		fmt.Printf("== %s %.1f min\n", s.On, s.Minutes)
		for _, l := range s.Zones {
			fmt.Printf("  %-10s %-12s %.2f %.1f %s\n", l.Zone, sp.Say(l.What()), l.Share, l.Minutes, sp.Say(l.Why))
		}
	}
	for _, z := range timeline.Zones() {
		o, ok := p.Zones[z]
		if ok && o.Readiness != nil {
			fmt.Printf("%-10s %.3f alone %.3f %s %v %s\n", z, *o.Readiness, *o.BestAlone, o.Verdict, o.VisibleMM, o.ReadyBy)
		}
	}
	for _, w := range p.Warnings {
		fmt.Println("!", sp.Say(w))
	}
}

func base(mode timeline.Mode, layers func(today timeline.Day) []coat.Layer) coat.File {
	today := timeline.Date(2026, 3, 2)
	f := coat.File{Today: today, Zones: map[timeline.Zone]coat.Zone{}, Dog: coat.Dog{Name: "x", Undercoat: timeline.UndercoatSome}}
	for _, z := range timeline.Zones() {
		f.Zones[z] = coat.Zone{Mode: mode, Layers: layers(today)}
	}
	return f
}

func TestSmoke(t *testing.T) {
	old := func(d timeline.Day) []coat.Layer { return []coat.Layer{{Pulled: d - 240, Share: 1}} }
	roll := func(d timeline.Day) []coat.Layer {
		var l []coat.Layer
		for i := range 5 {
			l = append(l, coat.Layer{Pulled: d - timeline.Day(14*(i+1)), Share: .2})
		}
		return l
	}
	f := base(timeline.BringBack, old)
	f.Shows = []coat.Show{{Name: "Spring show", On: f.Today + 57}}
	f.Sessions = &coat.Sessions{EveryDays: 14, First: f.Today + 1, Minutes: 90}
	show1(t, f)
	f.Shows[0].On = f.Today + 10
	show1(t, f)
	f = base(timeline.KeepRolling, roll)
	f.Shows = []coat.Show{{Name: "A", On: f.Today + 30}, {Name: "B", On: f.Today + 72}}
	f.Sessions = &coat.Sessions{EveryDays: 14, First: f.Today, Minutes: 60}
	show1(t, f)
	f = base(timeline.BringBack, old)
	f.Shows = []coat.Show{{Name: "A", On: f.Today + 80}, {Name: "B", On: f.Today + 170}}
	f.Sessions = &coat.Sessions{EveryDays: 14, First: f.Today, Minutes: 60}
	show1(t, f)
}
