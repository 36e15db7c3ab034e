package coat

import (
	"encoding/json"
	"fmt"
	"reflect"
	"sort"
	"strings"
	"sync"

	"thatch/timeline"
)

// SalonsOwn is the source of a value that a salon changed without naming one.
const SalonsOwn = "the salon's own"

// maxProfileName bounds the name of a salon's own kind of coat, in bytes.
const maxProfileName = 60

// ParseProfile reads a kind of coat of a salon's own: a JSON object of the form of Profile, of which any part may be left
// out; what is left out is as in the built-in profile that "base" names (DefaultProfile without one). A changed value whose
// source is not given has SalonsOwn. Anything wrong is a *timeline.Fault of kind Invalid whose Field is the place, such as
// growth.lag_days.median.
func ParseProfile(b []byte) (Profile, error) { return parseProfile(b, "", "") }

// parseProfile reads a document that stands at a place of another and may have its base named there.
func parseProfile(b []byte, place, base string) (Profile, error) {
	if len(b) > maxFileBytes {
		return Profile{}, timeline.NewFault(timeline.TooLarge, "fault.coat.too_large")
	}
	if f := syntax(b); f != nil {
		return Profile{}, f
	}
	top, f := object(b, place)
	if f != nil {
		return Profile{}, f
	}
	for _, p := range top {
		if p.key == "base" {
			if f := read(p.value, reflect.ValueOf(&base).Elem(), member(place, "base")); f != nil {
				return Profile{}, f
			}
		}
	}
	if base == "" {
		base = DefaultProfile
	}
	c := &checker{}
	oneOf(c, member(place, "base"), base, ProfileNames())
	if c.fault != nil {
		return Profile{}, c.fault
	}
	out, err := ProfileNamed(base)
	if err != nil {
		return Profile{}, err
	}
	before, err := ProfileNamed(base)
	if err != nil {
		return Profile{}, err
	}
	if f := read(b, reflect.ValueOf(&out).Elem(), place); f != nil {
		return Profile{}, f
	}
	out.Base = base
	out.own(before)
	if err := out.validate(place); err != nil {
		return Profile{}, err
	}
	return out, nil
}

// own gives every changed value that still names its old source a new one.
func (p *Profile) own(before Profile) {
	mark := func(path string) {
		if p.Sources[path] == before.Sources[path] {
			p.Sources[path] = SalonsOwn
		}
	}
	for prefix, pair := range map[string][2]reflect.Value{
		"growth": {reflect.ValueOf(p.Growth), reflect.ValueOf(before.Growth)}, "rules": {reflect.ValueOf(p.Rules), reflect.ValueOf(before.Rules)},
	} {
		for i := range pair[0].NumField() {
			if !reflect.DeepEqual(pair[0].Field(i).Interface(), pair[1].Field(i).Interface()) {
				mark(prefix + "." + pair[0].Type().Field(i).Tag.Get("json"))
			}
		}
	}
	for z, zp := range p.Zones {
		if old := before.Zones[z]; !reflect.DeepEqual(zp, old) && zp.Source == old.Source {
			zp.Source = SalonsOwn
			p.Zones[z] = zp
		}
	}
}

// JSON is the whole profile as a document that ParseProfile reads back.
func (p Profile) JSON() []byte {
	b, err := json.MarshalIndent(p, "", "  ")
	if err != nil {
		panic("coat: a profile with a number that is none: " + err.Error()) // Validate refuses these
	}
	return append(b, '\n')
}

// CopyAs is a copy under another name that shares nothing with p, for a salon to change.
func (p Profile) CopyAs(name string) Profile {
	var out Profile
	if err := json.Unmarshal(p.JSON(), &out); err != nil {
		panic("coat: a profile that cannot be read back: " + err.Error())
	}
	if out.Base == "" {
		out.Base = p.Name
	}
	out.Name = name
	return out
}

// Validate checks the profile. A bad one is a *timeline.Fault of kind Invalid whose Field is the place.
func (p Profile) Validate() error { return p.validate("") }

func (p Profile) validate(place string) error {
	c := &checker{}
	at := func(field string) string {
		if place == "" {
			return field
		}
		return place + "." + field
	}
	if n := strings.TrimSpace(p.Name); n == "" || len(n) > maxProfileName {
		c.fail(at("name"), "fault.coat.name", "n", maxProfileName)
	}
	p.Growth.check(c, at("growth"))
	p.Rules.check(c, at("rules"))
	for _, z := range zonesOf(p.Zones) {
		c.zone(at("zones."+string(z)), z)
	}
	for _, z := range timeline.Zones() {
		field := at("zones." + string(z))
		zp, ok := p.Zones[z]
		if !ok {
			c.fail(field, "fault.coat.profile_zone", "zone", z)
			continue
		}
		zp.check(c, field)
	}
	if c.fault != nil {
		return c.fault
	}
	return nil
}

func (g Growth) check(c *checker, field string) {
	c.positive(field+".rate_mm_per_day", g.RateMMPerDay, maxRate)
	c.number(field+".dog_cv", g.DogCV, 0, 2)
	c.number(field+".zone_cv", g.ZoneCV, 0, 2)
	for name, l := range map[string]MedianSD{"lag_days": g.LagDays, "lag_days_no_undercoat": g.LagDaysNoUndercoat} {
		c.positive(field+"."+name+".median", l.Median, maxLagDays)
		c.number(field+"."+name+".sd_log", l.SDLog, 0, 2)
	}
	if _, ok := curveNamed(g.Curve); !ok {
		oneOf(c, field+".curve", g.Curve, []string{"plateau", "monomolecular"})
	}
	c.positive(field+".lie.mean", g.Lie.Mean, 1)
	c.number(field+".lie.sd", g.Lie.SD, 0, 1)
	keyed(c, field+".lie_add", g.LieAdd, timeline.Textures(), -1, 1)
	keyed(c, field+".loft_mm", g.LoftMM, timeline.Lofts(), 0, maxLoftMM)
	keyed(c, field+".loft_sd_mm", g.LoftSDMM, timeline.Lofts(), 0, maxLoftMM)
	var traits []string
	for _, v := range timeline.Textures() {
		traits = append(traits, string(v))
	}
	for _, v := range timeline.Undercoats() {
		traits = append(traits, string(v))
	}
	traits = append(traits, "ever_clipped", "neutered", "coat_change")
	keyed(c, field+".spread_factor", g.SpreadFactor, traits, 0.2, 5)
	e, at := g.Evidence, field+".evidence"
	ascending(c, at+".ripe_at", []string{"coming", "ready", "blown"}, e.RipeAt.Coming, e.RipeAt.Ready, e.RipeAt.Blown)
	c.number(at+".ripe_at.sd", e.RipeAt.SD, 0.01, 1)
	ascending(c, at+".cover_at", []string{"thin", "full"}, e.CoverAt.Thin, e.CoverAt.Full)
	c.number(at+".cover_at.sd", e.CoverAt.SD, 0.01, 1)
	c.number(at+".lag_sd_days", e.LagSDDays, 0.1, 60)
	c.number(at+".wrong", e.Wrong, 0.0001, 0.5)
}

const maxLoftMM = 60

// keyed checks a map's keys and values, in order, so that the same profile always earns the same fault.
func keyed[K ~string](c *checker, field string, m map[K]float64, known []K, lo, hi float64) {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, string(k))
	}
	sort.Strings(keys)
	for _, k := range keys {
		oneOf(c, field+"."+k, K(k), known)
		c.number(field+"."+k, m[K(k)], lo, hi)
	}
}

// ascending checks thresholds on a share: each above the one before, all in 0 … 1.
func ascending(c *checker, field string, names []string, v ...float64) {
	last := 0.0
	for i, x := range v {
		c.number(field+"."+names[i], x, last, 1)
		last = x
	}
}

func (r Rules) check(c *checker, field string) {
	c.number(field+".tidy_only_days", float64(r.TidyOnlyDays), 0, 365)
	c.number(field+".flat_by_days_unknown", float64(r.FlatByDaysUnknown), 0, 365)
	c.number(field+".warn_cover_below", r.WarnCoverBelow, 0, 1)
	c.positive(field+".sensitive_minutes", r.SensitiveMinutes, maxMinutes)
	c.positive(field+".minutes_default", r.MinutesDefault, maxMinutes)
}

func (z ZoneProfile) check(c *checker, field string) {
	c.positive(field+".rate_factor", z.RateFactor, maxRate)
	c.positive(field+".length_max_mm.mean", z.LengthMaxMM.Mean, MaxLengthMM)
	c.number(field+".length_max_mm.sd", z.LengthMaxMM.SD, 0, MaxLengthMM)
	if z.Target != nil {
		z.Target.check(c, field+".target")
	}
	works := make([]string, 0, len(z.Minutes))
	for w := range z.Minutes {
		works = append(works, string(w))
	}
	sort.Strings(works)
	for _, w := range works {
		oneOf(c, field+".minutes."+w, timeline.Work(w), timeline.Works())
		c.positive(field+".minutes."+w, z.Minutes[timeline.Work(w)], maxMinutes)
	}
	for _, w := range timeline.Works() {
		if _, ok := z.Minutes[w]; !ok && w != timeline.Leave {
			c.fail(fmt.Sprintf("%s.minutes.%s", field, w), "fault.coat.positive", "value", "0", "highest", fmt.Sprint(maxMinutes))
		}
	}
	c.number(field+".flat_by_days", float64(z.FlatByDays), 0, 365)
	c.positive(field+".scissor_mm", z.ScissorMM, MaxLengthMM)
	c.positive(field+".clip_mm", z.ClipMM, MaxLengthMM)
	if strings.TrimSpace(z.Source) == "" {
		c.fail(field+".source", "fault.coat.source")
	}
}

func (t Target) check(c *checker, at string) {
	c.number(at+".min_mm", t.MinMM, 0, MaxLengthMM)
	c.number(at+".max_mm", t.MaxMM, 0, MaxLengthMM)
	c.number(at+".in_hair", t.InHair, 0, 1)
	if t.MaxMM > 0 && t.MaxMM < t.MinMM {
		c.fail(at+".max_mm", "fault.coat.band", "min", timeline.LengthMM(t.MinMM), "max", timeline.LengthMM(t.MaxMM))
	}
}

// Kind is the kind of coat the file asks for: its own, else the built-in one that it names. Nobody writes to it: a built-in one
// is read once for all who ask.
func (f File) Kind() (Profile, error) {
	if len(f.OwnProfile) > 0 {
		return parseProfile(f.OwnProfile, "own_profile", f.Profile)
	}
	if p, ok := builtIn.Load(f.Profile); ok {
		return p.(Profile), nil
	}
	p, err := ProfileNamed(f.Profile)
	if err == nil {
		builtIn.Store(f.Profile, p)
	}
	return p, err
}

var builtIn sync.Map // of Profile, by name: as many as are embedded

// Promises are what the dog's answers take back from what may be promised, most telling first, as sentences of the
// catalogue; none for a dog without such answers. They are common practice, no source.
func Promises(d Dog) []timeline.Phrase {
	out := []timeline.Phrase{}
	for _, a := range []struct {
		is  bool
		key string
	}{
		{d.CoatChange, "promise.coat_change"},
		{d.EverClipped, "promise.ever_clipped"},
		{d.Neutered, "promise.neutered"},
		{d.Texture == timeline.TextureSoft, "promise.soft"},
		{d.Undercoat == timeline.UndercoatNone, "promise.no_undercoat"},
	} {
		if a.is {
			out = append(out, timeline.Say(a.key))
		}
	}
	return out
}
