package salon

import (
	"testing"

	"thatch/timeline"
)

// season logs sessions two weeks apart with readings at the jacket, the last on or before today.
func season(t testing.TB, s *Salon, c *clock, d timeline.Dog, n int) {
	for i := range n {
		on := d.Answers.On + timeline.Day(14*i)
		c.set(on)
		v := must(s.OpenSession(ctx, d.ID, on))
		must(s.AddReadings(ctx, d.ID, v.ID, on, map[timeline.Zone]float64{timeline.Withers: 26, timeline.Back: 25, timeline.Loin: 27}, true))
		line := timeline.ZoneWork{Do: timeline.Take, TopLayer: true, Share: timeline.ShareQuarter, Ripeness: timeline.Ready, Tool: "knife_fine"}
		must(s.SaveSession(ctx, SessionEdit{ID: v.ID, Rev: v.Rev, Minutes: 90, Loft: timeline.LoftSome, Work: LogGroup(nil, timeline.GroupJacket, line)}))
	}
}

func BenchmarkTimelineOfEightSessionsAfterStart(b *testing.B) {
	s, c := opened(b)
	d := newDog(b, s, "Bracken", day("2026-02-01"))
	season(b, s, c, d, 8)
	for b.Loop() {
		s = New(s.st, Options{Now: s.now})
		must(s.Timeline(ctx, d.ID))
	}
}

func BenchmarkDogPageAfterStart(b *testing.B) {
	s, c := opened(b)
	d := newDog(b, s, "Bracken", day("2026-02-01"))
	season(b, s, c, d, 8)
	must(s.AddShow(ctx, timeline.Show{Dog: d.ID, Name: "Fair", On: day("2026-07-20")}))
	for b.Loop() {
		s = New(s.st, Options{Now: s.now})
		must(s.DogPage(ctx, d.ID))
	}
}

func BenchmarkChart(b *testing.B) {
	s, c := opened(b)
	d := newDog(b, s, "Bracken", day("2026-02-01"))
	season(b, s, c, d, 8)
	for b.Loop() {
		must(s.Chart(ctx, d.ID, timeline.Back))
	}
}
