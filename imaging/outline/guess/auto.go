package guess

import (
	"image"

	"thatch/imaging"
	"thatch/imaging/outline"
)

// Source makes a first guess from an upright sRGB picture alone. conf is how probable it is that an edge found about the
// guess is usable as it is, 0 to 1; ok is false where it sees no dog. Auto is one; another (from a map of probabilities, say,
// through FromProbabilities) takes its place by being called instead.
type Source func(img *image.NRGBA) (g outline.Guess, conf float64, ok bool)

const (
	smallPX   = 240 // long side of the picture that is searched
	tried = 5  // candidates that are cut
	holeShare = 0.02
	looseSD   = 0.05
	closeSD   = 0.03
	closerSD  = 0.03
)

// Auto finds the dog that stands out in a picture, without any help.
func Auto(img *image.NRGBA) (g outline.Guess, conf float64, ok bool) {
	if img == nil || min(img.Rect.Dx(), img.Rect.Dy()) < 16 {
		return g, 0, false
	}
	small := imaging.Resize(img, smallPX)
	frame := inner(small)
	if min(frame.Rect.Dx(), frame.Rect.Dy()) < 16 {
		return g, 0, false
	}
	best, score, ok := search(frame)
	if !ok {
		return g, 0, false
	}
	ring := simpler(best.ring(), 0.7)
	off := frame.Rect.Min.Sub(small.Rect.Min)
	sx, sy := float64(img.Rect.Dx())/float64(small.Rect.Dx()), float64(img.Rect.Dy())/float64(small.Rect.Dy())
	for i, p := range ring {
		ring[i] = XY{X: (p.X+float64(off.X)+0.5)*sx - 0.5, Y: (p.Y+float64(off.Y)+0.5)*sy - 0.5}
	}
	return outline.Guess{Method: outline.FromNothing, Polygon: ring, CornerSD: closerSD}, score, true
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
		if trace != nil {
			trace(p, c, s, now)
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

var trace func(p *patchwork, before, after candidate, now *mask)

// cut looks for the edge about a silhouette.
func (p *patchwork) cut(small *image.NRGBA, m *mask) (*mask, bool) {
	for _, sd := range []float64{looseSD, closeSD} {
		r, err := outline.Find(small, outline.Guess{Polygon: simpler(m.ring(), 0.7), CornerSD: sd})
		if err != nil || len(r.Polygon) == 0 {
			return nil, false
		}
		m = &mask{p.w, p.h, r.Mask()}
	}
	return m, true
}

// inner is a picture without a frame of one colour, as scanned prints have.
func inner(img *image.NRGBA) *image.NRGBA {
	r := img.Rect
	same := func(x0, y0, x1, y1 int) bool {
		o := img.PixOffset(r.Min.X, r.Min.Y)
		c := img.Pix[o : o+3]
		off := 0
		for y := y0; y < y1; y++ {
			for x := x0; x < x1; x++ {
				q := img.PixOffset(x, y)
				for k := range 3 {
					if d := int(img.Pix[q+k]) - int(c[k]); d > 40 || d < -40 {
						off++
						break
					}
				}
			}
		}
		return off*20 < (x1-x0)*(y1-y0)
	}
	cut := img.Rect
	most := max(2, min(r.Dx(), r.Dy())/20)
	all := true
	for _, side := range []func(k int) bool{
		func(k int) bool { return same(r.Min.X, r.Min.Y+k, r.Max.X, r.Min.Y+k+1) },
		func(k int) bool { return same(r.Min.X, r.Max.Y-k-1, r.Max.X, r.Max.Y-k) },
		func(k int) bool { return same(r.Min.X+k, r.Min.Y, r.Min.X+k+1, r.Max.Y) },
		func(k int) bool { return same(r.Max.X-k-1, r.Min.Y, r.Max.X-k, r.Max.Y) },
	} {
		all = all && side(0)
	}
	if !all {
		return img
	}
	for k := 0; k < most && same(r.Min.X, r.Min.Y+k, r.Max.X, r.Min.Y+k+1); k++ {
		cut.Min.Y = r.Min.Y + k + 1
	}
	for k := 0; k < most && same(r.Min.X, r.Max.Y-k-1, r.Max.X, r.Max.Y-k); k++ {
		cut.Max.Y = r.Max.Y - k - 1
	}
	for k := 0; k < most && same(r.Min.X+k, r.Min.Y, r.Min.X+k+1, r.Max.Y); k++ {
		cut.Min.X = r.Min.X + k + 1
	}
	for k := 0; k < most && same(r.Max.X-k-1, r.Min.Y, r.Max.X-k, r.Max.Y); k++ {
		cut.Max.X = r.Max.X - k - 1
	}
	if cut.Min.Y-r.Min.Y == most || r.Max.Y-cut.Max.Y == most || cut.Min.X-r.Min.X == most || r.Max.X-cut.Max.X == most {
		return img // a wall of one colour, not a frame
	}
	// The row beside a frame is half of it.
	return img.SubImage(cut.Inset(1)).(*image.NRGBA)
}
