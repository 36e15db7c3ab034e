package store

import (
	"io"
	"time"

	"thatch/timeline"
)

// Options of Open; the zero Options are those of production.
type Options struct {
	FS        FS               // nil: the operating system's
	Now       func() time.Time // nil: time.Now
	MustExist bool             // a folder without a salon in it is NotFound instead of being made

	// FloorBytes is how much of the disk must be free for a photo to be taken in; rows are written as long as the disk takes
	// them. 0: by the size of the disk, see floorMin; negative: as long as the disk takes it.
	FloorBytes int64
}

// Settings are of the whole salon.
type Settings struct {
	Rev       timeline.Rev
	SalonName string
	Zone      string // IANA name of the salon's time zone
	Units     string // "mm" or "in"
	Lang      string // "" as each browser asks, else a language of the catalogue
	Theme     string // "" follows the device, "light", "dark"
	HourCents int    // price of an hour on the table, hundredths of Currency; 0: no price is told
	Currency  string // as the salon writes it: "€", "kr"
}

// Job is a piece of work that outlives the process: what to do (Kind) with what (Key). The same Kind and Key waits once.
type Job struct {
	ID       timeline.ID
	Kind     string
	Key      string
	Attempts int // claims so far, this one included
}

// KindDerive is the job behind an upload; its Key is the SHA-256 of the original.
const KindDerive = "derive"

// KindMarker is a look for the table marker in an original, KindMarkerOlder the same and then on to the next older one that
// was not looked at; their Key is the SHA-256 of the original.
const (
	KindMarker      = "marker"
	KindMarkerOlder = "marker-older"
)

// HeapPhoto is an original whose dog has not been said yet.
type HeapPhoto struct {
	ID       timeline.ID
	File     string      // the name it came under
	SaidDog  timeline.ID // a person's choice; "": none, or her dog is in the trash
	Original timeline.Original
	Added    time.Time
	Trashed  time.Time
}

// Blob is an open file of the store.
type Blob interface {
	io.ReadSeekCloser
	io.ReaderAt
	Size() int64
}

// Trashed is a thing in the trash, as its list shows it.
type Trashed struct {
	Kind  string // "dog", "photo", "session", "reading", "show", "profile", "check", "heap"
	ID    timeline.ID
	Dog   timeline.ID
	Label string // the dog's name, the photo's file, the session's or check's day, "zone day" of a reading, the name of a show or a kind of coat
	When  time.Time
}
