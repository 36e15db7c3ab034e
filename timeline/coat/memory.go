package coat

import (
	"container/list"
	"crypto/sha256"
	"slices"
	"sync"

	"thatch/timeline"
)

// Memory keeps what models have learned of dogs, the newest first: nearly all of a model's time goes into learning, and work
// that is logged after the last reading, pinch test or photo teaches nothing. A model made with it is the same as one made
// without. It is safe for concurrent use; one entry is about 1 MB.
type Memory struct {
	// Pace, where it is set before the memory is used, is that of all that has to be learned.
	Pace Pace

	mu    sync.Mutex
	max   int
	at    map[[sha256.Size]byte]*list.Element
	order list.List // of *learned
}

// NewMemory keeps so many dogs.
func NewMemory(dogs int) *Memory {
	return &Memory{max: dogs, at: map[[sha256.Size]byte]*list.Element{}}
}

// learned is what a model has learned; nobody writes to it.
type learned struct {
	key    [sha256.Size]byte
	zones  map[timeline.Zone]zoneLearned
	strays bool
}

type zoneLearned struct {
	nodes             *nodes
	curve             Curve
	curves            []Curve
	law               int
	slips             []int
	median            params
	status            Status
	rateDist, lagDist Dist
}

// NewWith is New, from memory as far as that reaches. keep puts what had to be learned into it: of a coat as it was on some
// day in the past it is not worth the room.
func NewWith(f File, memory *Memory, keep bool) (*Model, error) {
	if err := f.Validate(); err != nil {
		return nil, err
	}
	p, err := f.Kind()
	if err != nil {
		return nil, err
	}
	key := lessonOf(f)
	m := unlearned(f, p)
	m.lesson, m.pace = key, memory.Pace
	if l := memory.get(key); l != nil {
		m.recall(l)
		return m, nil
	}
	m.learn()
	if keep {
		memory.put(m.remember(key))
	}
	return m, nil
}

// lessonOf names all that a model of the file learns from: of the work only what lies before the zone's last evidence.
func lessonOf(f File) [sha256.Size]byte {
	f.Shows, f.Sessions, f.Minutes = nil, nil, nil
	zones := make(map[timeline.Zone]Zone, len(f.Zones))
	dated := false // a length that is known of today makes what is learned today's
	for name, z := range f.Zones {
		dated = dated || len(z.Layers) == 0 || slices.ContainsFunc(z.Layers, func(l Layer) bool { return l.LengthMM != nil })
		last := z.lastHeard()
		// Whether the newest pinch test still holds is the plan's to know; what it taught stays.
		z.Pinched = pinchesAfter(z, 0)
		z.Ripeness = nil
		z.Work = slices.DeleteFunc(slices.Clone(z.Work), func(w WorkDone) bool { return w.On > last })
		zones[name] = z
	}
	f.Zones = zones
	if !dated {
		f.Today = 0
	}
	return Sum(f)
}

// lastHeard is the newest day whose work lies behind something that was seen of the zone. Readings and pinch tests are of
// before the work of their day: of the lines that a groomer logs after them on the same day none teaches anything.
func (z Zone) lastHeard() timeline.Day {
	var last timeline.Day
	see := func(d timeline.Day) { last = max(last, d) }
	for _, r := range z.Measured {
		see(r.On - 1)
	}
	if z.Ripeness != nil {
		see(z.Ripeness.On - 1)
	}
	for _, r := range z.Pinched {
		see(r.On - 1)
	}
	for _, r := range z.Depth {
		see(r.On - 1)
	}
	for _, r := range z.NewHair {
		see(r.NotOut)
		see(r.Out)
		see(r.Pulled)
	}
	for _, r := range z.Cover {
		see(r.On)
	}
	return last
}

func (m *Model) remember(key [sha256.Size]byte) *learned {
	l := &learned{key: key, zones: make(map[timeline.Zone]zoneLearned, len(m.zones)), strays: m.strays}
	for name, z := range m.zones {
		l.zones[name] = zoneLearned{z.nodes, z.curve, z.curves, z.law, z.slips, z.median, z.status, z.rateDist, z.lagDist}
	}
	return l
}

func (m *Model) recall(l *learned) {
	m.strays = l.strays
	for name, z := range m.zones {
		k := l.zones[name]
		z.nodes, z.curve, z.curves, z.law, z.slips = k.nodes, k.curve, k.curves, k.law, k.slips
		z.median, z.status, z.rateDist, z.lagDist = k.median, k.status, k.rateDist, k.lagDist
		z.replay() // by the learned median
	}
}

func (m *Memory) get(key [sha256.Size]byte) *learned {
	m.mu.Lock()
	defer m.mu.Unlock()
	el, ok := m.at[key]
	if !ok {
		return nil
	}
	m.order.MoveToFront(el)
	return el.Value.(*learned)
}

func (m *Memory) put(l *learned) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if _, ok := m.at[l.key]; ok {
		return
	}
	m.at[l.key] = m.order.PushFront(l)
	for len(m.at) > m.max {
		last := m.order.Back()
		m.order.Remove(last)
		delete(m.at, last.Value.(*learned).key)
	}
}
