package salon

import (
	"context"
	"slices"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// MeasureNext is which zone a ruler should read next, and what is known of it.
type MeasureNext struct {
	Dog      timeline.Dog
	On       timeline.Day
	Zone     timeline.Zone     // "": every zone was read or passed over
	Now      coat.Dist         // the longest hair there, expected
	Last     *timeline.Reading // the newest of an earlier day; nil: never read
	Asked    bool              // by what it would teach; false: she chose it herself
	Read     []timeline.Reading
	Order    []timeline.Zone // all zones, what would teach most first; read ones last
	Ahead    timeline.Day    // what is to be known better: the coat on this day
	ForShow  *timeline.Show  // of that day; nil: just four weeks on
	Expected map[timeline.Zone]coat.Dist
}

// A reading is to make the coat of the next show surer, but of no day farther than teachDays: until then the coat is worked
// again and grows on, and is read again. Without a show four weeks, two of the usual visits. A zone whose length the show's own
// targets name counts half as much again, a zone without a wanted length a quarter. Judgement.
const (
	teachDays      = 56
	teachUsualDays = 28
	teachNamed     = 1.5
	teachNoBand    = 0.25
)

// MeasureNext suggests the zone whose reading would teach the forecast most: chosen where the caller names one, and none that
// was read on that day or is passed over.
func (s *Salon) MeasureNext(ctx context.Context, dog timeline.ID, on timeline.Day, chosen timeline.Zone, skip []timeline.Zone) (MeasureNext, error) {
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return MeasureNext{}, err
	}
	if on, _, err = s.readOn(ctx, d, on); err != nil {
		return MeasureNext{}, err
	}
	h, err := s.history(ctx, d)
	if err != nil {
		return MeasureNext{}, err
	}
	out := MeasureNext{Dog: d, On: on, Read: []timeline.Reading{}, Order: []timeline.Zone{}, Expected: map[timeline.Zone]coat.Dist{}}
	read := map[timeline.Zone]bool{}
	for _, r := range h.readings {
		if r.On == on {
			out.Read, read[r.Zone] = append(out.Read, r), true
		}
	}
	out.Ahead, out.ForShow = h.taughtFor(on)
	lessons := []coat.Lesson{}
	if h.known(on) {
		m, err := s.model(teachFile(h, on))
		if err != nil {
			return out, err
		}
		lessons = m.Lessons(on, out.Ahead, h.teachWeights(out.ForShow, out.Ahead))
	} else { // nothing is forecast before the four answers: the usual three, then the rest
		for _, z := range append(slices.Clone(combZones), timeline.Zones()...) {
			if !slices.ContainsFunc(lessons, func(l coat.Lesson) bool { return l.Zone == z }) {
				lessons = append(lessons, coat.Lesson{Zone: z})
			}
		}
	}
	for _, l := range lessons {
		out.Expected[l.Zone] = l.NowMM
		if read[l.Zone] {
			continue
		}
		out.Order = append(out.Order, l.Zone)
		if out.Zone == "" && !slices.Contains(skip, l.Zone) {
			out.Zone = l.Zone
			out.Asked = l.NarrowsMM > 0
		}
	}
	for _, z := range timeline.Zones() {
		if read[z] {
			out.Order = append(out.Order, z)
		}
	}
	if chosen.Known() && chosen != out.Zone {
		out.Zone, out.Asked = chosen, false
	}
	out.Now = out.Expected[out.Zone]
	for i, r := range h.readings {
		if r.Zone == out.Zone && r.On < on {
			out.Last = &h.readings[i]
		}
	}
	return out, nil
}

// taughtFor is the day whose forecast readings are to make surer.
func (h history) taughtFor(on timeline.Day) (timeline.Day, *timeline.Show) {
	for i := range h.shows {
		if v := &h.shows[i]; v.On > on && v.On <= on+teachDays {
			return v.On, v
		}
	}
	return on + teachUsualDays, nil
}

func (h history) teachWeights(show *timeline.Show, ahead timeline.Day) map[timeline.Zone]float64 {
	out := map[timeline.Zone]float64{}
	for _, z := range timeline.Zones() {
		out[z] = teachNoBand
		if h.target(z, ahead) != nil {
			out[z] = 1
		}
		if show != nil {
			if _, named := show.Targets[z]; named {
				out[z] = teachNamed
			}
		}
	}
	return out
}

// teachFile is the coat as it is known on a day, its readings too; what is wanted of it teaches nothing.
func teachFile(h history, on timeline.Day) coat.File {
	f := h.file(on, on+1)
	f.Shows, f.Sessions = nil, nil
	return f
}

// Taught is what a reading changed.
type Taught struct {
	Reading  timeline.Reading
	Expected coat.Dist // of it, before it was read
	Ahead    timeline.Day
	Before   coat.Dist // the zone's visible length on that day, without the reading
	After    coat.Dist
	All      float64 // by how much of itself the bands of all zones became narrower, mean; negative: wider, for the coat surprised
}

// TaughtBy is what one reading changed in the forecast; nil where nothing is forecast.
func (s *Salon) TaughtBy(ctx context.Context, dog, reading timeline.ID) (*Taught, error) {
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return nil, err
	}
	h, err := s.history(ctx, d)
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(h.readings, func(r timeline.Reading) bool { return r.ID == reading })
	if i < 0 || !h.known(h.readings[i].On) {
		return nil, nil
	}
	r := h.readings[i]
	without := h
	without.readings = slices.Delete(slices.Clone(h.readings), i, i+1)
	out := &Taught{Reading: r}
	out.Ahead, _ = h.taughtFor(r.On)
	was, err := s.model(teachFile(without, r.On))
	if err != nil {
		return nil, err
	}
	is, err := s.model(teachFile(h, r.On))
	if err != nil {
		return nil, err
	}
	out.Expected = was.ForecastStart(r.On).Zones[r.Zone].LongestMM
	before, after := was.Forecast(out.Ahead), is.Forecast(out.Ahead)
	out.Before, out.After = before.Zones[r.Zone].VisibleMM, after.Zones[r.Zone].VisibleMM
	n := 0
	for z, f := range before.Zones {
		if w := f.VisibleMM.P90 - f.VisibleMM.P10; w > 0 && h.target(z, out.Ahead) != nil {
			now := after.Zones[z].VisibleMM
			out.All += 1 - (now.P90-now.P10)/w
			n++
		}
	}
	if n > 0 {
		out.All /= float64(n)
	}
	return out, nil
}
