package timeline

// Work is what is done to a zone in a session.
type Work string

const (
	Card    Work = "card"    // undercoat taken
	Take    Work = "take"    // the longest hair pulled until a share is gone
	Strip   Work = "strip"   // the whole zone pulled
	Tidy    Work = "tidy"    // strays only
	Scissor Work = "scissor" // shortened, not pulled
	Clip    Work = "clip"    // shortened, not pulled
	Leave   Work = "leave"
)

// Works returns every kind of work.
func Works() []Work { return []Work{Take, Strip, Tidy, Card, Scissor, Clip, Leave} }

// Shares that a groomer can say of a take; "top layer" is the share of the layer that is longest that day.
const (
	ShareFew     = 0.10
	ShareQuarter = 0.25
	ShareThird   = 1.0 / 3
	ShareHalf    = 0.50
	ShareAll     = 1.0
)

// Ripeness is what the pinch of a few of the longest hairs says; the hand overrules the model.
type Ripeness string

const (
	NotReady Ripeness = "not_ready" // does not slide out: not pulled
	Coming   Ripeness = "coming"
	Ready    Ripeness = "ready" // slides out without skin lifting or a flinch
	Blown    Ripeness = "blown" // old, dead, may all go
)

// Ripenesses returns every answer, ripening upwards.
func Ripenesses() []Ripeness { return []Ripeness{NotReady, Coming, Ready, Blown} }

// Cover is how the zone looks after the session.
type Cover string

const (
	CoverFull      Cover = "full"
	CoverThin      Cover = "thin"
	CoverSkinShows Cover = "skin_shows"
)

// Covers returns every answer, barer downwards.
func Covers() []Cover { return []Cover{CoverFull, CoverThin, CoverSkinShows} }

// NewHair is whether the new hair of the last pull shows, parted and looked at before the work.
type NewHair string

const (
	NewHairNotOut NewHair = "not_out"
	NewHairOut    NewHair = "out"
)

// NewHairs returns every answer, earlier first.
func NewHairs() []NewHair { return []NewHair{NewHairNotOut, NewHairOut} }

// HairCheck is what a few pulled hairs on paper of contrasting colour show.
type HairCheck string

const (
	HairWhole  HairCheck = "whole"       // fine tip and root end
	HairCut    HairCheck = "cut"         // blunt: blade, hand, or unripe coat
	HairSticky HairCheck = "sticky_root" // stop the zone
)

// HairChecks returns every answer.
func HairChecks() []HairCheck { return []HairCheck{HairWhole, HairCut, HairSticky} }

// Skin is what the skin of a worked zone looks like. Anything but fine stops the zone and defers to a veterinarian.
type Skin string

const (
	SkinFine   Skin = "fine"
	SkinPink   Skin = "pink"
	SkinRaised Skin = "raised"
	SkinBroken Skin = "broken"
)

// Skins returns every answer, worse downwards.
func Skins() []Skin { return []Skin{SkinFine, SkinPink, SkinRaised, SkinBroken} }

// Tool is a kind of tool, never a make.
type Tool string

// Tools returns every kind of tool.
func Tools() []Tool {
	return []Tool{"fingers", "finger_cots", "knife_fine", "knife_medium", "knife_coarse", "stone", "undercoat_rake", "blending_shears", "scissors", "clipper"}
}

// Loft is how much the undercoat lifts the coat, as the groomer saw it after carding.
type Loft string

const (
	LoftNone   Loft = "none"
	LoftSome   Loft = "some"
	LoftWoolly Loft = "woolly"
)

// Lofts returns every answer.
func Lofts() []Loft { return []Loft{LoftNone, LoftSome, LoftWoolly} }
