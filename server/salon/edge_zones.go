package salon

import (
	"math"
	"slices"

	"thatch/imaging/measure"
	"thatch/timeline"
)

// toplineZones are those whose edge from withers to tail set is looked at in one go.
var toplineZones = []timeline.Zone{timeline.Withers, timeline.Back, timeline.Loin, timeline.Rump}

// singleZones are those whose contour misleads most often (a far leg, a tassel, a shadow): each is looked at for itself.
var singleZones = []timeline.Zone{timeline.Beard, timeline.Underline, timeline.Foreleg, timeline.Hindleg}

// ToplineZones are the zones that are confirmed at one tap.
func ToplineZones() []timeline.Zone { return slices.Clone(toplineZones) }

// EdgeReasons are why a zone in the outline may not be measured in a photo, in the order in which they are offered.
func EdgeReasons() []string { return []string{"lead", "hand", "blurred", "brushed_up", "furniture"} }

// unchangedPX is how far an edge may move between two versions of it and still count as the same, in pixels of the view.
const unchangedPX = 1.0

func edgeTolerance(p timeline.Photo) float64 {
	return unchangedPX * math.Max(1, float64(max(p.WidthPX, p.HeightPX))/viewPX)
}

// viewPX is the long side of the picture that edges are found in.
const viewPX = 2016

func zonesOf(e timeline.Edge, p timeline.Photo) []timeline.Zone {
	return measure.ZonesAlong(e.Polygon, p.Landmarks, p.Facing)
}

// stillConfirmed are the confirmed zones of an edge that are the same in its next version, with the zones of both: nobody
// has looked at what has moved. Background inside the outline borders on legs and underline, so that these are looked at
// again where it has changed.
func stillConfirmed(was, next timeline.Edge, wasZones, nextZones []timeline.Zone, tolerancePX float64) []timeline.Zone {
	out := []timeline.Zone{}
	if len(was.Confirmed) == 0 || len(next.Polygon) < 3 || len(was.Polygon) < 3 {
		return out
	}
	before, after := newRingIndex(was.Polygon, tolerancePX), newRingIndex(next.Polygon, tolerancePX)
	holes := sameHoles(was.Holes, next.Holes, tolerancePX)
	moved, has := map[timeline.Zone]bool{}, map[timeline.Zone]bool{}
	for i, z := range nextZones {
		has[z] = true
		if _, _, ok := before.nearest(next.Polygon[i]); !ok {
			moved[z] = true
		}
	}
	for i, z := range wasZones {
		if _, _, ok := after.nearest(was.Polygon[i]); !ok {
			moved[z] = true
		}
	}
	for _, z := range was.Confirmed {
		besideHole := z == timeline.Underline || z == timeline.Foreleg || z == timeline.Hindleg
		if has[z] && !moved[z] && (holes || !besideHole) {
			out = append(out, z)
		}
	}
	return inOrder(out)
}

// underPoints are the confirmed zones of an edge that stay so when the photo's points have moved: those whose new stretch
// was all looked at, but for a few places at its ends.
func underPoints(e timeline.Edge, wasZones, nextZones []timeline.Zone) []timeline.Zone {
	const mayBeNew = 0.1
	out := []timeline.Zone{}
	for _, z := range e.Confirmed {
		n, unseen := 0, 0
		for i := range nextZones {
			if nextZones[i] != z {
				continue
			}
			n++
			if !slices.Contains(e.Confirmed, wasZones[i]) {
				unseen++
			}
		}
		if n > 0 && float64(unseen) <= mayBeNew*float64(n) {
			out = append(out, z)
		}
	}
	return inOrder(out)
}

func sameHoles(a, b [][]timeline.XY, tolerancePX float64) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		for _, pair := range [2][2][]timeline.XY{{a[i], b[i]}, {b[i], a[i]}} {
			index := newRingIndex(pair[1], tolerancePX)
			for _, p := range pair[0] {
				if _, _, ok := index.nearest(p); !ok {
					return false
				}
			}
		}
	}
	return true
}

// ringIndex finds the place of a closed line that is nearest to another place, as far as reach.
type ringIndex struct {
	ring  []timeline.XY
	reach float64
	cell  float64
	in    map[[2]int][]int32 // by cell: the sides that come within reach of it
}

func newRingIndex(ring []timeline.XY, reach float64) *ringIndex {
	x := &ringIndex{ring: ring, reach: reach, cell: math.Max(4*reach, 8), in: map[[2]int][]int32{}}
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		x0, y0 := x.at(math.Min(a.X, b.X)-reach), x.at(math.Min(a.Y, b.Y)-reach)
		x1, y1 := x.at(math.Max(a.X, b.X)+reach), x.at(math.Max(a.Y, b.Y)+reach)
		for cy := y0; cy <= y1; cy++ {
			for cx := x0; cx <= x1; cx++ {
				x.in[[2]int{cx, cy}] = append(x.in[[2]int{cx, cy}], int32(i))
			}
		}
	}
	return x
}

func (x *ringIndex) at(v float64) int { return int(math.Floor(v / x.cell)) }

// nearest is the nearest place and its distance; ok is false where none is within reach.
func (x *ringIndex) nearest(p timeline.XY) (q timeline.XY, distance float64, ok bool) {
	distance = math.Inf(1)
	for _, i := range x.in[[2]int{x.at(p.X), x.at(p.Y)}] {
		a, b := x.ring[i], x.ring[(int(i)+1)%len(x.ring)]
		ex, ey := b.X-a.X, b.Y-a.Y
		t := 0.0
		if l := ex*ex + ey*ey; l > 0 {
			t = math.Min(1, math.Max(0, ((p.X-a.X)*ex+(p.Y-a.Y)*ey)/l))
		}
		at := timeline.XY{X: a.X + t*ex, Y: a.Y + t*ey}
		if d := math.Hypot(at.X-p.X, at.Y-p.Y); d < distance {
			q, distance = at, d
		}
	}
	return q, distance, distance <= x.reach
}
