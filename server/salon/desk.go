package salon

import (
	"context"
	"fmt"
	"runtime/debug"
	"slices"
	"sync"
	"time"

	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/timeline/plan"
)

// outlook is what is worked out of a dog: her plan and what to expect today. It takes a third of a second.
type outlook struct {
	plan      *plan.Plan
	planFault *timeline.Fault // why there is no plan
	forecast  coat.Forecast   // on today
	worst     *ZoneVerdict    // of the plan
	changed   *PlanChange     // what the newest log and readings changed in the plan
	morning   *plan.Session   // today's sheet, of a dog that is on the table today; nil: nothing planned
	key       string          // of the record that it was worked out from
}

// desk works out outlooks one after the other, so that a salon with many people at once stays quick: who finds the line
// short waits for the answer; who finds it long is given the one before it, and told so.
type desk struct {
	mu      sync.Mutex
	done    map[timeline.ID]*outlook // the newest of each dog
	tasks   map[timeline.ID]*task
	line    []timeline.ID // whose turn comes when; those who are waited for go first
	working bool
	asked   int // times since the last one was worked out
	crowd   crowd
	called  chan struct{} // somebody began to wait
	after   func(time.Duration) <-chan time.Time
	now     func() time.Time // for counting, not of the salon
}

type task struct {
	key     string
	workOut func() (*outlook, error)
	waiting int
	ready   chan struct{} // closed when it is done
	out     *outlook
	err     error
}

const (
	deskPatience = 3  // so many in the line are waited for
	deskBusy     = 20 // so many asking in a second are many
	deskCrowd    = 10 // and so many that find nothing worked out yet: one groomer makes one or two
	deskRest     = 2 * time.Second
	deskMemory   = 2000 // outlooks; one is about 50 kB
)

func newDesk() *desk {
	return &desk{done: map[timeline.ID]*outlook{}, tasks: map[timeline.ID]*task{}, called: make(chan struct{}, 1), after: time.After, now: time.Now}
}

// glance is how long a list of dogs is kept waiting: for the outlook of one that has none yet, and for a newer one.
type glance struct{ first, newer context.Context }

// ask is the outlook by key, or, late, the last one of that dog while the line is long. Where there is none yet it is waited
// for all the same; but who only glances (g not nil) is then given nil, and in any case when the glance ends. What was
// asked for is worked out in any case.
func (d *desk) ask(ctx context.Context, dog timeline.ID, key string, g *glance, workOut func() (*outlook, error)) (o *outlook, late bool, err error) {
	d.mu.Lock()
	d.asked++
	last := d.done[dog]
	if last != nil && last.key == key {
		d.mu.Unlock()
		return last, false, nil
	}
	if g == nil { // a list asks for all its dogs at once
		d.crowd.one(d.now())
	}
	t := d.tasks[dog]
	if t == nil {
		t = &task{ready: make(chan struct{})}
		d.tasks[dog] = t
		d.line = append(d.line, dog)
	}
	t.key, t.workOut = key, workOut // newer than what stood in the line: those who wait get the newer answer
	if !d.working {
		d.working = true
		go d.work()
	}
	if len(d.line) > deskPatience && (last != nil || g != nil) {
		d.mu.Unlock()
		return last, true, nil
	}
	t.waiting++
	select {
	case d.called <- struct{}{}:
	default:
	}
	d.mu.Unlock()
	var enough <-chan struct{}
	switch {
	case g != nil && last != nil:
		enough = g.newer.Done()
	case g != nil:
		enough = g.first.Done()
	}
	select {
	case <-t.ready:
		return t.out, false, t.err
	case <-enough:
		o, late = last, true
	case <-ctx.Done():
		err = ctx.Err()
	}
	d.mu.Lock()
	t.waiting--
	d.mu.Unlock()
	return o, late, err
}

func (d *desk) work() {
	for {
		d.mu.Lock()
		if len(d.line) == 0 {
			d.working = false
			d.mu.Unlock()
			return
		}
		at := max(0, slices.IndexFunc(d.line, func(id timeline.ID) bool { return d.tasks[id].waiting > 0 }))
		dog := d.line[at]
		t := d.tasks[dog]
		d.line = slices.Delete(d.line, at, at+1)
		delete(d.tasks, dog)
		d.asked = 0
		select {
		case <-d.called: // whoever waits was looked for just now
		default:
		}
		d.mu.Unlock()

		began := time.Now()
		out, err := t.safely()

		d.mu.Lock()
		t.out, t.err = out, err
		if err == nil {
			if len(d.done) >= deskMemory {
				for id := range d.done { // any: it is worked out again when it is asked for
					delete(d.done, id)
					break
				}
			}
			d.done[dog] = out
		}
		close(t.ready)
		rest := time.Duration(0)
		if len(d.line) > deskPatience && !slices.ContainsFunc(d.line, func(id timeline.ID) bool { return d.tasks[id].waiting > 0 }) {
			// What nobody waits for takes half the time; where many ask meanwhile, a seventh.
			took := time.Since(began)
			rest = took
			if float64(d.asked) > deskBusy*took.Seconds() {
				rest = min(6*took, deskRest)
			}
		}
		d.mu.Unlock()
		if rest > 0 {
			select {
			case <-d.after(rest):
			case <-d.called: // who waits does not wait for the rest
			}
		}
	}
}

// busy reports whether many have asked in the last second or two for what must be worked out: then learning, the longest
// part of it, may not take the whole machine.
func (d *desk) busy() bool { return d.crowd.many(d.now()) }

// pace is that of learning: while the desk is busy half of one core.
type pace struct{ desk *desk }

// longestRest bounds a rest: on a machine that is full a piece of work takes longer by the clock than by itself.
const longestRest = 20 * time.Millisecond

func (p pace) Busy() bool { return p.desk.busy() }

func (p pace) Do(piece func()) (rest func()) {
	began := p.desk.now()
	piece()
	took := min(p.desk.now().Sub(began), longestRest)
	return func() {
		if p.desk.busy() {
			<-p.desk.after(took)
		}
	}
}

// crowd counts how many ask, by whole seconds of the clock.
type crowd struct {
	mu        sync.Mutex
	second    int64
	now, last int // in this second and in the one before
}

func (c *crowd) one(at time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.turn(at.Unix())
	c.now++
}

func (c *crowd) many(at time.Time) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.turn(at.Unix())
	return max(c.now, c.last) > deskCrowd
}

func (c *crowd) turn(second int64) {
	switch second - c.second {
	case 0:
	case 1:
		c.now, c.last = 0, c.now
	default:
		c.now, c.last = 0, 0
	}
	c.second = second
}

// safely turns a panic into an error: it would end the program here, where no request stands around it.
func (t *task) safely() (out *outlook, err error) {
	defer func() {
		if v := recover(); v != nil {
			err = fmt.Errorf("outlook: %v\n%s", v, debug.Stack())
		}
	}()
	return t.workOut()
}

// outlookOf is the outlook of a dog as she is known; late: it is of before the newest change.
func (s *Salon) outlookOf(ctx context.Context, k *record, g *glance) (o *outlook, late bool, err error) {
	return s.desk.ask(ctx, k.dog.ID, k.key, g, func() (*outlook, error) { return s.workOut(k) })
}

func (s *Salon) workOut(k *record) (*outlook, error) {
	o := &outlook{key: k.key}
	p, err := s.planOf(k.file, k.shortFirst(k.file))
	switch fault := faultOf(err); {
	case err == nil:
		o.plan, o.worst = &p, worst(&p)
	case fault != nil && fault.Kind == timeline.Invalid:
		o.planFault = fault // that there is no plan is an answer, not a failure of the page
	default:
		return nil, err
	}
	if o.changed, err = s.changed(whole{record: k, outlook: o}); err != nil {
		return nil, err
	}
	if k.comes(k.today) || k.sessionOn(k.today) != nil {
		if o.morning, _, err = s.plannedOn(k.history, k.today); err != nil {
			return nil, err
		}
	}
	o.forecast, err = s.todays(k.history)
	return o, err
}

// Mark changes with everything that the pages of a dog are made of.
func (s *Salon) Mark(ctx context.Context, dog timeline.ID) (string, error) {
	w, err := s.whole(ctx, dog)
	if err != nil {
		return "", err
	}
	return fmt.Sprint(w.record.key, "|", w.outlook.key, "|", w.late), nil
}

// DogOfPhoto is whose photo it is.
func (s *Salon) DogOfPhoto(ctx context.Context, photo timeline.ID) (timeline.ID, error) {
	return s.st.DogOfPhoto(ctx, photo)
}

// DogOfSession is whose session it is.
func (s *Salon) DogOfSession(ctx context.Context, session timeline.ID) (timeline.ID, error) {
	return s.st.DogOfSession(ctx, session)
}
