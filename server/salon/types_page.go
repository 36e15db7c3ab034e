package salon

import (
	"time"

	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/timeline/plan"
)

// NewDog is what starts a dog: a name and four answers. Everything else has a default.
type NewDog struct {
	Name      string
	Client    string
	Profile   string           // a built-in kind of coat, or the ID of one of the salon's own; "": rough
	Texture   timeline.Texture // "": harsh
	WithersMM float64          // 0: unknown
	Answers   timeline.Answers // On zero: today; Undercoat "": some
	History   timeline.History
	Sensitive []timeline.Zone
	Notes     string
	Next      timeline.Day // zero: not booked
	EveryDays int          // 0: 14
	Minutes   int          // 0: 120
	ShareOK   bool
	Born      timeline.Day // zero: not said
}

// SessionEdit is a session's log as a person leaves it: it replaces the whole log.
type SessionEdit struct {
	ID      timeline.ID
	Rev     timeline.Rev
	Minutes int
	Loft    timeline.Loft
	Note    string
	Work    []timeline.ZoneWork // one line a zone; any order
	Next    timeline.Day        // zero: leave the booking as it is; otherwise the dog's next booked day

	Tolerance *timeline.Tolerance // nil: stays
	Breaks    *int                // nil: stays
	Step      string              // what is done, for its undo; "": the log is changed

	done bool // "all done"
}

// ReadingsAdded is what became of ruler readings.
type ReadingsAdded struct {
	Stored   bool               // false: Warnings ask to look again; the same call with confirmed stores them
	Readings []timeline.Reading // never nil
	Warnings []ReadingWarning   // never nil
}

// ReadingWarning doubts one reading.
type ReadingWarning struct {
	Zone     timeline.Zone
	LengthMM float64
	Expected coat.Dist       // of the longest hair
	Say      timeline.Phrase // key "doubt.…"
}

// Chart is one zone over time. Lengths mm; the three series run over Days.
type Chart struct {
	Zone      timeline.Zone
	Today     timeline.Day
	Days      []timeline.Day
	LongestMM []coat.Dist // what a ruler reads; work done is in it, nothing after today
	VisibleMM []coat.Dist // what the outline follows
	PlannedMM []coat.Dist // VisibleMM if the plan is followed, for Days[PlannedAt:]; empty where there is no plan
	PlannedAt int
	Readings  []timeline.Reading
	Bands     []ChartBand
	Sessions  []ChartSession
	Shows     []timeline.Show
	Status    coat.Status
}

// ChartBand is the zone's target on a show day; the same show's days before belong to it.
type ChartBand struct {
	From, To timeline.Day
	Show     timeline.Show // zero ID: the kind of coat's own target, no show
	Target   TargetMM
}

// ChartSession is a session day and what was done to the zone then.
type ChartSession struct {
	On      timeline.Day
	Session timeline.ID
	Do      timeline.Work // "": nothing logged for this zone
	Share   float64
	Top     bool // the share was the top layer
}

// ZoneVerdict is how one zone stands towards the shows.
type ZoneVerdict struct {
	Zone    timeline.Zone
	Outlook plan.ZoneOutlook
	Later   *timeline.Show // the show that rules, where it is not the next one
}

// DogCard is a dog as lists show it.
type DogCard struct {
	Dog         timeline.Dog
	Photos      int
	Sessions    int
	LastSession timeline.Day
	NextShow    *timeline.Show
	DaysToShow  int             // of NextShow
	Worst       *ZoneVerdict    // nil: no plan
	PlanFault   *timeline.Fault // why there is no plan, where a show is set
	Picture     timeline.ID     // newest photo that is ready; "": none
	Late        bool            // Worst is of before the newest change, or not known yet: it is being worked out
}

// WaitingPhoto is a photo that waits for a date or a session.
type WaitingPhoto struct {
	Dog   timeline.Dog
	Photo timeline.Photo
	Dated bool // false: it waits for a date; true: for a session
}

// Home is the first page.
type Home struct {
	Today    timeline.Day
	OnToday  []DogCard // booked or with a session today
	Tomorrow []DogCard
	Dogs     []DogCard // all, by next show, then name
	Waiting  []WaitingPhoto
	Jobs     int // photos still being prepared
	Heap     int // photos that wait for their dog

	Table   []TableCard // OnToday with what each needs: who is being worked on first, who is done last
	Next    []TableCard // tomorrow's, those that are on the table today too among them
	Evening bool        // tomorrow comes before what is left of today
	Shows   []ShowAhead // next shows, those at risk first
	CareDue []CareDog   // within a week, of dogs that are not on the table today or tomorrow
	Hands   Hands
}

// DogPage is all of one dog.
type DogPage struct {
	Card      DogCard
	Dog       timeline.Dog
	Today     timeline.Day
	History   []Visit           // oldest first
	Unpaired  []*timeline.Photo // those of no session, by time
	Shows     []timeline.Show
	Forecast  coat.Forecast   // on today
	Plan      *plan.Plan      // nil: see PlanFault
	PlanFault *timeline.Fault // nil where there is a plan
	Targets   map[timeline.Zone]*TargetMM
	Links     []timeline.Link
	Pair      *PhotoPair // the oldest and the newest photo of one side, start of session; nil: not two yet
	Late      bool       // Plan and Forecast are of before the newest change, and are being worked out anew

	Care   CareLook
	ForVet []timeline.Phrase // remarks that a veterinarian should look at
	Before []TableNote       // pain or stop of her newest visit before today
	Begun  *timeline.Session // on the table now, not finished; nil: none
	Bag    []BagLine         // of the next show; nil: no show ahead
	Frame  StripFrame        // what the pictures of the visits are laid into
}

// PhotoPair is two photos worth comparing.
type PhotoPair struct{ A, B timeline.Photo }

// SessionPage is one visit.
type SessionPage struct {
	Dog       timeline.Dog
	Today     timeline.Day
	Session   timeline.Session
	Photos    []timeline.Photo   // by time
	Readings  []timeline.Reading // of the day
	Sheet     *plan.Session      // what the plan wants on that day; nil: nothing planned
	PlanFault *timeline.Fault
	Changed   *PlanChange      // what this day's log and readings changed in the plan; nil: nothing newer than this day may be told
	Zones     []SessionZone    // every zone, anatomical order
	Waiting   []timeline.Photo // photos of that day that are not paired
	Pair      *PhotoPair       // start and end of the same side
	ByPhoto   []MeasuredZone   // what the day's work changed, end against start of one side; empty: not photographed so
	Previous  *timeline.Session
	Following *timeline.Session
}

// SessionZone is what to know of a zone before the hand reaches it.
type SessionZone struct {
	Zone      timeline.Zone
	Sensitive bool
	Figures   ZoneFigures
	Line      *timeline.ZoneWork // logged in this session
	Planned   *plan.Line
	Last      *timeline.ZoneWork // the newest line of an earlier session
	LastOn    timeline.Day
	Hurt      *timeline.ZoneWork // the newest earlier line whose skin was not fine, or whose hair check said cut or sticky
	HurtOn    timeline.Day
	Remark    string // the newest remark of an earlier session
	RemarkOn  timeline.Day
}

// PhotoPage is one photo.
type PhotoPage struct {
	Dog       timeline.Dog
	Photo     timeline.Photo
	Original  timeline.Original
	Session   *timeline.Session
	OnDay     *timeline.Session // the session of the photo's day, where it is not paired
	Offer     bool              // no session on its day yet: offer to open one
	Look      timeline.Phrase   // zero: comparable; otherwise the first thing that is missing
	Missing   []timeline.Point  // trunk points that are not placed
	Overlay   Overlay
	Compare   []timeline.Photo // a few of the same side worth comparing with
	Shift     []timeline.Photo // others of the same camera that a corrected date would shift along
	Neighbour struct{ Previous, Next timeline.ID }
}

// PlanPage is the plan of a dog.
type PlanPage struct {
	Dog       timeline.Dog
	Today     timeline.Day
	Shows     []timeline.Show
	File      coat.File
	Plan      *plan.Plan
	PlanFault *timeline.Fault
	Forecast  coat.Forecast // on today
	Targets   map[timeline.Zone]*TargetMM
	Booked    []timeline.Day // the session days that the plan may use
	Changed   *PlanChange    // what the newest log and readings changed; nil: nothing to tell
	Tried     *Tried         // a change that is only tried; then Plan, Shows and Booked are under it
	Late      bool           // Plan and Forecast are of before the newest change, and are being worked out anew
}

// SharedPage is what a client sees by link, and nothing else.
type SharedPage struct {
	SalonName  string
	Units      string
	DogName    string
	For        string
	Today      timeline.Day
	Next       timeline.Day // zero: none booked
	NextShow   *timeline.Show
	DaysToShow int
	OnTrack    int // zones by verdict, those with a band only
	Tight      int
	TooLate    int
	Before     *timeline.Photo
	After      *timeline.Photo
	Aligned    bool          // SharedAligned has a picture of After laid over Before
	Visits     []SharedVisit // newest first
	Expires    time.Time
}

// SharedVisit is one session as a client sees it.
type SharedVisit struct {
	On     timeline.Day
	Groups []timeline.Group // worked
	Photos []timeline.Photo
}

// TrashItem is something that was put aside and can be had back.
type TrashItem struct {
	Kind  string // "dog", "photo", "session", "reading", "show"
	ID    timeline.ID
	Dog   timeline.ID
	Label string
	When  time.Time

	DaysLeft int // until it is thrown away
}
