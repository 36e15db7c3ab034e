package salon

import (
	"context"
	"errors"
	"io"
	"time"

	"thatch/store"
	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/timeline/plan"
)

var errNotYet = errors.New("salon: being written")

type cache struct{}

func newCache(n int) *cache { return &cache{} }

func zoneOf(v store.Settings) (*time.Location, error) { return nil, errNotYet }

// Settings are the salon's.
func (s *Salon) Settings(ctx context.Context) (store.Settings, error) {
	return store.Settings{}, errNotYet
}

// SaveSettings checks and keeps them.
func (s *Salon) SaveSettings(ctx context.Context, v store.Settings) (store.Settings, error) {
	return v, errNotYet
}

func (s *Salon) CreateDog(ctx context.Context, n NewDog) (timeline.Dog, error) {
	return timeline.Dog{}, errNotYet
}

// UpdateDog replaces everything that people edit of a dog; Rev is checked.
func (s *Salon) UpdateDog(ctx context.Context, d timeline.Dog) (timeline.Dog, error) {
	return d, errNotYet
}

// BookNext sets the dog's next booked day; the zero Day: none.
func (s *Salon) BookNext(ctx context.Context, dog timeline.ID, rev timeline.Rev, on timeline.Day) (timeline.Dog, error) {
	return timeline.Dog{}, errNotYet
}
func (s *Salon) Dog(ctx context.Context, id timeline.ID) (timeline.Dog, error) {
	return timeline.Dog{}, errNotYet
}

// Dogs not in the trash, by name.
func (s *Salon) Dogs(ctx context.Context) ([]timeline.Dog, error) { return nil, errNotYet }

// DogCards are Dogs with what lists show, by next show, then name.
func (s *Salon) DogCards(ctx context.Context) ([]DogCard, error) { return nil, errNotYet }

// FindDog finds a dog by its name (upper and lower case alike) or its ID.
func (s *Salon) FindDog(ctx context.Context, name string) (timeline.Dog, error) {
	return timeline.Dog{}, errNotYet
}
func (s *Salon) TrashDog(ctx context.Context, id timeline.ID) error   { return errNotYet }
func (s *Salon) RestoreDog(ctx context.Context, id timeline.ID) error { return errNotYet }

// AddPhoto takes a photo in: read whole, judged, kept durably, paired with the session of its day. wantSHA "" or the hash
// the sender announced. Where the file is refused, Added still carries the facts that were read.
func (s *Salon) AddPhoto(ctx context.Context, dog timeline.ID, name string, r io.Reader, wantSHA string) (Added, error) {
	return Added{}, errNotYet
}

// CorrectDate sets when a photo was taken, local "2006-01-02T15:04" or with seconds; shiftOthers moves the other photos
// that ShiftCandidates names by the same difference. All that changed is returned, the photo first.
func (s *Salon) CorrectDate(ctx context.Context, photo timeline.ID, rev timeline.Rev, local string, shiftOthers bool) ([]timeline.Photo, error) {
	return nil, errNotYet
}

// ShiftCandidates are the dog's other photos of the same camera whose clock was probably wrong by as much.
func (s *Salon) ShiftCandidates(ctx context.Context, photo timeline.ID) ([]timeline.Photo, error) {
	return nil, errNotYet
}
func (s *Salon) SetPhotoFacts(ctx context.Context, photo timeline.ID, rev timeline.Rev, e PhotoEdit) (timeline.Photo, error) {
	return timeline.Photo{}, errNotYet
}

// OpenSessionForPhoto opens the session of the photo's day (or finds it) and pairs the photos of that day with it.
func (s *Salon) OpenSessionForPhoto(ctx context.Context, photo timeline.ID) (timeline.Session, error) {
	return timeline.Session{}, errNotYet
}

// PairPhoto pairs a photo with a session of its dog; session "" unpairs it.
func (s *Salon) PairPhoto(ctx context.Context, photo timeline.ID, rev timeline.Rev, session timeline.ID) (timeline.Photo, error) {
	return timeline.Photo{}, errNotYet
}
func (s *Salon) Photo(ctx context.Context, id timeline.ID) (timeline.Photo, error) {
	return timeline.Photo{}, errNotYet
}
func (s *Salon) TrashPhoto(ctx context.Context, id timeline.ID) error   { return errNotYet }
func (s *Salon) RestorePhoto(ctx context.Context, id timeline.ID) error { return errNotYet }

// SavePoints replaces the photo's points, px of the upright original; empty removes them.
func (s *Salon) SavePoints(ctx context.Context, photo timeline.ID, rev timeline.Rev, lm timeline.Landmarks) (timeline.Photo, error) {
	return timeline.Photo{}, errNotYet
}
func (s *Salon) ProposePoints(ctx context.Context, photo timeline.ID) (Proposal, error) {
	return Proposal{}, errNotYet
}

// Picture opens a size of a photo; a derivative that was not made yet is made now.
func (s *Salon) Picture(ctx context.Context, photo timeline.ID, kind PictureKind) (Picture, error) {
	return Picture{}, errNotYet
}

// AlignedPicture is photo laid over ref, at ref's view size.
func (s *Salon) AlignedPicture(ctx context.Context, photo, ref timeline.ID) (Picture, error) {
	return Picture{}, errNotYet
}

// OpenSession is the dog's session of the day, made where there is none; waiting photos of that local day are paired.
func (s *Salon) OpenSession(ctx context.Context, dog timeline.ID, on timeline.Day) (timeline.Session, error) {
	return timeline.Session{}, errNotYet
}
func (s *Salon) SaveSession(ctx context.Context, e SessionEdit) (timeline.Session, error) {
	return timeline.Session{}, errNotYet
}
func (s *Salon) Session(ctx context.Context, id timeline.ID) (timeline.Session, error) {
	return timeline.Session{}, errNotYet
}
func (s *Salon) TrashSession(ctx context.Context, id timeline.ID) error   { return errNotYet }
func (s *Salon) RestoreSession(ctx context.Context, id timeline.ID) error { return errNotYet }

// LogGroup logs the same line for every zone of a group, in place of what was there for these zones.
func LogGroup(work []timeline.ZoneWork, g timeline.Group, line timeline.ZoneWork) []timeline.ZoneWork {
	return work
}

// AddReadings keeps ruler readings of the longest hair, mm. A reading far from what is expected is doubted first:
// nothing is stored until the call is made again with confirmed. session "" : the session of that day, if there is one.
func (s *Salon) AddReadings(ctx context.Context, dog, session timeline.ID, on timeline.Day, lengthMM map[timeline.Zone]float64, confirmed bool) (ReadingsAdded, error) {
	return ReadingsAdded{}, errNotYet
}
func (s *Salon) Readings(ctx context.Context, dog timeline.ID) ([]timeline.Reading, error) {
	return nil, errNotYet
}
func (s *Salon) TrashReading(ctx context.Context, id timeline.ID) error   { return errNotYet }
func (s *Salon) RestoreReading(ctx context.Context, id timeline.ID) error { return errNotYet }

// AddShow keeps a show of the future; the show's ID and Rev are given by the store.
func (s *Salon) AddShow(ctx context.Context, v timeline.Show) (timeline.Show, error) {
	return v, errNotYet
}
func (s *Salon) UpdateShow(ctx context.Context, v timeline.Show) (timeline.Show, error) {
	return v, errNotYet
}
func (s *Salon) Shows(ctx context.Context, dog timeline.ID) ([]timeline.Show, error) {
	return nil, errNotYet
}
func (s *Salon) TrashShow(ctx context.Context, id timeline.ID) error   { return errNotYet }
func (s *Salon) RestoreShow(ctx context.Context, id timeline.ID) error { return errNotYet }

// CoatFile is what the model and the plan know of the dog today.
func (s *Salon) CoatFile(ctx context.Context, dog timeline.ID) (coat.File, error) {
	return coat.File{}, errNotYet
}

// Forecast is what to expect on a day, from all that is known today.
func (s *Salon) Forecast(ctx context.Context, dog timeline.ID, on timeline.Day) (coat.Forecast, error) {
	return coat.Forecast{}, errNotYet
}

// Plan plans back from the dog's shows; without a show or a session day to come it is Invalid.
func (s *Salon) Plan(ctx context.Context, dog timeline.ID) (plan.Plan, error) {
	return plan.Plan{}, errNotYet
}
func (s *Salon) Chart(ctx context.Context, dog timeline.ID, zone timeline.Zone) (Chart, error) {
	return Chart{}, errNotYet
}

// Timeline is the dog's history.
func (s *Salon) Timeline(ctx context.Context, dog timeline.ID) (Timeline, error) {
	return Timeline{}, errNotYet
}

// Compare lays photo b over photo a; both are of one dog.
func (s *Salon) Compare(ctx context.Context, a, b timeline.ID) (Comparison, error) {
	return Comparison{}, errNotYet
}

// Overlay is the lines of the photo's own day on it.
func (s *Salon) Overlay(ctx context.Context, photo timeline.ID) (Overlay, error) {
	return Overlay{}, errNotYet
}
func (s *Salon) HomePage(ctx context.Context) (Home, error) { return Home{}, errNotYet }
func (s *Salon) DogPage(ctx context.Context, dog timeline.ID) (DogPage, error) {
	return DogPage{}, errNotYet
}
func (s *Salon) SessionPage(ctx context.Context, session timeline.ID) (SessionPage, error) {
	return SessionPage{}, errNotYet
}
func (s *Salon) PhotoPage(ctx context.Context, photo timeline.ID) (PhotoPage, error) {
	return PhotoPage{}, errNotYet
}
func (s *Salon) PlanPage(ctx context.Context, dog timeline.ID) (PlanPage, error) {
	return PlanPage{}, errNotYet
}

// MakeLink makes a client's page; the token is told once and only its hash is kept.
func (s *Salon) MakeLink(ctx context.Context, dog timeline.ID, forWhom string) (token string, l timeline.Link, err error) {
	return "", timeline.Link{}, errNotYet
}
func (s *Salon) Links(ctx context.Context, dog timeline.ID) ([]timeline.Link, error) {
	return nil, errNotYet
}
func (s *Salon) WithdrawLink(ctx context.Context, id timeline.ID) error { return errNotYet }

// SharedPage is the client's page; unknown, expired and withdrawn tokens are the same NotFound.
func (s *Salon) SharedPage(ctx context.Context, token string) (SharedPage, error) {
	return SharedPage{}, errNotYet
}

// SharedPicture is a picture of that page: thumb or view only, only of that dog.
func (s *Salon) SharedPicture(ctx context.Context, token string, photo timeline.ID, kind PictureKind) (Picture, error) {
	return Picture{}, errNotYet
}

// SharedAligned is the page's After laid over its Before.
func (s *Salon) SharedAligned(ctx context.Context, token string) (Picture, error) {
	return Picture{}, errNotYet
}

// Trash lists what was put aside, newest first.
func (s *Salon) Trash(ctx context.Context) ([]TrashItem, error) { return nil, errNotYet }

// Restore takes a thing out of the trash.
func (s *Salon) Restore(ctx context.Context, kind string, id timeline.ID) error { return errNotYet }

// RunJob does a piece of queued work; doing it twice does no harm.
func (s *Salon) RunJob(ctx context.Context, job store.Job) error { return errNotYet }
