package pages

import (
	"cmp"
	"html/template"
	"strconv"
	"strings"

	"thatch/timeline"
	"thatch/timeline/plan"
	"thatch/web/drawing"
	"thatch/web/words"
)

// dogDrawing is what the partial "dog" is given.
type dogDrawing struct {
	Prefix string // unlike that of any other drawing of the page: it makes IDs
	Title  string // what the drawing shows, for those who hear it
	Says   string // line under it while no zone is pointed at
	Target string // a zone's link goes to "#" + Target + zone
	Path   string // where set, a zone's link goes to Path + zone + Anchor: another page
	Anchor string
	Marks  map[timeline.Zone]zoneMark
}

// zoneMark is how one zone is drawn and what it says.
type zoneMark struct {
	Class string // z-on, z-ok, z-tight, z-late, z-worked, z-quiet, z-warn
	Sign  string // tight, late, done, or none
	Says  string // after the zone's name
}

// dogZones are the zones of a drawing, each a link, what is drawn over them, and the signs of those that are marked. There are
// two dozen zones: put together piece by piece by the template they were a tenth of the time of a dog's page.
func dogZones(sp words.Speaker, made *ready, d dogDrawing) (template.HTML, error) {
	b := buffers.take() // as long as a page: put together in pieces it would be copied over and over
	defer buffers.back(b)
	var failed error
	part := func(name string, with ...any) {
		if !drawnParts[name] { // a test looks at those alone
			panic("no drawn part: " + name)
		}
		text, err := made.part(name, with...)
		failed = cmp.Or(failed, err)
		b.WriteString(string(text))
	}
	shapes := drawing.Dog().Shapes
	for i, s := range shapes {
		b.WriteString("<a " + string(dogLink(sp, d, s)) + ">")
		part("dogzone", "Prefix", d.Prefix, "N", i)
		b.WriteString("</a>\n")
	}
	part("dogover", "")
	b.WriteString("\n")
	for i, s := range shapes {
		if sign := d.Marks[s.Zone].Sign; sign != "" {
			part("dogsign", "Sign", sign, "N", i)
		}
	}
	return template.HTML(b.String()), failed // of parts that html/template has escaped, and of dogLink
}

// dogLink are the attributes of a zone's link.
func dogLink(sp words.Speaker, d dogDrawing, s drawing.Shape) template.HTMLAttr {
	m := d.Marks[s.Zone]
	says := word(sp, s.Zone)
	if m.Says != "" {
		says += ": " + m.Says
	}
	to := "#" + d.Target + string(s.Zone)
	if d.Path != "" {
		to = d.Path + string(s.Zone) + d.Anchor
	}
	var b strings.Builder
	for _, a := range [][2]string{
		{"class", "dog-zone " + m.Class}, {"id", d.Prefix + "-z-" + string(s.Zone)}, {"tabindex", "-1"}, {"href", to},
		{"data-zone", string(s.Zone)}, {"data-x", coordinate(s.At.X)}, {"data-y", coordinate(s.At.Y)}, {"data-says", says}, {"aria-label", says},
	} {
		b.WriteString(a[0] + `="` + template.HTMLEscapeString(a[1]) + `" `)
	}
	return template.HTMLAttr(b.String()) // every value was escaped
}

func coordinate(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// Owned are the IDs of the zones from nose to tail, for those who hear the drawing.
func (d dogDrawing) Owned() string {
	var out strings.Builder
	for _, z := range timeline.Zones() {
		out.WriteString(d.Prefix + "-z-" + string(z) + " ")
	}
	return out.String()
}

// Verdict is for lists beside the drawing: the verdict that a zone was marked with.
func (d dogDrawing) Verdict(z timeline.Zone) plan.Verdict {
	switch d.Marks[z].Class {
	case "z-ok":
		return plan.OnTrack
	case "z-tight":
		return plan.Tight
	case "z-late":
		return plan.TooLate
	}
	return plan.NoBand
}

// verdictMark is how a verdict is drawn.
func verdictMark(v plan.Verdict, says string) zoneMark {
	switch v {
	case plan.OnTrack:
		return zoneMark{Class: "z-ok", Says: says}
	case plan.Tight:
		return zoneMark{Class: "z-tight", Sign: "tight", Says: says}
	case plan.TooLate:
		return zoneMark{Class: "z-late", Sign: "late", Says: says}
	}
	return zoneMark{Class: "z-quiet", Says: says}
}
