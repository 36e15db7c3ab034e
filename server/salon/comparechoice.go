package salon

import (
	"context"
	"slices"

	"thatch/timeline"
)

// Of a dog with years of photos only so many are put before a person at once.
const (
	choiceDays   = 12 // visits in a row
	choiceOfDay  = 12 // photos of one day
	nearbyPhotos = 8  // beside one photo
)

// CompareDay is a day on which a dog was photographed from a side, by its best photo.
type CompareDay struct {
	On     timeline.Day
	Photo  timeline.Photo
	Photos int // of that side and day
}

// CompareSide is a side of a dog and on how many days it was photographed.
type CompareSide struct {
	Side timeline.Side
	Days int
}

// CompareChoice is what two photos may be chosen from.
type CompareChoice struct {
	Side        timeline.Side
	Sides       []CompareSide // those with photos
	Days        []CompareDay  // of Side, oldest first, choiceDays at most
	Earlier     timeline.Day  // the last day of the row before; zero: none
	Later       timeline.Day  // the last day of the row after; zero: none
	First, Last timeline.ID   // of Side, as FirstAgainstLast; "" where there are not two days
	Newest      *CompareDay   // the newest day, where Last is not of it because nothing can be laid over its photo; nil: Last is
	OfA, OfB    []timeline.Photo
}

// photoDays groups the dated photos of a side by day, oldest first. photos are in the order of time.
func photoDays(photos []timeline.Photo, side timeline.Side) []CompareDay {
	var out []CompareDay
	for _, p := range photos {
		on := p.Moment.Day()
		if p.Side != side || on.IsZero() {
			continue
		}
		if n := len(out); n == 0 || out[n-1].On != on {
			out = append(out, CompareDay{On: on, Photo: p, Photos: 1})
			continue
		}
		d := &out[len(out)-1]
		d.Photos++
		if betterOfDay(p, d.Photo) {
			d.Photo = p
		}
	}
	return out
}

// betterOfDay: what can be measured stands for a day before what can only be looked at, then the start of the visit.
func betterOfDay(p, q timeline.Photo) bool {
	if a, b := pairRank(p), pairRank(q); a != b {
		return a > b
	}
	return phaseOf(p.Phase) == timeline.PhaseStart && phaseOf(q.Phase) != timeline.PhaseStart
}

// endsOf are the two days of a row that are longest apart among those that can be laid over each other; where none can, the
// first and the last. days are two at least.
func endsOf(days []CompareDay) (first, last CompareDay) {
	for i, d := range days {
		for _, e := range slices.Backward(days[i+1:]) {
			if laysOver(e.Photo, d.Photo) {
				return d, e
			}
		}
	}
	return days[0], days[len(days)-1]
}

// FirstAgainstLast are the photos of a side that are longest apart and can be laid over each other, as endsOf has it; side "":
// the one with the most days. ok is false where there are no two days yet.
func (s *Salon) FirstAgainstLast(ctx context.Context, dog timeline.ID, side timeline.Side) (a, b timeline.ID, ok bool, err error) {
	if side != "" {
		if err := checkWordOrUnsaid("side", side, timeline.Sides()); err != nil {
			return "", "", false, err
		}
	}
	k, err := s.recordOf(ctx, dog)
	if err != nil {
		return "", "", false, err
	}
	photos := stillHerSize(k.dog.Born, k.today, k.photos)
	var days []CompareDay
	for _, is := range timeline.Sides() {
		if side != "" && is != side {
			continue
		}
		if of := photoDays(photos, is); len(of) > len(days) {
			days = of
		}
	}
	if len(days) < 2 {
		return "", "", false, nil
	}
	first, last := endsOf(days)
	return first.Photo.ID, last.Photo.ID, true, nil
}

// CompareChoice is what else could be compared with, beside a and b: the row of days that ends with until (zero: that shows b).
func (s *Salon) CompareChoice(ctx context.Context, a, b timeline.Photo, side timeline.Side, until timeline.Day) (CompareChoice, error) {
	k, err := s.recordOf(ctx, a.Dog)
	if err != nil {
		return CompareChoice{}, err
	}
	if !slices.Contains(timeline.Sides(), side) {
		side = b.Side
	}
	out := CompareChoice{Side: side, Sides: []CompareSide{}, Days: []CompareDay{}, OfA: ofDay(k.photos, a), OfB: ofDay(k.photos, b)}
	var days []CompareDay
	for _, is := range timeline.Sides() {
		of := photoDays(k.photos, is)
		if len(of) > 0 {
			out.Sides = append(out.Sides, CompareSide{is, len(of)})
		}
		if is == side {
			days = of
		}
	}
	n := len(days)
	if n == 0 {
		return out, nil
	}
	if n > 1 {
		first, last := endsOf(days)
		out.First, out.Last = first.Photo.ID, last.Photo.ID
		if newest := days[n-1]; newest.On != last.On {
			out.Newest = &newest
		}
	}
	end := n
	if until.IsZero() {
		// The newest days, unless b is older than all of them.
		if i := slices.IndexFunc(days, func(d CompareDay) bool { return d.On == b.Moment.Day() }); i >= 0 && i < n-choiceDays {
			end = min(n, i+choiceDays/2)
		}
	} else {
		for end > 1 && days[end-1].On > until {
			end--
		}
	}
	end = max(end, min(n, choiceDays))
	start := max(0, end-choiceDays)
	out.Days = days[start:end]
	if start > 0 {
		out.Earlier = days[start-1].On
	}
	if end < n {
		out.Later = days[min(n, end+choiceDays)-1].On
	}
	return out, nil
}

// ofDay are the photos of a photo's own day and side, itself among them; the nearest where there are too many.
func ofDay(photos []timeline.Photo, p timeline.Photo) []timeline.Photo {
	out := []timeline.Photo{}
	for _, q := range photos {
		if q.Side == p.Side && q.Moment.Day() == p.Moment.Day() {
			out = append(out, q)
		}
	}
	at := slices.IndexFunc(out, func(q timeline.Photo) bool { return q.ID == p.ID })
	start := max(0, min(at-choiceOfDay/2, len(out)-choiceOfDay))
	return out[start:min(len(out), start+choiceOfDay)]
}

// nearby are photos worth comparing one with: the other phases of its own day, then one of each of the newest other days,
// and the very first.
func nearby(photos []timeline.Photo, p timeline.Photo) []timeline.Photo {
	out := []timeline.Photo{}
	on := p.Moment.Day()
	for _, q := range slices.Backward(photos) {
		if q.ID != p.ID && q.Side == p.Side && !on.IsZero() && q.Moment.Day() == on && phaseOf(q.Phase) != phaseOf(p.Phase) && len(out) < nearbyPhotos/2 {
			out = append(out, q)
		}
	}
	days := slices.DeleteFunc(photoDays(photos, p.Side), func(d CompareDay) bool { return d.On == on })
	for i := len(days) - 1; i >= 0 && len(out) < nearbyPhotos-1; i-- {
		out = append(out, days[i].Photo)
	}
	if len(days) > 0 {
		if first := days[0].Photo; !slices.ContainsFunc(out, func(q timeline.Photo) bool { return q.ID == first.ID }) {
			out = append(out, first)
		}
	}
	return out
}
