package salon

import (
	"io"

	"thatch/imaging"
	"thatch/imaging/align"
	"thatch/timeline"
)

// Added is what became of a photo that came in.
type Added struct {
	Photo        timeline.Photo
	Original     timeline.Original
	Facts        imaging.Facts     // what the headers of the file said; kept beside an error too
	Already      bool              // it was on this dog's timeline before: told, not stored twice
	Session      *timeline.Session // the one it was paired with
	OfferSession bool              // it has a day, and no session is on that day yet
}

// PhotoEdit is what a person says of a photo; "" leaves a field as it is.
type PhotoEdit struct {
	Phase       timeline.Phase
	PhaseByTime bool // take the person's word for the phase back: it is proposed from the time again
	Side        timeline.Side
	CoatState   timeline.CoatState
	CoatUnsaid  bool // take the answer back: not asked yet
	Facing      timeline.Side
}

// Proposal is where the points of a photo probably are, from the dog's last photo of that side that has points.
type Proposal struct {
	Landmarks  timeline.Landmarks         // px of the upright original
	Confidence map[timeline.Point]float64 // 0 (a mere placeholder) to 1
	Facing     timeline.Side
	Found      bool           // the dog was found in the picture
	Outlined   bool           // told by the dog's outline, not by another photo
	From       timeline.Photo // zero ID: from no other photo
}

// PictureKind names a size of a photo.
type PictureKind string

const (
	PictureThumb    PictureKind = "thumb"    // long side 512 px
	PictureView     PictureKind = "view"     // long side 2016 px
	PictureOriginal PictureKind = "original" // the file as it came, with its metadata: for the salon only
)

// Picture is an open picture file; the caller closes it.
type Picture struct {
	io.ReadSeekCloser
	Type string // media type
	ETag string // strong, quoted; changes with the bytes
}

// Line kinds of an overlay, in the order in which they are drawn.
const (
	LineSkin         = "skin"
	LineTargetMin    = "target_min"
	LineTargetMax    = "target_max"
	LineExpectedLow  = "expected_low"  // p10
	LineExpectedHigh = "expected_high" // p90
	LineExpected     = "expected"      // median
	LineMeasured     = "measured"      // from photos and readings of the day
	LineEdge         = "edge"          // the edge in the photo that somebody has looked at
	LineWanted       = "wanted"        // the outline that was drawn for this dog
)

// Line is one line of an overlay.
type Line struct {
	Kind string
	D    string // SVG path data, px of the frame's upright picture
}

// Overlay is the lines of one day drawn in one picture's pixels.
type Overlay struct {
	On            timeline.Day
	WidthPX       int // of the frame: the viewBox is "0 0 WidthPX HeightPX"
	HeightPX      int
	Lines         []Line            // never nil; empty where Missing says why
	MMPerPX       float64           // 0 where not known
	MMPerPXSD     float64           // its standard deviation
	ScaleBy       ScaleBy           // what says so
	SkinFrom      []timeline.Zone   // zones whose ruler readings of the day fixed the skin line; the others by expected depth
	DepthSDMM     float64           // sd of the depth of one line that no reading fixes, mm
	Missing       []timeline.Phrase // what is missing for lines or numbers: key "look.…"
	MeasuredZones []timeline.Zone
}

// Comparison lays photo B over photo A (or the other way round, see Ref).
type Comparison struct {
	Dog         timeline.Dog
	A, B        timeline.Photo // as asked; A is "before"
	Ref, Over   timeline.Photo // Over is drawn over Ref, in Ref's pixels; Ref is A, unless A has no points and B has
	DaysBetween int            // B's day minus A's; 0 where a date is missing, see DaysKnown
	DaysKnown   bool
	Balance     BalanceLook
	Aligned     bool         // Over has an aligned picture (AlignedPicture); false: side by side, each as it is
	ByMarker    bool         // laid by the table marker, because points are for left and right only
	Align       align.Result // valid where Aligned or where a fit was tried
	Comparable  bool         // numbers may be read from the pair
	LookOnly    []timeline.Phrase
	OverlayA    Overlay // lines of A's day, in Ref's pixels
	OverlayB    Overlay // lines of B's day, in Ref's pixels
	Zones       []CompareZone
}

// BalanceLook is whether two photos can be shown under the same neutral light. Both must show the table marker's patches: one
// photo balanced beside one that is not would show a difference that is none of the coat's.
type BalanceLook struct {
	Can         bool
	Why         timeline.Phrase // why not; zero: it can
	first, over imaging.Balance
}

// CompareZone is one zone on both days.
type CompareZone struct {
	Zone   timeline.Zone
	A, B   ZoneFigures
	Change *Change // of the same thing at both times; nil: not measured at both
}
