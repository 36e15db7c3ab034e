package timeline

import "time"

// MarkerSeen is a table marker of ours as a photo shows it. Places are px of the upright photo.
type MarkerSeen struct {
	Dog            ID      `json:"dog"` // "": the salon's, no dog in particular
	SizeMM         int     `json:"size_mm"`
	CornersPX      [4]XY   `json:"corners_px"`
	MMPerPX        float64 `json:"mm_per_px"` // at the marker, with its standard error
	SDMMPerPX      float64 `json:"sd_mm_per_px"`
	UprightMMPerPX float64 `json:"upright_mm_per_px"`
	TiltDeg        float64 `json:"tilt_deg"`
	RollDeg        float64 `json:"roll_deg"`
	// GreyRGB and WhiteRGB are the patches' colours, 0–255 encoded; nil where a patch is not evenly lit.
	GreyRGB  *[3]float64 `json:"grey_rgb"`
	WhiteRGB *[3]float64 `json:"white_rgb"`
}

// MarkerLook is what a look for the table marker has found in a file. A symbol that cannot be used is told, never guessed.
type MarkerLook struct {
	Seen  *MarkerSeen `json:"seen"`
	Told  []string    `json:"told"`  // "foreign", "bent", "hidden", "several", …
	Maker int         `json:"maker"` // version of what looked
}

// Tape is the two marks on the tape line of the table, pointed at in a photo.
type Tape struct {
	A  XY      `json:"a"` // px of the upright photo
	B  XY      `json:"b"`
	MM float64 `json:"mm"` // between them; 500 as the protocol has it
}

// Edge is the dog's edge in a photo: found by the program, corrected and confirmed by a person.
type Edge struct {
	Photo     ID
	Rev       Rev
	Polygon   []XY   // the outer edge, closed, px of the upright photo
	Holes     [][]XY // background inside it, as between the legs
	Method    string // where the first guess came from
	Confirmed []Zone // whose contour a person has looked at and found right
	// LookOnly are zones in the outline that are not to be measured in this photo, and why: "lead", "hand", "blurred", …
	LookOnly map[Zone]string
	Maker    int // version of what found it
	Saved    time.Time
}

// What a reading is of.
type ReadingOf string

const (
	OfLength ReadingOf = "length" // of the longest hair, drawn straight
	OfDepth  ReadingOf = "depth"  // how far the coat stands off the body, comb set on the skin
)

// TargetLine is the outline that the groomer wants for a dog, drawn once: neck into back, tail set to hock.
type TargetLine struct {
	Dog   ID
	Rev   Rev
	Photo ID     // the photo it was drawn on, whose points say where it lies on the dog
	Lines [][]XY // open polylines, px of that photo
	Saved time.Time
}

// SalonCheck is one dog stood up several times without any work: its spread is the smallest change that this salon may be
// shown.
type SalonCheck struct {
	ID      ID
	Dog     ID
	On      Day
	Photos  []ID
	Floor   Floor
	Added   time.Time
	Trashed time.Time
}

// Floor is the spread of a salon's own photos of a dog that has not changed: standard deviations of one standing-up.
type Floor struct {
	N         int              `json:"n"`          // times the dog was stood up
	ToplineMM float64          `json:"topline_mm"` // of the topline's deviation from its line, at one place
	DepthMM   map[Zone]float64 `json:"depth_mm"`   // of a zone's depth
}
