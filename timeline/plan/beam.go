package plan

import (
	"cmp"
	"math"
	"slices"

	"thatch/timeline/coat"
)

// The beam follows a zone whose tree is too large, session by session, and keeps the most promising coats. It may miss
// the best; how much is bounded from outside (relaxed).
const (
	beamWidth = 1500
	beamAlike = 4
)

// step is a node of the beam: a choice in session i after its parent's.
type step struct {
	parent        *step
	choice        choice
	lad           []rung
	ready, useful float64
	total         float64
	usual         bool
}

// likeness is what of a coat decides its readiness now and later: the layers at some of its quantiles.
type likeness struct {
	vis, mid, in, last int16
	lastShare          int16 // of the longest layer, in twentieths
	ready              float64
}

func (s *step) likeness() likeness {
	return likeness{
		vis: at(s.lad, visibleShare), mid: at(s.lad, 0.5), in: at(s.lad, 0.75), last: s.lad[0].born,
		lastShare: int16(math.Round(s.lad[0].share * 20)), ready: s.ready,
	}
}

func (t *task) beam(z *zone) []*sequence {
	level := []*step{{lad: z.start, ready: 1, usual: true}}
	var menu []choice
	for i := range t.sessions {
		var next []*step
		for _, p := range level {
			menu = t.choices(menu[:0], z, p.lad, i, func() []coat.Step { return t.stepsOf(p, i) })
			for k, c := range menu {
				s := &step{parent: p, choice: c, lad: p.lad, total: p.total + c.minutes, usual: p.usual && k == 0}
				if c.kind != leave {
					s.lad = pull(make([]rung, 0, len(p.lad)+1), p.lad, c.share, i)
				}
				r, u := 1.0, 0.0
				if t.decides(z, i) {
					r, u = t.score(z, i, t.stepsOf(s, i+1), s.lad)
				}
				s.ready, s.useful = math.Min(p.ready, r), p.useful+u
				next = append(next, s)
			}
		}
		if level = next; i < len(t.sessions)-1 {
			level = thin(next)
		}
	}
	out := make([]*sequence, 0, len(level))
	for _, s := range level {
		kinds, minutes := make([]kind, len(t.sessions)), make([]float64, len(t.sessions))
		for n, i := s, len(t.sessions)-1; i >= 0; n, i = n.parent, i-1 {
			kinds[i], minutes[i] = n.choice.kind, n.choice.minutes
		}
		q := t.sequence(z, s.ready, s.useful, minutes, kinds)
		out = append(out, q)
		if s.usual { // by agreement the first
			last := len(out) - 1
			out[0], out[last] = out[last], out[0]
		}
	}
	return out
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

// stepsOf lists the pulls of the sessions before n on the way to s.
func (t *task) stepsOf(s *step, n int) []coat.Step {
	var out []coat.Step
	for i := n - 1; i >= 0; s, i = s.parent, i-1 {
		if s.choice.kind != leave {
			out = append(out, stepOf(t.sessions[i], s.choice))
		}
	}
	slices.Reverse(out)
	return out
}

// thin keeps a few of those that look alike, the better ones first, then as many in turn as the beam is wide.
func thin(all []*step) []*step {
	if len(all) <= beamWidth {
		return all
	}
	better := func(a, b *step) int {
		if a.usual != b.usual {
			if a.usual {
				return -1
			}
			return 1
		}
		if c := cmp.Compare(b.ready, a.ready); c != 0 {
			return c
		}
		if c := cmp.Compare(b.useful, a.useful); c != 0 {
			return c
		}
		return cmp.Compare(a.total, b.total)
	}
	slices.SortStableFunc(all, better)
	rank := map[likeness]int{}
	turn := make([][]*step, beamAlike)
	for _, s := range all {
		l := s.likeness()
		if r := rank[l]; r < beamAlike {
			turn[r] = append(turn[r], s)
			rank[l]++
		}
	}
	var out []*step
	for _, t := range turn {
		for _, s := range t {
			if len(out) < beamWidth {
				out = append(out, s)
			}
		}
	}
	return out
}
