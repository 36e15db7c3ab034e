package plan

import (
	"cmp"
	"math"
	"runtime"
	"slices"
	"sync"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// sequence is what is done to one zone over all sessions, with all that the choice between sequences depends on.
type sequence struct {
	ready   float64   // at the worst show
	useful  float64   // weighted sum of readiness over shows and hold days
	total   float64   // minutes
	minutes []float64 // one a session
	mask    uint64    // sessions (mod 64) with work
	kinds   []kind    // one a session
}

// Budgets of the search. Where one is used up the plan says how far from the best it can be (Gap).
const (
	nodeBudget = 24_000 // nodes of one zone's tree
	keepBudget = 1_200  // sequences of one zone kept for the choice between zones
)

// options are a zone's sequences worth choosing from.
type options struct {
	list       []*sequence
	best       float64 // readiness if the zone alone mattered
	bestBound  float64 // proven bound of best, equal to it where all sequences were seen
	usefulMost float64 // proven bound of useful
	complete   bool
	usual      *sequence // leave, and what is compelled
}

// tree walks one zone's sequences.
type tree struct {
	t       *task
	z       *zone
	nodes   int
	limit   int // nodes allowed
	cut     bool
	lads    [][]rung
	menus   [][]choice
	steps   []coat.Step
	kinds   []kind
	minutes []float64
	found   []*sequence
}

func (t *task) options(z *zone) options {
	n := len(t.sessions)
	w := &tree{
		t: t, z: z, limit: nodeBudget,
		lads: make([][]rung, n+1), menus: make([][]choice, n), kinds: make([]kind, n), minutes: make([]float64, n),
	}
	w.lads[0] = slices.Clone(z.start)
	w.walk(0, 1, 0)
	if w.cut {
		w.found = t.beam(z)
	}
	o := options{complete: !w.cut, usual: w.found[0]}
	o.list = undominated(w.found)
	for _, s := range w.found {
		o.best = max(o.best, s.ready)
		o.usefulMost = max(o.usefulMost, s.useful)
	}
	o.bestBound = o.best
	if w.cut {
		o.bestBound, o.usefulMost = t.relaxed(z)
	}
	return o
}

// walk tries every admissible choice in session i. ready and useful are of the shows and hold days before it.
func (w *tree) walk(i int, ready, useful float64) {
	if w.cut {
		return
	}
	if w.nodes++; w.nodes > w.limit {
		w.cut = true
		return
	}
	t, z := w.t, w.z
	if i == len(t.sessions) {
		w.keep(ready, useful)
		return
	}
	lad := w.lads[i]
	menu := t.choices(w.menus[i][:0], z, lad, i, func() []coat.Step { return w.steps })
	w.menus[i] = menu
	for _, c := range menu {
		steps := w.steps
		if c.kind == leave {
			w.lads[i+1] = append(w.lads[i+1][:0], lad...)
		} else {
			w.lads[i+1] = pull(w.lads[i+1], lad, c.share, i)
			w.steps = append(w.steps, coat.Step{On: t.sessions[i], Do: c.work(), Share: c.share})
		}
		w.kinds[i], w.minutes[i] = c.kind, c.minutes
		r, u := t.score(z, i, w.steps, w.lads[i+1])
		w.walk(i+1, math.Min(ready, r), useful+u)
		w.steps = steps
	}
}

// choices are what the zone may be given in session i, the usual course first: leave; or, as legs give a little of the
// longest at every session where their band, the rules and the minutes allow it, the least pull instead of leaving.
func (t *task) choices(dst []choice, z *zone, lad []rung, i int, steps func() []coat.Step) []choice {
	dst = t.pulls(append(dst, choice{}), z, lad, i)
	if !z.little() || t.lifted[i] || len(dst) < 2 {
		return dst
	}
	least := 1
	for k := 2; k < len(dst); k++ {
		if dst[k].share < dst[least].share {
			least = k
		}
	}
	little := dst[least]
	if little.share > timeline.ShareFew+shareEps {
		return dst
	}
	after := append(slices.Clip(steps()), stepOf(t.sessions[i], little))
	if !t.longEnough(z, t.nextShow(t.sessions[i]), after, pull(nil, lad, little.share, i)) {
		return dst
	}
	dst[0] = little
	return slices.Delete(dst, least, least+1)
}

// score is what the coat after session i decides: the shows and hold days before the next
// session. ready is 1 where nothing is decided.
func (t *task) score(z *zone, i int, steps []coat.Step, lad []rung) (ready, useful float64) {
	ready = 1
	for h, s := range t.shows {
		if s.before != i || !z.banded[h] {
			continue
		}
		r := z.ready(h, s.on, z.targets[h], steps, lad)
		ready, useful = math.Min(ready, r), useful+s.weight*r
	}
	for k, hd := range z.hold {
		if hd.session == i {
			useful += hd.weight * z.ready(-1-k, hd.on, z.targets[hd.show], steps, lad)
		}
	}
	return ready, useful
}

// early is the part of the score that no session can change: shows and hold days before the first.
func (t *task) early(z *zone) (ready, useful float64) { return t.score(z, -1, nil, z.start) }

func (w *tree) keep(ready, useful float64) {
	w.found = append(w.found, w.t.sequence(w.z, ready, useful, slices.Clone(w.minutes), slices.Clone(w.kinds)))
}

func (t *task) sequence(z *zone, ready, useful float64, minutes []float64, kinds []kind) *sequence {
	r, u := t.early(z)
	s := &sequence{ready: math.Min(ready, r), useful: useful + u, minutes: minutes, kinds: kinds}
	for i, m := range s.minutes {
		s.total += m
		if m > 0 {
			s.mask |= 1 << (i % 64)
		}
	}
	return s
}

// relaxed bounds what no sequence of the zone can pass: at each show the best that any single layer could do.
func (t *task) relaxed(z *zone) (ready, useful float64) {
	ready = 1
	bound := func(on timeline.Day, h, last int) float64 {
		target := z.targets[h]
		// The layer that makes "enough in hair" lies behind the visible one and is no older: nothing is lost by taking them
		// to be the same, but for layers of today, which are taken to be out.
		out := target
		target.InHair = 0
		if out.InHair < visibleShare {
			out.InHair = 0
		}
		ask := func(target coat.Target, steps ...coat.Step) float64 {
			return clamp01(z.model.Readiness(steps, on, target))
		}
		best := ask(target)
		// Each layer of today in turn: on the day before, pull as much of the longer hair as makes it the visible one.
		eve := on - 1
		longer := 0.0
		for _, r := range z.start {
			if share := longer + r.share/2 - visibleShare; share > 0 {
				best = max(best, ask(target, coat.Step{On: eve, Do: timeline.Take, Share: share}))
			}
			longer += r.share
		}
		// Each session's hair: everything pulled then. What is not out that day cannot be and stays as the longest; then
		// as much of it as hides the session's hair is pulled on the day before.
		for i := 0; i <= last; i++ {
			if z.open[i] != isOpen {
				continue
			}
			all := coat.Step{On: t.sessions[i], Do: timeline.Strip, Share: 1}
			best = max(best, ask(out, all))
			stays := 0.0
			for _, r := range z.start {
				if int(t.sessions[i]-t.bornOn(z, r.born)) <= z.lagDays+1 {
					stays += r.share
				}
			}
			if stays > 0 && eve > t.sessions[i] {
				best = max(best, ask(target, all, coat.Step{On: eve, Do: timeline.Take, Share: stays + (1-stays)/2 - visibleShare}))
			}
		}
		return best
	}
	for h, s := range t.shows {
		if z.banded[h] {
			b := bound(s.on, h, s.before)
			ready, useful = math.Min(ready, b), useful+s.weight*b
		}
	}
	for _, hd := range z.hold {
		useful += hd.weight * bound(hd.on, hd.show, hd.session)
	}
	return ready, useful
}

// dominates: as good in every respect that counts.
func (s *sequence) dominates(o *sequence) bool {
	if s.mask&^o.mask != 0 || s.ready < o.ready || s.useful < o.useful {
		return false
	}
	for i, m := range s.minutes {
		if m > o.minutes[i] {
			return false
		}
	}
	return true
}

// byMinutes orders sequences: least minutes first, then the better, then the one that works earlier.
func byMinutes(a, b *sequence) int {
	if c := cmp.Compare(a.total, b.total); c != 0 {
		return c
	}
	if c := cmp.Compare(b.ready, a.ready); c != 0 {
		return c
	}
	if c := cmp.Compare(b.useful, a.useful); c != 0 {
		return c
	}
	return slices.Compare(b.kinds, a.kinds)
}

// undominated drops every sequence that another one replaces at no loss.
func undominated(all []*sequence) []*sequence {
	slices.SortFunc(all, byMinutes)
	var kept []*sequence
next:
	for _, s := range all {
		for _, k := range kept {
			if k.dominates(s) {
				continue next
			}
		}
		kept = append(kept, s)
	}
	return kept
}

// allOptions builds every zone's options, on all cores; the result does not depend on their number.
func (t *task) allOptions() []options {
	out := make([]options, len(t.zones))
	var wg sync.WaitGroup
	slots := make(chan struct{}, max(1, runtime.GOMAXPROCS(0)))
	for i, z := range t.zones {
		wg.Add(1)
		go func() {
			defer wg.Done()
			slots <- struct{}{}
			out[i] = t.options(z)
			<-slots
		}()
	}
	wg.Wait()
	return out
}
