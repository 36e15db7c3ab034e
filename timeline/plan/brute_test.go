package plan

import (
	"math"
	"sort"
	"testing"

	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/timeline/outside"
)

// oracle plans by trying everything, with nothing of the package but its constants: it keeps the coat as a list of
// pulled days, says the rules again in its own way, asks the coat model afresh for every sequence, and compares every
// combination of sequences.
type oracle struct {
	f        coat.File
	p        coat.Profile
	m        *coat.Model
	sessions []timeline.Day
	shows    []coat.Show
}

type oracleLayer struct {
	pulled timeline.Day
	share  float64
}

type oracleSequence struct {
	minutes       []float64
	ready, useful float64
	total         float64
}

func (o *oracle) target(z timeline.Zone, s coat.Show) coat.Target {
	if t, ok := s.Targets[z]; ok {
		return t
	}
	if t := o.p.Zones[z].Target; t != nil {
		return *t
	}
	return coat.Target{}
}

func (o *oracle) minutes(z timeline.Zone, w timeline.Work) float64 {
	if v, ok := o.f.Minutes[z][w]; ok {
		return v
	}
	if v, ok := o.p.Zones[z].Minutes[w]; ok {
		return v
	}
	return map[timeline.Work]float64{timeline.Take: 15, timeline.Strip: 15}[w]
}

// allowed says whether the calendar lets the zone be pulled.
func (o *oracle) allowed(z timeline.Zone, on timeline.Day) bool {
	zp, fz := o.p.Zones[z], o.f.Zones[z]
	if !zp.Stripped {
		return false
	}
	if rp := fz.Ripeness; rp != nil && rp.Is == timeline.NotReady && int(on-rp.On) < 7 {
		return false
	}
	for _, s := range o.shows {
		before := int(s.On - on)
		if before <= 0 {
			continue
		}
		if before <= o.p.Rules.TidyOnlyDays && !zp.LittleEach {
			return false
		}
		// These dogs have no readings: their lag is not known.
		if zp.FlatByDays > 0 && before < max(zp.FlatByDays, o.p.Rules.FlatByDaysUnknown) {
			return false
		}
	}
	return true
}

type oracleChoice struct {
	share   float64
	strip   bool
	minutes float64
}

func (o *oracle) choices(z timeline.Zone, layers []oracleLayer, i int, steps []coat.Step) []oracleChoice {
	leaveIt := []oracleChoice{{}}
	on := o.sessions[i]
	zp, fz := o.p.Zones[z], o.f.Zones[z]
	banded, flat := false, false
	for _, s := range o.shows {
		t := o.target(z, s)
		if t.HasBand() && !banded {
			banded, flat = true, zp.FlatByDays > 0 || zp.HeadFlat || t.MinMM == 0 && t.MaxMM > 0
		}
	}
	if !banded || !o.allowed(z, on) {
		return leaveIt
	}
	// What may be gripped, from the longest.
	lag := int(math.Round(o.m.Zone(z).LagDays().Median))
	grip := 0.0
	for _, l := range layers {
		if i > 0 && l.pulled == o.sessions[i-1] || int(on-l.pulled) < lag+10 {
			break
		}
		grip += l.share
	}
	if grip < 1e-7 {
		return leaveIt
	}
	top := 0.0
	for k := 0; k < len(layers) && top < 0.05-1e-7; k++ { // crumbs go with the next layer
		top += layers[k].share
	}
	old := layers[0].pulled < o.sessions[0]
	back := fz.Mode == timeline.BringBack && old
	var shares []float64
	takeTop, strips := false, false
	switch {
	case zp.LittleEach && back:
		shares, takeTop = []float64{.1, .25, 1. / 3, .5}, true
	case zp.LittleEach:
		shares, takeTop = []float64{.1}, true
	case z == timeline.Tail:
		shares, takeTop = []float64{.1, .25, 1. / 3}, top <= 1./3
	case back:
		shares, takeTop, strips = []float64{.25, 1. / 3, .5}, true, true
	case zp.HeadFlat:
		shares, takeTop, strips = []float64{.1, .5}, true, true
	case flat:
		shares, takeTop, strips = []float64{.5}, true, true
	case top > .5+1e-7:
		shares = []float64{.25, 1. / 3}
	default:
		takeTop = true
	}
	if top > 1-1e-7 || fz.Mode == timeline.KeepRolling && !flat && top > .5+1e-7 {
		takeTop = false
	}
	var out []oracleChoice
	add := func(share float64, strip bool) {
		c := oracleChoice{share, strip, share * o.minutes(z, timeline.Take)}
		if strip {
			c.minutes = o.minutes(z, timeline.Strip)
		}
		covered := 0.0 // still out after it
		for _, l := range layers {
			if int(on-l.pulled) >= lag {
				covered += l.share
			}
		}
		if fz.Mode == timeline.KeepRolling && !flat && covered-share < o.p.Rules.WarnCoverBelow-1e-7 {
			return
		}
		coming := fz.Ripeness != nil && fz.Ripeness.Is == timeline.Coming && int(on-fz.Ripeness.On) < 7
		if o.bare(z, layers, share, on, lag) {
			return
		}
		if share > grip+1e-7 || coming && share > 1./3+1e-7 || c.minutes > o.f.Sessions.Minutes+1e-9 || fz.Sensitive && c.minutes > o.p.Rules.SensitiveMinutes+1e-9 {
			return
		}
		out = append(out, c)
	}
	topGrips := takeTop && top <= grip+1e-7
	for _, s := range shares {
		if topGrips && math.Abs(s-top) < 1e-7 {
			continue
		}
		if rest := top - s; topGrips && s > .1 && fz.Mode == timeline.BringBack && old && rest > 0 && rest < .2-1e-7 {
			continue
		}
		add(s, false)
	}
	if takeTop {
		add(top, false)
	}
	if strips {
		add(1, true)
	}
	// Legs give a little where their band and the minutes of the session allow it.
	var little *oracleChoice
	for k := range out {
		if out[k].share <= .1+1e-7 && (little == nil || out[k].share < little.share) {
			little = &out[k]
		}
	}
	few := .1 * o.minutes(z, timeline.Take)
	fewFits := few <= o.f.Sessions.Minutes+1e-9 && !(fz.Sensitive && few > o.p.Rules.SensitiveMinutes+1e-9)
	if zp.LittleEach && fewFits && o.littleFits() && little != nil {
		next := o.next(on)
		t := o.target(z, next)
		after := append(append([]coat.Step{}, steps...), coat.Step{On: on, Do: timeline.Take, Share: little.share})
		if !t.HasBand() || t.MinMM == 0 || o.m.Zone(z).Readiness(after, next.On, coat.Target{MinMM: t.MinMM}) >= .5 {
			return out
		}
	}
	return append(leaveIt, out...)
}

// bare: too little of the zone would be out on the day of a show that is less than three weeks away for a dog of the usual
// lag, and no later show needs the pull before that one.
func (o *oracle) bare(z timeline.Zone, layers []oracleLayer, share float64, on timeline.Day, lag int) bool {
	hides := lag + 3
	needs := hides
	if flat := o.p.Zones[z].FlatByDays; flat > 0 {
		needs = max(needs, flat, o.p.Rules.FlatByDaysUnknown)
	}
	for i, s := range o.shows {
		if s.On <= on || s.On >= on+timeline.Day(hides) {
			continue
		}
		excused := false
		for _, later := range o.shows[i+1:] {
			if o.target(z, later).HasBand() && int(later.On-on) >= needs && int(later.On-s.On) < needs {
				excused = true
			}
		}
		out := 0.0
		for _, l := range layers {
			if int(s.On-l.pulled) >= hides {
				out += l.share
			}
		}
		if !excused && out-share < 0.5-1e-7 {
			return true
		}
	}
	return false
}

func (o *oracle) littleFits() bool {
	sum := 0.0
	for z, fz := range o.f.Zones {
		banded := false
		for _, s := range o.shows {
			banded = banded || o.target(z, s).HasBand()
		}
		m := .1 * o.minutes(z, timeline.Take)
		if o.p.Zones[z].LittleEach && banded && m <= o.f.Sessions.Minutes+1e-9 && !(fz.Sensitive && m > o.p.Rules.SensitiveMinutes+1e-9) {
			sum += m
		}
	}
	return sum <= o.f.Sessions.Minutes+1e-9
}

func weightFor(priority int) float64 { return 1 / math.Max(1, float64(priority)) }

// holds are the days between the shows, every week, on which a rolling zone counts.
func (o *oracle) holds(z timeline.Zone) []timeline.Day {
	var out []timeline.Day
	if o.f.Zones[z].Mode != timeline.KeepRolling || o.p.Zones[z].FlatByDays > 0 {
		return nil
	}
	for d := o.shows[0].On + 7; d < o.shows[len(o.shows)-1].On; d += 7 {
		isShow := false
		for _, s := range o.shows {
			isShow = isShow || s.On == d
		}
		if !isShow && o.target(z, o.next(d)).HasBand() {
			out = append(out, d)
		}
	}
	return out
}

func (o *oracle) next(d timeline.Day) coat.Show {
	for _, s := range o.shows {
		if s.On > d {
			return s
		}
	}
	panic("no show after a session")
}

func (o *oracle) sequences(z timeline.Zone) []oracleSequence {
	var layers []oracleLayer
	for _, l := range o.f.Zones[z].Layers {
		layers = append(layers, oracleLayer{l.Pulled, l.Share})
	}
	sort.Slice(layers, func(i, j int) bool { return layers[i].pulled < layers[j].pulled })
	var out []oracleSequence
	var walk func(i int, layers []oracleLayer, steps []coat.Step, minutes []float64)
	walk = func(i int, layers []oracleLayer, steps []coat.Step, minutes []float64) {
		if i == len(o.sessions) {
			q := oracleSequence{minutes: append([]float64{}, minutes...), ready: 1}
			for _, s := range o.shows {
				if t := o.target(z, s); t.HasBand() {
					r := o.m.Zone(z).Readiness(before(steps, s.On), s.On, t)
					q.ready = math.Min(q.ready, r)
					q.useful += weightFor(s.Priority) * r
				}
			}
			hs := o.holds(z)
			for _, d := range hs {
				q.useful += 1. / 6 / float64(len(hs)) * o.m.Zone(z).Readiness(before(steps, d+1), d, o.target(z, o.next(d)))
			}
			for _, m := range minutes {
				q.total += m
			}
			out = append(out, q)
			return
		}
		for _, c := range o.choices(z, layers, i, steps) {
			if c.share == 0 {
				walk(i+1, layers, steps, append(minutes, 0))
				continue
			}
			var after []oracleLayer
			left := c.share
			for _, l := range layers {
				n := math.Min(l.share, left)
				left -= n
				if l.share-n > 1e-7 {
					after = append(after, oracleLayer{l.pulled, l.share - n})
				}
			}
			after = append(after, oracleLayer{o.sessions[i], c.share})
			do := timeline.Take
			if c.strip {
				do = timeline.Strip
			}
			walk(i+1, after, append(append([]coat.Step{}, steps...), coat.Step{On: o.sessions[i], Do: do, Share: c.share}), append(minutes, c.minutes))
		}
	}
	walk(0, layers, nil, nil)
	return out
}

func before(steps []coat.Step, on timeline.Day) []coat.Step {
	var out []coat.Step
	for _, s := range steps {
		if s.On < on {
			out = append(out, s)
		}
	}
	return out
}

// solve returns the objective: largest regret, mean in thousandths, minutes.
func (o *oracle) solve() (regret, mean, minutes float64) {
	var lists [][]oracleSequence
	var best []float64
	weight := 0.0
	for _, z := range timeline.Zones() {
		if _, ok := o.f.Zones[z]; !ok {
			continue
		}
		list := o.sequences(z)
		b := 0.0
		for _, q := range list {
			b = math.Max(b, q.ready)
		}
		lists, best = append(lists, list), append(best, b)
		for _, s := range o.shows {
			if o.target(z, s).HasBand() {
				weight += weightFor(s.Priority)
			}
		}
		if len(o.holds(z)) > 0 {
			weight += 1. / 6
		}
	}
	left := make([]float64, len(o.sessions))
	for i := range left {
		left[i] = o.f.Sessions.Minutes
	}
	regret, mean, minutes = math.Inf(1), -1, math.Inf(1)
	var walk func(i int, worst, useful, total float64)
	walk = func(i int, worst, useful, total float64) {
		if i == len(lists) {
			thousandths := 0.0
			if weight > 0 {
				thousandths = math.Round(useful / weight * 1000)
			}
			switch {
			case worst > regret+1e-12:
			case worst < regret-1e-12:
				regret, mean, minutes = worst, thousandths, total
			case thousandths < mean:
			case thousandths > mean:
				mean, minutes = thousandths, total
			default:
				minutes = math.Min(minutes, total)
			}
			return
		}
	next:
		for _, q := range lists[i] {
			w := math.Max(worst, best[i]-q.ready)
			if w > regret+1e-12 {
				continue
			}
			for k, m := range q.minutes {
				if m > left[k]+1e-9 {
					continue next
				}
			}
			for k, m := range q.minutes {
				left[k] -= m
			}
			walk(i+1, w, useful+q.useful, total+q.total)
			for k, m := range q.minutes {
				left[k] += m
			}
		}
	}
	walk(0, 0, 0, 0)
	return regret, mean / 1000, minutes
}

// X: an independent search that tries every combination.
func TestThePlanIsAsGoodAsTryingEverything(t *testing.T) {
	cases := outside.ManyOf(t, 300)
	if testing.Short() {
		cases = 60
	}
	bind := 0
	for seed := range cases {
		f, unbound, bound := smallCase(t, seed)
		m, err := coat.New(f)
		if err != nil {
			t.Fatal(err)
		}
		o := &oracle{f: f, p: m.Profile(), m: m, shows: append([]coat.Show{}, f.Shows...)}
		sort.SliceStable(o.shows, func(i, j int) bool { return o.shows[i].On < o.shows[j].On })
		for _, d := range f.Sessions.Dates {
			ok := d < o.shows[len(o.shows)-1].On
			for _, s := range f.Shows {
				ok = ok && s.On != d
			}
			if ok {
				o.sessions = append(o.sessions, d)
			}
		}
		if len(o.sessions) == 0 {
			continue
		}
		wantRegret, wantMean, wantMinutes := o.solve()
		p := mustMake(t, f)
		minutes := pullMinutes(p)
		if math.Abs(p.LargestRegret-wantRegret) > 1e-9 || math.Abs(p.ReadinessMean-wantMean) > 1e-9 || math.Abs(minutes-wantMinutes) > 1e-9 {
			t.Errorf("case %d: regret %.9f, mean %.3f, minutes %.6f; by trying everything %.9f, %.3f, %.6f", seed, p.LargestRegret, p.ReadinessMean, minutes, wantRegret, wantMean, wantMinutes)
		}
		if p.Gap != (Gap{}) {
			t.Errorf("case %d: a small plan is exact, gap %+v", seed, p.Gap)
		}
		if binds(unbound, p) != bound {
			t.Errorf("case %d: two plans of the same file differ", seed)
		}
		if bound {
			bind++
		}
	}
	t.Logf("minutes bind in %d of %d cases", bind, cases)
	if bind*2 < cases {
		t.Errorf("minutes bind in %d of %d cases only", bind, cases)
	}
}

// smallCase is a small random file and its plan without a limit of minutes; every other one is drawn again until minutes
// bind.
func smallCase(t *testing.T, seed int) (f coat.File, unbound Plan, bound bool) {
	for again := range 200 {
		r := rng(seed + 1_000_000*again)
		size := caseSize{zones: 1 + r.IntN(3), sessions: 1 + r.IntN(3), shows: 1 + r.IntN(3)}
		if seed%3 == 0 {
			size = caseSize{zones: 2, sessions: 4, shows: 1 + r.IntN(3)}
		}
		f = randomFile(r, size)
		free := f
		free.Sessions = &coat.Sessions{Dates: f.Sessions.Dates, Minutes: 24 * 60}
		unbound = mustMake(t, free)
		if busiest := busiestOf(unbound); busiest > 0 {
			f.Sessions.Minutes = math.Max(0.1, math.Round(busiest*(0.25+0.7*r.Float64())*10)/10)
		}
		bound = binds(unbound, mustMake(t, f))
		if bound || seed%2 == 1 {
			return f, unbound, bound
		}
	}
	t.Fatalf("case %d: minutes never bind", seed)
	return f, unbound, bound
}

// binds: the same case without a limit of minutes comes out otherwise.
func binds(unbound, p Plan) bool {
	return unbound.LargestRegret != p.LargestRegret || unbound.ReadinessMean != p.ReadinessMean || math.Abs(pullMinutes(unbound)-pullMinutes(p)) > 1e-9 || bestsOf(unbound) != bestsOf(p)
}

// pullMinutes are the minutes of all the pulling, busiestOf those of the session with most of it.
func pullMinutes(p Plan) float64 {
	sum := 0.0
	for i := range p.Sessions {
		sum += pullMinutesOf(p.Sessions[i])
	}
	return sum
}

func busiestOf(p Plan) float64 {
	most := 0.0
	for i := range p.Sessions {
		most = math.Max(most, pullMinutesOf(p.Sessions[i]))
	}
	return most
}

func pullMinutesOf(s Session) float64 {
	sum := 0.0
	for _, l := range s.Zones {
		if l.Do == timeline.Take || l.Do == timeline.Strip {
			sum += l.Minutes
		}
	}
	return sum
}

// bestsOf is the sum of what each zone could reach if it alone mattered, which too may need more minutes than there are.
func bestsOf(p Plan) float64 {
	sum := 0.0
	for _, z := range timeline.Zones() {
		if b := p.Zones[z].BestAlone; b != nil {
			sum += *b
		}
	}
	return sum
}
