package salon

import (
	"context"
	"math"
	"slices"

	"thatch/imaging/measure"
	"thatch/timeline"
)

// Combs is what was read with a comb of how far a dog's coat stands off the body.
type Combs struct {
	Dog      timeline.Dog
	Readings []timeline.Reading // by day, newest first, then zone
	Missing  []timeline.Zone    // zones that photos can measure and that were never read
	Zones    []timeline.Zone    // that photos can measure
}

// Combs of a dog.
func (s *Salon) Combs(ctx context.Context, dog timeline.ID) (Combs, error) {
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return Combs{}, err
	}
	out := Combs{Dog: d, Missing: []timeline.Zone{}}
	if out.Readings, err = s.st.Combs(ctx, dog); err != nil {
		return out, err
	}
	slices.SortStableFunc(out.Readings, func(a, b timeline.Reading) int {
		if a.On != b.On {
			return int(b.On - a.On)
		}
		return a.Zone.Order() - b.Zone.Order()
	})
	for _, z := range timeline.Zones() {
		if !slices.Contains(measure.Measured(), z) {
			continue
		}
		out.Zones = append(out.Zones, z)
		if !slices.ContainsFunc(out.Readings, func(r timeline.Reading) bool { return r.Zone == z }) {
			out.Missing = append(out.Missing, z)
		}
	}
	return out, nil
}

// AddCombs keeps comb readings of how far the coat stands off the body, mm, at the start or the end of a day's work; of one zone
// as many as were made. One that is far from what is expected is doubted first: nothing is stored until the call is made again
// with confirmed.
func (s *Salon) AddCombs(ctx context.Context, dog timeline.ID, on timeline.Day, phase timeline.Phase, depthMM map[timeline.Zone][]float64, confirmed bool) (ReadingsAdded, error) {
	out := ReadingsAdded{Readings: []timeline.Reading{}, Warnings: []ReadingWarning{}}
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return out, err
	}
	on, session, err := s.readOn(ctx, d, on)
	if err != nil {
		return out, err
	}
	if phase != timeline.PhaseStart && phase != timeline.PhaseEnd {
		return out, invalid("phase", "fault.comb.phase")
	}
	var rows []timeline.Reading
	for _, z := range timeline.Zones() {
		field := "readings." + string(z)
		for _, mm := range depthMM[z] {
			if !slices.Contains(measure.Measured(), z) {
				return out, invalid(field, "fault.comb.zone", "zone", z)
			}
			if math.IsNaN(mm) || mm < 0 || mm > maxCombMM {
				return out, invalid(field, "fault.reading.range", "zone", z, "max", timeline.LengthMM(maxCombMM))
			}
			rows = append(rows, timeline.Reading{Dog: d.ID, Session: session, Zone: z, On: on, Of: timeline.OfDepth, Phase: phase, LengthMM: mm, SDMM: measure.CombSDMM})
		}
	}
	if len(rows) == 0 {
		return out, invalid("readings", "fault.reading.none")
	}
	if !confirmed {
		if out.Warnings, err = s.combDoubts(ctx, d, on, rows); err != nil || len(out.Warnings) > 0 {
			return out, err
		}
	}
	if out.Readings, err = s.st.AddReadings(ctx, rows); err != nil {
		return out, err
	}
	out.Stored = true
	return out, nil
}

// maxCombMM is longer than any coat stands off a dog that is stripped.
const maxCombMM = 120.0

// longerMM is how much deeper than its hair is long a coat is asked about: three times the error of the difference of two
// readings. Judgement.
const longerMM = 4.0

// combDoubts asks about readings that look like a hair's length, another zone's or another unit's: three of the forecast's
// standard deviations off, and a finger's breadth. Judgement.
func (s *Salon) combDoubts(ctx context.Context, d timeline.Dog, on timeline.Day, rows []timeline.Reading) ([]ReadingWarning, error) {
	out := []ReadingWarning{}
	f, known, err := s.forecastBefore(ctx, d, on)
	if err != nil {
		return out, err
	}
	lengths, err := s.st.Readings(ctx, d.ID)
	if err != nil {
		return out, err
	}
	for _, r := range rows {
		// Work shortens hair: a length of the start says nothing against a depth of the end, except that it was more.
		if l := measuredOn(lengths, r.Zone, on); l != nil && r.LengthMM > l.Median+longerMM {
			out = append(out, ReadingWarning{Zone: r.Zone, LengthMM: r.LengthMM, Expected: f.Zones[r.Zone].DepthMM, Say: timeline.Say("comb.longer", "length", timeline.LengthMM(l.Median))})
			continue
		}
		if !known {
			continue
		}
		e := f.Zones[r.Zone].DepthMM
		if math.Abs(r.LengthMM-e.Median) > math.Max(12, 3*(e.P90-e.P10)/sdPerBand) {
			out = append(out, ReadingWarning{Zone: r.Zone, LengthMM: r.LengthMM, Expected: e, Say: timeline.Say("comb.doubt", "expected", timeline.LengthMM(e.Median))})
		}
	}
	return out, nil
}
