package measure

import (
	"math"
	"math/rand/v2"
	"slices"

	"thatch/imaging/align/marker"
	"thatch/imaging/outline"
	"thatch/imaging/outline/guess"
	"thatch/imaging/phantom"
	"thatch/timeline"
)

// looked is a drawn photo as the program gets to see it, and the truth about it.
type looked struct {
	shot  Shot
	truth phantom.Truth
	// square is the same dog, coat and stance, turned square to a camera without perspective: its topline is the dog's own.
	square phantom.Truth
}

const (
	seenError = 0.01 // of the body's length: an edge that is off by more is seen to be off at a glance
)

// look draws a photo and does with it what is done with one that comes in: points are tapped, off by 0.25 % of the body's
// length in each coordinate; the edge is found from those points alone, cut and refined; whoever looks at it confirms the
// zones whose edge is nowhere off by more than 1 % of the body's length, and leaves the others. The scale is that of a marker
// that stands 20 mm (standard deviation) nearer or farther than the dog, the distance comes from a focal length in whole
// mm of a 35 mm camera's.
func look(s phantom.Shot, rng *rand.Rand) (looked, bool) {
	img, is := s.Render()
	out := looked{truth: is}
	level, camera := s.Pose, s.Camera
	level.YawDeg = 0
	camera.DistanceMM, camera.RollDeg = 0, 0
	out.square = phantom.TruthIn(s.Dog, s.Coat, level, camera, s.Scene)

	a, b := is.Landmarks[timeline.Buttock], is.Landmarks[timeline.Prosternum]
	body := math.Hypot(a.X-b.X, a.Y-b.Y)
	lm := timeline.Landmarks{}
	for _, p := range timeline.Points() {
		if xy, ok := is.Landmarks[p]; ok {
			lm[p] = XY{X: xy.X + bodyShare*body*rng.NormFloat64(), Y: xy.Y + bodyShare*body*rng.NormFloat64()}
		}
	}
	w, h := img.Bounds().Dx(), img.Bounds().Dy()
	offMM := marker.OffPlaneSDMM * rng.NormFloat64()
	g, ok := guess.FromLandmarks(lm, is.Facing, w, h)
	if !ok {
		return out, false
	}
	found, err := outline.Find(img, g)
	if err != nil || len(found.Polygon) == 0 {
		return out, false
	}
	found = outline.Fine(img, found)

	m := marker.Marker{MMPerPX: is.MMPerPX * (1 + offMM/s.Camera.DistanceMM)}
	wide := is.FocalPX / marker.FocalPX(1, w, h)
	focal := marker.FocalPX(math.Round(wide), w, h)
	out.shot = Shot{
		Outline: found.Polygon, Landmarks: lm, Facing: is.Facing, WidthPX: w, HeightPX: h,
		MMPerPX: m.MMPerPX, SDMMPerPX: m.ScaleSD(marker.OffPlaneSDMM, focal, w, h), DistanceMM: focal * m.MMPerPX,
		Skip: unseen(found.Polygon, lm, is, seenError*body),
	}
	return out, true
}

// unseen are the zones whose edge is somewhere farther than most px from the true one: looked for from every place of the
// true edge, and from every place of the one that was found. The far legs stand before the light under the belly: there the
// dog's edge is theirs, and no underline shows.
func unseen(found []XY, lm timeline.Landmarks, is phantom.Truth, most float64) map[timeline.Zone]bool {
	skip := map[timeline.Zone]bool{}
	seen := map[timeline.Zone]bool{}
	far := func(p XY, z timeline.Zone) float64 {
		best := math.Inf(1)
		for _, leg := range is.Far {
			if z == timeline.Underline {
				best = math.Min(best, toRing(p, leg))
			}
		}
		return best
	}
	for i, p := range is.Outline {
		z := is.OutlineZones[i]
		if !isMeasured(z) || skip[z] || toRing(p, found) <= most {
			continue
		}
		behind := z == timeline.Underline && slices.ContainsFunc(is.Far, func(leg []XY) bool { return within(p, leg) })
		skip[z] = !behind && far(p, z) > most
	}
	for i, z := range ZonesAlong(found, lm, is.Facing) {
		if seen[z] = true; isMeasured(z) && !skip[z] {
			skip[z] = math.Min(toRing(found[i], is.Outline), far(found[i], z)) > most
		}
	}
	for _, z := range measured {
		if !seen[z] {
			skip[z] = true
		}
	}
	return skip
}

// within reports whether p lies inside a closed line.
func within(p XY, ring []XY) bool {
	in := false
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		if (a.Y > p.Y) != (b.Y > p.Y) && p.X < a.X+(p.Y-a.Y)/(b.Y-a.Y)*(b.X-a.X) {
			in = !in
		}
	}
	return in
}

// toRing is the distance of p from a closed line.
func toRing(p XY, ring []XY) float64 {
	best := math.Inf(1)
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		ex, ey := b.X-a.X, b.Y-a.Y
		t := 0.0
		if l := ex*ex + ey*ey; l > 0 {
			t = math.Min(1, math.Max(0, ((p.X-a.X)*ex+(p.Y-a.Y)*ey)/l))
		}
		best = math.Min(best, math.Hypot(p.X-a.X-t*ex, p.Y-a.Y-t*ey))
	}
	return best
}
