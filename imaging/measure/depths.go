package measure

import (
	"math"

	"thatch/timeline"
)

// Figure is a measured depth of a zone at one sitting.
type Figure struct {
	MM   float64
	SDMM float64
	N    int // photos in which the zone's edge was used
}

// Result is what the photos of one dog say together.
type Result struct {
	a *adjustment
	// Depths per sitting; a zone that no photo of the sitting shows has none.
	Depths []map[timeline.Zone]Figure
}

// Depths lays all shots of a dog onto one skin line and tells the depth of each zone at each sitting. Where the skin line
// lies, readings by hand say: of any sitting, best of all zones once, then of one zone each time. Shots of one side only;
// each must be Comparable. ok is false where points or edges do not suffice.
func Depths(shots []Shot, sittings []Sitting) (Result, bool) {
	var views []*view
	for i := range shots {
		if shots[i].Sitting < 0 || shots[i].Sitting >= len(sittings) {
			return Result{}, false
		}
		v, ok := newView(&shots[i])
		if !ok {
			return Result{}, false
		}
		views = append(views, v)
	}
	if len(views) == 0 {
		return Result{}, false
	}
	a, ok := adjust(views, sittings)
	if !ok {
		return Result{}, false
	}
	r := Result{a: a}
	for k := range sittings {
		of := map[timeline.Zone]Figure{}
		for z, zone := range measured {
			if a.seen[k][z] == 0 {
				continue
			}
			n := 0
			for _, v := range views {
				if v.shot.Sitting == k && !v.shot.Skip[zone] {
					n++
				}
			}
			at := a.ixDepth(k, z)
			of[zone] = Figure{MM: a.depth[k][z], SDMM: math.Sqrt(a.cov.At(at, at)), N: n}
		}
		r.Depths = append(r.Depths, of)
	}
	return r, true
}

// Change is the difference of a zone's depth between two sittings, later minus earlier, with its own standard deviation:
// what both share falls out.
func (r Result) Change(zone timeline.Zone, from, to int) (Figure, bool) {
	a, b := r.Depths[from][zone], r.Depths[to][zone]
	if a.N == 0 || b.N == 0 {
		return Figure{}, false
	}
	z := r.a.zoneAt[zone]
	i, j := r.a.ixDepth(from, z), r.a.ixDepth(to, z)
	v := r.a.cov.At(i, i) + r.a.cov.At(j, j) - 2*r.a.cov.At(i, j)
	return Figure{MM: b.MM - a.MM, SDMM: math.Sqrt(math.Max(0, v)), N: min(a.N, b.N)}, true
}

// MaxSDMM is the standard deviation beyond which a depth is no figure any more.
const MaxSDMM = 4.0

// WantsLook reports whether the edge of a zone is used only where a person has looked at it: grass, the other legs, feathering
// and the lead are taken for coat there too often.
func WantsLook(z timeline.Zone) bool { return z == timeline.Underline || z == timeline.Throat }

// Tell is a zone's depth at a sitting, or what is missing for it: a figure or a reason, never both.
func (r Result) Tell(sitting int, z timeline.Zone, confirmed bool) (Figure, timeline.Phrase) {
	if !isMeasured(z) {
		return Figure{}, timeline.Say("measure.by_hand")
	}
	if WantsLook(z) && !confirmed {
		return Figure{}, timeline.Say("measure.unconfirmed")
	}
	f, ok := r.Depths[sitting][z]
	if !ok || f.N == 0 {
		return Figure{}, timeline.Say("measure.no_edge_here")
	}
	if f.SDMM > MaxSDMM {
		return Figure{N: f.N}, timeline.Say("measure.no_reading")
	}
	return f, timeline.Phrase{}
}
