package coat

import (
	"sort"

	"thatch/timeline"
)

// layer is hair of a zone last pulled on the same day. A known layer was len0 mm on the file's today, in every node.
type layer struct {
	pulled timeline.Day
	share  float64
	known  bool
	len0   float64
}

// cut is a day on which hair was shortened to at most mm.
type cut struct {
	on timeline.Day
	mm float64
}

// State is a zone after some work: immutable, small, cheap to copy and to step. A search shares the states of common
// beginnings: s := z.Start(); t := s.After(step); t.Readiness(on, target).
//
// Layers stay in order of length whatever the parameters, because all hair of a zone grows by the same law and cutting
// never reorders; only layers given with a length beside layers given without may be misordered in some nodes.
type State struct {
	z      *ZoneModel
	layers []layer // longest first
	cuts   []cut
	mixed  bool // order of length not certain
}

// shareEps forgives rounding in sums of shares.
const shareEps = 1e-9

// After is the state after one more step; steps come in order of day. Work that changes no layer returns s itself.
func (s State) After(step Step) State {
	switch step.Do {
	case timeline.Take:
		return s.take(step.On, step.Share)
	case timeline.Strip:
		return s.take(step.On, 1)
	case timeline.Tidy:
		return s.tidy(step.On)
	case timeline.Scissor:
		return s.cutTo(step.On, s.z.scissorMM)
	case timeline.Clip:
		return s.cutTo(step.On, s.z.clipMM)
	}
	return s
}

// take pulls the longest hair until share of the follicles is pulled or no hair is out (median parameters): what is
// not out cannot be pulled, so its growth goes on.
func (s State) take(on timeline.Day, share float64) State {
	out := s
	out.layers = make([]layer, 0, len(s.layers)+1)
	left := share
	var pulled float64
	for _, l := range s.layers {
		if left > shareEps && s.z.outBy(l, on) {
			n := min(l.share, left)
			if l.share-n < shareEps {
				n = l.share
			}
			pulled += n
			left -= n
			l.share -= n
		}
		if l.share > 0 {
			out.layers = append(out.layers, l)
		}
	}
	if pulled == 0 {
		return s
	}
	if n := len(out.layers); n > 0 && out.layers[n-1].pulled == on && !out.layers[n-1].known {
		out.layers[n-1].share += pulled
	} else {
		out.layers = append(out.layers, layer{pulled: on, share: pulled})
	}
	return out
}

// tidyShare is the part of the follicles, longest first, that tidying brings down to the length of the next.
const tidyShare = 0.05

// tidy caps the longest 5 %: a layer that lies wholly among them becomes as long as the layer at the 95 % point, and
// grows with it from then on.
func (s State) tidy(on timeline.Day) State {
	n, cum := 0, 0.0
	for n < len(s.layers)-1 && cum+s.layers[n].share < tidyShare+shareEps {
		cum += s.layers[n].share
		n++
	}
	if n == 0 || !s.z.outBy(s.layers[n], on) {
		return s
	}
	out := s
	out.layers = append([]layer(nil), s.layers[n:]...)
	out.layers[0].share += cum
	return out
}

func (s State) cutTo(on timeline.Day, mm float64) State {
	out := s
	out.cuts = append(append([]cut(nil), s.cuts...), cut{on, mm})
	return out
}

// visibleShare is the share of follicles whose hair is longer than what the outline follows.
const visibleShare = 0.20

// layerAt is the index of the layer at which the follicles, longest first, reach the share.
func (s State) layerAt(share float64) int {
	cum := 0.0
	for i, l := range s.layers {
		cum += l.share
		if cum >= share-shareEps {
			return i
		}
	}
	return len(s.layers) - 1
}

// Readiness is the probability that on the day the zone is inside the target: visible length in [MinMM, MaxMM] and,
// where InHair is asked, at least that share of follicles with hair out.
func (s State) Readiness(on timeline.Day, t Target) float64 {
	if len(s.layers) == 0 {
		return 0
	}
	if s.mixed {
		return s.readinessSorted(on, t)
	}
	v := s.layers[s.layerAt(visibleShare)]
	q := layer{}
	if t.InHair > 0 {
		q = s.layers[s.layerAt(t.InHair)]
	}
	if len(s.cuts) > 0 {
		return s.readinessOf(v, q, on, t)
	}
	key := readinessKey{v.pulled, q.pulled, on, v.known, q.known, v.len0, t}
	if p, ok := s.z.memo.get(key); ok {
		return p
	}
	p := s.readinessOf(v, q, on, t)
	s.z.memo.put(key, p)
	return p
}

// readinessOf counts the nodes in which layer v is inside the band and layer q, if asked, is out.
func (s State) readinessOf(v, q layer, on timeline.Day, t Target) float64 {
	lv := s.z.span(v, s.cuts, on)
	lq := s.z.span(q, s.cuts, on)
	n := 0
	for i := range s.z.nodes.rate {
		l := lv.length(i)
		if l < t.MinMM || (t.MaxMM > 0 && l > t.MaxMM) {
			continue
		}
		if t.InHair > 0 && lq.length(i) <= 0 {
			continue
		}
		n++
	}
	return float64(n) / latticeN
}

func (s State) readinessSorted(on timeline.Day, t Target) float64 {
	b := s.bundle(on)
	n := 0
	for i := range s.z.nodes.rate {
		m := b.measure(i)
		if m.visible < t.MinMM || (t.MaxMM > 0 && m.visible > t.MaxMM) || m.inHair < t.InHair-shareEps {
			continue
		}
		n++
	}
	return float64(n) / latticeN
}

// TopLayer is the layer that is longest on the day (median parameters): the day it was last pulled and its share.
func (s State) TopLayer(on timeline.Day) (pulled timeline.Day, share float64) {
	if len(s.layers) == 0 {
		return 0, 0
	}
	top := s.layers[0]
	if s.mixed {
		best := s.z.medianLength(top, s.cuts, on)
		for _, l := range s.layers[1:] {
			if m := s.z.medianLength(l, s.cuts, on); m > best {
				top, best = l, m
			}
		}
	}
	return top.pulled, top.share
}

// InHair is the share of follicles with hair out on the day (median parameters).
func (s State) InHair(on timeline.Day) float64 {
	sum := 0.0
	for _, l := range s.layers {
		if s.z.medianLength(l, s.cuts, on) > 0 {
			sum += l.share
		}
	}
	return min(sum, 1)
}

// Visible is the visible length on the day, mm (median parameters).
func (s State) Visible(on timeline.Day) float64 {
	if len(s.layers) == 0 {
		return 0
	}
	if !s.mixed {
		return s.z.medianLength(s.layers[s.layerAt(visibleShare)], s.cuts, on)
	}
	ls := append([]layer(nil), s.layers...)
	sort.SliceStable(ls, func(i, j int) bool {
		return s.z.medianLength(ls[i], s.cuts, on) > s.z.medianLength(ls[j], s.cuts, on)
	})
	t := State{layers: ls}
	return s.z.medianLength(ls[t.layerAt(visibleShare)], s.cuts, on)
}
