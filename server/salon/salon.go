package salon

import (
	"context"
	"sync"
	"time"

	"thatch/store"
	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/timeline/plan"
)

// Options carry what the salon cannot know by itself.
type Options struct {
	Now func() time.Time // the present; nil: time.Now
}

// Salon is every use case over one data folder. It is safe for concurrent use.
type Salon struct {
	st        *store.Store
	now       func() time.Time
	lessons   *coat.Memory
	models    *memo[*coat.Model]
	forecasts *memo[coat.Forecast]
	plans     *memo[plan.Plan]
	grips     *memo[map[timeline.Zone]int]
	charts    *memo[chartLines]
	depths    *memo[*photoDepths]
	dogs      *memo[*record]
	albums    *memo[*album]
	desk      *desk
	deriving  turns         // of an original, by its hash
	pixels    chan struct{} // one pair of views laid over each other at a time
	looking   turns         // one photo at full size at a time; its only key is ""
	finder    *finder       // one small picture of a held camera at a time
	pairing   sync.Mutex    // proposals of phase are made one after the other
	backups   backups
	once      turns // of a request, by the key that its device made
	*door
}

// New makes the use cases over an open store; the store stays the caller's to close.
func New(st *store.Store, opt Options) *Salon {
	now := opt.Now
	if now == nil {
		now = time.Now
	}
	s := &Salon{
		st: st, now: now, pixels: make(chan struct{}, 1),
		lessons: coat.NewMemory(256), models: newMemo[*coat.Model](16), forecasts: newMemo[coat.Forecast](8192), plans: newMemo[plan.Plan](1024),
		grips: newMemo[map[timeline.Zone]int](1024), charts: newMemo[chartLines](4096), depths: newMemo[*photoDepths](8), dogs: newMemo[*record](256), albums: newMemo[*album](256), desk: newDesk(), finder: newFinder(),
		door: newDoor(now),
	}
	s.lessons.Pace = pace{s.desk}
	return s
}

// Now is the present instant, UTC.
func (s *Salon) Now() time.Time { return s.now().UTC() }

// Zone is the salon's time zone.
func (s *Salon) Zone(ctx context.Context) (*time.Location, error) {
	set, err := s.Settings(ctx)
	if err != nil {
		return nil, err
	}
	return zoneOf(set)
}

// Today is the civil day in the salon's zone.
func (s *Salon) Today(ctx context.Context) (timeline.Day, error) {
	zone, err := s.Zone(ctx)
	if err != nil {
		return 0, err
	}
	return timeline.DayOf(s.now().In(zone)), nil
}
