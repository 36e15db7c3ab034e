package pages

import (
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"thatch/server/salon"
	"thatch/timeline"
	"thatch/timeline/plan"
	"thatch/web/words"
)

type firstPage struct {
	frame
	salon.FirstVisit
	Form     form // of the pinch test and the history
	Ask      form // of the rhythm
	Salon    string
	Days     []firstDay
	After    []firstLook
	Price    string // of all visits; "": none is told
	Hour     string // price of an hour
	Booked   bool   // the dog is booked in this rhythm
	Message  string // the page as a text to send
	Answered bool   // a pinch test or a history is known
	Rhythms  []firstRhythm
}

// firstDay is one visit in words.
type firstDay struct {
	On      timeline.Day
	Minutes int
	Price   string
	Test    []timeline.Group
	Work    []firstWork
	Look    firstLook
}

// firstWork is one kind of work and where it is done.
type firstWork struct{ Does, Where string }

// firstLook is what she looks like on a day, in words and on the drawn dog.
type firstLook struct {
	On    timeline.Day
	Lines []firstWords
	Kinds map[timeline.Zone]salon.LookKind
}

// firstWords is one look, and the groups or zones that have it with their lengths.
type firstWords struct{ Looks, Where string }

// firstRhythm is a rhythm that is offered by one tap.
type firstRhythm struct {
	Days  int
	Label string // key
	On    bool
}

var firstView = declare[firstPage]("firstvisit")

func (s *Site) firstVisit(w http.ResponseWriter, r *http.Request) error {
	f := form{Values: r.URL.Query()}
	ask, err := rhythmOf(f)
	if err != nil {
		return f.again(err, func(code int) error { return s.showFirst(w, r, code, form{}, f, salon.Rhythm{}) })
	}
	err = s.showFirst(w, r, 0, form{}, f, ask)
	if timeline.KindOf(err) == timeline.Invalid {
		return f.again(err, func(code int) error { return s.showFirst(w, r, code, form{}, f, salon.Rhythm{}) })
	}
	return err
}

// rhythmOf reads the rhythm that is asked for; what is not said is as the dog is booked.
func rhythmOf(f form) (r salon.Rhythm, err error) {
	if r.First, err = f.day("next"); err != nil {
		return r, err
	}
	if r.EveryDays, err = f.whole("every", 1, 180); err != nil {
		return r, err
	}
	r.Minutes, err = f.whole("minutes", 5, 720)
	r.AtOnce = f.Get("how") == "at_once"
	return r, err
}

func (s *Site) showFirst(w http.ResponseWriter, r *http.Request, code int, f, ask form, rhythm salon.Rhythm) error {
	v, err := s.salon.FirstVisitIf(r.Context(), idOf(r, "id"), rhythm)
	if err != nil {
		return err
	}
	set := visitOf(r).settings
	sp := speakerOf(set)
	p := firstPage{
		frame: frame{Status: code, Tab: "first", Dog: navOf(v.Dog)}, FirstVisit: v, Form: f, Ask: ask, Salon: set.SalonName,
		Price: money(v.PriceCents, set.Currency), Hour: money(set.HourCents, set.Currency),
		Answered: v.Dog.Pinched != nil || v.Dog.History != (timeline.History{}),
	}
	c := v.Dog.Cadence
	p.Booked = c.Next == v.Rhythm.First && c.EveryDays == v.Rhythm.EveryDays && c.Minutes == v.Rhythm.Minutes
	if f.Values == nil {
		p.Form.Values = map[string][]string{"rev": {asText(int(v.Dog.Rev))}}
		if t := v.Dog.Pinched; t != nil {
			for g, is := range t.Is {
				p.Form.Set("pinch_"+string(g), string(is))
			}
		}
		setHistory(p.Form, v.Dog.History)
	}
	if ask.Fault == nil {
		p.Ask.Values = map[string][]string{"next": {v.Rhythm.First.String()}, "every": {asText(v.Rhythm.EveryDays)}, "minutes": {asText(v.Rhythm.Minutes)}}
		if v.Rhythm.AtOnce {
			p.Ask.Set("how", "at_once")
		}
	}
	for _, x := range []firstRhythm{{7, "first.every.week", false}, {14, "first.every.two", false}, {21, "first.every.three", false}} {
		x.On = x.Days == v.Rhythm.EveryDays
		p.Rhythms = append(p.Rhythms, x)
	}
	for _, d := range v.Visits {
		p.Days = append(p.Days, firstDay{
			On: d.On, Minutes: d.Minutes, Price: money(d.PriceCents, set.Currency), Test: d.Test,
			Work: workWords(sp, d.Work, d.After), Look: lookWords(sp, d.After),
		})
	}
	for _, l := range v.Later {
		p.After = append(p.After, lookWords(sp, l))
	}
	p.Message = firstMessage(sp, p)
	return firstView.show(s, w, r, p)
}

// setHistory ticks the boxes of a form.
func setHistory(f form, h timeline.History) {
	for name, is := range map[string]bool{"ever_clipped": h.EverClipped, "neutered": h.Neutered, "coat_change": h.CoatChange} {
		if is {
			f.Set(name, "yes")
		}
	}
}

// saveFirst keeps the pinch test and the history.
func (s *Site) saveFirst(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	a := salon.FirstAnswers{
		Pinched: map[timeline.Group]timeline.Ripeness{},
		History: historyOf(f),
	}
	for _, g := range timeline.Groups() {
		if is := f.Get("pinch_" + string(g)); is != "" {
			a.Pinched[g] = timeline.Ripeness(is)
		}
	}
	id := idOf(r, "id")
	if a.Rev, err = f.rev(); err == nil {
		_, err = s.salon.SaveFirst(r.Context(), id, a)
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showFirst(w, r, code, f, form{}, salon.Rhythm{}) })
	}
	sayNext(w, r, "dog.saved", "", "")
	return seeOther(w, r, "/dogs/"+string(id)+"/first")
}

// bookFirst books the dog in the rhythm that the page shows.
func (s *Site) bookFirst(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	id := idOf(r, "id")
	rhythm, err := rhythmOf(f)
	var rev timeline.Rev
	if err == nil {
		rev, err = f.rev()
	}
	if err == nil {
		_, err = s.salon.BookFirst(r.Context(), id, rev, rhythm)
	}
	if err != nil {
		return f.again(err, func(code int) error { return s.showFirst(w, r, code, form{}, f, salon.Rhythm{}) })
	}
	sayNext(w, r, "dog.saved", "", "")
	to := "/dogs/" + string(id) + "/first"
	if rhythm.AtOnce {
		to += "?how=at_once"
	}
	return seeOther(w, r, to)
}

// workWords says a visit's work, the same work together: "take half: jacket, crest of neck and thighs".
func workWords(sp words.Speaker, lines []plan.Line, after salon.CoatLook) []firstWork {
	var order []string
	zones := map[string][]timeline.Zone{}
	for _, l := range lines {
		does := doing(sp, l.Do, l.Share, l.Top)
		if !l.Why.IsZero() {
			does = sp.Say(l.Why)
		}
		if zones[does] == nil {
			order = append(order, does)
		}
		zones[does] = append(zones[does], l.Zone)
	}
	out := make([]firstWork, len(order))
	for i, does := range order {
		out[i] = firstWork{does, whereWords(sp, zones[does], after)}
	}
	return out
}

// whereWords names zones, and their group instead where all of it that is stripped is meant.
func whereWords(sp words.Speaker, zones []timeline.Zone, after salon.CoatLook) string {
	var names []string
	for _, g := range timeline.Groups() {
		var of []timeline.Zone
		all := 0
		for _, z := range g.Zones() {
			if after.Zones[z].Kind != salon.LookKept {
				all++
			}
			if slices.Contains(zones, z) {
				of = append(of, z)
			}
		}
		if len(of) > 1 && len(of) == all && after.Zones[of[0]].Kind != salon.LookKept {
			names = append(names, word(sp, g))
			continue
		}
		for _, z := range of {
			names = append(names, word(sp, z))
		}
	}
	return sp.T("first.list", "names", names)
}

func lookWords(sp words.Speaker, l salon.CoatLook) firstLook {
	out := firstLook{On: l.On, Kinds: map[timeline.Zone]salon.LookKind{}}
	for z, x := range l.Zones {
		out.Kinds[z] = x.Kind
	}
	var order []string
	where := map[string][]string{}
	for _, x := range l.Lines {
		name := word(sp, x.Group)
		if !x.Whole {
			name = sp.T("first.list", "names", x.Zones)
		}
		if x.Kind != salon.LookBare {
			name = sp.T("first.at", "where", name, "mm", roughly(sp, x.FromMM, x.ToMM))
		}
		looks := looks(sp, x)
		if where[looks] == nil {
			order = append(order, looks)
		}
		where[looks] = append(where[looks], name)
	}
	for _, looks := range order {
		out.Lines = append(out.Lines, firstWords{looks, strings.Join(where[looks], sp.T("first.next"))})
	}
	return out
}

// roughly is a length from one to another, no finer than the guess is.
func roughly(sp words.Speaker, from, to float64) string {
	if sp.Units != words.Inches {
		from, to = math.Round(from), math.Round(to)
	}
	a, b := sp.Length(from), sp.Length(to)
	if a != b {
		b = sp.LengthNumber(from) + "\u2060–\u2060" + b
	}
	return strings.ReplaceAll(b, " ", "\u00a0") // a line does not end between a number and its unit
}

// looks is one way to look, in words.
func looks(sp words.Speaker, l salon.LookLine) string {
	thin := l.Cover != timeline.CoverFull
	switch {
	case l.Kind == salon.LookBare:
		return sp.T("first.look.bare")
	case l.Kind == salon.LookShort:
		return sp.T("first.look.short")
	case l.Kind == salon.LookOld:
		return sp.T("first.look.old")
	case l.Kind == salon.LookThinned && thin:
		return sp.T("first.look.thinned")
	case l.Kind == salon.LookThinned:
		return sp.T("first.look.taken")
	case l.Kind == salon.LookRolling && thin:
		return sp.T("first.look.rolling.thin")
	case l.Kind == salon.LookRolling:
		return sp.T("first.look.rolling")
	case thin:
		return sp.T("first.look.new.thin")
	}
	return sp.T("first.look.new")
}

// firstMessage is the page as a text for a messenger or a letter.
func firstMessage(sp words.Speaker, p firstPage) string {
	var b strings.Builder
	line := func(parts ...string) { b.WriteString(strings.Join(parts, "") + "\n") }
	line(sp.T("first.title", "name", p.FirstVisit.Dog.Name), ", ", sp.Day(p.Today))
	line(sp.T("first.head."+string(p.Can), "name", p.FirstVisit.Dog.Name))
	for _, w := range p.Why {
		line("- ", sp.Say(w))
	}
	for _, d := range p.Days {
		line()
		price := ""
		if d.Price != "" {
			price = ", " + sp.T("first.price.about", "price", d.Price)
		}
		line(sp.Day(d.On), ": ", sp.T("first.minutes", "time", durationOf(d.Minutes)), price)
		for _, w := range d.Work {
			line("- ", w.Does, ": ", w.Where)
		}
		line(sp.T("first.after"))
		for _, l := range d.Look.Lines {
			line("- ", l.Looks, ": ", l.Where)
		}
	}
	for _, l := range p.After {
		line()
		line(sp.T("first.later.on", "on", l.On))
		for _, x := range l.Lines {
			line("- ", x.Looks, ": ", x.Where)
		}
	}
	line()
	if len(p.Days) > 0 {
		line(sp.Say(firstTotal(p)))
	}
	if ready := sp.Say(readyWords(p.FirstVisit)); ready != "" {
		line(ready)
	}
	line()
	line(sp.T("first.notsure"))
	for _, x := range p.NotSure {
		line("- ", sp.Say(x))
	}
	line()
	line(sp.T("first.cautions"))
	for _, x := range p.Cautions {
		line("- ", sp.Say(x))
	}
	if p.Salon != "" {
		line()
		line(p.Salon)
	}
	return strings.TrimSpace(b.String())
}

// Total is how many visits, how long together, and the price.
func (p firstPage) Total() timeline.Phrase { return firstTotal(p) }

func firstTotal(p firstPage) timeline.Phrase {
	n := len(p.Days)
	first, last := p.Days[0].On, p.Days[n-1].On
	time := durationOf(p.Minutes)
	switch {
	case p.Rolling && p.Price != "":
		return timeline.Say("first.total.rolling.price", "n", n, "time", time, "price", p.Price, "hour", p.Hour)
	case p.Rolling:
		return timeline.Say("first.total.rolling", "n", n, "time", time)
	case n == 1 && p.Price != "":
		return timeline.Say("first.total.once.price", "time", time, "on", first, "price", p.Price, "hour", p.Hour)
	case n == 1:
		return timeline.Say("first.total.once", "time", time, "on", first)
	case p.Price != "":
		return timeline.Say("first.total.price", "n", n, "from", first, "to", last, "time", time, "price", p.Price, "hour", p.Hour)
	}
	return timeline.Say("first.total", "n", n, "from", first, "to", last, "time", time)
}

// manyNever zones that are not sure to come right make every date a promise that is not kept.
const manyNever = 4

// Few reports whether only few zones are not sure to come right: then they are named beside the date.
func (p firstPage) Few() bool {
	return !p.Ready.On.IsZero() && len(p.Ready.Never) > 0 && len(p.Ready.Never) < manyNever
}

// Keys are the looks that are drawn on the page.
func (p firstPage) Keys() []salon.LookKind {
	seen := map[salon.LookKind]bool{}
	for _, d := range p.Days {
		for _, k := range d.Look.Kinds {
			seen[k] = true
		}
	}
	for _, l := range p.After {
		for _, k := range l.Kinds {
			seen[k] = true
		}
	}
	var out []salon.LookKind
	for _, k := range []salon.LookKind{salon.LookOld, salon.LookThinned, salon.LookBare, salon.LookShort, salon.LookNew, salon.LookRolling, salon.LookKept} {
		if seen[k] {
			out = append(out, k)
		}
	}
	return out
}

// Earliest is when she could be ready for a show at the earliest; nothing where nothing is promised.
func (p firstPage) Earliest() timeline.Phrase { return readyWords(p.FirstVisit) }

func readyWords(v salon.FirstVisit) timeline.Phrase {
	switch r := v.Ready; {
	case len(r.Never) >= manyNever || r.On.IsZero() && len(r.Never) > 0:
		return timeline.Say("first.ready.never", "zones", r.Never)
	case r.On.IsZero():
		return timeline.Say("first.ready.ask")
	case len(r.Last) == 0:
		return timeline.Say("first.ready.soon", "on", r.On)
	default:
		return timeline.Say("first.ready", "on", r.On, "n", int(math.Ceil(float64(r.On-v.Today)/7)), "zones", r.Last)
	}
}

// durationOf says minutes as hours and minutes.
func durationOf(minutes int) timeline.Phrase {
	switch {
	case minutes < 60:
		return timeline.Say("first.time.min", "min", minutes)
	case minutes%60 == 0:
		return timeline.Say("first.time.h", "h", minutes/60)
	}
	return timeline.Say("first.time.h_min", "h", minutes/60, "min", minutes%60)
}

// money is hundredths of a currency as one says a price: signs go before ("£45"), words behind ("45 kr"). "" for nothing.
func money(cents int, currency string) string {
	if cents == 0 {
		return ""
	}
	text := strconv.Itoa(cents / 100)
	if part := cents % 100; part != 0 {
		text += "." + strconv.Itoa(part/10) + strconv.Itoa(part%10)
	}
	if currency == "" {
		return text
	}
	if strings.ContainsFunc(currency, unicode.IsLetter) {
		return text + "\u00a0" + currency
	}
	return currency + text
}
