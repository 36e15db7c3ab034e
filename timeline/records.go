package timeline

import "time"

// ID names a row; random, opaque, safe in a URL.
type ID string

// Rev is the version of a row that people edit. A change names the version it was made from; another means Conflict.
type Rev int

// Side is the side of the dog that a photo shows. Only left and right are measured.
type Side string

const (
	SideLeft  Side = "left"
	SideRight Side = "right"
	SideFront Side = "front"
	SideRear  Side = "rear"
	SideAbove Side = "above"
)

// Sides returns every side.
func Sides() []Side { return []Side{SideLeft, SideRight, SideFront, SideRear, SideAbove} }

// Measured reports whether photos of this side are measured.
func (s Side) Measured() bool { return s == SideLeft || s == SideRight }

// Phase is when in its session a photo was taken.
type Phase string

const (
	PhaseStart  Phase = "start"
	PhaseDuring Phase = "during"
	PhaseEnd    Phase = "end"
)

// Phases returns every phase in order.
func Phases() []Phase { return []Phase{PhaseStart, PhaseDuring, PhaseEnd} }

// CoatState is how the coat lies in a photo. Only brushed down and dry is measured.
type CoatState string

const (
	CoatBrushedDown CoatState = "brushed_down_dry"
	CoatBrushedUp   CoatState = "brushed_up"
	CoatDamp        CoatState = "damp"
	CoatChalked     CoatState = "chalked"
	CoatAsCame      CoatState = "as_came"
	CoatUnsaid      CoatState = "" // not asked yet: looked at, not measured
)

// CoatStates returns every answer.
func CoatStates() []CoatState {
	return []CoatState{CoatBrushedDown, CoatBrushedUp, CoatDamp, CoatChalked, CoatAsCame}
}

// Source is where the time of a photo comes from, best first.
type Source string

const (
	SourceUser          Source = "user"
	SourceExifOffset    Source = "exif+offset"
	SourceExifGPS       Source = "exif+gps"
	SourceExif          Source = "exif"
	SourceExifDigitized Source = "exif-digitized"
	SourceXMP           Source = "xmp"
	SourceIPTC          Source = "iptc"
	SourceFilename      Source = "filename"
	SourceNone          Source = "none"
)

// Undercoat, Texture: of the dog.
type Undercoat string
type Texture string

const (
	UndercoatNone  Undercoat = "none"
	UndercoatSome  Undercoat = "some"
	UndercoatHeavy Undercoat = "heavy"

	TextureHarsh  Texture = "harsh"
	TextureMedium Texture = "medium"
	TextureSoft   Texture = "soft"
)

// Undercoats and Textures return every answer.
func Undercoats() []Undercoat { return []Undercoat{UndercoatNone, UndercoatSome, UndercoatHeavy} }

// Textures returns every answer.
func Textures() []Texture { return []Texture{TextureHarsh, TextureMedium, TextureSoft} }

// Mode is how a zone is worked towards a show.
type Mode string

const (
	BringBack   Mode = "bring_back"   // one old jacket
	KeepRolling Mode = "keep_rolling" // one top layer at a time
)

// Answers are the four answers that start a dog, and the day they were given.
type Answers struct {
	On               Day
	LastWorked       Day // zero: never, or nobody knows
	Rolled           bool
	Undercoat        Undercoat
	LongestWithersMM float64 // longest hair at the withers, drawn straight, mm; 0 unknown
}

// History is what the owner says has changed a coat or may have. CoatChange is an illness or a medicine that changes coats:
// neither is named.
type History struct {
	EverClipped bool
	Neutered    bool
	CoatChange  bool
}

// PinchTest is the ripeness of the groups of zones that were tested on a day, before any work.
type PinchTest struct {
	On Day                `json:"on"`
	Is map[Group]Ripeness `json:"is"`
}

// Dog is one dog of the salon.
type Dog struct {
	ID        ID
	Rev       Rev
	Name      string
	Client    string // who brings her; may be empty
	Profile   string // kind of coat: "rough", or the ID of one of the salon's own
	Texture   Texture
	WithersMM float64 // height at the withers, 0 unknown
	WithersOn Day     // when that was said; zero: nobody noted it
	Born      Day     // zero: not said
	Answers   Answers
	Pinched   *PinchTest // the first pinch test, before there is a session to log it in; nil: none
	History   History
	Sensitive []Zone
	Notes     string
	Cadence   Cadence
	Kept      *Kept // the last change of the plan that was tried and kept; nil: none
	ShareOK   bool  // the client agreed that pictures are shown by link
	Added     time.Time
	Trashed   time.Time
}

// Cadence is how the dog is booked from here on.
type Cadence struct {
	Next      Day // next booked day; zero: none
	EveryDays int // 14 unless said otherwise
	Minutes   int // table time of a session
	Days      []BookedDay
}

// BookedDay is one day on which the rhythm of a dog is not as usual.
type BookedDay struct {
	On      Day  `json:"on"`
	Skip    bool `json:"skip,omitempty"`    // she does not come
	Extra   bool `json:"extra,omitempty"`   // she comes, though the rhythm does not have it
	Minutes int  `json:"minutes,omitempty"` // table time of that day, if she comes; 0 as usual
}

// Kept is a change of the plan that was kept, with what it takes to undo it.
type Kept struct {
	Rev    Rev       `json:"rev"` // of the dog after it; at another one there is nothing to undo any more
	At     time.Time `json:"at"`
	Kind   string    `json:"kind"`   // as it was tried
	On     Day       `json:"on"`     // the day that was moved, skipped or cut short
	Days   int       `json:"days"`   // moved by
	Figure int       `json:"figure"` // minutes, or days between sessions
	Show   ID        `json:"show,omitempty"`
	// Before.
	Cadence Cadence `json:"cadence"`
	ShowOn  Day     `json:"show_on"`
	ShowRev Rev     `json:"show_rev,omitempty"` // after it
}

// Range is a wanted length, mm; Max 0 means no upper bound asked.
type Range struct {
	MinMM float64 `json:"min_mm"`
	MaxMM float64 `json:"max_mm"`
}

// Show is a day on which the coat is to be right. Targets given here win over the profile's.
type Show struct {
	ID       ID
	Rev      Rev
	Dog      ID
	Name     string
	On       Day
	Priority int // 1 (matters most) to 3
	Targets  map[Zone]Range
	Trashed  time.Time
}

// ZoneWork is one line of a session's log: what was done to a zone and what the hand found.
type ZoneWork struct {
	Zone      Zone
	Do        Work
	Share     float64 // of the hair pulled; only for Take (0 < share ≤ 1), 1 for Strip
	TopLayer  bool    // the take was said as "top layer"; Share is then what that was that day
	Tool      Tool
	Ripeness  Ripeness
	HairCheck HairCheck
	Skin      Skin
	Cover     Cover
	NewHair   NewHair
	Remark    string
}

// Reading is a length measured by hand. On a session day it is of the start, before the work of that day.
type Reading struct {
	ID       ID
	Dog      ID
	Session  ID // may be empty
	Zone     Zone
	On       Day
	Of       ReadingOf // "" means length
	Phase    Phase     // of a depth: when in the session; "" means the start
	LengthMM float64   // of the longest hair, drawn straight; of a depth, how far the coat stands off the body
	SDMM     float64   // 1.0 for a ruler or a comb
	Trashed  time.Time
}

// Session is one visit on the table.
type Session struct {
	ID      ID
	Rev     Rev
	Dog     ID
	On      Day
	Minutes int
	Loft    Loft // what the undercoat looked like after carding
	Note    string
	Work    []ZoneWork // in anatomical order, one line a zone
	Sheet   SheetState

	Tolerance Tolerance // "": not said
	Breaks    int       // taken for her sake
	NotToday  NotToday  // why there was no work; "": she was worked, or is to be
	Before    *Before   // nil: nothing to undo
	Trashed   time.Time
}

// SheetState is how far the sheet of a session is worked, and by whom.
type SheetState struct {
	Order     []Zone    // the groomer's own order of work; none: the usual one
	Ticked    []string  // steps done that are no zone
	Assistant []Zone    // zones that an assistant may work; none: no assistant works this sheet
	Looked    time.Time // when a teacher looked at the assistant's work as it stands; zero: not yet
	Begun     time.Time // when the first step was done
	Done      time.Time // "all done"; zero: not yet
}

// Moment is when a photo was taken, as far as is known.
type Moment struct {
	Instant       time.Time // UTC; zero: not known
	Local         string    // wall-clock time "2006-01-02T15:04:05", "" if not known
	OffsetMinutes int       // of Local from UTC
	OffsetKnown   bool      // false: the salon's zone supplied it
	Source        Source
	Flags         []string // "clock_not_set", "low_confidence", …
}

// Day is the local day of the moment, the zero Day if not known.
func (m Moment) Day() Day {
	if len(m.Local) < 10 {
		return 0
	}
	d, err := ParseDay(m.Local[:10])
	if err != nil {
		return 0
	}
	return d
}

// Original is a photo file as it came, kept once a salon, named by the SHA-256 of its bytes.
type Original struct {
	SHA256        string // 64 hex digits, lower case
	Bytes         int64
	Format        string // "jpeg", "png", "webp"
	WidthPX       int    // upright
	HeightPX      int    // upright
	Orientation   int    // EXIF 1–8, 1 where absent
	Camera        string
	HasGPS        bool
	ICC           string      // profile description, "" where absent
	ExifMoment    Moment      // what the file itself says
	SuggestMoment Moment      // ModifyDate, if any: suggested, never used silently
	FocalPX       float64     // focal length, px of the upright photo; 0: not known
	Marker        *MarkerLook // nil: not looked for yet
	Added         time.Time
}

// Photo is an original on a dog's timeline.
type Photo struct {
	ID        ID
	Rev       Rev
	Dog       ID
	SHA256    string
	File      string // the name it came under, for people
	Session   ID     // empty: unpaired
	Moment    Moment
	Phase     Phase
	PhaseSaid bool // a person said the phase; otherwise it is proposed from the time
	Side      Side
	CoatState CoatState
	Facing    Side // which way the nose points in the picture: SideLeft or SideRight
	WidthPX   int
	HeightPX  int
	Ready     bool // its derivatives exist
	Trouble   string
	Landmarks Landmarks // confirmed by a person
	Tape      *Tape     // the two marks on the tape line; nil: not pointed at
	Added     time.Time
	Trashed   time.Time
}

// OwnProfile is a kind of coat of the salon's own. What it says is timeline/coat's to read.
type OwnProfile struct {
	ID      ID
	Rev     Rev
	Name    string
	Doc     []byte // JSON
	Added   time.Time
	Trashed time.Time
}

// Link is a client's page: only the hash of its token is kept.
type Link struct {
	ID        ID
	Dog       ID
	For       string // recipient, as the groomer calls them
	TokenHash string // SHA-256 of the token, hex
	Made      time.Time
	Expires   time.Time
	Withdrawn time.Time
}
