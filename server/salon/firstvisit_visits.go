package salon

import (
	"cmp"
	"math"
	"slices"

	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/timeline/plan"
)

// Figures of the visits that bring a coat back; each is judgement or common practice, no source.
const (
	flatCover    = 0.0  // flat zones come out whole, common practice: they are short, and in again in weeks
	legShare     = 0.25 // of legs and tail at most at one visit: a little each time, common practice
	atOnceLegs   = 0.5
	keepDays     = 28 // what is scissored is made neat again
	cardDays     = 28 // and the undercoat carded; half of it for a heavy one
	gripDays     = 10 // from when new hair is out to when it can be gripped, as plans have it
	coverDays    = 7  // from when new hair is out to when it counts as cover
	leastMinutes = 20 // a visit with less to pull is not worth the way
	mostVisits   = 12
	mostDays     = 210
	rollingShown = 4 // visits of a rolling coat that are shown
	layerDays    = 14
	youngDays    = 84 // a coat pulled within these days is rolled on from, an older one brought back: common practice, three months
)

// bringing plans visits forward, one after the other, from a dog's coat as it is.
type bringing struct {
	file    coat.File
	rhythm  Rhythm
	profile coat.Profile
	zones   []*bringZone // every zone of the file, anatomical order
	rolling bool         // every zone that is stripped is kept rolling, or is to be from here on
	visits  []FirstDay
	carded  timeline.Day
}

// bringZone is one zone on the way.
type bringZone struct {
	name   timeline.Zone
	prof   coat.ZoneProfile
	model  *coat.ZoneModel
	zone   coat.Zone
	state  coat.State
	rolls  bool    // one top layer at a time
	old    float64 // share of the hair that she came with and that is still on her
	layers int     // that she came with
	lag    float64
	again  timeline.Day // to be pinched again; zero: no need
	last   timeline.Day // last pulled on these visits; zero: not
	kept   timeline.Day // last scissored or tidied on these visits
}

func newBringing(f coat.File, m *coat.Model, r Rhythm) *bringing {
	b := &bringing{file: f, rhythm: r, profile: m.Profile(), rolling: true, visits: []FirstDay{}}
	for _, name := range timeline.Zones() {
		model := m.Zone(name)
		if model == nil {
			continue
		}
		z := &bringZone{name: name, prof: b.profile.Zones[name], model: model, zone: f.Zones[name], state: model.Start(), old: 1, lag: model.LagDays().Median, again: model.TestAgain()}
		z.layers = max(len(z.zone.Layers), 1)
		z.rolls = z.zone.Mode == timeline.KeepRolling || f.Today-longestOf(z.state, f.Today) <= youngDays && !z.saidReady()
		if z.prof.Stripped && !z.rolls {
			b.rolling = false
		}
		b.zones = append(b.zones, z)
	}
	return b
}

// longestOf is the day on which the longest hair was last pulled.
func longestOf(s coat.State, on timeline.Day) timeline.Day {
	pulled, _ := s.TopLayer(on)
	return pulled
}

func (z *bringZone) flat() bool {
	t := z.prof.Target
	return z.prof.HeadFlat || z.prof.FlatByDays > 0 || t != nil && t.MinMM <= 0 && t.MaxMM > 0
}

func (z *bringZone) little() bool { return z.prof.LittleEach || z.name == timeline.Tail }

// closed reports that the pinch test keeps the hand off the zone on a day.
func (z *bringZone) closed(on timeline.Day) bool {
	r := z.zone.Ripeness
	return r != nil && r.Is == timeline.NotReady && on < z.again
}

func (z *bringZone) coming(on timeline.Day) bool {
	r := z.zone.Ripeness
	return r != nil && r.Is == timeline.Coming && on < z.again
}

// saidReady: the hand said so, and what it pinched has not been pulled on these visits.
func (z *bringZone) saidReady() bool {
	r := z.zone.Ripeness
	return r != nil && (r.Is == timeline.Ready || r.Is == timeline.Blown) && z.last.IsZero()
}

// ripe reports whether the longest hair is expected to give: long enough to be called ready, and out long enough to grip.
func (b *bringing) ripe(z *bringZone, on timeline.Day) bool {
	if z.saidReady() {
		return true
	}
	pulled, _ := z.state.TopLayer(on)
	if float64(on-pulled) < z.lag+gripDays {
		return false
	}
	longest := z.state.Forecast(on, coat.Target{}).LongestMM.Median
	return longest >= b.profile.Growth.Evidence.RipeAt.Ready*z.prof.LengthMaxMM.Mean
}

// spoken are the shares that are said, largest first.
var spoken = []float64{timeline.ShareAll, timeline.ShareHalf, timeline.ShareThird, timeline.ShareQuarter, timeline.ShareFew}

// line is what to do with the zone on a day within the minutes; ok is false where nothing is to be pulled.
func (b *bringing) line(z *bringZone, on timeline.Day, minutes float64) (l plan.Line, ok bool) {
	if !z.prof.Stripped || z.closed(on) || z.last == on || !b.ripe(z, on) {
		return l, false
	}
	minutes = min(minutes, b.capOf(z))
	most := 1.0
	if z.coming(on) {
		most = timeline.ShareQuarter
	}
	if z.rolls {
		return b.layer(z, on, most, minutes)
	}
	if z.old <= shareEps {
		return l, false
	}
	floor := b.profile.Rules.WarnCoverBelow
	if z.flat() || b.rhythm.AtOnce {
		floor = flatCover
	}
	// Hair covers when it has been out for a while, not on the day its tips come.
	most = min(most, z.state.InHair(on-coverDays)-floor)
	switch {
	case z.little() && b.rhythm.AtOnce:
		most = min(most, atOnceLegs)
	case z.little() && b.onlyLittle():
		most = min(most, timeline.ShareHalf)
	case z.little():
		most = min(most, legShare)
	}
	shares := spoken
	if z.flat() && most >= 1-shareEps && b.minutesOf(z, timeline.Strip) <= float64(b.rhythm.Minutes)/2 && b.minutesOf(z, timeline.Strip) <= b.capOf(z) {
		shares = spoken[:1] // whole, or another day
	}
	for _, share := range shares {
		rest := z.old - share
		if share > most+shareEps || rest < -shareEps && share < 1 {
			continue
		}
		share = min(share, z.old)
		// A rest too small to be a share of its own goes along: left standing it would stick out.
		if rest > shareEps && rest < timeline.ShareFew && z.old <= most+shareEps {
			share = z.old
		}
		do, cost := timeline.Take, share*b.minutesOf(z, timeline.Take)
		if share >= 1-shareEps {
			do, cost = timeline.Strip, b.minutesOf(z, timeline.Strip)
		}
		if cost > minutes+shareEps {
			continue
		}
		if share <= timeline.ShareFew+shareEps && !z.little() && z.old > timeline.ShareFew+shareEps {
			return l, false // a few hairs of an old jacket are not worth taking it up
		}
		l = plan.Line{Zone: z.name, Do: do, Share: share, Minutes: cost}
		if z.old-share <= shareEps && share < 1-shareEps {
			l.Why = timeline.Say("first.why.rest")
		}
		return l, true
	}
	return l, false
}

// layer is the line of a zone that is kept rolling, or is begun to be: its top layer once that is as old as all of them, two
// weeks apart, make it; of a coat that is all of one age a quarter, or half where it is kept flat. It stays covered.
func (b *bringing) layer(z *bringZone, on timeline.Day, most, minutes float64) (l plan.Line, ok bool) {
	pulled, top := z.state.TopLayer(on)
	l = plan.Line{Zone: z.name, Do: timeline.Take, Share: top, Top: true}
	switch {
	case top <= timeline.ShareHalf+shareEps:
		if int(on-pulled) < layerDays*z.layers && !z.saidReady() {
			return l, false
		}
		if top < timeline.ShareFew/2 { // strays of an old layer: some of the next go along
			l.Share, l.Top = timeline.ShareFew, false
		}
	case z.flat():
		l.Share, l.Top = timeline.ShareHalf, false
	default:
		l.Share, l.Top = timeline.ShareQuarter, false
	}
	if l.Share > most+shareEps || z.state.InHair(on-coverDays)-l.Share < b.profile.Rules.WarnCoverBelow-shareEps {
		return l, false
	}
	l.Minutes = l.Share * b.minutesOf(z, l.Do)
	return l, l.Minutes <= minutes+shareEps
}

// onlyLittle: nothing but legs and tail is left of the old coat.
func (b *bringing) onlyLittle() bool {
	return !slices.ContainsFunc(b.zones, func(z *bringZone) bool { return z.prof.Stripped && !z.rolls && !z.little() && z.old > shareEps })
}

// capOf is the time that may be spent on a zone at one visit.
func (b *bringing) capOf(z *bringZone) float64 {
	if z.sensitive() {
		return b.profile.Rules.SensitiveMinutes
	}
	return float64(b.rhythm.Minutes)
}

func (z *bringZone) sensitive() bool { return z.zone.Sensitive || z.prof.Sensitive }

const shareEps = 1e-7

func (b *bringing) minutesOf(z *bringZone, w timeline.Work) float64 {
	if v, ok := b.file.Minutes[z.name][w]; ok {
		return v
	}
	return z.prof.Minutes[w]
}

// run holds visits until the old coat is out, or as many as are shown of a rolling one.
func (b *bringing) run() {
	for i := 0; len(b.visits) < mostVisits && i*b.rhythm.EveryDays <= mostDays && !b.done(); i++ {
		on := b.rhythm.First + timeline.Day(i*b.rhythm.EveryDays)
		b.visit(on)
	}
}

func (b *bringing) done() bool {
	if b.rolling {
		return len(b.visits) >= rollingShown
	}
	return len(b.open()) == 0
}

// open are the zones that are still in the coat that they came with.
func (b *bringing) open() []timeline.Zone {
	out := []timeline.Zone{}
	for _, z := range b.zones {
		if z.prof.Stripped && !z.rolls && z.old > shareEps {
			out = append(out, z.name)
		}
	}
	return out
}

// turn is the order in which zones are given their minutes: who has most of the old coat left, then what covers her, legs and
// tail, the flat parts, the head.
func (b *bringing) turn() []*bringZone {
	class := func(z *bringZone) int {
		switch {
		case z.prof.HeadFlat:
			return 3
		case z.flat():
			return 2
		case z.little():
			return 1
		}
		return 0
	}
	out := slices.Clone(b.zones)
	slices.SortStableFunc(out, func(x, y *bringZone) int {
		if c := cmp.Compare(y.old, x.old); c != 0 && math.Abs(y.old-x.old) > shareEps {
			return c
		}
		return class(x) - class(y)
	})
	return out
}

// visit plans one day and does its work; a day with too little to do is none.
func (b *bringing) visit(on timeline.Day) {
	first := len(b.visits) == 0
	left := float64(b.rhythm.Minutes)
	var card []plan.Line
	if days := b.cardEvery(); days > 0 && (b.carded.IsZero() || int(on-b.carded) >= days) {
		for _, z := range b.zones {
			if z.name.Group() == timeline.GroupJacket && z.state.InHair(on) >= b.profile.Rules.WarnCoverBelow {
				card = append(card, plan.Line{Zone: z.name, Do: timeline.Card, Minutes: b.minutesOf(z, timeline.Card)})
			}
		}
	}
	cardMinutes := sumMinutes(card)
	if cardMinutes > left/2 {
		card, cardMinutes = nil, 0
	}
	left -= cardMinutes
	var work []plan.Line
	pulled := 0.0
	for _, z := range b.turn() {
		if l, ok := b.line(z, on, left); ok {
			work = append(work, l)
			left -= l.Minutes
			pulled += l.Minutes
		}
	}
	// The day she is first here counts, whatever there is to do; so does one that finishes her.
	if pulled < min(leastMinutes, float64(b.rhythm.Minutes)/3) && !first && !b.finishes(work) || pulled == 0 && (!first || on != b.file.Today) {
		return
	}
	v := FirstDay{On: on, Test: b.testOn(on, work)}
	for _, l := range work {
		z := b.zone(l.Zone)
		z.state = z.state.After(coat.Step{On: on, Do: l.Do, Share: l.Share})
		z.last = on
		z.old = max(z.old-l.Share, 0)
	}
	for _, w := range []timeline.Work{timeline.Scissor, timeline.Tidy} {
		work = append(work, b.keep(w, on, &left)...)
	}
	if len(card) > 0 {
		b.carded = on
	}
	v.Work = plan.SheetOrder(append(card, work...))
	v.Minutes = int(math.Ceil(sumMinutes(v.Work)/5-shareEps)) * 5
	v.After = b.look(on)
	b.visits = append(b.visits, v)
}

// keep makes what is not stripped neat again, all of one kind at one visit where the time holds it.
func (b *bringing) keep(w timeline.Work, on timeline.Day, left *float64) []plan.Line {
	var due []*bringZone
	minutes := 0.0
	for _, z := range b.zones {
		if z.keepBy() == w && (z.kept.IsZero() || int(on-z.kept) >= keepDays) {
			due = append(due, z)
			minutes += b.minutesOf(z, w)
		}
	}
	if minutes > *left+shareEps && minutes <= float64(b.rhythm.Minutes)/2 {
		return nil // another day, together
	}
	var out []plan.Line
	for _, z := range due {
		if b.minutesOf(z, w) > *left+shareEps {
			continue
		}
		z.kept = on
		*left -= b.minutesOf(z, w)
		out = append(out, plan.Line{Zone: z.name, Do: w, Minutes: b.minutesOf(z, w)})
		z.state = z.state.After(coat.Step{On: on, Do: w})
	}
	return out
}

// finishes: after this work no zone is left in the coat that it came with.
func (b *bringing) finishes(work []plan.Line) bool {
	if b.rolling || len(work) == 0 {
		return false
	}
	for _, z := range b.open() {
		at := slices.IndexFunc(work, func(l plan.Line) bool { return l.Zone == z })
		if at < 0 || b.zone(z).old-work[at].Share > shareEps {
			return false
		}
	}
	return true
}

func (b *bringing) zone(name timeline.Zone) *bringZone {
	return b.zones[slices.IndexFunc(b.zones, func(z *bringZone) bool { return z.name == name })]
}

// testOn are the groups whose work of the day hangs on a pinch test: those that were not said to be ready.
func (b *bringing) testOn(on timeline.Day, work []plan.Line) []timeline.Group {
	out := []timeline.Group{}
	for _, l := range work {
		if z := b.zone(l.Zone); (l.Do == timeline.Take || l.Do == timeline.Strip) && !z.saidReady() && !slices.Contains(out, l.Zone.Group()) {
			out = append(out, l.Zone.Group())
		}
	}
	slices.SortFunc(out, func(x, y timeline.Group) int {
		return slices.Index(timeline.Groups(), x) - slices.Index(timeline.Groups(), y)
	})
	return out
}

func (b *bringing) cardEvery() int {
	switch b.file.Dog.Undercoat {
	case timeline.UndercoatHeavy:
		return cardDays / 2
	case timeline.UndercoatSome:
		return cardDays
	}
	return 0
}

// keepBy is how a zone that is not pulled is kept.
func (z *bringZone) keepBy() timeline.Work {
	switch {
	case z.prof.Stripped:
		return ""
	case z.name.Group() == timeline.GroupHead:
		return timeline.Tidy
	}
	return timeline.Scissor
}

func sumMinutes(lines []plan.Line) float64 {
	sum := 0.0
	for _, l := range lines {
		sum += l.Minutes
	}
	return sum
}
