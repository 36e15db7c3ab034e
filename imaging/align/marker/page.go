package marker

import (
	"io"
	"math"
	"strings"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"

	"thatch/timeline"
)

// Paper is a sheet, upright, mm.
type Paper struct{ WidthMM, HeightMM float64 }

// A4 is of ISO 216, Letter of ANSI/ASME Y14.1 (8½ × 11 inch).
var (
	A4     = Paper{210, 297}
	Letter = Paper{215.9, 279.4}
)

// Labels are the texts on the sheet, in the reader's language.
type Labels struct {
	Title string   // at the top of the sheet
	Steps []string // what to do with it
	Name  string   // on the card, whose it is
	Foot  string   // on the strip that goes into the block
	Ruler string   // beside the check ruler
}

const (
	footMM    = 15  // of the card, goes into the block
	rulerMM   = 100 // of the check ruler
	marginMM  = 12
	smallText = 3.4 // height of letters with their line, mm
	largeText = 5.2
)

// rect is filled; grey 0 is black.
type rect struct {
	x, y, w, h float64 // mm from the sheet's top left
	grey       uint8
}

// textLine stands with its base line at x, y.
type textLine struct {
	x, y, size float64 // mm
	text       string
}

// sheet is what is printed, whatever it is printed with.
type sheet struct {
	paper Paper
	place rect // of the symbol
	rects []rect
	texts []textLine
}

// A writer of sheets.
type writer func(w io.Writer, s *sheet) error

// WritePDF writes the sheet with the card as a PDF that asks to be printed at true size.
func WritePDF(w io.Writer, t Text, p Paper, l Labels) error { return write(w, t, p, l, writePDF) }

// WritePNG writes the same sheet as a picture of 300 dots an inch.
func WritePNG(w io.Writer, t Text, p Paper, l Labels) error { return write(w, t, p, l, writePNG) }

func write(w io.Writer, t Text, p Paper, l Labels, how writer) error {
	s, err := newSheet(t, p, l)
	if err != nil {
		return err
	}
	return how(w, s)
}

// newSheet lays the card out: symbol, patches, name, the foot with its line, the line to cut along, and outside of it the
// steps and the check ruler.
func newSheet(t Text, p Paper, l Labels) (*sheet, error) {
	g, err := encode(t)
	if err != nil {
		return nil, err
	}
	s := &sheet{paper: p}
	y := marginMM + largeText
	s.texts = append(s.texts, textLine{marginMM, y, largeText, clipped(l.Title, largeText, p.WidthMM-2*marginMM)})
	for _, step := range l.Steps {
		for _, line := range wrapped(step, smallText, p.WidthMM-2*marginMM) {
			y += smallText * 1.35
			s.texts = append(s.texts, textLine{marginMM, y, smallText, line})
		}
	}
	size := float64(t.SizeMM)
	left, top := (p.WidthMM-(card.u1-card.u0)*size)/2, y+6
	at := func(b box, grey uint8) rect {
		return rect{left + (b.u0-card.u0)*size, top + (b.v0-card.v0)*size, (b.u1 - b.u0) * size, (b.v1 - b.v0) * size, grey}
	}
	s.place = at(box{-0.5, -0.5, 0.5, 0.5}, 0)
	s.symbol(s.place, g)
	s.rects = append(s.rects, at(greyPatch, greyLevel))
	white := at(whitePatch, 0)
	s.frame(white.x, white.y, white.w, white.h, 0.2, 150)
	whole := at(card, 0)
	bottom := whole.y + whole.h
	s.texts = append(s.texts, textLine{left + quiet*size, bottom - 0.4*quiet*size, min(smallText, 0.4*quiet*size), clipped(l.Name, smallText, size)})
	for x := 0.0; x < whole.w; x += 4 { // dashes where the block begins
		s.rects = append(s.rects, rect{whole.x + x, bottom, min(2, whole.w-x), 0.2, 100})
	}
	s.texts = append(s.texts, textLine{whole.x + 3, bottom + footMM/2 + 1, smallText, clipped(l.Foot, smallText, whole.w-6)})
	s.frame(whole.x, whole.y, whole.w, whole.h+footMM, 0.2, 100)

	ruler := p.HeightMM - marginMM - 4
	if bottom+footMM > ruler-6 {
		return nil, timeline.NewFault(timeline.Invalid, "fault.marker.paper").In("size_mm")
	}
	s.ruler(marginMM, ruler)
	s.texts = append(s.texts, textLine{marginMM + rulerMM + 5, ruler + 2, smallText, clipped(l.Ruler, smallText, p.WidthMM-2*marginMM-rulerMM-5)})
	return s, nil
}

// symbol draws runs of dark modules row by row; rows overlap by a hair so that no printer leaves a seam.
func (s *sheet) symbol(r rect, g grid) {
	m := r.w / float64(len(g))
	for y := range g {
		for x := 0; x < len(g); {
			n := 0
			for x+n < len(g) && g[y][x+n] {
				n++
			}
			if n > 0 {
				s.rects = append(s.rects, rect{r.x + float64(x)*m, r.y + float64(y)*m, float64(n) * m, m, 0})
			}
			x += max(1, n)
		}
	}
	// Where dark lies on dark, one rectangle bridges the seam.
	for y := 0; y+1 < len(g); y++ {
		for x := range g {
			if g[y][x] && g[y+1][x] {
				s.rects = append(s.rects, rect{r.x + float64(x)*m + m/4, r.y + float64(y)*m + m/2, m / 2, m, 0})
			}
		}
	}
}

// frame is drawn outside of the box by its line's width.
func (s *sheet) frame(x, y, w, h, line float64, grey uint8) {
	s.rects = append(s.rects,
		rect{x - line, y - line, w + 2*line, line, grey}, rect{x - line, y + h, w + 2*line, line, grey},
		rect{x - line, y, line, h, grey}, rect{x + w, y, line, h, grey})
}

// ruler is 100 mm between the outer edges of its end marks.
func (s *sheet) ruler(x, y float64) {
	const line = 0.3
	s.rects = append(s.rects, rect{x, y, rulerMM, line, 0})
	for i := 0; i <= rulerMM; i += 5 {
		h := 2.0
		if i%10 == 0 {
			h = 3.5
		}
		at := x + float64(i) - line/2
		at = math.Max(x, math.Min(x+rulerMM-line, at))
		s.rects = append(s.rects, rect{at, y - h, line, h, 0})
	}
}

var outlines = func() *opentype.Font {
	f, err := opentype.Parse(goregular.TTF)
	if err != nil {
		panic(err)
	}
	return f
}()

// face is the font at a height of letters with their line; dpmm are dots per mm.
func face(size, dpmm float64) font.Face {
	f, err := opentype.NewFace(outlines, &opentype.FaceOptions{Size: size * dpmm, DPI: 72, Hinting: font.HintingNone})
	if err != nil {
		panic(err) // of numbers that are not ours
	}
	return f
}

func widthMM(s string, size float64) float64 {
	const fine = 20
	return float64(font.MeasureString(face(size, fine), s)) / 64 / fine
}

// wrapped breaks a text at its spaces.
func wrapped(s string, size, width float64) []string {
	var out []string
	line := ""
	for _, word := range strings.Fields(s) {
		if next := strings.TrimSpace(line + " " + word); line != "" && widthMM(next, size) > width {
			out = append(out, line)
			line = word
		} else {
			line = next
		}
	}
	return append(out, line)
}

// clipped cuts a text that is too long for its place.
func clipped(s string, size, width float64) string {
	r := []rune(s)
	for len(r) > 0 && widthMM(string(r), size) > width {
		r = append(r[:max(0, len(r)-2)], '…')
		if len(r) == 1 {
			return ""
		}
	}
	return string(r)
}
