package salon

import (
	"slices"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// LookKind is how a zone looks, as one would say it.
type LookKind string

const (
	LookOld     LookKind = "old"     // the coat that she came with, nothing taken
	LookThinned LookKind = "thinned" // some of it taken, covered by the rest
	LookBare    LookKind = "bare"    // the skin shows
	LookShort   LookKind = "short"   // new hair just through, the skin shimmers
	LookNew     LookKind = "new"     // new hair, none of the old
	LookRolling LookKind = "rolling" // in coat, in layers
	LookKept    LookKind = "kept"    // not stripped: shaped, scissored
)

// CoatLook is what the dog looks like on a day.
type CoatLook struct {
	On    timeline.Day
	Zones map[timeline.Zone]ZoneLook
	Lines []LookLine // the same by group, alike zones together; zones that are not stripped are not told
}

// ZoneLook is what one zone looks like.
type ZoneLook struct {
	Kind      LookKind
	Cover     timeline.Cover
	InHair    float64 // share of the hair that is out, median
	VisibleMM coat.Dist
}

// LookLine is zones of a group that look alike.
type LookLine struct {
	Group  timeline.Group
	Whole  bool // Zones are all of the group that are stripped
	Zones  []timeline.Zone
	Kind   LookKind
	Cover  timeline.Cover
	FromMM float64 // least and most of the zones' visible lengths, medians
	ToMM   float64
}

// look is the dog at the end of a day.
func (b *bringing) look(on timeline.Day) CoatLook {
	out := CoatLook{On: on, Zones: map[timeline.Zone]ZoneLook{}, Lines: []LookLine{}}
	at := b.profile.Growth.Evidence.CoverAt
	for _, z := range b.zones {
		f := z.state.Forecast(on, coat.Target{})
		l := ZoneLook{InHair: f.InHair.Median, VisibleMM: f.VisibleMM, Cover: timeline.CoverFull}
		switch {
		case l.InHair < at.Thin || l.VisibleMM.Median < bareMM:
			l.Cover = timeline.CoverSkinShows
		case l.InHair < at.Full:
			l.Cover = timeline.CoverThin
		}
		switch {
		case !z.prof.Stripped:
			l.Kind = LookKept
		case l.Cover == timeline.CoverSkinShows:
			l.Kind = LookBare
		case l.VisibleMM.Median < shortMM:
			l.Kind = LookShort
		case z.zone.Mode == timeline.KeepRolling:
			l.Kind = LookRolling
		case z.rolls:
			l.Kind = LookNew
		case z.last.IsZero():
			l.Kind = LookOld
		case z.old > shareEps:
			l.Kind = LookThinned
		default:
			l.Kind = LookNew
		}
		out.Zones[z.name] = l
	}
	for _, g := range timeline.Groups() {
		out.Lines = append(out.Lines, b.linesOf(g, out.Zones)...)
	}
	return out
}

// near reports whether a length is told together with those of the line.
func (x LookLine) near(mm float64) bool {
	return max(x.ToMM, mm) <= 1.6*min(x.FromMM, mm)+3
}

func (b *bringing) linesOf(g timeline.Group, looks map[timeline.Zone]ZoneLook) []LookLine {
	var out []LookLine
	stripped := 0
	for _, name := range g.Zones() {
		l, ok := looks[name]
		if !ok || l.Kind == LookKept {
			continue
		}
		stripped++
		i := slices.IndexFunc(out, func(x LookLine) bool { return x.Kind == l.Kind && x.Cover == l.Cover && x.near(l.VisibleMM.Median) })
		if i < 0 {
			out = append(out, LookLine{Group: g, Kind: l.Kind, Cover: l.Cover, FromMM: l.VisibleMM.Median, ToMM: l.VisibleMM.Median})
			i = len(out) - 1
		}
		out[i].Zones = append(out[i].Zones, name)
		out[i].FromMM, out[i].ToMM = min(out[i].FromMM, l.VisibleMM.Median), max(out[i].ToMM, l.VisibleMM.Median)
	}
	for i := range out {
		out[i].Whole = len(out[i].Zones) == stripped
	}
	return out
}

// Below shortMM new hair does not hide the skin, below bareMM it is not seen; judgement, no source.
const (
	shortMM = 5
	bareMM  = 1.5
)

// laterDays after the last visit the new coat is looked at.
var laterDays = []timeline.Day{28, 56}

// later is what comes after the last visit that brings a coat back; a rolling one goes on as it is.
func (b *bringing) later() []CoatLook {
	out := []CoatLook{}
	if b.rolling || len(b.visits) == 0 {
		return out
	}
	last := b.visits[len(b.visits)-1].On
	for _, d := range laterDays {
		out = append(out, b.look(last+d))
	}
	return out
}

// bareSometime: after some visit the skin shows somewhere.
func (b *bringing) bareSometime() bool {
	return slices.ContainsFunc(b.visits, func(v FirstDay) bool {
		return slices.ContainsFunc(v.After.Lines, func(l LookLine) bool { return l.Kind == LookBare })
	})
}

// can is whether the coat can be stripped, and why, by group.
func (b *bringing) can(d timeline.Dog) (Can, []timeline.Phrase) {
	on := b.rhythm.First
	var ready, untested, young []timeline.Group
	wait := map[timeline.Ripeness]map[timeline.Day][]timeline.Group{timeline.Coming: {}, timeline.NotReady: {}}
	first := map[timeline.Group]timeline.Day{} // when a young group gives first
	for _, g := range timeline.Groups() {
		var tested timeline.Ripeness
		var again timeline.Day
		stripped, gives := false, false
		for _, name := range g.Zones() {
			i := slices.IndexFunc(b.zones, func(z *bringZone) bool { return z.name == name })
			if i < 0 || !b.zones[i].prof.Stripped {
				continue
			}
			stripped = true
			z := *b.zones[i]
			z.state, z.last = z.model.Start(), 0 // as she came: saidReady and ripe look at these
			gives = gives || b.ripe(&z, on)
			if r := z.zone.Ripeness; r != nil {
				tested, again = r.Is, max(again, z.again)
			}
		}
		switch {
		case !stripped:
		case tested == timeline.Coming || tested == timeline.NotReady:
			wait[tested][again] = append(wait[tested][again], g)
		case tested != "":
			ready = append(ready, g)
		case gives:
			untested = append(untested, g)
		default:
			young = append(young, g)
			first[g] = b.firstOn(g)
		}
	}
	var why []timeline.Phrase
	for is, key := range map[timeline.Ripeness]string{timeline.Coming: "first.can.coming", timeline.NotReady: "first.can.not_ready"} {
		for again, groups := range wait[is] {
			why = append(why, timeline.Phrase{Key: key, Args: map[string]any{"groups": groups, "again": again}})
		}
	}
	slices.SortFunc(why, cmpPhrase)
	if len(ready) > 0 {
		why = append([]timeline.Phrase{timeline.Say("first.can.ready", "groups", ready)}, why...)
	}
	if len(untested) > 0 {
		why = append(why, timeline.Say("first.can.untested", "groups", untested))
	}
	byDay := map[timeline.Day][]timeline.Group{}
	for _, g := range young {
		byDay[first[g]] = append(byDay[first[g]], g)
	}
	days := make([]timeline.Day, 0, len(byDay))
	for day := range byDay {
		days = append(days, day)
	}
	slices.Sort(days)
	for _, day := range days {
		if day.IsZero() {
			why = append(why, timeline.Say("first.can.young", "groups", byDay[day]))
		} else {
			why = append(why, timeline.Say("first.can.young_until", "groups", byDay[day], "on", day))
		}
	}
	coming, notReady := len(wait[timeline.Coming]) > 0, len(wait[timeline.NotReady]) > 0
	switch {
	case d.History.CoatChange:
		return CanAsk, append([]timeline.Phrase{timeline.Say("first.can.ask")}, why...)
	case len(ready)+len(untested) == 0:
		return CanNotYet, why
	case notReady || coming || len(young) > 0 && !b.rolling:
		return CanPartly, why
	case len(untested) > 0:
		return CanUntested, why
	}
	return CanYes, why
}

func cmpPhrase(a, b timeline.Phrase) int {
	switch x, y := a.String(), b.String(); {
	case x < y:
		return -1
	case x > y:
		return 1
	}
	return 0
}

// firstOn is the first visit on which something of the group is pulled; zero: none of those shown.
func (b *bringing) firstOn(g timeline.Group) timeline.Day {
	for _, v := range b.visits {
		for _, l := range v.Work {
			if l.Zone.Group() == g && (l.Do == timeline.Take || l.Do == timeline.Strip) {
				return v.On
			}
		}
	}
	return 0
}
