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

// The chart's frame, units of its viewBox.
const (
	chartW, chartH = 720.0, 360.0
	plotL, plotR   = 44.0, 708.0
	plotT, plotB   = 44.0, 316.0
)

// chartSVG draws one zone over time: what a ruler should read with its band, the length wanted, what the ruler did read, the
// length if the plan is followed, sessions and shows. Lines differ by dash, points by shape; the same figures stand in a
// table beside it. The same chart gives the same bytes.
func chartSVG(sp words.Speaker, c salon.Chart) template.HTML {
	if len(c.Days) < 2 {
		return ""
	}
	first, last := c.Days[0], c.Days[len(c.Days)-1]
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
	step := gridStep(sp, most)
	most = math.Ceil(most*1.04/step) * step
	x := func(d timeline.Day) float64 {
		return plotL + (plotR-plotL)*float64(d-first)/float64(last-first)
	}
	y := func(mm float64) float64 { return plotB - (plotB-plotT)*mm/most }

	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="growth" viewBox="0 0 %g %g" role="img" aria-labelledby="growth-title growth-desc"><title id="growth-title">%s</title><desc id="growth-desc">%s</desc>`,
		chartW, chartH, esc(sp.T("growth.chart", "zone", c.Zone)), esc(sp.T("growth.chart.desc", "from", first, "to", last)))
	for _, band := range c.Bands {
		from, to := max(band.From, first), min(band.To, last)
		top := most
		if band.Target.Max != nil {
			top = *band.Target.Max
		}
		fmt.Fprintf(&b, `<rect class="growth-target" x="%.1f" y="%.1f" width="%.1f" height="%.1f"/>`, x(from), y(top), max(1, x(to)-x(from)), max(1, y(band.Target.Min)-y(top)))
	}
	for mm := 0.0; mm <= most+1e-9; mm += step {
		fmt.Fprintf(&b, `<path class="growth-grid" d="M%g %.1fH%g"/><text class="growth-label" x="%g" y="%.1f" text-anchor="end">%s</text>`, plotL, y(mm), plotR, plotL-6, y(mm)+4, esc(sp.LengthNumber(mm)))
	}
	fmt.Fprintf(&b, `<text class="growth-label" x="%g" y="%g" text-anchor="end">%s</text>`, plotL-6, plotT-14, esc(sp.UnitName()))
	for _, d := range monthStarts(first, last) {
		fmt.Fprintf(&b, `<path class="growth-grid" d="M%.1f %gV%g"/><text class="growth-label" x="%.1f" y="%g">%s</text>`, x(d), plotB, plotB+6, x(d)+3, plotB+18, esc(sp.T(fmt.Sprintf("month.%d", d.Time().Month()))))
	}
	for _, v := range c.Sessions {
		class := "growth-session"
		if v.Do == timeline.Take || v.Do == timeline.Strip {
			class += " growth-pulled"
		}
		fmt.Fprintf(&b, `<path class="%s" d="M%.1f %gV%g"/>`, class, x(v.On), plotB, plotB-12)
	}
	b.WriteString(areaPath("growth-band", c.Days, c.LongestMM, x, y))
	b.WriteString(linePath("growth-median", c.Days, c.LongestMM, x, y))
	if n := len(c.PlannedMM); n > 0 && c.PlannedAt+n <= len(c.Days) {
		b.WriteString(linePath("growth-planned", c.Days[c.PlannedAt:c.PlannedAt+n], c.PlannedMM, x, y))
	}
	fmt.Fprintf(&b, `<path class="growth-today" d="M%.1f %gV%g"/><text class="growth-label" x="%.1f" y="%g">%s</text>`, x(c.Today), plotT, plotB, x(c.Today)+4, plotT+4, esc(sp.T("growth.today")))
	for i, s := range c.Shows {
		if s.On < first || s.On > last {
			continue
		}
		anchor, dx := "start", 5.0
		if x(s.On) > plotR-120 {
			anchor, dx = "end", -5
		}
		fmt.Fprintf(&b, `<path class="growth-show" d="M%.1f %gV%g"/><text class="growth-showname" x="%.1f" y="%g" text-anchor="%s">%s</text>`, x(s.On), plotT-30, plotB, x(s.On)+dx, plotT-22+14*float64(i%2), anchor, esc(s.Name))
	}
	for _, r := range c.Readings {
		if r.On >= first && r.On <= last {
			fmt.Fprintf(&b, `<circle class="growth-reading" cx="%.1f" cy="%.1f" r="5.5"/>`, x(r.On), y(r.LengthMM))
		}
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
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

func monthStarts(first, last timeline.Day) []timeline.Day {
	var out []timeline.Day
	for d := first; d <= last; d++ {
		if d.Time().Day() == 1 {
			out = append(out, d)
		}
	}
	// Labels need about 36 units each.
	for len(out) > 1 && (plotR-plotL)/float64(len(out)) < 36 {
		var every []timeline.Day
		for i := 0; i < len(out); i += 2 {
			every = append(every, out[i])
		}
		out = every
	}
	return out
}

func linePath(class string, days []timeline.Day, of []coat.Dist, x func(timeline.Day) float64, y func(float64) float64) string {
	var d strings.Builder
	for i, v := range of {
		verb := "L"
		if i == 0 {
			verb = "M"
		}
		fmt.Fprintf(&d, "%s%.1f %.1f", verb, x(days[i]), y(v.Median))
	}
	return fmt.Sprintf(`<path class="%s" d="%s"/>`, class, d.String())
}

func areaPath(class string, days []timeline.Day, of []coat.Dist, x func(timeline.Day) float64, y func(float64) float64) string {
	var d strings.Builder
	for i, v := range of {
		verb := "L"
		if i == 0 {
			verb = "M"
		}
		fmt.Fprintf(&d, "%s%.1f %.1f", verb, x(days[i]), y(v.P90))
	}
	for i := len(of) - 1; i >= 0; i-- {
		fmt.Fprintf(&d, "L%.1f %.1f", x(days[i]), y(of[i].P10))
	}
	return fmt.Sprintf(`<path class="%s" d="%sZ"/>`, class, d.String())
}

func esc(s string) string { return template.HTMLEscapeString(s) }
