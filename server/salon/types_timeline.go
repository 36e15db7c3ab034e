package salon

import (
	"thatch/timeline"
	"thatch/timeline/coat"
)

// Timeline is a dog's history, oldest first; lists are never null. As JSON it is the answer of `thatch timeline --json`.
type Timeline struct {
	Dog      TimelineDog       `json:"dog"`
	Shows    []TimelineShow    `json:"shows"`
	Sessions []TimelineSession `json:"sessions"`
	Unpaired []TimelinePhoto   `json:"unpaired"`
}

// TimelineDog is the dog of a timeline.
type TimelineDog struct {
	ID        timeline.ID        `json:"id"`
	Name      string             `json:"name"`
	Client    string             `json:"client"`
	Profile   string             `json:"profile"`
	Texture   timeline.Texture   `json:"texture"`
	Undercoat timeline.Undercoat `json:"undercoat"`
	WithersMM float64            `json:"withers_mm"`
	Sensitive []timeline.Zone    `json:"sensitive"`
}

// TimelineShow is one show.
type TimelineShow struct {
	Name string       `json:"name"`
	On   timeline.Day `json:"on"`

	Show timeline.Show `json:"-"`
}

// TimelineSession is one visit: what was done, photographed, expected, measured and wanted.
type TimelineSession struct {
	ID      timeline.ID                   `json:"id"`
	On      timeline.Day                  `json:"on"`
	Minutes int                           `json:"minutes"`
	Work    []TimelineWork                `json:"work"`
	Photos  []TimelinePhoto               `json:"photos"`
	Zones   map[timeline.Zone]ZoneFigures `json:"zones"`

	Tolerance timeline.Tolerance `json:"tolerance"` // how she bore it; "": not said
	Breaks    int                `json:"breaks"`
	NotToday  timeline.NotToday  `json:"not_today"` // why nothing was worked; "": something was
	Note      string             `json:"note"`

	Session timeline.Session `json:"-"`
}

// Visit is one session as pages show it. The photos are shared with all who ask: nobody writes to them.
type Visit struct {
	timeline.Session
	Photos []*timeline.Photo             // by time
	Zones  map[timeline.Zone]ZoneFigures // nil: nothing was measured on the day
}

// TimelineWork is one line of the log. Empty strings were not said.
type TimelineWork struct {
	Zone      timeline.Zone      `json:"zone"`
	Do        timeline.Work      `json:"do"`
	Share     float64            `json:"share"`
	Tool      timeline.Tool      `json:"tool"`
	Ripeness  timeline.Ripeness  `json:"ripeness"`
	HairCheck timeline.HairCheck `json:"hair_check"`
	Skin      timeline.Skin      `json:"skin"`
}

// TimelinePhoto is one photo. TakenAt is RFC 3339 with the offset of the place, null where no date is known.
type TimelinePhoto struct {
	SHA256      string             `json:"sha256"`
	File        string             `json:"file"`
	Phase       timeline.Phase     `json:"phase"`
	Side        timeline.Side      `json:"side"`
	CoatState   timeline.CoatState `json:"coat_state"`
	TakenAt     *string            `json:"taken_at"`
	TakenLocal  *string            `json:"taken_local"`
	TakenSource timeline.Source    `json:"taken_source"`
	Comparable  bool               `json:"comparable"`
}

// ZoneFigures are a zone's figures on a day, before the work of that day. Expected and measured are of the same thing, so that
// one tests the other: of the longest hair (what a ruler reads), or of the depth where only a photo has measured it; the
// target is of the length that the outline follows.
type ZoneFigures struct {
	ExpectedMM *coat.Dist  `json:"expected_mm"` // forecast from what was known before the day; null: nothing was known yet
	MeasuredMM *MeasuredMM `json:"measured_mm"`
	TargetMM   *TargetMM   `json:"target_mm"` // of the first show on or after the day, else the kind of coat's; null: no band
}

// OfDepth reports that it is how far the coat stands off the body.
func (m MeasuredMM) OfDepth() bool { return m.Of == string(timeline.OfDepth) }

// MeasuredMM is what was measured on the day: by ruler where it was, else by photo.
type MeasuredMM struct {
	Of     string  `json:"of"` // "length" or "depth"
	By     string  `json:"by"` // "ruler" or "photo"
	Median float64 `json:"median"`
	SD     float64 `json:"sd"`
}

// TargetMM is a wanted band; Max null: no upper bound asked.
type TargetMM struct {
	Min float64  `json:"min"`
	Max *float64 `json:"max"`

	Covered bool `json:"-"` // skin is not to show
}
