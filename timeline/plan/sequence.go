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

// keepBudget is how many sequences of one zone are kept for the choice between zones.
const keepBudget = 1_200

// options are a zone's sequences worth choosing from.
type options struct {
	list       []*sequence // where not complete: those that are known
	graph      *graph      // nil where all that is worth choosing is in the list
	best       float64     // readiness if the zone alone mattered
	bestBound  float64     // proven bound of best, equal to it where the zone was seen whole
	usefulMost float64     // proven bound of useful
	complete   bool        // list holds all that is worth choosing
	usual      *sequence   // leave, and what is compelled
}

func (t *task) options(z *zone) options {
	g := t.graph(z, usualBreadth)
	o := options{usual: g.usual(t, z)}
	o.best, o.usefulMost = g.most()
	o.bestBound = o.best
	if g.thin {
		o.bestBound, o.usefulMost = t.relaxed(z)
	} else if g.paths() <= countPaths {
		o.list, o.complete = undominated(g.all(t, z)), true
		return o
	}
	o.graph, o.list = g, []*sequence{o.usual}
	return o
}

// decides reports whether anything is scored after session i.
func (t *task) decides(z *zone, i int) bool {
	for _, s := range t.shows {
		if s.before == i {
			return true
		}
	}
	return slices.ContainsFunc(z.hold, func(h holdDay) bool { return h.session == i })
}

// compels: a little is due from the zone in session i, if the minutes hold a few of the longest. A layer may be less than
// that; it is compelled only where a few would be, so that what is compelled of all zones together always fits.
func (t *task) compels(z *zone, i int) bool {
	return z.little() && t.time(z, z.takeMinutes(timeline.ShareFew), i)
}

// choices are what the zone may be given in session i, the usual course first: leave; or, as legs give a little of the
// longest at every session where their band, the rules and the minutes allow it, the least pull instead of leaving.
func (t *task) choices(dst []choice, z *zone, lad []rung, i int, steps func() []coat.Step) []choice {
	dst = t.pulls(append(dst, choice{}), z, lad, i)
	if len(dst) < 2 || !t.compels(z, i) || t.lifted[i] {
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
