package pages

import (
	"net/url"
	"slices"
	"strings"

	"thatch/server/salon"
	"thatch/timeline"
)

// photoTaps are the answers about a photo that take one tap each.
type photoTaps struct {
	Photo timeline.Photo
	Coat  bool // ask how the coat lies
	Phase bool // ask when in the session
	Side  bool // ask which side
	Back  string
	Undo  *undoTap // the last answer's way back; nil: none
}

// undoTap gives an answer back.
type undoTap struct {
	Name, Value string // field and value of the form
	Was         any    // the answer before, for word; "": there was none
}

// Answers of a tap, and what takes an answer back.
const (
	tapUnsaid = "unsaid"  // of the coat
	tapByTime = "by_time" // of the phase
)

func (t photoTaps) CoatStates() []timeline.CoatState { return timeline.CoatStates() }
func (t photoTaps) Phases() []timeline.Phase         { return timeline.Phases() }
func (t photoTaps) Sides() []timeline.Side           { return timeline.Sides() }

// tapped is what the taps of a form say.
func tapped(f form) salon.PhotoEdit {
	e := salon.PhotoEdit{
		Phase: timeline.Phase(f.Get("phase")), PhaseByTime: f.Get("phase_by_time") != "",
		Side: timeline.Side(f.Get("side")), CoatState: timeline.CoatState(f.Get("coat_state")),
	}
	if e.Phase == tapByTime {
		e.Phase, e.PhaseByTime = "", true
	}
	if e.CoatState == tapUnsaid {
		e.CoatState, e.CoatUnsaid = "", true
	}
	return e
}

// undoOf names the answer that a form changes as it was before: "coat_state.damp"; "" where it names several or none.
func undoOf(f form, was timeline.Photo) string {
	coat, phase, side := f.Get("coat_state"), f.Get("phase"), f.Get("side")
	switch {
	case coat != "" && phase == "" && side == "":
		if was.CoatState == timeline.CoatUnsaid {
			return "coat_state." + tapUnsaid
		}
		return "coat_state." + string(was.CoatState)
	case coat == "" && phase != "" && side == "":
		if !was.PhaseSaid {
			return "phase." + tapByTime
		}
		return "phase." + string(was.Phase)
	case coat == "" && phase == "" && side != "":
		return "side." + string(was.Side)
	}
	return ""
}

// undoFrom reads it back from an address; nil where there is nothing to undo.
func undoFrom(q url.Values, now timeline.Photo) *undoTap {
	name, value, _ := strings.Cut(q.Get("undo"), ".")
	u := &undoTap{Name: name, Value: value}
	switch name {
	case "coat_state":
		state := timeline.CoatState(value)
		if value == tapUnsaid {
			state = timeline.CoatUnsaid
		} else if !slices.Contains(timeline.CoatStates(), state) {
			return nil
		}
		if state == now.CoatState {
			return nil
		}
		u.Was = state
	case "phase":
		phase := timeline.Phase(value)
		if value == tapByTime {
			phase = ""
		} else if !slices.Contains(timeline.Phases(), phase) {
			return nil
		}
		if phase == now.Phase && now.PhaseSaid || phase == "" && !now.PhaseSaid {
			return nil
		}
		u.Was = phase
	case "side":
		side := timeline.Side(value)
		if !slices.Contains(timeline.Sides(), side) || side == now.Side {
			return nil
		}
		u.Was = side
	default:
		return nil
	}
	return u
}

// backFrom is where a form of taps comes back to: the page it stands on, if it says so, with the way to undo.
func backFrom(f form, photo timeline.ID, undo string) string {
	to := "/photos/" + string(photo)
	if f.Get("back") == to+"/edge" {
		to += "/edge"
	}
	if undo != "" {
		to += "?undo=" + url.QueryEscape(undo)
	}
	return to + "#says"
}
