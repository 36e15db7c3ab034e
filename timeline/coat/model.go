package coat

import (
	"crypto/sha256"
	"sort"

	"thatch/timeline"
)

// Dist is a distribution told by three quantiles.
type Dist struct {
	Median float64 `json:"median"`
	P10    float64 `json:"p10"`
	P90    float64 `json:"p90"`
}

// Step is one piece of work that a plan supposes.
type Step struct {
	On    timeline.Day
	Do    timeline.Work
	Share float64
}

// Status says how much a zone's figures rest on the dog's own readings.
type Status string

const (
	StartingGuess Status = "starting guess"
	Updating      Status = "updating"
	Learned       Status = "learned"
)

// ZoneForecast is what to expect of one zone on a day.
type ZoneForecast struct {
	LongestMM    Dist     `json:"longest_mm"`
	VisibleMM    Dist     `json:"visible_mm"`
	MeanMM       Dist     `json:"mean_mm"`
	DepthMM      Dist     `json:"depth_mm"`
	InHair       Dist     `json:"in_hair"`
	Readiness    *float64 `json:"readiness"`
	RateMMPerDay Dist     `json:"rate_mm_per_day"`
	LagDays      Dist     `json:"lag_days"`
	Status       Status   `json:"status"`
}

// Forecast is what to expect of a dog on a day. Strays is set where the dog's readings speak clearly against the curve of
// its profile; the bands then allow for another.
type Forecast struct {
	On     timeline.Day                   `json:"on"`
	Zones  map[timeline.Zone]ZoneForecast `json:"zones"`
	Strays bool                           `json:"strays,omitempty"`
}

// Say is what to say of the whole forecast, false where nothing.
func (f Forecast) Say() (timeline.Phrase, bool) {
	if !f.Strays {
		return timeline.Phrase{}, false
	}
	return timeline.Say("forecast.strays"), true
}

// Model is a coat file brought up to its Today: the posterior of every zone given the log and the readings. It is
// immutable and safe for concurrent use.
type Model struct {
	file    File
	profile Profile
	zones   map[timeline.Zone]*ZoneModel
	strays  bool
	lesson  [sha256.Size]byte // names all that was learned; zero: made without a memory
	pace    Pace              // nil, or Memory.Pace
}

// New checks the file and builds its model. A bad file is a *timeline.Fault of kind Invalid that names the field.
func New(f File) (*Model, error) {
	if err := f.Validate(); err != nil {
		return nil, err
	}
	p, err := f.Kind()
	if err != nil {
		return nil, err
	}
	return newModel(f, p), nil
}

func newModel(f File, p Profile) *Model {
	m := unlearned(f, p)
	m.learn()
	return m
}

func unlearned(f File, p Profile) *Model {
	m := &Model{file: f, profile: p, zones: make(map[timeline.Zone]*ZoneModel, len(f.Zones))}
	for _, name := range timeline.Zones() {
		zone, ok := f.Zones[name]
		if !ok {
			continue
		}
		m.zones[name] = newZoneModel(p, name, zone, f)
	}
	return m
}

// Forecast is what to expect at the end of a day (before or after Today, not before the first known layer): after the
// logged work of that day, with no work after Today. Readiness is against the targets of the first show on or after
// that day, else the profile's.
func (m *Model) Forecast(on timeline.Day) Forecast { return m.forecast(on, on) }

// ForecastStart is what to expect at the start of a day, before any work of that day: what a reading of a session's
// start is compared with.
func (m *Model) ForecastStart(on timeline.Day) Forecast { return m.forecast(on, on-1) }

func (m *Model) forecast(on, worked timeline.Day) Forecast {
	out := Forecast{On: on, Zones: make(map[timeline.Zone]ZoneForecast, len(m.zones)), Strays: m.Strays()}
	for name, z := range m.zones {
		out.Zones[name] = z.stateAt(worked).Forecast(on, m.Target(name, on))
	}
	return out
}

// Target is what is asked of a zone on a day: by the first show on or after it that names the zone's target, else by the
// profile; the zero Target where no band is asked.
func (m *Model) Target(name timeline.Zone, on timeline.Day) Target {
	return targetOn(m.file, m.profile, name, on)
}

func targetOn(f File, p Profile, name timeline.Zone, on timeline.Day) Target {
	shows := append([]Show(nil), f.Shows...)
	sort.SliceStable(shows, func(i, j int) bool { return shows[i].On < shows[j].On })
	for _, s := range shows {
		if s.On >= on {
			if t, ok := s.Targets[name]; ok {
				return t
			}
			break
		}
	}
	if t := p.Zones[name].Target; t != nil {
		return *t
	}
	return Target{}
}

// HasBand reports whether the target asks for anything.
func (t Target) HasBand() bool { return t.MinMM > 0 || t.MaxMM > 0 || t.InHair > 0 }

// Zone is the model of one zone of the file, nil if the file does not have it.
func (m *Model) Zone(z timeline.Zone) *ZoneModel { return m.zones[z] }

// Profile is the kind of coat the model started from.
func (m *Model) Profile() Profile { return m.profile }

// ZoneModel answers a plan's questions about one zone. Steps are of Today or later, in order of day. A search over
// many sequences uses Start and State.After, which share the work of common beginnings; a readiness is remembered by
// what it depends on, so that asking again is a look-up.
type ZoneModel struct {
	name              timeline.Zone
	today             timeline.Day
	curve             Curve
	curves            []Curve // of a dog forecast by several laws: the laws that its nodes follow; curve is curves[law]
	law               int
	season            Season
	scissorMM, clipMM float64
	prior             prior
	zone              Zone         // as in the file
	snapshot          timeline.Day // the newest day that the file's layers were pulled
	readings          []Measured
	growth            Growth
	evidence          Evidence
	loftBefore        timeline.Loft
	lofts             []loftSeen
	first             State   // as the file's layers tell, before the log
	history           []dated // after the log's lines, in order
	nodes             *nodes
	median            params
	status            Status
	slips             []int // readings not believed, by index
	memo              memo
	rateDist, lagDist Dist
}

type params struct{ rate, lag, full float64 }

type dated struct {
	on    timeline.Day
	state State
}

type loftSeen struct {
	on   timeline.Day
	loft timeline.Loft
}

func newZoneModel(p Profile, name timeline.Zone, zone Zone, f File) *ZoneModel {
	zp := p.Zones[name]
	z := &ZoneModel{name: name, today: f.Today, scissorMM: zp.ScissorMM, clipMM: zp.ClipMM, readings: zone.Measured}
	z.prior = zonePrior(p, zp, f.Dog, f.Priors[name])
	if zone.Lie != nil {
		z.prior.lie = axis{mu: *zone.Lie}
	}
	z.season = z.prior.season
	z.curve, _ = curveNamed(p.Growth.Curve)
	z.median = params{z.prior.rate.quantile(0.5), z.prior.lag.quantile(0.5), z.prior.full.quantile(0.5)}
	z.growth, z.evidence = p.Growth, p.Growth.Evidence
	z.loftBefore = loftOf(f.Dog.Undercoat)
	for _, w := range zone.Work {
		if w.Do == timeline.Card && w.Loft != "" {
			z.lofts = append(z.lofts, loftSeen{w.On, w.Loft})
		}
	}
	sort.SliceStable(z.lofts, func(i, j int) bool { return z.lofts[i].on < z.lofts[j].on })
	z.zone = zone
	z.replay()
	return z
}

func loftOf(u timeline.Undercoat) timeline.Loft {
	switch u {
	case timeline.UndercoatSome:
		return timeline.LoftSome
	case timeline.UndercoatHeavy:
		return timeline.LoftWoolly
	}
	return timeline.LoftNone
}

// replay builds the first state from the file's layers and brings it through the log. The shares of the layers are
// those of the newest layer's day: pulling up to that day is already in them, cutting is not in lengths that are grown.
func (z *ZoneModel) replay() {
	zone := z.zone
	z.history = nil
	layers := zone.Layers
	if len(layers) == 0 {
		// Nothing known: one old jacket, full grown.
		layers = []Layer{{Pulled: z.today - oldJacketDays, Share: 1}}
	}
	s := State{z: z}
	var snapshot timeline.Day
	var known, grown int
	for i, l := range layers {
		k := layer{pulled: l.Pulled, share: l.Share}
		if l.LengthMM != nil {
			k.known, k.len0 = true, *l.LengthMM
			known++
		} else {
			grown++
		}
		if i == 0 || l.Pulled > snapshot {
			snapshot = l.Pulled
		}
		s.layers = append(s.layers, k)
	}
	s.mixed = known > 0 && grown > 0
	sort.SliceStable(s.layers, func(i, j int) bool {
		a, b := s.layers[i], s.layers[j]
		if !a.known && !b.known {
			return a.pulled < b.pulled
		}
		la, lb := z.medianLength(a, nil, z.today), z.medianLength(b, nil, z.today)
		if la != lb {
			return la > lb
		}
		return a.pulled < b.pulled
	})
	z.first, z.snapshot = s, snapshot
	var steps []Step
	for _, w := range zone.Work {
		if (w.Do == timeline.Take || w.Do == timeline.Strip) && w.On <= snapshot {
			continue
		}
		steps = append(steps, Step{w.On, w.Do, w.Share})
	}
	sort.SliceStable(steps, func(i, j int) bool { return steps[i].On < steps[j].On })
	for len(steps) > 0 {
		n := 1
		for n < len(steps) && steps[n].On == steps[0].On {
			n++
		}
		s = z.worked(s, steps[:n])
		z.history = append(z.history, dated{steps[0].On, s})
		steps = steps[n:]
	}
}

// worked is the state after the work of one day. The eye overrules the log: where the cover seen after the session lies
// outside what the shares said, as much more or less is taken to have been pulled as brings it to the edge of what was
// seen. "A third" is a way of speaking; bare skin is not.
func (z *ZoneModel) worked(before State, day []Step) State {
	do := func(day []Step) State {
		s := before
		for _, st := range day {
			s = s.After(st)
		}
		return s
	}
	after := do(day)
	on := day[0].On
	last := -1
	for i, st := range day {
		if st.Do == timeline.Take {
			last = i
		}
	}
	if last < 0 || on <= z.snapshot {
		return after
	}
	for _, c := range z.zone.Cover {
		lo, hi, ok := z.evidence.coverBand(c.Is)
		if !ok || c.On != on {
			continue
		}
		inHair := after.InHair(on)
		share := day[last].Share
		switch {
		case inHair > hi:
			share = min(share+inHair-hi, 1)
		case inHair < lo:
			share = max(share+inHair-lo, leastTaken)
		default:
			continue
		}
		again := append([]Step(nil), day...)
		again[last].Share = share
		after = do(again)
	}
	return after
}

// leastTaken is the share that a logged take leaves pulled whatever the cover said.
const leastTaken = 0.02

// oldJacketDays is the age given to a coat of which nothing is known, long enough to be full grown. Judgement.
const oldJacketDays = 365

// stateAt is the state at the end of a day of the log.
func (z *ZoneModel) stateAt(day timeline.Day) State {
	s := z.first
	for _, d := range z.history {
		if d.on > day {
			break
		}
		s = d.state
	}
	return s
}

// Start is the zone at the end of Today, after the log and before any step.
func (z *ZoneModel) Start() State { return z.stateAt(z.today) }

func (z *ZoneModel) after(steps []Step, on timeline.Day) State {
	s := z.Start()
	for _, st := range steps {
		if st.On > on {
			break
		}
		s = s.After(st)
	}
	return s
}

// Forecast is what to expect at the end of a day, after the steps up to and on it; Readiness against the target, nil
// where the target has no band.
func (z *ZoneModel) Forecast(steps []Step, on timeline.Day, t Target) ZoneForecast {
	return z.after(steps, on).Forecast(on, t)
}

// Readiness is the probability, by fixed quadrature, that on the day the zone is inside the target: visible length in
// [MinMM, MaxMM] and, where InHair is asked, at least that share of follicles with hair out.
func (z *ZoneModel) Readiness(steps []Step, on timeline.Day, t Target) float64 {
	return z.after(steps, on).Readiness(on, t)
}

// TopLayer is the layer that is longest on the day after the steps (median parameters): the day it was last pulled and
// its share of the follicles.
func (z *ZoneModel) TopLayer(steps []Step, on timeline.Day) (pulled timeline.Day, share float64) {
	return z.after(steps, on).TopLayer(on)
}

// LagDays and RateMMPerDay are the zone's posterior; Status says how much it rests on the dog's own readings.
func (z *ZoneModel) LagDays() Dist      { return z.lagDist }
func (z *ZoneModel) RateMMPerDay() Dist { return z.rateDist }
func (z *ZoneModel) Status() Status     { return z.status }

// Forecast is what to expect of the state on a day not before its last step; Readiness is nil where t has no band.
func (s State) Forecast(on timeline.Day, t Target) ZoneForecast {
	z := s.z
	out := ZoneForecast{RateMMPerDay: z.rateDist, LagDays: z.lagDist, Status: z.status}
	b := s.bundle(on)
	buf := make([]float64, 5*latticeN)
	longest, visible, mean := buf[:latticeN], buf[latticeN:2*latticeN], buf[2*latticeN:3*latticeN]
	depth, inHair := buf[3*latticeN:4*latticeN], buf[4*latticeN:]
	loft, loftSD := z.loftAt(on)
	for i := range latticeN {
		m := b.measure(i)
		longest[i], visible[i], mean[i], inHair[i] = m.longest, m.visible, m.mean, m.inHair
		depth[i] = z.nodes.lie[i]*m.visible + max(loft+loftSD*z.nodes.zeta[i], 0)
	}
	out.LongestMM, out.VisibleMM, out.MeanMM = dist(longest), dist(visible), dist(mean)
	out.DepthMM, out.InHair = dist(depth), dist(inHair)
	if t.HasBand() {
		r := s.Readiness(on, t)
		out.Readiness = &r
	}
	return out
}
