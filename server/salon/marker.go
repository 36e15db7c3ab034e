package salon

import (
	"io"
	"strings"

	"thatch/imaging/align/marker"
	"thatch/timeline"
	"thatch/web/words"
)

// UsualMarkerMM is the side of a marker's symbol where nothing else is asked for.
const UsualMarkerMM = marker.DefaultSizeMM

// MarkerPapers and MarkerFormats are what a marker can be printed on and as, the usual one first.
func MarkerPapers() []string  { return []string{"a4", "letter"} }
func MarkerFormats() []string { return []string{"pdf", "png"} }

var (
	markerPapers  = map[string]marker.Paper{"a4": marker.A4, "letter": marker.Letter}
	markerWriters = map[string]func(io.Writer, marker.Text, marker.Paper, marker.Labels) error{"pdf": marker.WritePDF, "png": marker.WritePNG}
)

// MarkerSheet is a table marker to print.
type MarkerSheet struct {
	Dog    timeline.Dog // the zero Dog: for every dog of the salon
	SizeMM int          // side of the symbol
	Paper  string       // of MarkerPapers
	Format string       // of MarkerFormats
}

// Check reports a sheet that cannot be drawn: an Invalid Fault in "paper", "format", "size_mm" or "dog".
func (m MarkerSheet) Check() error {
	if err := checkWord("paper", m.Paper, MarkerPapers()); err != nil {
		return err
	}
	if err := checkWord("format", m.Format, MarkerFormats()); err != nil {
		return err
	}
	return m.text().Check()
}

func (m MarkerSheet) text() marker.Text { return marker.Text{Dog: m.Dog.ID, SizeMM: m.SizeMM} }

// Write draws the sheet with its words in the speaker's language. Errors as Check's, and w's own.
func (m MarkerSheet) Write(w io.Writer, sp words.Speaker) error {
	if err := m.Check(); err != nil {
		return err
	}
	labels := marker.Labels{
		Title: sp.T("marker.sheet.title"), Name: sp.T("marker.sheet.salon"), Foot: sp.T("marker.sheet.foot"), Ruler: sp.T("marker.sheet.ruler"),
		Steps: []string{sp.T("marker.sheet.step.print"), sp.T("marker.sheet.step.cut"), sp.T("marker.sheet.step.stand"), sp.T("marker.sheet.step.light")},
	}
	if m.Dog.ID != "" {
		labels.Name = m.Dog.Name
	}
	return markerWriters[m.Format](w, m.text(), markerPapers[m.Paper], labels)
}

// FileName is what the sheet is called when it is saved: letters, digits and hyphens of the dog's name, no more.
func (m MarkerSheet) FileName() string {
	name := strings.Trim(strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			return r
		}
		return '-'
	}, strings.ToLower(m.Dog.Name)), "-")
	if name == "" {
		return "marker." + m.Format
	}
	return "marker-" + name + "." + m.Format
}
