package salon

import (
	"context"
	"time"

	"thatch/imaging"
	"thatch/timeline"
)

// Entry is what a photo file says of itself, as `thatch inspect --json`, `thatch add --json` and the upload's answer write
// it. Facts that were read stay beside an error.
type Entry struct {
	File          string  `json:"file"`
	SHA256        string  `json:"sha256"`
	Format        string  `json:"format"`
	WidthPX       int     `json:"width_px"`  // upright
	HeightPX      int     `json:"height_px"` // upright
	Orientation   int     `json:"orientation"`
	TakenAt       *string `json:"taken_at"`       // RFC 3339 with offset; null: not known
	TakenLocal    *string `json:"taken_local"`    // wall-clock time; null: not known
	OffsetMinutes *int    `json:"offset_minutes"` // null: the file does not say it; the salon's zone is in taken_at
	TakenSource   string  `json:"taken_source"`
	// Flags are what to doubt about the date.
	Flags  []string      `json:"flags"`
	Camera string        `json:"camera"`
	HasGPS bool          `json:"has_gps"`
	ICC    string        `json:"icc"`
	Marker *MarkerReport `json:"marker"` // null: none found, or not looked for
	Error  *string       `json:"error"`  // null: none
}

// MarkerReport is a table marker found in a photo.
type MarkerReport struct {
	Text      string        `json:"text"`
	MMPerPX   float64       `json:"mm_per_px"`
	CornersPX []timeline.XY `json:"corners_px"`
}

// EntryOf writes the facts; trouble is the sentence of what was wrong with the file, "" nothing.
func EntryOf(file string, f imaging.Facts, trouble string) Entry {
	e := Entry{
		File: file, SHA256: f.SHA256, Format: f.Format, WidthPX: f.WidthPX, HeightPX: f.HeightPX, Orientation: f.Orientation,
		TakenSource: f.TakenSource, Flags: f.Flags, Camera: f.Camera, HasGPS: f.HasGPS, ICC: f.ICC,
	}
	if e.Flags == nil {
		e.Flags = []string{}
	}
	if e.TakenSource == "" {
		e.TakenSource = imaging.SourceNone
	}
	if !f.TakenAt.IsZero() {
		at := f.TakenAt.In(time.FixedZone("", f.OffsetMinutes*60)).Format(time.RFC3339)
		e.TakenAt = &at
	}
	if f.TakenLocal != "" {
		e.TakenLocal = &f.TakenLocal
	}
	if f.OffsetKnown {
		e.OffsetMinutes = &f.OffsetMinutes
	}
	if trouble != "" {
		e.Error = &trouble
	}
	return e
}

// PhotoFault turns a Refusal of the imaging room into the Fault that a person is told; other errors pass.
func PhotoFault(err error, op string) error { return photoFault(err, op) }

// DogEntry is a dog in lists of JSON.
type DogEntry struct {
	Name     string        `json:"name"`
	ID       timeline.ID   `json:"id"`
	Photos   int           `json:"photos"`
	Sessions int           `json:"sessions"`
	NextShow *TimelineShow `json:"next_show"` // null: none
}

// Roll is every dog by name with what she has. It asks the coat model nothing: a list of two hundred dogs must not wait
// for two hundred plans.
func (s *Salon) Roll(ctx context.Context) ([]DogEntry, error) {
	today, err := s.Today(ctx)
	if err != nil {
		return nil, err
	}
	dogs, err := s.Dogs(ctx)
	if err != nil {
		return nil, err
	}
	out := make([]DogEntry, len(dogs))
	for i, d := range dogs {
		photos, err := s.st.Photos(ctx, d.ID)
		if err != nil {
			return nil, err
		}
		h, err := s.history(ctx, d)
		if err != nil {
			return nil, err
		}
		out[i] = DogEntry{Name: d.Name, ID: d.ID, Photos: len(photos), Sessions: len(h.sessions)}
		for _, v := range h.shows { // by day
			if v.On >= today {
				out[i].NextShow = &TimelineShow{Name: v.Name, On: v.On, Show: v}
				break
			}
		}
	}
	return out, nil
}
