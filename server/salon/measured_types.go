package salon

import (
	"thatch/imaging/measure"
	"thatch/timeline"
	"thatch/timeline/coat"
)

// Measured is what the photos of a dog say, sitting by sitting.
type Measured struct {
	Dog      timeline.Dog
	Today    timeline.Day
	Show     *timeline.Show    // the next one, that the topline is advised for
	Sittings []MeasuredSitting // newest first
	Floor    timeline.Floor
	Checked  *timeline.SalonCheck // that the floor comes from; nil: what is usual is taken
}

// MeasuredSitting is the photos of one side taken while the coat stood still: one day, one session, one phase.
type MeasuredSitting struct {
	On      timeline.Day
	Session timeline.ID // "": on no session's day
	Phase   timeline.Phase
	Side    timeline.Side
	Photos  []MeasuredPhoto
	Shape   measure.Shape // Places empty where no photo shows the topline
	Runs    []ToplineRun
	Zones   []MeasuredZone // zones of which the edge can be measured, anatomical order; none before any photo is ready
	Lines   Overlay        // on the first photo that is used; zero where none is
	By      ScaleBy        // the scale that the shape is read by
	Wanted  []WantedOff    // against the outline that is wanted; empty: none was drawn
}

// Straight reports that a topline was read and nothing stands out of it.
func (m MeasuredSitting) Straight() bool { return len(m.Shape.Places) > 0 && len(m.Runs) == 0 }

// First is the photo on which the sitting is shown: the first that is used, else the first.
func (m MeasuredSitting) First() timeline.Photo {
	for _, p := range m.Photos {
		if p.Why.IsZero() {
			return p.Photo
		}
	}
	return m.Photos[0].Photo
}

// MeasuredPhoto is a photo and what its figures are read by.
type MeasuredPhoto struct {
	Photo timeline.Photo
	Scale ScaleFigure
	Why   timeline.Phrase // why nothing is read from it; zero: its shape is
	Depth timeline.Phrase // why no depth is read from it; zero: depths are
	// Stands are zones whose edge is another one than in the dog's other photos, because she holds head or leg otherwise.
	Stands map[timeline.Zone]timeline.Phrase
	// Confirmed are the zones whose edge somebody has found right.
	Confirmed []timeline.Zone
}

// MeasuredZone is a zone's depth at a sitting: a figure or the reason why there is none, never both.
type MeasuredZone struct {
	Zone     timeline.Zone
	DepthMM  *measure.Figure
	Why      timeline.Phrase
	Expected *coat.Dist      // of the depth, from what was known before; nil: nothing was
	ChangeMM *measure.Figure // since the sitting before of this side; of an end, since the start of its day
	Since    timeline.Day    // of that sitting
	Real     bool            // the change is more than chance and this salon's own spread make
}

// Outside reports that a depth lies outside the band in which four of five are expected.
func (m MeasuredZone) Outside() bool {
	return m.DepthMM != nil && m.Expected != nil && (m.DepthMM.MM > m.Expected.P90 || m.DepthMM.MM < m.Expected.P10)
}

// ToplineRun is a stretch that is high or low, what to do there, and how far that brings it by the show.
type ToplineRun struct {
	measure.Run
	D       string      // path data of it on the sitting's first photo, px
	At      timeline.XY // its farthest place there
	Advice  timeline.Phrase
	Reach   timeline.Phrase // zero: no show is ahead, or nothing is known of the coat
	FlushMM *float64        // length, drawn straight, at which hair would lie flush; nil: no depth is measured there
}

// High reports that the stretch stands over its line.
func (r ToplineRun) High() bool { return r.PeakMM > 0 }
