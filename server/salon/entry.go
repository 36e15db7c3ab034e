package salon

import (
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

// DogEntries writes the cards; never null.
func DogEntries(cards []DogCard) []DogEntry {
	out := make([]DogEntry, len(cards))
	for i, c := range cards {
		out[i] = DogEntry{Name: c.Dog.Name, ID: c.Dog.ID, Photos: c.Photos, Sessions: c.Sessions}
		if c.NextShow != nil {
			out[i].NextShow = &TimelineShow{Name: c.NextShow.Name, On: c.NextShow.On}
		}
	}
	return out
}
