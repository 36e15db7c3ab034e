package salon

import (
	"context"
	"math"
	"slices"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// rulerSDMM is the error of a reading by ruler until a salon has checked its own. Judgement of the coat model.
const rulerSDMM = 1.0

// AddReadings keeps ruler readings of the longest hair drawn straight, mm, at the start of the day. A reading far from what
// is expected, or that looks like another zone's or another unit's, is doubted first: nothing is stored until the call is
// made again with confirmed. session "": the session of that day, if there is one.
func (s *Salon) AddReadings(ctx context.Context, dog, session timeline.ID, on timeline.Day, lengthMM map[timeline.Zone]float64, confirmed bool) (ReadingsAdded, error) {
	out := ReadingsAdded{Readings: []timeline.Reading{}, Warnings: []ReadingWarning{}}
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return out, err
	}
	if session != "" {
		v, err := s.Session(ctx, session)
		if err != nil {
			return out, err
		}
		if v.Dog != d.ID {
			return out, invalid("session", "fault.reading.other_dog")
		}
		if on.IsZero() {
			on = v.On
		}
		if on != v.On {
			return out, invalid("on", "fault.reading.other_day", "on", on, "session", v.On)
		}
	}
	on, ofDay, err := s.readOn(ctx, d, on)
	if err != nil {
		return out, err
	}
	if session == "" {
		session = ofDay
	}
	if len(lengthMM) == 0 {
		return out, invalid("readings", "fault.reading.none")
	}
	zones := make([]timeline.Zone, 0, len(lengthMM))
	for z := range lengthMM {
		zones = append(zones, z)
	}
	slices.Sort(zones)
	zones = inOrder(zones)
	for _, z := range zones {
		field := "readings." + string(z)
		if err := checkZone(field, z); err != nil {
			return out, err
		}
		if v := lengthMM[z]; math.IsNaN(v) || v < 0 || v > maxLengthMM {
			return out, invalid(field, "fault.reading.range", "zone", z, "max", timeline.LengthMM(maxLengthMM))
		}
	}
	if out.Warnings, err = s.doubts(ctx, d, on, lengthMM); err != nil {
		return out, err
	}
	if len(out.Warnings) > 0 && !confirmed {
		return out, nil
	}
	rows := make([]timeline.Reading, len(zones))
	for i, z := range zones {
		rows[i] = timeline.Reading{Dog: d.ID, Session: session, Zone: z, On: on, LengthMM: lengthMM[z], SDMM: rulerSDMM}
	}
	if out.Readings, err = s.st.AddReadings(ctx, rows); err != nil {
		return out, err
	}
	out.Stored = true
	return out, nil
}

// readOn is the day of a reading, today where none was said, and the dog's session on it; "" where there is none.
func (s *Salon) readOn(ctx context.Context, d timeline.Dog, on timeline.Day) (timeline.Day, timeline.ID, error) {
	today, err := s.Today(ctx)
	if err != nil {
		return on, "", err
	}
	if on.IsZero() {
		on = today
	}
	if on > today {
		return on, "", invalid("on", "fault.day.future", "on", on, "today", today)
	}
	v, err := s.st.SessionOn(ctx, d.ID, on)
	if isNotFound(err) {
		return on, "", nil
	}
	return on, v.ID, err
}

// Readings of a dog, by day, then zone.
func (s *Salon) Readings(ctx context.Context, dog timeline.ID) ([]timeline.Reading, error) {
	return s.st.Readings(ctx, dog)
}

// TrashReading puts a reading aside: the model forgets it.
func (s *Salon) TrashReading(ctx context.Context, id timeline.ID) error {
	return s.st.TrashReading(ctx, id)
}

// RestoreReading brings it back.
func (s *Salon) RestoreReading(ctx context.Context, id timeline.ID) error {
	return s.st.RestoreReading(ctx, id)
}

// doubts compares each reading with the forecast of the start of its day.
func (s *Salon) doubts(ctx context.Context, d timeline.Dog, on timeline.Day, mm map[timeline.Zone]float64) ([]ReadingWarning, error) {
	out := []ReadingWarning{}
	f, known, err := s.forecastBefore(ctx, d, on)
	if err != nil || !known {
		return out, err
	}
	for _, d := range coat.Doubts(f, mm) {
		out = append(out, ReadingWarning{Zone: d.Zone, LengthMM: d.LengthMM, Expected: d.ExpectedMM, Say: d.Say()})
	}
	return out, nil
}
