package marker

import (
	"image"
	"math"
	"slices"

	"thatch/timeline"
)

// Options carry what the pixels cannot know.
type Options struct {
	// FocalPX is the camera's focal length in px of the photo at full size; see FocalPX. 0: not known, and the scale of a
	// tilted marker far from the photo's middle has a larger error.
	FocalPX float64
}

// FocalPX is a focal length in px from the one of a 35 mm camera that sees as much, as EXIF has it
// (FocalLengthIn35mmFilm, CIPA DC-008: by the diagonal, 43.27 mm there). The photo must not be cropped.
func FocalPX(equivalentMM float64, widthPX, heightPX int) float64 {
	return equivalentMM * math.Hypot(float64(widthPX), float64(heightPX)) / math.Hypot(36, 24)
}

// Marker is our marker as a photo shows it.
type Marker struct {
	Text Text
	// CornersPX of the symbol: top left, top right, bottom right, bottom left, as it is printed.
	CornersPX [4]XY
	// MMPerPX is the scale of a plane square to the camera at the symbol's middle: no tilt of the marker enters it. SDMMPerPX
	// is the standard deviation of the reading alone; see ScaleSD.
	MMPerPX, SDMMPerPX float64
	// UprightMMPerPX is the scale along the marker's own vertical, foreshortened as the photo has it. It is MMPerPX where
	// neither camera nor marker leans.
	UprightMMPerPX float64
	TiltDeg        float64 // between the marker's normal and the camera's axis, 0–90
	TurnDeg        float64 // the part of it about the marker's vertical; positive: its right side is farther away
	LeanDeg        float64 // the part of it about the marker's horizontal; positive: its top is farther away
	RollDeg        float64 // of the marker in the photo, clockwise
	WidthPX        float64 // of the symbol as it would be seen square
	// GreyRGB and WhiteRGB are the patches' colours, 0–255 encoded, for white balance of views that are compared; nil where
	// a patch is not seen evenly lit.
	GreyRGB, WhiteRGB *[3]float64
}

// ScaleSD is the standard deviation of MMPerPX for a dog whose plane is offPlaneSDMM from the marker's (standard deviation)
// at a camera of that focal length: √(read² + (σ/D)²) with D, the distance, from the focal length and the size.
// Without a focal length the widest usual phone lens is taken, whose distance is the shortest: 24 mm of a 35 mm camera,
// for a photo of that size.
func (m Marker) ScaleSD(offPlaneSDMM, focalPX float64, widthPX, heightPX int) float64 {
	return OffPlaneSD(m.SDMMPerPX, offPlaneSDMM, focalPX, widthPX, heightPX)
}

// OffPlaneSD is ScaleSD of any scale that was read, with its standard deviation, in a plane beside the dog's: (s·σ/D)² is
// (σ/f)² with D = s·f, so that the scale itself falls out.
func OffPlaneSD(sdMMPerPX, offPlaneSDMM, focalPX float64, widthPX, heightPX int) float64 {
	if focalPX <= 0 {
		focalPX = FocalPX(24, widthPX, heightPX)
	}
	return math.Hypot(sdMMPerPX, offPlaneSDMM/focalPX)
}

// OffPlaneSDMM is how far marker or tape may be from the plane of the dog's middle: by the protocol they are on the line that
// the paws stand on. Judgement, no source.
const OffPlaneSDMM = 20.0

// Trouble is why a symbol that is in the photo gives no scale, or what else should be told.
type Trouble string

const (
	TroubleForeign Trouble = "foreign" // a symbol that is not ours
	TroubleNewer   Trouble = "newer"   // ours, of a later version than this program knows
	TroubleUnread  Trouble = "unread"  // a symbol that cannot be read: hidden in part, out of focus, too small
	TroubleHidden  Trouble = "hidden"  // ours, but part of it is covered or out of the photo
	TroubleBent    Trouble = "bent"    // ours, but not flat
	TroubleTilted  Trouble = "tilted"  // ours, turned away by more than 45°
	TroubleSeveral Trouble = "several" // more than one of ours
)

// Troubles are all of them.
func Troubles() []Trouble {
	return []Trouble{TroubleForeign, TroubleNewer, TroubleUnread, TroubleHidden, TroubleBent, TroubleTilted, TroubleSeveral}
}

// Told is one trouble and the symbol it is about.
type Told struct {
	Trouble   Trouble
	Text      Text  // of ours; zero otherwise
	CornersPX [4]XY // as Marker's
}

// Say is the sentence.
func (t Told) Say() timeline.Phrase { return timeline.Say("marker.why." + string(t.Trouble)) }

// Found is what there is of markers in a photo.
type Found struct {
	Marker *Marker // the one that can be measured by; nil: none
	Told   []Told  // never nil
}

const (
	// unknownLens is the standard deviation of the log of a focal length that nobody said.
	unknownLens = 0.4
	// wholeAxisSD is where the camera's axis meets a whole photo, in diagonals from its middle along x and along y.
	wholeAxisSD = 0.005
	// clearly is by how much of −2 log likelihood a cropped photo must be the better explanation.
	clearly = 12
	// smallPX is the long side at which a photo is looked at first: a third of the usual 4032.
	smallPX = 1344
	// maxTiltDeg is where the patterns' corner is no longer sure to lie opposite their longest side.
	maxTiltDeg = 45
	// maxMissing is the share of modules that may be wrong: a hair or a fleck. A finger covers more.
	maxMissing = 0.05
	// maxUnseen is the same of edges, which glare and dirt take sooner.
	maxUnseen = 0.25
	// maxBend is how far the symbol may be from flat, in sides of the symbol, and in standard deviations of that.
	maxBend, surelyBent = 0.0035, 4
	// steadySD is the part of the scale's error that more edges do not lessen, as found by table_test.go's scenes:
	// a camera without distortion, a card printed true.
	steadySD = 0.00005
	// maxTries bounds the time that a photo of a tiled wall can cost.
	maxTries = 40
)

// Find looks for our marker in an upright photo, in two steps: reduced to about 1344 px, then, where none is read there, at
// full size. What was found reduced is measured at full size all the same.
func Find(img *image.NRGBA, opt Options) Found {
	out := Found{Told: []Told{}}
	b := img.Bounds()
	if b.Dx() < dim || b.Dy() < dim {
		return out
	}
	full := greyOf(img)
	l := lensOf(b.Dx(), b.Dy(), opt)
	first := max(1, (max(b.Dx(), b.Dy())+smallPX/2)/smallPX)
	var symbols []*symbol
	for _, factor := range []int{first, 1} {
		g := full.reduced(factor)
		symbols = search(img, g, l, symbols)
		if factor == 1 || anyOurs(symbols) {
			break
		}
	}
	if len(symbols) == 0 {
		return out
	}
	var ours []*Marker
	for _, s := range symbols {
		m, told := judge(img, s, l)
		if m != nil {
			ours = append(ours, m)
		}
		if told != nil {
			out.Told = append(out.Told, *told)
		}
	}
	n := len(ours)
	for _, t := range out.Told {
		if t.Text != (Text{}) {
			n++
		}
	}
	switch {
	case n > 1:
		// Which one the dog stands beside is not for us to guess.
		for _, m := range ours {
			out.Told = append(out.Told, Told{TroubleSeveral, m.Text, m.CornersPX})
		}
	case len(ours) == 1:
		out.Marker = ours[0]
	}
	return out
}

// lensOf is the camera. Its axis meets a whole photo near the middle: makers' tolerance and stabilised lenses take it off by
// half a per cent or so (judgement, no source). Where its focal length is not known, phones' lenses from wide to twice are
// taken as likely.
func lensOf(w, h int, opt Options) lens {
	diagonal := math.Hypot(float64(w), float64(h))
	l := lens{axis: XY{X: float64(w-1) / 2, Y: float64(h-1) / 2}, axisSD: wholeAxisSD * diagonal}
	shape := float64(max(w, h)) / float64(min(w, h))
	switch {
	case math.Abs(shape-4.0/3) < 0.01 || math.Abs(shape-1.5) < 0.01: // whole sensors
	case math.Abs(shape-16.0/9) < 0.02 || math.Abs(shape-1) < 0.01: // a camera's own middle part of one
		opt.FocalPX = 0 // said of the whole
	default:
		return lens{axis: l.axis, logF: math.Log(FocalPX(36, w, h)), logFSD: unknownLens}.loose(unknownLens)
	}
	if opt.FocalPX > 0 {
		// EXIF rounds to whole mm, and makers differ in whether they go by the diagonal or the width.
		l.logF, l.logFSD = math.Log(opt.FocalPX), 0.04
		return l
	}
	l.logF, l.logFSD = math.Log(FocalPX(36, w, h)), unknownLens
	return l
}

func anyOurs(all []*symbol) bool {
	for _, s := range all {
		if _, k := ParseText(s.text); k != Foreign {
			return true
		}
	}
	return false
}

// search adds the symbols in one plane to those that are known.
func search(img *image.NRGBA, g *grey, l lens, known []*symbol) []*symbol {
	step := 1
	if g.factor == 1 && max(g.w, g.h) > 2*smallPX {
		step = 2 // what is sought at full size has modules of three rows at least
	}
	all := g.spots(g.levels(), step)
	for i := range all {
		all[i].mid = g.full(all[i].mid)
		all[i].module *= float64(g.factor)
	}
	used := map[int]bool{}
	tries := 0
	for _, c := range triples(all) {
		if used[c.used[0]] || used[c.used[1]] || used[c.used[2]] || tries >= maxTries {
			continue
		}
		var worse *symbol
		for _, n := range c.sizes() {
			tries++
			s := read(img, c, n, l)
			if s == nil {
				continue
			}
			worse = s
			if s.text != "" {
				break
			}
		}
		if worse == nil {
			continue
		}
		for _, i := range c.used {
			used[i] = true
		}
		known = with(known, worse)
	}
	for i, sp := range all {
		// One row may meet anything; and what lies in a symbol is that symbol's.
		if used[i] || sp.hits < 2 || inside(known, sp.mid) {
			continue
		}
		if s := lonely(img, sp, l); s != nil {
			known = append(known, s)
		}
	}
	return known
}

// inside: a place lies in one of the symbols, or so near that it is its neighbour's shadow.
func inside(all []*symbol, at XY) bool {
	return slices.ContainsFunc(all, func(s *symbol) bool {
		return math.Hypot(at.X-s.fit.mid.X, at.Y-s.fit.mid.Y) < 0.75*math.Exp(-s.fit.logS)*float64(max(s.n, dim))/float64(s.n)
	})
}

// with adds a symbol, or puts it in the place of the same one unread.
func with(all []*symbol, s *symbol) []*symbol {
	for i, o := range all {
		if math.Hypot(o.fit.mid.X-s.fit.mid.X, o.fit.mid.Y-s.fit.mid.Y) < 0.7*math.Exp(-s.fit.logS) {
			if o.text == "" {
				all[i] = s
			}
			return all
		}
	}
	return append(all, s)
}

// judge measures a symbol of ours, and tells of one that gives no scale.
func judge(img *image.NRGBA, s *symbol, l lens) (*Marker, *Told) {
	told := &Told{Trouble: TroubleUnread, CornersPX: corners(&s.fit.view)}
	if s.text == "" {
		return nil, told
	}
	text, kin := ParseText(s.text)
	switch kin {
	case Foreign:
		told.Trouble = TroubleForeign
		return nil, told
	case Newer:
		told.Trouble = TroubleNewer
		return nil, told
	}
	g, err := drawn(s.text, s.mask)
	if err != nil || s.n != dim {
		// Our words in a symbol that we do not draw.
		told.Trouble = TroubleForeign
		return nil, told
	}
	told.Text = text
	pattern := newPattern(dim).grid(g)
	f := s.fit.again(s.patch, l, pattern, 25)
	// Where a lens whose axis is off the middle, or another focal length than was said, explains clearly more, the photo is
	// cropped, or a program has written what is not so. Then the tilt is less sure, and the scale says so.
	if g := s.fit.again(s.patch, l.loose(unknownLens), pattern, 25); g != nil && (f == nil || f.cost-g.cost > clearly) {
		f = g
	}
	if f == nil {
		told.Trouble = TroubleHidden
		return nil, told
	}
	s.fit = f
	told.CornersPX = corners(&f.view)
	size := math.Exp(-f.logS)
	px, sd := bend(f)
	switch {
	case f.tiltDeg() > maxTiltDeg:
		told.Trouble = TroubleTilted
		return nil, told
	case px > maxBend*size && px > surelyBent*sd:
		told.Trouble = TroubleBent
		return nil, told
	case missing(s, g) > maxMissing:
		told.Trouble = TroubleHidden
		return nil, told
	case unseen(f, len(pattern.edges())) > maxUnseen:
		told.Trouble = TroubleHidden
		return nil, told
	}
	m := &Marker{Text: text, CornersPX: told.CornersPX, TiltDeg: f.tiltDeg(), WidthPX: size}
	mm := float64(text.SizeMM)
	m.MMPerPX = mm / size
	m.SDMMPerPX = m.MMPerPX * math.Hypot(f.logSSD, steadySD)
	ju, jv := f.jacobian(0, 0)
	m.UprightMMPerPX = mm / math.Hypot(jv.X, jv.Y)
	m.TurnDeg = math.Asin(clamp(f.r[2][0])) * 180 / math.Pi
	m.LeanDeg = math.Asin(clamp(-f.r[2][1])) * 180 / math.Pi
	m.RollDeg = math.Atan2(ju.Y, ju.X) * 180 / math.Pi
	m.GreyRGB, m.WhiteRGB = colourOf(img, &f.view, greyPatch), colourOf(img, &f.view, whitePatch)
	return m, nil
}

func clamp(v float64) float64 { return math.Max(-1, math.Min(1, v)) }

func corners(w *view) [4]XY {
	return [4]XY{w.at(-0.5, -0.5), w.at(0.5, -0.5), w.at(0.5, 0.5), w.at(-0.5, 0.5)}
}

// colourOf is the mean colour of a patch's inner part, or nil where it is not of one colour: covered, or half in shadow.
func colourOf(img *image.NRGBA, w *view, b box) *[3]float64 {
	b = b.inner()
	var sum, sq [3]float64
	const n = 16
	for j := range n {
		for i := range n {
			q := w.at(b.u0+(b.u1-b.u0)*(float64(i)+0.5)/n, b.v0+(b.v1-b.v0)*(float64(j)+0.5)/n)
			x, y := int(math.Round(q.X)), int(math.Round(q.Y))
			r := img.Bounds()
			if x < 0 || y < 0 || x >= r.Dx() || y >= r.Dy() {
				return nil
			}
			p := img.Pix[img.PixOffset(r.Min.X+x, r.Min.Y+y):]
			for k := range 3 {
				sum[k] += float64(p[k])
				sq[k] += square(float64(p[k]))
			}
		}
	}
	var out [3]float64
	for k := range out {
		out[k] = sum[k] / (n * n)
		// Twelve levels hold a phone's noise indoors; a shadow's edge or a paw is more.
		if sq[k]/(n*n)-square(out[k]) > 12*12 {
			return nil
		}
	}
	return &out
}
