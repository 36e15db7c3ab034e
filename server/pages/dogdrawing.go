package pages

import (
	"thatch/timeline"
	"thatch/timeline/plan"
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

// Mark is for the template: a zone without one is drawn plainly.
func (d dogDrawing) Mark(z timeline.Zone) zoneMark { return d.Marks[z] }

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
