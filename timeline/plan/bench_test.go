package plan

import (
	"fmt"
	"syscall"
	"testing"

	"thatch/timeline"
	"thatch/timeline/coat"
)

func BenchmarkPlan(b *testing.B) {
	for _, size := range []struct {
		name            string
		zones, sessions int
	}{{"15 zones 12 sessions", 15, 12}, {"22 zones 12 sessions", 22, 12}, {"22 zones 8 sessions", 22, 8}, {"22 zones 4 sessions", 22, 4}} {
		for mode, dog := range map[string]func(timeline.Day) coat.File{"bring back": overgrown, "rolling": rolled} {
			for _, minutes := range []float64{30, 60, 120} {
				b.Run(fmt.Sprintf("%s %s %v minutes", size.name, mode, minutes), func(b *testing.B) {
					f := dog(timeline.Date(2026, 3, 2))
					for i, z := range timeline.Zones() {
						if i >= size.zones {
							delete(f.Zones, z)
						}
					}
					end := f.Today + timeline.Day(14*size.sessions)
					f.Shows = []coat.Show{{Name: "A", On: end - 42}, {Name: "B", On: end, Priority: 2}}
					f.Sessions = &coat.Sessions{EveryDays: 14, First: f.Today + 1, Minutes: minutes}
					var p Plan
					before := processorMS(b)
					for b.Loop() {
						var err error
						if p, err = Make(f); err != nil {
							b.Fatal(err)
						}
					}
					// Of the process: the machine may be busy with other work.
					b.ReportMetric((processorMS(b)-before)/float64(b.N), "cpu_ms/op")
					b.ReportMetric(p.LargestRegret, "regret")
					b.ReportMetric(p.Gap.Regret, "gap_regret")
					b.ReportMetric(p.Gap.ReadinessMean, "gap_mean")
					b.ReportMetric(p.Gap.Minutes, "gap_min")
				})
			}
		}
	}
}

// processorMS is the processor time that the process has used.
func processorMS(b *testing.B) float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e6
}
