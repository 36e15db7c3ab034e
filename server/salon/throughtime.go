package salon

import (
	"context"
	"slices"

	"thatch/timeline"
)

// mostFrames are played in a row; of a longer one every so manieth.
const mostFrames = 120

// ThroughTime is a dog's coat from one side, photo by photo, all laid over the same one.
type ThroughTime struct {
	Dog    timeline.Dog
	Side   timeline.Side
	Sides  []CompareSide // those with photos
	All    bool          // every photo, not one a day
	Ref    timeline.Photo
	Frames []TimeFrame // oldest first
	Of     int         // photos that there are; more than Frames where the row was thinned
	Unlaid int         // photos of this side that cannot be laid over Ref: their points are missing
	Newest *CompareDay // the newest day of this side, where it is after the row's last for want of points; nil: the row ends with it
}

// TimeFrame is one photo of the row.
type TimeFrame struct {
	Photo timeline.Photo
	On    timeline.Day
	Show  *timeline.Show // the next one on or after the day; nil: none
	Days  int            // to it
}

// CoatThroughTime is the row of a side; side "": the one with the most days. all: every photo instead of one a day.
//
// Photos from left and right are laid over the oldest that can be measured: it stays what it is when new ones come, so that
// what has been laid once is kept. Photos from front, rear and above follow each other as they are.
func (s *Salon) CoatThroughTime(ctx context.Context, dog timeline.ID, side timeline.Side, all bool) (ThroughTime, error) {
	if err := checkWordOrUnsaid("side", side, timeline.Sides()); err != nil {
		return ThroughTime{}, err
	}
	k, err := s.recordOf(ctx, dog)
	if err != nil {
		return ThroughTime{}, err
	}
	out := ThroughTime{Dog: k.dog, Side: side, Sides: []CompareSide{}, All: all, Frames: []TimeFrame{}}
	most := 0
	for _, is := range timeline.Sides() {
		n := len(photoDays(k.photos, is))
		if n == 0 {
			continue
		}
		out.Sides = append(out.Sides, CompareSide{is, n})
		if side == "" && n > most {
			out.Side, most = is, n
		}
	}
	if out.Side == "" {
		out.Side = timeline.SideLeft
	}
	var photos []timeline.Photo
	out.Ref, _ = referenceOf(k.photos, out.Side)
	for _, p := range k.photos {
		if p.Side != out.Side || p.Moment.Day().IsZero() || p.Trouble != "" {
			continue
		}
		if out.Side.Measured() && !laysOver(p, out.Ref) {
			out.Unlaid++
			continue
		}
		photos = append(photos, p)
	}
	if !all {
		days := photoDays(photos, out.Side)
		photos = photos[:0:0]
		for _, d := range days {
			photos = append(photos, d.Photo)
		}
	}
	out.Of = len(photos)
	if of := photoDays(k.photos, out.Side); len(of) > 0 && len(photos) > 0 {
		if newest := of[len(of)-1]; newest.On > photos[len(photos)-1].Moment.Day() && newest.Photo.Trouble == "" && len(newest.Photo.Landmarks) < leastCommon {
			out.Newest = &newest
		}
	}
	for _, p := range spread(photos, mostFrames) {
		f := TimeFrame{Photo: p, On: p.Moment.Day()}
		if i := slices.IndexFunc(k.shows, func(v timeline.Show) bool { return v.On >= f.On }); i >= 0 { // by day
			f.Show, f.Days = &k.shows[i], int(k.shows[i].On-f.On)
		}
		out.Frames = append(out.Frames, f)
	}
	return out, nil
}

// referenceOf is the photo of a side that others are laid over: the oldest that can be measured, else the oldest whose points
// are placed. ok is false where there is none.
func referenceOf(photos []timeline.Photo, side timeline.Side) (ref timeline.Photo, ok bool) {
	best := 0
	for _, p := range photos {
		if p.Side == side && !p.Moment.Day().IsZero() && p.Trouble == "" && pairRank(p) > best {
			ref, best = p, pairRank(p)
		}
	}
	return ref, best > 0
}

// laysOver: the two have points enough in common to be laid over each other.
func laysOver(p, ref timeline.Photo) bool {
	common := 0
	for pt := range ref.Landmarks {
		if _, ok := p.Landmarks[pt]; ok {
			common++
		}
	}
	return common >= leastCommon
}

// spread are at most so many of a row, evenly, the first and the last among them.
func spread(photos []timeline.Photo, most int) []timeline.Photo {
	n := len(photos)
	if n <= most {
		return photos
	}
	out := make([]timeline.Photo, most)
	for i := range out {
		out[i] = photos[i*(n-1)/(most-1)]
	}
	return out
}
