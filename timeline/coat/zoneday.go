package coat

import (
	"crypto/sha256"
	"encoding/hex"

	"thatch/timeline"
)

// KeyOf names all that the forecasts of a zone come from, steps aside: two models with the same key forecast it alike. It is
// "" of a model that was made without a memory, and of a zone that the model has not.
func (m *Model) KeyOf(name timeline.Zone) string {
	zone, ok := m.file.Zones[name]
	if !ok || m.lesson == [sha256.Size]byte{} {
		return ""
	}
	sum := Sum(m.lesson[:], name, m.file.Today, zone)
	return hex.EncodeToString(sum[:])
}

// ForecastStart is Model.ForecastStart of this zone alone: before any work of the day, with the log's work of earlier days.
func (z *ZoneModel) ForecastStart(on timeline.Day, t Target) ZoneForecast {
	return z.stateAt(on-1).Forecast(on, t)
}

// ForecastEnd is Model.Forecast of this zone alone: after the logged work of the day, with no work after Today.
func (z *ZoneModel) ForecastEnd(on timeline.Day, t Target) ZoneForecast {
	return z.stateAt(on).Forecast(on, t)
}

// Lengths are the two lengths of a forecast alone, mm: a chart asks for hundreds of days.
type Lengths struct{ LongestMM, VisibleMM Dist }

// LengthsStart is of ForecastStart.
func (z *ZoneModel) LengthsStart(on timeline.Day) Lengths { return z.stateAt(on - 1).lengths(on) }

// LengthsEnd is of ForecastEnd.
func (z *ZoneModel) LengthsEnd(on timeline.Day) Lengths { return z.stateAt(on).lengths(on) }

// LengthsAfter is of Forecast after the steps.
func (z *ZoneModel) LengthsAfter(steps []Step, on timeline.Day) Lengths {
	return z.after(steps, on).lengths(on)
}

func (s State) lengths(on timeline.Day) Lengths {
	b := s.bundle(on)
	buf := make([]float64, 2*latticeN)
	longest, visible := buf[:latticeN], buf[latticeN:]
	for i := range latticeN {
		m := b.measure(i)
		longest[i], visible[i] = m.longest, m.visible
	}
	return Lengths{dist(longest), dist(visible)}
}
