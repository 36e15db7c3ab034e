package timeline

import "slices"

// Zone is an area of the coat that is worked as one. The string is what files, URLs and rows carry.
type Zone string

const (
	Skull     Zone = "skull"
	Brows     Zone = "brows"
	Cheek     Zone = "cheek"
	Beard     Zone = "beard"
	Ears      Zone = "ears"
	Throat    Zone = "throat"
	Crest     Zone = "crest"
	Neck      Zone = "neck"
	Shoulder  Zone = "shoulder"
	Forechest Zone = "forechest"
	Withers   Zone = "withers"
	Back      Zone = "back"
	Loin      Zone = "loin"
	Ribs      Zone = "ribs"
	Rump      Zone = "rump"
	Underline Zone = "underline"
	Belly     Zone = "belly"
	Tail      Zone = "tail"
	Thigh     Zone = "thigh"
	Foreleg   Zone = "foreleg"
	Hindleg   Zone = "hindleg"
	Feet      Zone = "feet"
)

// Group gathers zones that are usually worked, and may be logged, together.
type Group string

const (
	GroupHead   Group = "head"
	GroupNeck   Group = "neck"
	GroupJacket Group = "jacket"
	GroupUnder  Group = "under"
	GroupRear   Group = "rear"
	GroupLegs   Group = "legs"
)

type zoneFacts struct {
	zone      Zone
	group     Group
	inOutline bool
}

// zones is in anatomical order, nose to hind foot; everything that lists zones lists them in this order.
var zones = []zoneFacts{
	{Skull, GroupHead, true}, {Brows, GroupHead, false}, {Cheek, GroupHead, false}, {Beard, GroupHead, true}, {Ears, GroupHead, false},
	{Throat, GroupNeck, true}, {Crest, GroupNeck, true}, {Neck, GroupNeck, false}, {Shoulder, GroupNeck, false}, {Forechest, GroupNeck, true},
	{Withers, GroupJacket, true}, {Back, GroupJacket, true}, {Loin, GroupJacket, true}, {Ribs, GroupJacket, false}, {Rump, GroupJacket, true},
	{Underline, GroupUnder, true}, {Belly, GroupUnder, false},
	{Tail, GroupRear, true}, {Thigh, GroupRear, true},
	{Foreleg, GroupLegs, true}, {Hindleg, GroupLegs, true}, {Feet, GroupLegs, false},
}

var zoneIndex = func() map[Zone]int {
	m := make(map[Zone]int, len(zones))
	for i, z := range zones {
		m[z.zone] = i
	}
	return m
}()

// Zones returns every zone in anatomical order.
func Zones() []Zone {
	out := make([]Zone, len(zones))
	for i, z := range zones {
		out[i] = z.zone
	}
	return out
}

// Groups returns every group in anatomical order.
func Groups() []Group {
	return []Group{GroupHead, GroupNeck, GroupJacket, GroupUnder, GroupRear, GroupLegs}
}

// Zones returns the zones of the group in anatomical order; none for an unknown group.
func (g Group) Zones() []Zone { return slices.Clone(zonesOf[g]) }

var zonesOf = func() map[Group][]Zone {
	out := map[Group][]Zone{}
	for _, z := range zones {
		out[z.group] = append(out[z.group], z.zone)
	}
	return out
}()

// Known reports whether z is one of ours.
func (z Zone) Known() bool { _, ok := zoneIndex[z]; return ok }

// Order is the place of z in anatomical order, or -1.
func (z Zone) Order() int {
	if i, ok := zoneIndex[z]; ok {
		return i
	}
	return -1
}

// Group is the group of z, or "".
func (z Zone) Group() Group {
	if i, ok := zoneIndex[z]; ok {
		return zones[i].group
	}
	return ""
}

// InOutline reports whether the zone's edge shows in a side-on photo; the others are measured by hand only.
func (z Zone) InOutline() bool {
	i, ok := zoneIndex[z]
	return ok && zones[i].inOutline
}
