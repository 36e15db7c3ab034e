package demo

import (
	"bytes"
	"context"
	"math"
	"math/rand/v2"
	"runtime"

	"thatch/imaging/phantom"
	"thatch/server/salon"
	"thatch/timeline"
)

// Options of Build.
type Options struct {
	Photos   int                                         // at least so many on one dog; 0: the story's own
	Progress func(done, total int, what timeline.Phrase) // may be nil
}

// Check refuses options that no salon can be built from.
func (o Options) Check() error {
	if o.Photos < 0 || o.Photos > maxPhotos {
		return timeline.NewFault(timeline.Invalid, "fault.demo.photos", "max", maxPhotos).In("photos")
	}
	return nil
}

// Build fills an empty salon with the story. A salon that has dogs already is left as it is: Conflict.
func Build(ctx context.Context, s *salon.Salon, o Options) error {
	dogs, err := s.Dogs(ctx)
	if err != nil {
		return err
	}
	if len(dogs) > 0 {
		return timeline.NewFault(timeline.Conflict, "fault.demo.not_empty")
	}
	if err := o.Check(); err != nil {
		return err
	}
	settings, err := s.Settings(ctx)
	if err != nil {
		return err
	}
	settings.SalonName = "The Chalk Room"
	if _, err := s.SaveSettings(ctx, settings); err != nil {
		return err
	}
	today, err := s.Today(ctx)
	if err != nil {
		return err
	}
	b := builder{s: s, today: today, progress: o.Progress, roles: cast()}
	if err := b.stage(ctx); err != nil {
		return err
	}
	if err := b.care(ctx); err != nil {
		return err
	}
	return b.shoot(ctx, o.Photos)
}

// maxPhotos keeps a slip of the keyboard from filling the disk.
const maxPhotos = 5000

type builder struct {
	s        *salon.Salon
	today    timeline.Day
	progress func(done, total int, what timeline.Phrase)
	roles    []role
	dogs     []timeline.ID
	truth    []growth
	total    int           // photos to draw and edges to find
	looked   []timeline.ID // photos whose edge somebody has looked at
}

// stage makes dogs, sessions, logs, readings and shows.
func (b *builder) stage(ctx context.Context) error {
	for _, r := range b.roles {
		n := r.start
		n.Answers = r.answersOn(b.today)
		n.Next = b.today + timeline.Day(r.next)
		dog, err := b.s.CreateDog(ctx, n)
		if err != nil {
			return err
		}
		truth, err := truthOf(r, b.today)
		if err != nil {
			return err
		}
		b.dogs, b.truth = append(b.dogs, dog.ID), append(b.truth, truth)
		for i, v := range r.visits {
			if err := b.visit(ctx, dog.ID, truth, i, v); err != nil {
				return err
			}
		}
		for _, sh := range r.shows {
			if _, err := b.s.AddShow(ctx, timeline.Show{Dog: dog.ID, Name: sh.name, On: b.today + timeline.Day(sh.in), Priority: sh.priority, Targets: sh.targets}); err != nil {
				return err
			}
		}
	}
	return nil
}

func (b *builder) visit(ctx context.Context, dog timeline.ID, truth growth, i int, v visit) error {
	day := b.today + timeline.Day(v.day)
	session, err := b.s.OpenSession(ctx, dog, day)
	if err != nil {
		return err
	}
	rng := rand.New(rand.NewPCG(uint64(i), uint64(len(v.measured))))
	lengths := map[timeline.Zone]float64{}
	for _, z := range v.measured {
		const rulerSDMM = 1.0
		mm := truth.lengths(day, false)[z].LongestMM.Median + rng.NormFloat64()*rulerSDMM
		lengths[z] = math.Max(1, math.Round(mm))
	}
	if _, err := b.s.AddReadings(ctx, dog, session.ID, day, lengths, true); err != nil {
		return err
	}
	if v.open {
		return nil
	}
	byZone := v.log()
	edit := salon.SessionEdit{ID: session.ID, Rev: session.Rev, Minutes: v.minutes, Loft: v.loft, Note: v.note, Tolerance: &v.bore, Breaks: &v.breaks}
	for _, z := range timeline.Zones() {
		if w, ok := byZone[z]; ok {
			edit.Work = append(edit.Work, w)
		}
	}
	_, err = b.s.SaveSession(ctx, edit)
	return err
}

// shoot draws the photos on every core, adds them in their order, and leaves their derivatives to the queue.
func (b *builder) shoot(ctx context.Context, least int) error {
	var shots []shot
	for ri, r := range b.roles {
		for vi, v := range r.visits {
			shots = append(shots, shotsOf(r, ri, vi, v, b.truth[ri], b.today)...)
		}
	}
	looked, err := b.measured(shots)
	if err != nil {
		return err
	}
	shots = append(b.album(shots, least), shots...)
	b.total = len(shots) + looked

	results := make([]chan taken, len(shots))
	for i := range results {
		results[i] = make(chan taken, 1)
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	// The tokens bound how far drawing runs ahead of adding: each waiting photo is a megabyte.
	tokens := make(chan struct{}, 2*runtime.NumCPU())
	next := make(chan int)
	go func() {
		defer close(next)
		for i := range shots {
			select {
			case tokens <- struct{}{}:
			case <-ctx.Done():
				return
			}
			select {
			case next <- i:
			case <-ctx.Done():
				return
			}
		}
	}()
	for range runtime.NumCPU() {
		go func() {
			for i := range next {
				results[i] <- takePhoto(b.roles[shots[i].role], shots[i])
			}
		}()
	}
	for i := range shots {
		b.tell(i, b.drawing(shots[i]))
		select {
		case t := <-results[i]:
			<-tokens
			if err := b.add(ctx, t); err != nil {
				return err
			}
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return b.edges(ctx)
}

func (b *builder) tell(done int, what timeline.Phrase) {
	if b.progress != nil {
		b.progress(done, b.total, what)
	}
}

func (b *builder) drawing(s shot) timeline.Phrase {
	return timeline.Say("demo.drawing", "dog", b.roles[s.role].start.Name, "on", s.day)
}

func (b *builder) add(ctx context.Context, t taken) error {
	if t.err != nil {
		return t.err
	}
	added, err := b.s.AddPhoto(ctx, b.dogs[t.role], t.name, bytes.NewReader(t.jpeg), "")
	if err != nil {
		return err
	}
	p, err := b.s.SetPhotoFacts(ctx, added.Photo.ID, added.Photo.Rev, salon.PhotoEdit{Side: t.facing, Facing: t.facing, CoatState: t.state})
	if err != nil || !t.points {
		return err
	}
	if p, err = b.s.SavePoints(ctx, p.ID, p.Rev, tapped(t)); err != nil || t.board == nil {
		return err
	}
	b.looked = append(b.looked, p.ID)
	return b.comb(ctx, t)
}

// album is extra photos of the second dog from before the story, five a week, until she has the least number: for trying
// the program with years of photos.
func (b *builder) album(story []shot, least int) []shot {
	const dog, perDay = 1, 5
	have := 0
	for _, s := range story {
		if s.role == dog {
			have++
		}
	}
	rng := rand.New(rand.NewPCG(9, 9))
	var out []shot
	for day := b.today + timeline.Day(b.roles[dog].answers) - 7; have+len(out) < least; day -= 7 {
		for i := 0; i < perDay && have+len(out) < least; i++ {
			out = append(out, shot{role: dog, visit: -1, day: day, minutes: 10*60 + 2*i, facing: timeline.SideLeft, state: timeline.CoatBrushedDown,
				widthPX: photoWidthPX / 2, seed: rng.Uint64(), coat: phantom.RingReady(14 + float64(rng.IntN(12)))})
		}
	}
	return out
}
