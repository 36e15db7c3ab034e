package pages

import (
	"math"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"thatch/server/salon"
	"thatch/timeline"
)

type comparePage struct {
	frame
	salon.Comparison
	None   bool // there are no two days to compare yet; then nothing else is set
	Light  bool // white balance is on
	A0, B0 comparePicture
	Rows   []compareRow // zones that were measured at one of the times
	Lines  []compareLine
	Steps  []compareStep // the legend of differences; empty: none was measured
	Choice salon.CompareChoice
	How    string // as the address says; "": the script's own
}

// comparePicture is a picture of the pair: as it is first shown, and as it is shown when it is zoomed.
type comparePicture struct {
	URL, Full       string
	WidthPX, Height int
}

type compareRow struct {
	salon.CompareZone
	Step compareStep
}

// compareLine is one kind of line with whether it is drawn before anybody chooses.
type compareLine struct {
	Kind string // as "lines.…" calls it
	On   bool
}

// compareStep is one step of the scale of differences: colour, width of the stroke and sign say the same.
type compareStep struct {
	Code     string  // of its class: "minus3" … "same" … "plus3"
	From, To float64 // mm, by size; To 0: and more
	Sign     float64
}

// The scale's bounds, mm: a millimetre or two is what a light session takes, six is a change that one sees across the room.
// Judgement, no source.
var compareBoundsMM = []float64{0, 3, 6}

func compareSteps() (out []compareStep) {
	for i := len(compareBoundsMM) - 1; i >= 0; i-- {
		out = append(out, compareStepOf(-1, i))
	}
	out = append(out, compareStep{Code: "same"})
	for i := range compareBoundsMM {
		out = append(out, compareStepOf(1, i))
	}
	return out
}

func compareStepOf(sign float64, i int) compareStep {
	s := compareStep{Code: map[bool]string{true: "plus", false: "minus"}[sign > 0] + string(rune('1'+i)), From: sign * compareBoundsMM[i], Sign: sign}
	if i+1 < len(compareBoundsMM) {
		s.To = sign * compareBoundsMM[i+1]
	}
	return s
}

func stepOf(c *salon.Change) compareStep {
	switch {
	case c == nil:
		return compareStep{}
	case !c.Real:
		return compareStep{Code: "same"}
	}
	i := len(compareBoundsMM) - 1
	for i > 0 && math.Abs(c.MM) < compareBoundsMM[i] {
		i--
	}
	return compareStepOf(math.Copysign(1, c.MM), i)
}

var compareView = declare[comparePage]("compare")

// compare shows any two photos of a dog, /compare?a=…&b=…, or of a dog the first against the last: /compare?dog=…&side=…
func (s *Site) compare(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	a, b := timeline.ID(q.Get("a")), timeline.ID(q.Get("b"))
	if dog := timeline.ID(q.Get("dog")); dog != "" && a == "" {
		var ok bool
		var err error
		if a, b, ok, err = s.salon.FirstAgainstLast(r.Context(), dog, timeline.Side(q.Get("side"))); err != nil {
			return err
		}
		if !ok {
			return s.nothingToCompare(w, r, dog)
		}
	}
	c, err := s.salon.Compare(r.Context(), a, b)
	if err != nil {
		return err
	}
	p := comparePage{frame: frame{Tab: "compare", Dog: navOf(c.Dog)}, Comparison: c}
	p.Light = c.Balance.Can && q.Get("balance") == "on"
	if how := q.Get("how"); slices.Contains(compareHows, how) {
		p.How = how
	}
	p.A0, p.B0 = p.picture(c.A, c.B), p.picture(c.B, c.A)
	for _, z := range c.Zones {
		if z.A.MeasuredMM != nil || z.B.MeasuredMM != nil || z.Change != nil {
			p.Rows = append(p.Rows, compareRow{z, stepOf(z.Change)})
		}
		if z.Change != nil && p.Steps == nil {
			p.Steps = compareSteps()
		}
	}
	p.Lines = linesOf(c)
	until, err := timeline.ParseDay(q.Get("until"))
	if err != nil {
		until = 0
	}
	if p.Choice, err = s.salon.CompareChoice(r.Context(), c.A, c.B, timeline.Side(q.Get("side")), until); err != nil {
		return err
	}
	return compareView.show(s, w, r, p)
}

var compareHows = []string{"slider", "side", "blink", "ghost"}

// nothingToCompare says what it takes.
func (s *Site) nothingToCompare(w http.ResponseWriter, r *http.Request, dog timeline.ID) error {
	d, err := s.salon.Dog(r.Context(), dog)
	if err != nil {
		return err
	}
	return compareView.show(s, w, r, comparePage{frame: frame{Tab: "compare", Dog: navOf(d)}, None: true})
}

// picture is where a photo of the pair is shown: laid over the other one, or in its own frame.
func (p comparePage) picture(ph, other timeline.Photo) comparePicture {
	over := p.Aligned && ph.ID == p.Over.ID
	in := ph
	ref := ph.ID
	if over {
		in, ref = p.Ref, p.Ref.ID
	}
	out := comparePicture{URL: laidURL(ph.ID, ref, true), Full: laidURL(ph.ID, ref, false), WidthPX: in.WidthPX, Height: in.HeightPX}
	switch {
	case over && p.Light:
		out.Full = laidURL(ph.ID, ref, false) + "?balance=on"
		out.URL = out.Full
	case p.Light:
		out.Full = "/photos/" + string(ph.ID) + "/balanced/" + string(other.ID)
		out.URL = out.Full
	case !over:
		out.Full = "/photos/" + string(ph.ID) + "/picture/view"
	}
	return out
}

// linesOf are the kinds of line that the pair has, in the order of the legend. The skin and the edge as it was found are for who
// wants to know why.
func linesOf(c salon.Comparison) []compareLine {
	out := []compareLine{}
	for _, k := range []compareLine{{"measured", true}, {"expected", true}, {"target", true}, {"wanted", true}, {"edge", false}, {"skin", false}} {
		if c.Aligned && (lineKind(c.OverlayA.Lines, k.Kind) || lineKind(c.OverlayB.Lines, k.Kind)) {
			out = append(out, k)
		}
	}
	return out
}

// Head is the dog of the page.
func (p comparePage) Head() *dogNav { return p.frame.Dog }

// LineOf is the box of the legend that a line answers to.
func (p comparePage) LineOf(kind string) string {
	of, _, _ := strings.Cut(kind, "_")
	return of
}

// Drawn reports that differences are drawn on the photos.
func (p comparePage) Drawn() bool {
	return slices.ContainsFunc(p.Rows, func(r compareRow) bool { return r.Change != nil && r.Change.D != "" })
}

// FigurePX is the height of a figure on the picture, px of its frame.
func (p comparePage) FigurePX() int { return max(10, p.Ref.WidthPX/30) }

// To is the address of another pair; "" keeps what is shown.
func (p comparePage) To(a, b timeline.ID) string { return p.at(a, b, p.Choice.Side, 0) }

// Of is the same pair with the days of another side, or another row of days, to choose from.
func (p comparePage) Of(side timeline.Side, until timeline.Day) string {
	return p.at("", "", side, until) + "#days"
}

func (p comparePage) at(a, b timeline.ID, side timeline.Side, until timeline.Day) string {
	if a == "" {
		a = p.A.ID
	}
	if b == "" {
		b = p.B.ID
	}
	var q strings.Builder
	q.WriteString("/compare?a=" + url.QueryEscape(string(a)) + "&b=" + url.QueryEscape(string(b)))
	if side != p.B.Side || b != p.B.ID {
		q.WriteString("&side=" + url.QueryEscape(string(side)))
	}
	if !until.IsZero() {
		q.WriteString("&until=" + until.String())
	}
	if p.Light {
		q.WriteString("&balance=on")
	}
	return q.String()
}
