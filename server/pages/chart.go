package pages

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"thatch/server/salon"
	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/web/words"
)

// chartFrame is the size of a chart in units of its viewBox; its letters are 13 of them high, so a narrow screen has a frame
// of its own rather than a wide one made small.
type chartFrame struct {
	Name          string // makes IDs and a class
	W, H          float64
	Left, Right   float64 // of the plot
	Top, Bottom   float64
	MonthU, MarkU float64 // the least room for the name of a month, for the word of a session
	Rough         bool    // lines in whole units: half as many bytes
}

var (
	wideChart   = chartFrame{Name: "wide", W: 720, H: 376, Left: 44, Right: 708, Top: 44, Bottom: 310, MonthU: 36, MarkU: 30}
	smallChart  = chartFrame{Name: "small", W: 366, H: 266, Left: 34, Right: 360, Top: 40, Bottom: 204, MonthU: 34, MarkU: 28, Rough: true}
	narrowChart = chartFrame{Name: "narrow", W: 366, H: 372, Left: 34, Right: 360, Top: 44, Bottom: 306, MonthU: 34, MarkU: 28}
)

// chartMark is a session under the axis: what was done, or will be if the plan is followed.
type chartMark struct {
	On    timeline.Day
	Class string // growth-pulled, growth-ahead or none
	Short string // "" where nothing was done
}

// chartSVG draws one zone over time: what a ruler should read with its band, the length wanted, what the ruler did read, the
// length at the outline and how that goes on if the plan is followed, sessions and shows. Lines differ by dash and weight,
// points by shape; the same figures stand in a table beside it. The same chart gives the same bytes.
func chartSVG(sp words.Speaker, c salon.Chart, marks []chartMark, f chartFrame) template.HTML {
	if len(c.Days) < 2 {
		return ""
	}
	first, last := c.Days[0], c.Days[len(c.Days)-1]
	most := chartMost(c)
	step := gridStep(sp, most)
	most = math.Ceil(most*1.04/step) * step
	x := func(d timeline.Day) float64 {
		return f.Left + (f.Right-f.Left)*float64(d-first)/float64(last-first)
	}
	y := func(mm float64) float64 { return f.Bottom - (f.Bottom-f.Top)*mm/most }

	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="growth growth-%s" viewBox="0 0 %g %g" role="img" aria-labelledby="growth-%[1]s-title growth-%[1]s-desc"><title id="growth-%[1]s-title">%[4]s</title><desc id="growth-%[1]s-desc">%[5]s</desc>`,
		f.Name, f.W, f.H, esc(sp.T("growth.chart", "zone", c.Zone)), esc(sp.T("growth.chart.desc", "from", first, "to", last)))
	for _, band := range c.Bands {
		from, to := max(band.From, first), min(band.To, last)
		top := most
		if band.Target.Max != nil {
			top = *band.Target.Max
		}
		fmt.Fprintf(&b, `<rect class="growth-target" x="%.1f" y="%.1f" width="%.1f" height="%.1f"/>`, x(from), y(top), max(1, x(to)-x(from)), max(1, y(band.Target.Min)-y(top)))
	}
	for mm := 0.0; mm <= most+1e-9; mm += step {
		fmt.Fprintf(&b, `<path class="growth-grid" d="M%g %.1fH%g"/><text class="growth-label" x="%g" y="%.1f" text-anchor="end">%s</text>`, f.Left, y(mm), f.Right, f.Left-6, y(mm)+4, esc(sp.LengthNumber(mm)))
	}
	fmt.Fprintf(&b, `<text class="growth-label" x="%g" y="%g" text-anchor="end">%s</text>`, f.Left-6, f.Top-14, esc(sp.UnitName()))
	writeMonths(&b, sp, f, first, last, x)
	writeMarks(&b, f, marks, first, last, x)
	b.WriteString(f.areaPath("growth-band", c.Days, c.LongestMM, x, y))
	b.WriteString(f.linePath("growth-median", c.Days, c.LongestMM, x, y))
	past := len(c.VisibleMM)
	if n := len(c.PlannedMM); n > 0 && c.PlannedAt+n <= len(c.Days) {
		past = min(past, c.PlannedAt+1)
		b.WriteString(f.linePath("growth-planned", c.Days[c.PlannedAt:c.PlannedAt+n], c.PlannedMM, x, y))
	}
	if past > 1 {
		b.WriteString(f.linePath("growth-visible", c.Days[:past], c.VisibleMM[:past], x, y))
	}
	anchor, dx := "start", 4.0
	if x(c.Today) > f.Right-44 {
		anchor, dx = "end", -4
	}
	fmt.Fprintf(&b, `<path class="growth-today" d="M%.1f %gV%g"/><text class="growth-label" x="%.1f" y="%g" text-anchor="%s">%s</text>`, x(c.Today), f.Top, f.Bottom, x(c.Today)+dx, f.Top+12, anchor, esc(sp.T("growth.today")))
	writeShows(&b, f, c.Shows, first, last, x)
	for _, r := range c.Readings {
		if r.On >= first && r.On <= last {
			fmt.Fprintf(&b, `<circle class="growth-reading" cx="%.1f" cy="%.1f" r="5.5"/>`, x(r.On), y(r.LengthMM))
		}
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}

// chartMost is the longest length that the chart must hold, mm, at least 10.
func chartMost(c salon.Chart) float64 {
	most := 10.0
	for _, d := range c.LongestMM {
		most = max(most, d.P90)
	}
	for _, r := range c.Readings {
		most = max(most, r.LengthMM)
	}
	for _, b := range c.Bands {
		if b.Target.Max != nil {
			most = max(most, *b.Target.Max)
		}
	}
	return most
}

func writeMonths(b *strings.Builder, sp words.Speaker, f chartFrame, first, last timeline.Day, x func(timeline.Day) float64) {
	for _, d := range monthStarts(first, last, int((f.Right-f.Left)/f.MonthU)) {
		fmt.Fprintf(b, `<path class="growth-grid" d="M%.1f %gV%g"/>`, x(d), f.Bottom+34, f.Bottom+42)
		if x(d) < f.Right-20 {
			fmt.Fprintf(b, `<text class="growth-label" x="%.1f" y="%g">%s</text>`, x(d), f.Bottom+56, esc(sp.T(fmt.Sprintf("month.%d", d.Time().Month()))))
		}
	}
}

// writeMarks puts the sessions under the axis; a word that would run into the one before is left out.
func writeMarks(b *strings.Builder, f chartFrame, marks []chartMark, first, last timeline.Day, x func(timeline.Day) float64) {
	free := math.Inf(-1)
	for _, m := range marks {
		if m.On < first || m.On > last {
			continue
		}
		fmt.Fprintf(b, `<path class="%s" d="M%.1f %gV%g"/>`, strings.TrimSpace("growth-session "+m.Class), x(m.On), f.Bottom+2, f.Bottom+14)
		if m.Short != "" && x(m.On) >= free {
			fmt.Fprintf(b, `<text class="growth-label" x="%.1f" y="%g" text-anchor="middle">%s</text>`, x(m.On), f.Bottom+28, esc(m.Short))
			free = x(m.On) + f.MarkU
		}
	}
}

// A show's name is put over the plot on a ground of its own: it may lie over another show's line, never over another's name.
const (
	showRowU    = 17.0 // from one row of names to the next
	showLetterU = 7.4  // of a letter 13 high, about
)

// writeShows names each show above its line, a row lower where the row above is taken; all lines are under all names.
func writeShows(b *strings.Builder, f chartFrame, shows []timeline.Show, first, last timeline.Day, x func(timeline.Day) float64) {
	var names strings.Builder
	free := [2]float64{} // where each row's last name ends
	for _, s := range shows {
		if s.On < first || s.On > last {
			continue
		}
		fmt.Fprintf(b, `<path class="growth-show" d="M%.1f %gV%g"/>`, x(s.On), f.Top-30, f.Bottom)
		name := []rune(s.Name)
		if most := int((f.W - 8) / showLetterU); len(name) > most {
			name = append(name[:most-1], '…')
		}
		wide := showLetterU * float64(len(name))
		anchor, at, from := "start", x(s.On)+5, x(s.On)+5
		if x(s.On) > (f.Left+f.Right)/2 {
			anchor, at, from = "end", x(s.On)-5, x(s.On)-5-wide
		}
		switch {
		case from < 4:
			anchor, at, from = "start", 4, 4
		case from+wide > f.W-4:
			anchor, at, from = "end", f.W-4, f.W-4-wide
		}
		row := 0
		if from < free[0] {
			row = 1
		}
		if from < free[row] {
			continue // the table beside the chart has it
		}
		free[row] = from + wide + showLetterU
		y := f.Top - 26 + showRowU*float64(row)
		fmt.Fprintf(&names, `<rect class="growth-showground" x="%.1f" y="%g" width="%.1f" height="16"/><text class="growth-showname" x="%.1f" y="%g" text-anchor="%s">%s</text>`, from-3, y-12, wide+6, at, y, anchor, esc(string(name)))
	}
	b.WriteString(names.String())
}

// gridStep keeps four to seven lines: 5, 10 or 20 mm, or the quarter, half or whole inch.
func gridStep(sp words.Speaker, most float64) float64 {
	steps := []float64{5, 10, 20, 50}
	if sp.Units == words.Inches {
		steps = []float64{words.MMPerInch / 4, words.MMPerInch / 2, words.MMPerInch, 2 * words.MMPerInch}
	}
	for _, s := range steps {
		if most/s <= 7 {
			return s
		}
	}
	return 4 * steps[len(steps)-1]
}

// monthStarts are the first days of months, every second or fourth where there would be more than most.
func monthStarts(first, last timeline.Day, most int) []timeline.Day {
	var out []timeline.Day
	for d := first; d <= last; d++ {
		if d.Time().Day() == 1 {
			out = append(out, d)
		}
	}
	for len(out) > max(1, most) {
		var every []timeline.Day
		for i := 0; i < len(out); i += 2 {
			every = append(every, out[i])
		}
		out = every
	}
	return out
}

func (f chartFrame) digits() int {
	if f.Rough {
		return 0
	}
	return 1
}

func (f chartFrame) linePath(class string, days []timeline.Day, of []coat.Dist, x func(timeline.Day) float64, y func(float64) float64) string {
	var d strings.Builder
	for i, v := range of {
		verb := "L"
		if i == 0 {
			verb = "M"
		}
		fmt.Fprintf(&d, "%s%.*f %.*f", verb, f.digits(), x(days[i]), f.digits(), y(v.Median))
	}
	return fmt.Sprintf(`<path class="%s" d="%s"/>`, class, d.String())
}

func (f chartFrame) areaPath(class string, days []timeline.Day, of []coat.Dist, x func(timeline.Day) float64, y func(float64) float64) string {
	var d strings.Builder
	for i, v := range of {
		verb := "L"
		if i == 0 {
			verb = "M"
		}
		fmt.Fprintf(&d, "%s%.*f %.*f", verb, f.digits(), x(days[i]), f.digits(), y(v.P90))
	}
	for i := len(of) - 1; i >= 0; i-- {
		fmt.Fprintf(&d, "L%.*f %.*f", f.digits(), x(days[i]), f.digits(), y(of[i].P10))
	}
	return fmt.Sprintf(`<path class="%s" d="%sZ"/>`, class, d.String())
}

func esc(s string) string { return template.HTMLEscapeString(s) }
