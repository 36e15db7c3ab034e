package coat

import (
	"fmt"
	"math"
	"sort"

	"thatch/timeline"
)

// Bounds on what a file may say; beyond them it is a slip of the pen, not a dog.
const (
	MaxLengthMM    = 400  // of a hair
	maxWithersMM   = 1200 // height of a dog
	maxRate        = 5    // mm per day
	maxLagDays     = 730
	maxMinutes     = 24 * 60
	shareTolerance = 0.001
)

// checker collects the first fault; later checks of a file with one do nothing.
type checker struct{ fault *timeline.Fault }

func (c *checker) fail(field, key string, args ...any) {
	if c.fault == nil {
		c.fault = timeline.NewFault(timeline.Invalid, key, append(args, "field", field)...).In(field)
	}
}

// number checks lo ≤ v ≤ hi and with it that v is a number at all.
func (c *checker) number(field string, v, lo, hi float64) {
	if !(v >= lo && v <= hi) {
		c.fail(field, "fault.coat.number", "value", fmt.Sprint(v), "lowest", fmt.Sprint(lo), "highest", fmt.Sprint(hi))
	}
}

// positive checks 0 < v ≤ hi.
func (c *checker) positive(field string, v, hi float64) {
	if !(v > 0 && v <= hi) {
		c.fail(field, "fault.coat.positive", "value", fmt.Sprint(v), "highest", fmt.Sprint(hi))
	}
}

func (c *checker) share(field string, v float64) {
	if !(v > 0 && v <= 1) {
		c.fail(field, "fault.coat.share", "value", fmt.Sprint(v))
	}
}

func (c *checker) past(field string, on, today timeline.Day) {
	switch {
	case on.IsZero():
		c.fail(field, "fault.coat.no_day")
	case on > today:
		c.fail(field, "fault.coat.future", "on", on, "today", today)
	}
}

func (c *checker) notBefore(field string, on, first timeline.Day) {
	if on < first {
		c.fail(field, "fault.coat.before", "on", on, "first", first)
	}
}

func oneOf[T ~string](c *checker, field string, v T, all []T) {
	words := make([]string, 0, len(all))
	for _, a := range all {
		if a == v {
			return
		}
		words = append(words, string(a))
	}
	c.fail(field, "fault.coat.word", "value", string(v), "words", join(words))
}

func join(words []string) string {
	s := ""
	for i, w := range words {
		if i > 0 {
			s += ", "
		}
		s += w
	}
	return s
}

func (c *checker) zone(field string, z timeline.Zone) {
	if !z.Known() {
		c.fail(field, "fault.coat.zone", "zone", string(z))
	}
}

// zonesOf are the keys of a map by zone, unknown ones first, then in anatomical order, so that the same file always
// earns the same fault.
func zonesOf[V any](m map[timeline.Zone]V) []timeline.Zone {
	out := make([]timeline.Zone, 0, len(m))
	for z := range m {
		out = append(out, z)
	}
	sort.Slice(out, func(i, j int) bool {
		if a, b := out[i].Order(), out[j].Order(); a != b {
			return a < b
		}
		return out[i] < out[j]
	})
	return out
}

// Validate checks the file. A bad one is a *timeline.Fault of kind Invalid whose Field is the place at fault, such as
// zones.back.layers[1].share. That there is a show at all, and a session before it, is the plan's to ask.
func (f File) Validate() error {
	c := &checker{}
	if f.Today.IsZero() {
		c.fail("today", "fault.coat.no_day")
	}
	c.number("dog.withers_mm", f.Dog.WithersMM, 0, maxWithersMM)
	if f.Dog.Undercoat != "" {
		oneOf(c, "dog.undercoat", f.Dog.Undercoat, timeline.Undercoats())
	}
	if f.Dog.Texture != "" {
		oneOf(c, "dog.texture", f.Dog.Texture, timeline.Textures())
	}
	if f.Profile != "" {
		oneOf(c, "profile", f.Profile, ProfileNames())
	}
	if len(f.OwnProfile) > 0 && c.fault == nil {
		if _, err := f.Kind(); err != nil {
			return err
		}
	}
	if len(f.Zones) == 0 {
		c.fail("zones", "fault.coat.no_zones")
	}
	for _, z := range zonesOf(f.Zones) {
		field := "zones." + string(z)
		c.zone(field, z)
		f.Zones[z].check(c, field, f.Today)
	}
	for i, s := range f.Shows {
		s.check(c, fmt.Sprintf("shows[%d]", i))
		if s.On < f.Today {
			c.fail(fmt.Sprintf("shows[%d].on", i), "fault.plan.show_past", "show", s.Name, "on", s.On, "today", f.Today)
		}
	}
	if f.Sessions != nil {
		f.Sessions.check(c, "sessions")
	}
	for _, z := range zonesOf(f.Minutes) {
		field := "minutes." + string(z)
		c.zone(field, z)
		works := make([]string, 0, len(f.Minutes[z]))
		for w := range f.Minutes[z] {
			works = append(works, string(w))
		}
		sort.Strings(works)
		for _, w := range works {
			oneOf(c, field+"."+w, timeline.Work(w), timeline.Works())
			c.positive(field+"."+w, f.Minutes[z][timeline.Work(w)], maxMinutes)
		}
	}
	for _, z := range zonesOf(f.Priors) {
		c.zone("priors."+string(z), z)
		f.Priors[z].check(c, "priors."+string(z))
	}
	if c.fault != nil {
		return c.fault
	}
	return nil
}

func (z Zone) check(c *checker, field string, today timeline.Day) {
	if z.Mode != "" {
		oneOf(c, field+".mode", z.Mode, []timeline.Mode{timeline.BringBack, timeline.KeepRolling})
	}
	sum := 0.0
	for i, l := range z.Layers {
		at := fmt.Sprintf("%s.layers[%d]", field, i)
		c.past(at+".pulled", l.Pulled, today)
		c.share(at+".share", l.Share)
		if l.LengthMM != nil {
			c.number(at+".length_mm", *l.LengthMM, 0, MaxLengthMM)
		}
		sum += l.Share
	}
	if len(z.Layers) > 0 && !(math.Abs(sum-1) <= shareTolerance) {
		c.fail(field+".layers", "fault.coat.shares", "sum", fmt.Sprintf("%.3f", sum))
	}
	for i, w := range z.Work {
		at := fmt.Sprintf("%s.work[%d]", field, i)
		c.past(at+".on", w.On, today)
		oneOf(c, at+".do", w.Do, timeline.Works())
		if w.Do == timeline.Take {
			c.share(at+".share", w.Share)
		} else {
			c.number(at+".share", w.Share, 0, 1)
		}
		if w.Loft != "" {
			oneOf(c, at+".loft", w.Loft, timeline.Lofts())
		}
	}
	for i, m := range z.Measured {
		at := fmt.Sprintf("%s.measured[%d]", field, i)
		c.past(at+".on", m.On, today)
		c.number(at+".length_mm", m.LengthMM, 0, MaxLengthMM)
		c.number(at+".sd_mm", m.SDMM, 0, MaxLengthMM)
	}
	for i, d := range z.Depth {
		at := fmt.Sprintf("%s.depth[%d]", field, i)
		c.past(at+".on", d.On, today)
		c.number(at+".depth_mm", d.DepthMM, 0, MaxLengthMM)
		c.number(at+".sd_mm", d.SDMM, 0, MaxLengthMM)
	}
	for i, r := range z.Pinched {
		at := fmt.Sprintf("%s.pinched[%d]", field, i)
		c.past(at+".on", r.On, today)
		oneOf(c, at+".is", r.Is, timeline.Ripenesses())
	}
	for i, v := range z.Cover {
		at := fmt.Sprintf("%s.cover[%d]", field, i)
		c.past(at+".on", v.On, today)
		oneOf(c, at+".is", v.Is, timeline.Covers())
	}
	for i, h := range z.NewHair {
		at := fmt.Sprintf("%s.new_hair[%d]", field, i)
		c.past(at+".pulled", h.Pulled, today)
		if h.NotOut.IsZero() && h.Out.IsZero() {
			c.fail(at, "fault.coat.new_hair")
		}
		if !h.NotOut.IsZero() {
			c.past(at+".not_out", h.NotOut, today)
			c.notBefore(at+".not_out", h.NotOut, h.Pulled)
		}
		if !h.Out.IsZero() {
			c.past(at+".out", h.Out, today)
			c.notBefore(at+".out", h.Out, max(h.Pulled, h.NotOut)+1)
		}
	}
	if z.Ripeness != nil {
		c.past(field+".ripeness.on", z.Ripeness.On, today)
		oneOf(c, field+".ripeness.is", z.Ripeness.Is, timeline.Ripenesses())
	}
	if z.Lie != nil {
		c.positive(field+".lie", *z.Lie, 1)
	}
}

func (s Show) check(c *checker, field string) {
	if s.On.IsZero() {
		c.fail(field+".on", "fault.coat.no_day")
	}
	c.number(field+".priority", float64(s.Priority), 0, 3)
	for _, z := range zonesOf(s.Targets) {
		at := field + ".targets." + string(z)
		c.zone(at, z)
		s.Targets[z].check(c, at)
	}
}

func (s Sessions) check(c *checker, field string) {
	for i, d := range s.Dates {
		if d.IsZero() {
			c.fail(fmt.Sprintf("%s.dates[%d]", field, i), "fault.coat.no_day")
		}
	}
	c.number(field+".every_days", float64(s.EveryDays), 0, 365)
	c.number(field+".minutes", s.Minutes, 0, maxMinutes)
}

func (p Priors) check(c *checker, field string) {
	if r := p.RateMMPerDay; r != nil {
		c.positive(field+".rate_mm_per_day.mean", r.Mean, maxRate)
		c.number(field+".rate_mm_per_day.sd", r.SD, 0, maxRate)
	}
	if l := p.LagDays; l != nil {
		c.number(field+".lag_days.median", l.Median, 0, maxLagDays)
		c.number(field+".lag_days.sd_log", l.SDLog, 0, 2)
	}
	if m := p.LengthMaxMM; m != nil {
		c.positive(field+".length_max_mm.mean", m.Mean, MaxLengthMM)
		c.number(field+".length_max_mm.sd", m.SD, 0, MaxLengthMM)
	}
	if s := p.Season; s != nil {
		// A whole year's amplitude of 1 would stop growth, more would turn it back.
		c.number(field+".season.alpha", s.Alpha, -0.99, 0.99)
		c.number(field+".season.beta", s.Beta, -0.99, 0.99)
		c.number(field+".season", math.Hypot(s.Alpha, s.Beta), 0, 0.99)
	}
}
