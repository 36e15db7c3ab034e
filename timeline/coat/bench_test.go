package coat

import (
	"testing"

	"thatch/timeline"
)

// fullFile is a rolling dog of 22 zones with readings in ten of them over four sessions.
func fullFile(t testing.TB) File {
	on := mustDay(t, "2026-03-02")
	a := timeline.Answers{On: on, LastWorked: on - 13, Rolled: true, Undercoat: timeline.UndercoatSome, LongestWithersMM: 22}
	p, err := ProfileNamed("rough")
	if err != nil {
		t.Fatal(err)
	}
	f := File{Dog: Dog{Name: "Bracken", Undercoat: timeline.UndercoatSome, Texture: timeline.TextureHarsh}, Profile: "rough", Today: on + 60, Zones: StartZones(a, p)}
	for i, z := range timeline.Zones() {
		zone := f.Zones[z]
		for k := range timeline.Day(4) {
			zone.Work = append(zone.Work, WorkDone{On: on + 14*k, Do: timeline.Take, Share: 0.25})
			if i%2 == 0 {
				zone.Measured = append(zone.Measured, Measured{On: on + 14*k, LengthMM: 20 - float64(k), SDMM: 1})
			}
		}
		f.Zones[z] = zone
	}
	return f
}

func BenchmarkForecast22Zones(b *testing.B) {
	f := fullFile(b)
	for b.Loop() {
		m, err := New(f)
		if err != nil {
			b.Fatal(err)
		}
		m.Forecast(f.Today + 28)
	}
}

// The most there can be: every zone read at every session.
func BenchmarkForecast22ZonesRead(b *testing.B) {
	f := fullFile(b)
	for z, zone := range f.Zones {
		if len(zone.Measured) < 4 {
			zone.Measured = append(zone.Measured, f.Zones[timeline.Skull].Measured...)
		}
		f.Zones[z] = zone
	}
	for b.Loop() {
		m, err := New(f)
		if err != nil {
			b.Fatal(err)
		}
		m.Forecast(f.Today + 28)
	}
}

func BenchmarkReadiness(b *testing.B) {
	f := fullFile(b)
	m, err := New(f)
	if err != nil {
		b.Fatal(err)
	}
	z := m.Zone(timeline.Back)
	steps := []Step{{f.Today + 7, timeline.Take, 0.25}, {f.Today + 21, timeline.Take, 1.0 / 3}, {f.Today + 35, timeline.Take, 0.25}}
	target := Target{MinMM: 12, MaxMM: 40}
	b.Run("remembered", func(b *testing.B) {
		for b.Loop() {
			z.Readiness(steps, f.Today+42, target)
		}
	})
	b.Run("new", func(b *testing.B) {
		s := z.after(steps, f.Today+42)
		l := s.layers[s.layerAt(visibleShare)]
		for b.Loop() {
			s.readinessOf(l, layer{}, f.Today+42, target)
		}
	})
}
