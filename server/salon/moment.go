package salon

import (
	"context"
	"time"

	"thatch/imaging"
	"thatch/timeline"
)

const localLayout = "2006-01-02T15:04:05"

// shiftSpan is how far apart photos of one camera may be to share a wrong clock: a weekend of shows.
const shiftSpan = 3 * 24 * time.Hour

// Flags that a person's word takes away stay out of a corrected moment altogether.

func originalOf(f imaging.Facts, now time.Time) timeline.Original {
	o := timeline.Original{
		SHA256: f.SHA256, Bytes: f.Bytes, Format: f.Format, WidthPX: f.WidthPX, HeightPX: f.HeightPX,
		Orientation: f.Orientation, Camera: f.Camera, HasGPS: f.HasGPS, ICC: f.ICC, Added: now, FocalPX: focalPX(f),
		ExifMoment: timeline.Moment{
			Instant: f.TakenAt, Local: f.TakenLocal, OffsetMinutes: f.OffsetMinutes, OffsetKnown: f.OffsetKnown,
			Source: timeline.Source(f.TakenSource), Flags: f.Flags,
		},
		SuggestMoment: timeline.Moment{Source: timeline.SourceNone},
	}
	if o.ExifMoment.Source == "" {
		o.ExifMoment.Source = timeline.SourceNone
	}
	if f.ModifyLocal != "" {
		o.SuggestMoment.Local = f.ModifyLocal
	}
	return o
}

// CorrectDate sets when a photo was taken, as local wall-clock time "2006-01-02T15:04", with or without seconds.
// shiftOthers moves the photos that ShiftCandidates names by the same difference. Each is then paired with the session of
// its new day. All that changed is returned, the photo itself first.
func (s *Salon) CorrectDate(ctx context.Context, photo timeline.ID, rev timeline.Rev, local string, shiftOthers bool) ([]timeline.Photo, error) {
	p, err := s.Photo(ctx, photo)
	if err != nil {
		return nil, err
	}
	zone, err := s.Zone(ctx)
	if err != nil {
		return nil, err
	}
	wall, err := parseLocal(local)
	if err != nil {
		return nil, err
	}
	// A person may be a zone ahead of the salon; more than a day ahead is a slip.
	if m := momentAt(wall, p.Moment, zone); m.Instant.After(s.Now().Add(14 * time.Hour)) {
		return nil, invalid("local", "fault.photo.date_future", "on", timeline.DayOf(wall))
	}
	changed := []timeline.Photo{}
	if shiftOthers {
		others, err := s.ShiftCandidates(ctx, photo)
		if err != nil {
			return nil, err
		}
		old, err := time.Parse(localLayout, p.Moment.Local)
		if err == nil {
			for _, q := range others {
				was, _ := time.Parse(localLayout, q.Moment.Local)
				q.Moment = momentAt(was.Add(wall.Sub(old)), q.Moment, zone)
				if q.Moment.Instant.After(s.Now().Add(14 * time.Hour)) {
					continue
				}
				changed = append(changed, q)
			}
		}
	}
	p.Rev, p.Moment = rev, momentAt(wall, p.Moment, zone)
	changed = append([]timeline.Photo{p}, changed...)

	sessions, err := s.st.Sessions(ctx, p.Dog)
	if err != nil {
		return nil, err
	}
	touched := map[timeline.ID]bool{}
	for i := range changed {
		touched[changed[i].Session] = true
		changed[i].Session = sessionOfDay(sessions, changed[i].Moment.Day())
		touched[changed[i].Session] = true
	}
	saved, err := s.st.UpdatePhotos(ctx, changed)
	if err != nil {
		return nil, err
	}
	for id := range touched {
		if err := s.proposePhases(ctx, p.Dog, id); err != nil {
			return nil, err
		}
	}
	for i := range saved {
		if saved[i], err = s.st.Photo(ctx, saved[i].ID); err != nil {
			return nil, err
		}
	}
	return saved, nil
}

// ShiftCandidates are the dog's other photos of the same camera taken, by its clock, within three days of this one, whose
// date nobody has corrected yet: what is wrong with one is probably wrong with them.
func (s *Salon) ShiftCandidates(ctx context.Context, photo timeline.ID) ([]timeline.Photo, error) {
	p, err := s.Photo(ctx, photo)
	if err != nil {
		return nil, err
	}
	out := []timeline.Photo{}
	at, err := time.Parse(localLayout, p.Moment.Local)
	if err != nil {
		return out, nil
	}
	o, err := s.st.Original(ctx, p.SHA256)
	if err != nil {
		return nil, err
	}
	if o.Camera == "" {
		return out, nil
	}
	k, err := s.recordOf(ctx, p.Dog)
	if err != nil {
		return nil, err
	}
	cameras, err := s.camerasOf(ctx, p.Dog, k.album)
	if err != nil {
		return nil, err
	}
	for _, q := range k.photos {
		if q.ID == p.ID || q.Moment.Source == timeline.SourceUser || cameras[q.SHA256] != o.Camera {
			continue
		}
		if was, err := time.Parse(localLayout, q.Moment.Local); err == nil && was.Sub(at).Abs() <= shiftSpan {
			out = append(out, q)
		}
	}
	return out, nil
}

// momentAt is a moment said by a person: the wall clock with the offset that the photo's own file knew, or the salon's.
func momentAt(wall time.Time, old timeline.Moment, zone *time.Location) timeline.Moment {
	m := timeline.Moment{Local: wall.Format(localLayout), Source: timeline.SourceUser, Flags: []string{}}
	if old.OffsetKnown {
		m.OffsetKnown, m.OffsetMinutes = true, old.OffsetMinutes
		m.Instant = wall.Add(-time.Duration(old.OffsetMinutes) * time.Minute)
		return m
	}
	t := time.Date(wall.Year(), wall.Month(), wall.Day(), wall.Hour(), wall.Minute(), wall.Second(), 0, zone)
	_, offset := t.Zone()
	m.OffsetMinutes, m.Instant = offset/60, t.UTC()
	return m
}

func parseLocal(text string) (time.Time, error) {
	for _, layout := range []string{localLayout, "2006-01-02T15:04", "2006-01-02 15:04:05", "2006-01-02 15:04"} {
		if t, err := time.Parse(layout, text); err == nil {
			if t.Year() < 1900 || t.Year() > 2199 {
				break
			}
			return t, nil
		}
	}
	return time.Time{}, invalid("local", "fault.photo.date_form", "text", clip(text, 40))
}
