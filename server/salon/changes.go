package salon

import (
	"math"
	"slices"

	"thatch/imaging/measure"
	"thatch/imaging/overlay"
	"thatch/timeline"
)

// Change is what has become of a zone from one photo to another, after minus before, of the same thing on both.
type Change struct {
	Zone timeline.Zone
	Of   string // "length" or "depth"
	MM   float64
	SDMM float64
	Real bool // more than chance and this salon's own spread make
	// Of a zone in the outline, px of the comparison's frame; "" where no line can be drawn there.
	D  string
	At timeline.XY // a place beside the line for the figure
}

// rulerChangeSDMM is what two ruler readings are apart by chance, each good to a millimetre.
var rulerChangeSDMM = math.Sqrt2

// changes are what was measured on both photos' times. By photo where both sittings have the zone's depth, for there what both
// share falls out; else by the ruler. Two photos of one sitting show the same coat: nothing has changed between them.
func changes(h history, a, b timeline.Photo, onA, onB onDay, floor timeline.Floor) map[timeline.Zone]Change {
	out := map[timeline.Zone]Change{}
	if onA.on.IsZero() || onB.on.IsZero() {
		return out
	}
	keyA, keyB := sittingKey{onA.on, phaseOf(a.Phase)}, sittingKey{onB.on, phaseOf(b.Phase)}
	if keyA == keyB {
		return out
	}
	if onA.on != onB.on {
		for _, z := range timeline.Zones() {
			was, okA := onA.measuredMM(z)
			is, okB := onB.measuredMM(z)
			if okA && okB {
				mm := is - was
				out[z] = Change{Zone: z, Of: string(timeline.OfLength), MM: mm, SDMM: rulerChangeSDMM, Real: math.Abs(mm) > surelyChanged*rulerChangeSDMM}
			}
		}
	}
	if h.seen == nil {
		return out
	}
	byPhoto := map[timeline.Zone]measure.Figure{}
	for _, block := range h.seen.blocks {
		from, to := slices.Index(block.keys, keyA), slices.Index(block.keys, keyB)
		if from < 0 || to < 0 || !block.measured {
			continue
		}
		for _, z := range measure.Measured() {
			_, whyA := block.tell(from, z)
			_, whyB := block.tell(to, z)
			if !whyA.IsZero() || !whyB.IsZero() {
				continue
			}
			if f, ok := block.result.Change(z, from, to); ok {
				byPhoto[z] = both(byPhoto[z], f)
			}
		}
	}
	for z, f := range byPhoto {
		least := math.Max(surelyChanged*f.SDMM, 2*math.Sqrt2*floor.DepthMM[z])
		out[z] = Change{Zone: z, Of: string(timeline.OfDepth), MM: f.MM, SDMM: f.SDMM, Real: math.Abs(f.MM) > least}
	}
	return out
}

// figureShare is how far beside its line a figure stands, in widths of the picture.
const figureShare = 0.03

// draw gives a change its stretch of the outline, where the later coat ends.
func (c *Change) draw(f frame, depthMM float64) {
	if len(f.missing) > 0 || !c.Zone.InOutline() {
		return
	}
	line := overlay.Offset(f.skin, func(z timeline.Zone) float64 {
		if z == c.Zone {
			return depthMM
		}
		return math.NaN()
	}, f.scale.MMPerPX)
	if c.D = pathD(line); c.D == "" {
		return
	}
	longest := slices.MaxFunc(line, func(a, b []timeline.XY) int { return len(a) - len(b) })
	mid := longest[len(longest)/2]
	best := math.Inf(1)
	for _, stroke := range f.skin.Strokes {
		for _, s := range stroke {
			if d := math.Hypot(s.At.X-mid.X, s.At.Y-mid.Y); s.Zone == c.Zone && d < best {
				k := figureShare * float64(f.photo.WidthPX)
				best, c.At = d, timeline.XY{X: mid.X + k*s.Out.X, Y: mid.Y + k*s.Out.Y}
			}
		}
	}
}
