package coat

import (
	"sync"

	"thatch/timeline"
)

// span is one layer on one day, ready to be evaluated at every node.
type span struct {
	n          *nodes
	curve      Curve
	plateau    bool
	by         []span // of a dog forecast by several laws: the same by each of the zone's curves
	season     Season
	seasonal   bool
	known      bool
	len0       float64
	pulled     float64 // time of day pulled
	clock      float64 // season clock of the day asked for
	unitsKnown float64 // season units since today, for a known layer
	cuts       []cutSpan
}

type cutSpan struct{ mm, units float64 }

func (z *ZoneModel) span(l layer, cuts []cut, on timeline.Day) span {
	s := z.spanBy(z.curve, l, cuts, on)
	for _, c := range z.curves {
		s.by = append(s.by, z.spanBy(c, l, cuts, on))
	}
	return s
}

func (z *ZoneModel) spanBy(c Curve, l layer, cuts []cut, on timeline.Day) span {
	s := span{n: z.nodes, curve: c, season: z.season, known: l.known, len0: l.len0, pulled: l.pulled.T(), clock: z.season.clock(on.T())}
	_, s.plateau = c.(Plateau)
	s.seasonal = z.season.Alpha != 0 || z.season.Beta != 0
	if l.known {
		s.unitsKnown = z.season.Units(z.today.T(), on.T())
	}
	for _, c := range cuts {
		// A cut before the hair was pulled is gone with it; one before today is already in a known length.
		if c.on < l.pulled || c.on > on || (l.known && c.on < z.today) {
			continue
		}
		s.cuts = append(s.cuts, cutSpan{c.mm, z.season.Units(c.on.T(), on.T())})
	}
	return s
}

func (s *span) length(i int) float64 {
	if s.by != nil {
		s = &s.by[s.n.law[i]]
	}
	return s.lengthFrom(s.n.rate[i], s.units(s.n.lag[i]), s.n.full[i])
}

// units is the growing time of the hair at a lag, in season units; not out yet where ≤ 0, except for a known layer.
func (s *span) units(lag float64) float64 {
	switch {
	case s.known:
		return s.unitsKnown
	case s.seasonal:
		return s.clock - s.season.clock(s.pulled+lag)
	}
	return s.clock - s.pulled - lag
}

// lengthFrom is the layer's length, mm, at one value of the parameters.
func (s *span) lengthFrom(rate, units, full float64) float64 {
	var l float64
	switch {
	case s.known:
		l = s.curve.Length(s.len0, rate, full, units)
	case units <= 0:
		return 0
	case s.plateau:
		l = min(full, rate*units)
	default:
		l = s.curve.Length(0, rate, full, units)
	}
	for _, c := range s.cuts {
		l = min(l, s.curve.Length(c.mm, rate, full, c.units))
	}
	return l
}

// medianLength is a layer's length at the median parameters.
func (z *ZoneModel) medianLength(l layer, cuts []cut, on timeline.Day) float64 {
	s := z.span(l, cuts, on)
	return s.lengthFrom(z.median.rate, s.units(z.median.lag), z.median.full)
}

// outBy reports whether the layer's hair is out on the day (median parameters).
func (z *ZoneModel) outBy(l layer, on timeline.Day) bool {
	if l.known {
		return l.pulled < on
	}
	return l.pulled.T()+z.median.lag < on.T()
}

// measures are what a hand and an eye would find at one value of the parameters; lengths in mm, inHair a share.
type measures struct{ longest, visible, mean, inHair float64 }

// bundle is all layers of a state on one day.
type bundle struct {
	spans  []span
	shares []float64
	mixed  bool
	len    []float64
	order  []int
}

func (s State) bundle(on timeline.Day) *bundle {
	b := &bundle{mixed: s.mixed, len: make([]float64, len(s.layers)), order: make([]int, len(s.layers))}
	for _, l := range s.layers {
		b.spans = append(b.spans, s.z.span(l, s.cuts, on))
		b.shares = append(b.shares, l.share)
	}
	return b
}

func (b *bundle) measure(i int) measures {
	var m measures
	for k := range b.spans {
		l := b.spans[k].length(i)
		b.len[k], b.order[k] = l, k
		m.longest = max(m.longest, l)
		m.mean += l * b.shares[k]
		if l > 0 {
			m.inHair += b.shares[k]
		}
	}
	m.inHair = min(m.inHair, 1)
	if b.mixed { // insertion sort: layers are few
		for j := 1; j < len(b.order); j++ {
			for k := j; k > 0 && b.len[b.order[k]] > b.len[b.order[k-1]]; k-- {
				b.order[k], b.order[k-1] = b.order[k-1], b.order[k]
			}
		}
	}
	cum := 0.0
	for _, k := range b.order {
		cum += b.shares[k]
		if cum >= visibleShare-shareEps {
			m.visible = b.len[k]
			break
		}
	}
	return m
}

// readinessKey names a readiness by all that it depends on, so that a search pays for each once.
type readinessKey struct {
	v, q, on       timeline.Day
	vKnown, qKnown bool
	len0           float64
	t              Target
}

// memo remembers readiness; it forgets everything when full, so that memory stays bounded.
type memo struct {
	mu sync.RWMutex
	m  map[readinessKey]float64
}

const memoMax = 1 << 16

func (m *memo) get(k readinessKey) (float64, bool) {
	m.mu.RLock()
	v, ok := m.m[k]
	m.mu.RUnlock()
	return v, ok
}

func (m *memo) put(k readinessKey, v float64) {
	m.mu.Lock()
	if m.m == nil || len(m.m) >= memoMax {
		m.m = make(map[readinessKey]float64)
	}
	m.m[k] = v
	m.mu.Unlock()
}
