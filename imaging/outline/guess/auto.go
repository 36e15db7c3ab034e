package guess

import (
	"image"
	"math"

	"thatch/imaging"
	"thatch/imaging/outline"
)

// Source makes a first guess from an upright sRGB picture alone. conf is how probable it is that the edge found about the
// guess is usable as it is, 0 to 1; ok is false where there is no believable dog. Auto is one. Another, as one that cuts a
// map of probabilities at one half and says by the map's slope how far each corner may be off, is called in its place.
type Source func(img *image.NRGBA) (g outline.Guess, conf float64, ok bool)

var _ Source = Auto

const (
	smallPX   = 240  // long side of the picture that is searched
	leastPX   = 16   // of a picture in which a dog can be seen
	tried     = 5    // candidates that are cut
	holeShare = 0.02 // of a silhouette: smaller holes are patches of another colour on it
	simplePX  = 0.7  // of the small picture, by which a polygon may be simpler than a silhouette's edge
	looseSD   = 0.05 // of the body's length: how far the edge of a candidate may be off
	closeSD   = 0.03 // how far what has been cut once may be off, and what Auto answers
)

// What stands out is believed to be a dog by its score, and by how well the template can be bent onto it. On photos of
// twenty-five dogs and of some fifty other things, most edges from evenOdds on were usable dogs and most below were not.
const (
	evenOdds     = 3.3
	oddsScale    = 0.1
	misfitWeight = 10.0
	usualMisfit  = 0.035
)

// Auto finds the dog that stands out in a picture, without any help. It says nothing where it is hardly likelier right than wrong: no outline is better than a wrong one.
func Auto(img *image.NRGBA) (g outline.Guess, conf float64, ok bool) {
	if img == nil || min(img.Rect.Dx(), img.Rect.Dy()) < leastPX {
		return g, 0, false
	}
	small := imaging.Resize(img, smallPX)
	if min(small.Rect.Dx(), small.Rect.Dy()) < leastPX {
		return g, 0, false
	}
	frame := inner(small)
	if min(frame.Rect.Dx(), frame.Rect.Dy()) < leastPX {
		return g, 0, false
	}
	best, score, ok := search(frame)
	if !ok {
		return g, 0, false
	}
	ring := best.ring()
	misfit := 2 * mostPoseMisfit
	if p, _, _ := bestPose(ring); p != nil {
		misfit = p.misfit()
	}
	conf = 1 / (1 + math.Exp(-(score+misfitWeight*(usualMisfit-misfit)-evenOdds)/oddsScale))
	if conf < 0.6 {
		return g, conf, false
	}
	ring = best.polygon(simplePX, holeShare)
	off := frame.Rect.Min.Sub(small.Rect.Min)
	sx, sy := float64(img.Rect.Dx())/float64(small.Rect.Dx()), float64(img.Rect.Dy())/float64(small.Rect.Dy())
	for i, p := range ring {
		ring[i] = XY{X: (p.X+float64(off.X)+0.5)*sx - 0.5, Y: (p.Y+float64(off.Y)+0.5)*sy - 0.5}
	}
	return outline.Guess{Method: outline.FromNothing, Polygon: ring, CornerSD: closeSD}, conf, len(ring) >= 3
}

// search is the best silhouette of a small picture after cutting.
func search(small *image.NRGBA) (best *mask, score float64, ok bool) {
	p := patchworkOf(small)
	all := p.candidates(p.maps())
	for i := range all[:min(tried, len(all))] {
		all[i] = p.climb(all[i])
	}
	all = p.distinct(all)
	for _, c := range all[:min(tried, len(all))] {
		m := p.silhouette(c).filled(holeShare)
		now, ok2 := p.cut(small, m)
		var s candidate
		if ok2 {
			s, ok2 = p.judge(p.patchesOf(now))
		}
		if ok2 && (!ok || s.score > score) {
			best, score, ok = now, s.score, true
		}
	}
	return best, score, ok
}

// maps are several opinions on what stands out.
func (p *patchwork) maps() [][]float64 {
	even, colour := weights{1, 1, 1}, weights{0.35, 1.3, 1.3}
	return [][]float64{p.stands(even), p.far(even), p.stands(colour), p.far(colour)}
}

// cut looks for the edge about a silhouette.
func (p *patchwork) cut(small *image.NRGBA, m *mask) (*mask, bool) {
	for _, sd := range []float64{looseSD, closeSD} {
		r, err := outline.Find(small, outline.Guess{Polygon: m.polygon(simplePX, holeShare), CornerSD: sd})
		if err != nil || len(r.Polygon) == 0 {
			return nil, false
		}
		m = &mask{p.w, p.h, r.Mask()}
	}
	return m, true
}
