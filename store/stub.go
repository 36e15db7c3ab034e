package store

import (
	"context"
	"errors"
	"io"
	"time"

	tl "thatch/timeline"
)

var errNotYet = errors.New("store: being written")

// Store is an open data folder.
type Store struct{}

// FS is the seam under the photo files.
type FS interface{}

// Open opens the salon in dir, making it where it is not there yet.
func Open(ctx context.Context, dir string, opt Options) (*Store, error) { return nil, errNotYet }

// Close waits for nothing: callers stop their work first.
func (s *Store) Close() error { return errNotYet }

func (s *Store) Settings(ctx context.Context) (Settings, error) { return Settings{}, errNotYet }
func (s *Store) SaveSettings(ctx context.Context, v Settings) (Settings, error) {
	return v, errNotYet
}

func (s *Store) CreateDog(ctx context.Context, d tl.Dog) (tl.Dog, error) { return d, errNotYet }
func (s *Store) Dog(ctx context.Context, id tl.ID) (tl.Dog, error)       { return tl.Dog{}, errNotYet }
func (s *Store) DogByName(ctx context.Context, name string) (tl.Dog, error) {
	return tl.Dog{}, errNotYet
}
func (s *Store) Dogs(ctx context.Context, withTrashed bool) ([]tl.Dog, error) { return nil, errNotYet }
func (s *Store) UpdateDog(ctx context.Context, d tl.Dog) (tl.Dog, error)      { return d, errNotYet }
func (s *Store) TrashDog(ctx context.Context, id tl.ID) error                 { return errNotYet }
func (s *Store) RestoreDog(ctx context.Context, id tl.ID) error               { return errNotYet }

// Incoming is a file that was received whole but is not kept yet: nobody sees it.
type Incoming struct {
	SHA256 string
	Bytes  int64
}

func (in *Incoming) ReadAt(p []byte, off int64) (int, error) { return 0, errNotYet }

// Discard throws the file away; after KeepPhoto, and a second time, it does nothing.
func (in *Incoming) Discard() error { return nil }

// ReceiveFile reads r to its end into a temporary file. More than limitBytes is a Fault TooLarge.
func (s *Store) ReceiveFile(ctx context.Context, r io.Reader, limitBytes int64) (*Incoming, error) {
	return nil, errNotYet
}

// KeepPhoto keeps file, original, photo and jobs in one durable step.
func (s *Store) KeepPhoto(ctx context.Context, in *Incoming, o tl.Original, p tl.Photo, jobs []Job) (photo tl.Photo, already bool, err error) {
	return p, false, errNotYet
}
func (s *Store) Original(ctx context.Context, sha string) (tl.Original, error) {
	return tl.Original{}, errNotYet
}
func (s *Store) OpenOriginal(ctx context.Context, sha string) (Blob, error) { return nil, errNotYet }
func (s *Store) Photo(ctx context.Context, id tl.ID) (tl.Photo, error)      { return tl.Photo{}, errNotYet }
func (s *Store) PhotoBySHA(ctx context.Context, dog tl.ID, sha string) (tl.Photo, error) {
	return tl.Photo{}, errNotYet
}

// Photos of a dog by local time, then by when they were added; those without a date last.
func (s *Store) Photos(ctx context.Context, dog tl.ID) ([]tl.Photo, error)     { return nil, errNotYet }
func (s *Store) UpdatePhoto(ctx context.Context, p tl.Photo) (tl.Photo, error) { return p, errNotYet }

// UpdatePhotos changes all or none.
func (s *Store) UpdatePhotos(ctx context.Context, ps []tl.Photo) ([]tl.Photo, error) {
	return ps, errNotYet
}

// SaveLandmarks replaces the photo's points.
func (s *Store) SaveLandmarks(ctx context.Context, photo tl.ID, rev tl.Rev, lm tl.Landmarks) (tl.Photo, error) {
	return tl.Photo{}, errNotYet
}

// SetPhotoReady says of every photo of the original that its derivatives exist (trouble "") or why not.
func (s *Store) SetPhotoReady(ctx context.Context, sha, trouble string) error { return errNotYet }
func (s *Store) TrashPhoto(ctx context.Context, id tl.ID) error               { return errNotYet }
func (s *Store) RestorePhoto(ctx context.Context, id tl.ID) error             { return errNotYet }

// PutDerived keeps a derivative; kind is lower-case letters, digits, "-" and "_".
func (s *Store) PutDerived(ctx context.Context, sha, kind string, makerVersion int, b []byte) error {
	return errNotYet
}

// OpenDerived is NotFound where the derivative was not made yet by this version of its maker.
func (s *Store) OpenDerived(ctx context.Context, sha, kind string, makerVersion int) (Blob, error) {
	return nil, errNotYet
}

func (s *Store) CreateSession(ctx context.Context, v tl.Session) (tl.Session, error) {
	return v, errNotYet
}
func (s *Store) Session(ctx context.Context, id tl.ID) (tl.Session, error) {
	return tl.Session{}, errNotYet
}

// Sessions of a dog, oldest first.
func (s *Store) Sessions(ctx context.Context, dog tl.ID) ([]tl.Session, error) { return nil, errNotYet }

// SessionOn is the dog's session of the day (there is at most one), or NotFound.
func (s *Store) SessionOn(ctx context.Context, dog tl.ID, on tl.Day) (tl.Session, error) {
	return tl.Session{}, errNotYet
}
func (s *Store) UpdateSession(ctx context.Context, v tl.Session) (tl.Session, error) {
	return v, errNotYet
}
func (s *Store) TrashSession(ctx context.Context, id tl.ID) error   { return errNotYet }
func (s *Store) RestoreSession(ctx context.Context, id tl.ID) error { return errNotYet }

func (s *Store) AddReadings(ctx context.Context, rs []tl.Reading) ([]tl.Reading, error) {
	return rs, errNotYet
}
func (s *Store) Reading(ctx context.Context, id tl.ID) (tl.Reading, error) {
	return tl.Reading{}, errNotYet
}

// Readings of a dog by day, then zone.
func (s *Store) Readings(ctx context.Context, dog tl.ID) ([]tl.Reading, error) { return nil, errNotYet }
func (s *Store) TrashReading(ctx context.Context, id tl.ID) error              { return errNotYet }
func (s *Store) RestoreReading(ctx context.Context, id tl.ID) error            { return errNotYet }

func (s *Store) CreateShow(ctx context.Context, v tl.Show) (tl.Show, error) { return v, errNotYet }
func (s *Store) Show(ctx context.Context, id tl.ID) (tl.Show, error)        { return tl.Show{}, errNotYet }

// Shows of a dog by day.
func (s *Store) Shows(ctx context.Context, dog tl.ID) ([]tl.Show, error)    { return nil, errNotYet }
func (s *Store) UpdateShow(ctx context.Context, v tl.Show) (tl.Show, error) { return v, errNotYet }
func (s *Store) TrashShow(ctx context.Context, id tl.ID) error              { return errNotYet }
func (s *Store) RestoreShow(ctx context.Context, id tl.ID) error            { return errNotYet }

func (s *Store) CreateLink(ctx context.Context, l tl.Link) (tl.Link, error) { return l, errNotYet }
func (s *Store) Links(ctx context.Context, dog tl.ID) ([]tl.Link, error)    { return nil, errNotYet }
func (s *Store) LinkByHash(ctx context.Context, hash string) (tl.Link, error) {
	return tl.Link{}, errNotYet
}
func (s *Store) WithdrawLink(ctx context.Context, id tl.ID) error { return errNotYet }

func (s *Store) EnqueueJobs(ctx context.Context, jobs ...Job) error { return errNotYet }

// ClaimJob takes the job that is due longest, nil if none is due.
func (s *Store) ClaimJob(ctx context.Context, now time.Time) (*Job, error) { return nil, errNotYet }
func (s *Store) FinishJob(ctx context.Context, id tl.ID) error             { return errNotYet }

// FailJob puts a claimed job back until retryAt; the zero time gives it up for good.
func (s *Store) FailJob(ctx context.Context, id tl.ID, retryAt time.Time, cause error) error {
	return errNotYet
}

// ReleaseJobs gives back what a process that died had claimed.
func (s *Store) ReleaseJobs(ctx context.Context) error { return errNotYet }

// PendingJobs counts jobs that are waiting or being done.
func (s *Store) PendingJobs(ctx context.Context) (int, error) { return 0, errNotYet }

// Woken yields after jobs were enqueued by this Store.
func (s *Store) Woken() <-chan struct{} { return nil }

// Trash lists what is in the trash, newest first.
func (s *Store) Trash(ctx context.Context) ([]Trashed, error) { return nil, errNotYet }
