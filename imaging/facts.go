package imaging

import "time"

// Sources of a photo's date, most trusted first. A screen shows the source beside the date.
const (
	SourceExifOffset    = "exif+offset"    // DateTimeOriginal with OffsetTimeOriginal: an instant
	SourceExifGPS       = "exif+gps"       // DateTimeOriginal, offset from the GPS time
	SourceExif          = "exif"           // DateTimeOriginal, read in the salon's zone
	SourceExifDigitized = "exif-digitized" // DateTimeDigitized, read in the salon's zone
	SourceXMP           = "xmp"
	SourceIPTC          = "iptc"
	SourceFilename      = "filename"
	SourceNone          = "none"
)

// Flags of a date. The date is kept in every case; the flag says what to doubt.
const (
	FlagClockNotSet   = "clock_not_set"  // before 1995, after now, or the power-on default of a camera
	FlagFuture        = "future"         // after now; always beside clock_not_set
	FlagLowConfidence = "low_confidence" // from the name of the file
	FlagTimeUnknown   = "time_unknown"   // only the day is known; the local time reads 12:00:00
	FlagSkipped       = "dst_skipped"    // the salon's clocks jumped over this wall time; the instant is the one of the clock not put forward
	FlagRepeated      = "dst_repeated"   // the wall time happened twice that night; the first one is meant
)

// Facts are what the headers of a file say about the photo in it.
type Facts struct {
	SHA256        string // of the whole file, 64 hex digits; filled by Hash, not by Inspect
	Bytes         int64
	Format        string // "jpeg", "png", "webp", "heic"; "" where not recognised
	WidthPX       int    // upright
	HeightPX      int    // upright
	Orientation   int    // EXIF 1–8; 1 where absent or out of range; of HEIC what irot and imir ask for, never what EXIF says
	Camera        string // make and model
	Focal35MM     int    // focal length of a 35 mm camera that sees as much (Exif 2.32, FocalLengthIn35mmFilm), mm; 0: not said
	HasGPS        bool
	ICC           string    // profile description, "" where there is none
	TakenAt       time.Time // UTC, zero: not known
	TakenLocal    string    // wall-clock time 2006-01-02T15:04:05, "": not known
	OffsetMinutes int       // of TakenLocal from UTC
	OffsetKnown   bool      // the file says the offset; otherwise the salon's zone supplied it
	TakenSource   string    // one of the Source constants
	Flags         []string  // of the Flag constants, sorted; never nil after Inspect
	ModifyLocal   string    // ModifyDate as local wall-clock time: a suggestion, never a capture date
	RawDates      map[string]string
}

// InspectOptions carry what the file cannot know.
type InspectOptions struct {
	Zone *time.Location // of the salon, for dates without an offset; nil: UTC
	Now  time.Time      // the present, for dates in the future; zero: no date counts as future
}
