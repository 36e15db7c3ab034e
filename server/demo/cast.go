package demo

import (
	"slices"

	"thatch/imaging/phantom"
	"thatch/server/salon"
	"thatch/timeline"
)

// role is one dog of the story. Days are relative to today.
type role struct {
	start   salon.NewDog
	phantom phantom.Dog
	scene   int
	growth  float64 // the dog's true rate against the starting guess
	lagDays float64 // its true lag
	answers int     // day of the four answers
	last    int     // day last worked before that
	visits  []visit
	next    int // booked day
	shows   []show
}

type show struct {
	name     string
	in       int
	priority int
	targets  map[timeline.Zone]timeline.Range
}

// visit is one session: what was done, and which zones were measured with a ruler before it.
type visit struct {
	day      int
	minutes  int
	loft     timeline.Loft
	note     string
	work     []line
	measured []timeline.Zone
	bore     timeline.Tolerance
	breaks   int
	open     bool // on the table now: photographed at the start, nothing logged yet
}

// line is a log line for several zones at once.
type line struct {
	zones []timeline.Zone
	log   timeline.ZoneWork
}

func on(zones ...timeline.Zone) []timeline.Zone { return zones }

func take(share float64, zones []timeline.Zone, tool timeline.Tool) line {
	return line{zones, timeline.ZoneWork{Do: timeline.Take, Share: share, Tool: tool, Ripeness: timeline.Ready, HairCheck: timeline.HairWhole, Skin: timeline.SkinFine, Cover: timeline.CoverFull}}
}

// takeTop is a take that the groomer called the top layer, and the share that this was.
func takeTop(share float64, zones []timeline.Zone, tool timeline.Tool) line {
	l := take(share, zones, tool)
	l.log.TopLayer = true
	return l
}

func strip(zones []timeline.Zone, cover timeline.Cover) line {
	return line{zones, timeline.ZoneWork{Do: timeline.Strip, Share: 1, Tool: "knife_medium", Ripeness: timeline.Blown, HairCheck: timeline.HairWhole, Skin: timeline.SkinFine, Cover: cover}}
}

func plain(do timeline.Work, zones []timeline.Zone, tool timeline.Tool) line {
	return line{zones, timeline.ZoneWork{Do: do, Tool: tool, Skin: timeline.SkinFine, Cover: timeline.CoverFull}}
}

func (l line) remark(text string) line { l.log.Remark = text; return l }

func (l line) ripe(r timeline.Ripeness) line { l.log.Ripeness = r; return l }

func (l line) skin(s timeline.Skin) line { l.log.Skin = s; return l }

var jacket = on(timeline.Withers, timeline.Back, timeline.Loin, timeline.Ribs, timeline.Rump)
var flats = on(timeline.Throat, timeline.Neck, timeline.Shoulder, timeline.Forechest)
var headFlats = on(timeline.Skull, timeline.Cheek, timeline.Ears)

// cast is the story. The overgrown one came for table lessons first and is to be brought back for a show in eight weeks;
// the rolling one is on the table today for the fifth time, with two shows ahead; the third was stripped out before her
// people entered her for a show that comes too early.
func cast() []role {
	return []role{
		{
			start: salon.NewDog{
				Name: "Bramble", Client: "The Orchard Cottage", Texture: timeline.TextureMedium, WithersMM: 390,
				Answers:   timeline.Answers{Rolled: false, Undercoat: timeline.UndercoatHeavy, LongestWithersMM: 47},
				Sensitive: on(timeline.Belly, timeline.Ears), Notes: "Learning the table. Stands better after ten minutes and a walk round.",
				EveryDays: 14, Minutes: 180, ShareOK: true,
			},
			phantom: phantom.Dog{Seed: 11, Colour: phantom.RedWheaten, Build: phantom.BuildParams{Leg: 1.04, Body: 1.02}},
			scene:   2, growth: 1.06, lagDays: 17, answers: -56, last: -290, next: 0,
			visits: []visit{
				{day: -56, minutes: 40, bore: timeline.NeededBreaks, breaks: 3, loft: timeline.LoftWoolly, note: "First time on a table. Brushed, carded, feet tidied, much praise.",
					work:     []line{plain(timeline.Card, jacket, "undercoat_rake").ripe(timeline.Coming), plain(timeline.Scissor, on(timeline.Feet), "scissors")},
					measured: on(timeline.Withers, timeline.Back, timeline.Rump)},
				{day: -42, minutes: 55, bore: timeline.Restless, breaks: 2, loft: timeline.LoftSome, note: "Calmer. Ears by fingers only.",
					work: []line{plain(timeline.Card, jacket, "undercoat_rake").ripe(timeline.Coming), take(timeline.ShareQuarter, on(timeline.Ears), "fingers").remark("Pulls the head away at the left ear: small amounts, breaks."),
						take(timeline.ShareThird, on(timeline.Skull, timeline.Cheek), "fingers")},
					measured: on(timeline.Withers, timeline.Loin)},
				{day: -28, minutes: 60, bore: timeline.Restless, breaks: 2, loft: timeline.LoftSome, note: "Head finished as far as she lets me.",
					work:     []line{take(timeline.ShareThird, headFlats, "stone"), plain(timeline.Scissor, on(timeline.Feet, timeline.Belly), "scissors"), take(timeline.ShareFew, on(timeline.Tail), "fingers")},
					measured: on(timeline.Withers, timeline.Back, timeline.Ribs, timeline.Shoulder)},
				{day: -14, minutes: 50, bore: timeline.StoodWell, breaks: 1, loft: timeline.LoftSome, note: "Jacket blown all over now. Owner wants to show her: start next visit.",
					work:     []line{plain(timeline.Card, jacket, "undercoat_rake").ripe(timeline.Blown), plain(timeline.Leave, flats, "").ripe(timeline.Ready), plain(timeline.Scissor, on(timeline.Feet), "scissors")},
					measured: on(timeline.Withers, timeline.Back, timeline.Loin, timeline.Rump, timeline.Thigh)},
			},
			shows: []show{{name: "Lantern Hall Open Show", in: 56, priority: 1, targets: map[timeline.Zone]timeline.Range{
				timeline.Withers: {MinMM: 10, MaxMM: 40}, timeline.Back: {MinMM: 10, MaxMM: 40}, timeline.Loin: {MinMM: 10, MaxMM: 40},
			}}},
		},
		{
			start: salon.NewDog{
				Name: "Teasel", Client: "Number Nine", Texture: timeline.TextureHarsh, WithersMM: 375,
				Answers:   timeline.Answers{Rolled: true, Undercoat: timeline.UndercoatSome, LongestWithersMM: 26},
				Sensitive: on(timeline.Belly), Notes: "Rolling since the spring. Likes to see the window.", EveryDays: 14, Minutes: 120, ShareOK: true,
			},
			phantom: phantom.Dog{Seed: 5, Colour: phantom.TanAndWhite},
			scene:   0, growth: 0.95, lagDays: 16, answers: -56, last: -70, next: 0,
			visits: []visit{
				{day: -56, minutes: 115, loft: timeline.LoftSome, note: "Top layer off the jacket, flat parts down.", work: rolling(0.25, timeline.ShareThird), measured: on(timeline.Withers, timeline.Back, timeline.Loin, timeline.Shoulder)},
				{day: -42, minutes: 110, loft: timeline.LoftSome, work: rolling(0.20, timeline.ShareQuarter), measured: on(timeline.Withers, timeline.Back, timeline.Rump)},
				{day: -28, minutes: 85, loft: timeline.LoftNone, note: "Slight dip behind the withers: left that, took the loin. Flat parts left alone, so that they can come out whole next time.",
					work: append(rolling(0.20, 0), take(0.25, on(timeline.Loin), "fingers"), plain(timeline.Leave, on(timeline.Withers, timeline.Back), "").ripe(timeline.Coming)), measured: on(timeline.Withers, timeline.Back, timeline.Loin)},
				{day: -14, minutes: 130, bore: timeline.StoodWell, breaks: 1, loft: timeline.LoftNone, note: "Flat parts and head out: five weeks to the first show.",
					work:     append(rolling(0.22, timeline.ShareQuarter), strip(append(slices.Clone(flats), headFlats...), timeline.CoverThin), plain(timeline.Scissor, on(timeline.Feet, timeline.Underline), "scissors")),
					measured: on(timeline.Withers, timeline.Back, timeline.Loin, timeline.Rump, timeline.Thigh)},
				{day: 0, open: true, measured: on(timeline.Withers, timeline.Back, timeline.Loin)},
			},
			shows: []show{{name: "Copperbeech Terrier Day", in: 21, priority: 1, targets: ringTargets}, {name: "Saltmarsh Winter Show", in: 70, priority: 2, targets: ringTargets}},
		},
		{
			start: salon.NewDog{
				Name: "Sorrel", Client: "The Boathouse", Texture: timeline.TextureHarsh, WithersMM: 340,
				Answers:   timeline.Answers{Rolled: false, Undercoat: timeline.UndercoatSome, LongestWithersMM: 47},
				Sensitive: on(timeline.Belly, timeline.Tail), EveryDays: 14, Minutes: 120,
			},
			phantom: phantom.Dog{Seed: 23, Colour: phantom.Grizzle, Build: phantom.BuildParams{Leg: 0.94, Body: 1.05}},
			scene:   1, growth: 1.0, lagDays: 20, answers: -55, last: -230, next: 1,
			visits: []visit{
				{day: -55, minutes: 70, loft: timeline.LoftSome, note: "Carded and pinched: coming, not there yet.", work: []line{plain(timeline.Card, jacket, "undercoat_rake").ripe(timeline.Coming), take(timeline.ShareQuarter, headFlats, "fingers")}, measured: on(timeline.Withers, timeline.Back)},
				{day: -41, minutes: 60, loft: timeline.LoftSome, work: []line{take(timeline.ShareThird, headFlats, "fingers"), take(timeline.ShareFew, on(timeline.Foreleg, timeline.Hindleg), "fingers"), plain(timeline.Scissor, on(timeline.Feet), "scissors")}, measured: on(timeline.Withers, timeline.Loin)},
				{day: -27, minutes: 75, loft: timeline.LoftSome, note: "Neck and shoulders out. Jacket next time.", work: []line{strip(flats, timeline.CoverThin), take(timeline.ShareFew, on(timeline.Foreleg, timeline.Hindleg, timeline.Tail), "fingers")}, measured: on(timeline.Withers, timeline.Back, timeline.Ribs)},
				{day: -13, minutes: 150, bore: timeline.Restless, breaks: 2, loft: timeline.LoftNone, note: "Whole jacket out in one go: nobody spoke of a show then.",
					work:     []line{strip(jacket, timeline.CoverSkinShows), strip(on(timeline.Crest), timeline.CoverThin), take(timeline.ShareHalf, on(timeline.Thigh), "knife_fine"), plain(timeline.Leave, on(timeline.Throat), "").skin(timeline.SkinPink).remark("Pink after the last pull: left alone today.")},
					measured: on(timeline.Withers, timeline.Back, timeline.Loin, timeline.Rump)},
			},
			shows: []show{{name: "Fiddlewood Open Show", in: 17, priority: 1}},
		},
	}
}

// ringTargets are what Teasel's groomer wants where it is not the usual.
var ringTargets = map[timeline.Zone]timeline.Range{
	timeline.Ears: {MaxMM: 7}, timeline.Rump: {MinMM: 6, MaxMM: 26}, timeline.Thigh: {MinMM: 8, MaxMM: 34}, timeline.Tail: {MinMM: 8, MaxMM: 26},
}

// rolling is a visit of a rolling coat: the top layer of the jacket, the flat parts if a share is said, a little off
// everything else.
func rolling(top, flat float64) []line {
	lines := []line{
		takeTop(top, jacket, "fingers"),
		takeTop(top, on(timeline.Crest), "fingers"),
		take(timeline.ShareFew, on(timeline.Foreleg, timeline.Hindleg), "finger_cots"),
		take(timeline.ShareThird, on(timeline.Thigh, timeline.Rump), "knife_fine"),
		take(timeline.ShareQuarter, on(timeline.Tail), "fingers"),
	}
	if flat > 0 {
		lines = append(lines, take(flat, flats, "knife_fine"), take(timeline.ShareThird, headFlats, "stone"))
	}
	return lines
}

// log is the visit's log: one line a zone, the last said wins.
func (v visit) log() map[timeline.Zone]timeline.ZoneWork {
	out := map[timeline.Zone]timeline.ZoneWork{}
	for _, l := range v.work {
		for _, z := range l.zones {
			w := l.log
			w.Zone = z
			out[z] = w
		}
	}
	return out
}
