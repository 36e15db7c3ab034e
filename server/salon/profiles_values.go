package salon

import (
	"encoding/json"
	"math"
	"reflect"
	"slices"
	"strings"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// ValueForm is how a value of a kind of coat is written.
type ValueForm string

const (
	FormLength  ValueForm = "length"  // mm, written in the salon's unit
	FormNumber  ValueForm = "number"  // a plain number
	FormWhole   ValueForm = "whole"   // a whole number
	FormPercent ValueForm = "percent" // a share, written in per cent
	FormYesNo   ValueForm = "yesno"
	FormChoice  ValueForm = "choice" // one of Choices
)

// KindPart is a part of a kind of coat that is read and changed together: "growth", "hints", "rules", or a zone's name.
type KindPart struct {
	Name    string
	Zone    timeline.Zone // "" for the others
	Note    string        // a zone's own source, which says how it is usually kept
	Values  []KindValue
	Changed int
}

// KindValue is one value.
type KindValue struct {
	Path    string // "zones.back.target.max_mm"
	Label   string // key of the catalogue
	Form    ValueForm
	Choices []string
	Value   any // float64, bool or string
	BuiltIn any
	Source  string
	Changed bool
}

// spec is a value of a part, its path within the part.
type spec struct {
	path, label string
	form        ValueForm
}

var growthSpecs = []spec{
	{"rate_mm_per_day", "kinds.v.rate", FormNumber},
	{"dog_cv", "kinds.v.dog_cv", FormPercent},
	{"zone_cv", "kinds.v.zone_cv", FormPercent},
	{"lag_days.median", "kinds.v.lag", FormNumber},
	{"lag_days.sd_log", "kinds.v.lag_sd", FormPercent},
	{"lag_days_no_undercoat.median", "kinds.v.lag_bare", FormNumber},
	{"lag_days_no_undercoat.sd_log", "kinds.v.lag_bare_sd", FormPercent},
	{"curve", "kinds.v.curve", FormChoice},
	{"lie.mean", "kinds.v.lie", FormPercent},
	{"lie.sd", "kinds.v.lie_sd", FormPercent},
	{"lie_add.harsh", "kinds.v.lie_harsh", FormPercent},
	{"lie_add.medium", "kinds.v.lie_medium", FormPercent},
	{"lie_add.soft", "kinds.v.lie_soft", FormPercent},
	{"loft_mm.none", "kinds.v.loft_none", FormLength},
	{"loft_mm.some", "kinds.v.loft_some", FormLength},
	{"loft_mm.woolly", "kinds.v.loft_woolly", FormLength},
	{"loft_sd_mm.none", "kinds.v.loft_none_sd", FormLength},
	{"loft_sd_mm.some", "kinds.v.loft_some_sd", FormLength},
	{"loft_sd_mm.woolly", "kinds.v.loft_woolly_sd", FormLength},
	{"spread_factor.medium", "kinds.v.spread_medium", FormNumber},
	{"spread_factor.soft", "kinds.v.spread_soft", FormNumber},
	{"spread_factor.heavy", "kinds.v.spread_heavy", FormNumber},
	{"spread_factor.ever_clipped", "kinds.v.spread_clipped", FormNumber},
	{"spread_factor.neutered", "kinds.v.spread_neutered", FormNumber},
	{"spread_factor.coat_change", "kinds.v.spread_change", FormNumber},
}

var hintSpecs = []spec{
	{"evidence.ripe_at.coming", "kinds.v.ripe_coming", FormPercent},
	{"evidence.ripe_at.ready", "kinds.v.ripe_ready", FormPercent},
	{"evidence.ripe_at.blown", "kinds.v.ripe_blown", FormPercent},
	{"evidence.ripe_at.sd", "kinds.v.ripe_sd", FormPercent},
	{"evidence.cover_at.thin", "kinds.v.cover_thin", FormPercent},
	{"evidence.cover_at.full", "kinds.v.cover_full", FormPercent},
	{"evidence.cover_at.sd", "kinds.v.cover_sd", FormPercent},
	{"evidence.lag_sd_days", "kinds.v.pull_sd", FormNumber},
	{"evidence.wrong", "kinds.v.wrong", FormPercent},
}

var ruleSpecs = []spec{
	{"tidy_only_days", "kinds.v.tidy_only", FormWhole},
	{"flat_by_days_unknown", "kinds.v.flat_unknown", FormWhole},
	{"warn_cover_below", "kinds.v.warn_cover", FormPercent},
	{"sensitive_minutes", "kinds.v.sensitive_minutes", FormNumber},
	{"minutes_default", "kinds.v.minutes_default", FormNumber},
}

var zoneSpecs = []spec{
	{"length_max_mm.mean", "kinds.v.full", FormLength},
	{"length_max_mm.sd", "kinds.v.full_sd", FormLength},
	{"rate_factor", "kinds.v.factor", FormNumber},
	{"target.min_mm", "kinds.v.target_min", FormLength},
	{"target.max_mm", "kinds.v.target_max", FormLength},
	{"target.in_hair", "kinds.v.target_cover", FormPercent},
	{"stripped", "kinds.v.stripped", FormYesNo},
	{"little_each", "kinds.v.little_each", FormYesNo},
	{"head_flat", "kinds.v.head_flat", FormYesNo},
	{"flat_by_days", "kinds.v.flat_by", FormWhole},
	{"sensitive", "kinds.v.sensitive", FormYesNo},
	{"minutes.take", "kinds.v.min_take", FormNumber},
	{"minutes.strip", "kinds.v.min_strip", FormNumber},
	{"minutes.tidy", "kinds.v.min_tidy", FormNumber},
	{"minutes.card", "kinds.v.min_card", FormNumber},
	{"minutes.scissor", "kinds.v.min_scissor", FormNumber},
	{"minutes.clip", "kinds.v.min_clip", FormNumber},
	{"scissor_mm", "kinds.v.scissor", FormLength},
	{"clip_mm", "kinds.v.clip", FormLength},
}

// partSpecs are the parts in order: where their values lie, and which.
func partSpecs() []struct {
	name, prefix string
	zone         timeline.Zone
	specs        []spec
} {
	type part = struct {
		name, prefix string
		zone         timeline.Zone
		specs        []spec
	}
	out := []part{{"growth", "growth.", "", growthSpecs}, {"hints", "growth.", "", hintSpecs}, {"rules", "rules.", "", ruleSpecs}}
	for _, z := range timeline.Zones() {
		out = append(out, part{string(z), "zones." + string(z) + ".", z, zoneSpecs})
	}
	return out
}

// partsOf is everything that a kind of coat says, beside what the built-in one says that it was made from.
func partsOf(p coat.Profile) []KindPart {
	base := builtIn(p)
	mine, theirs := treeOf(p), treeOf(base)
	var out []KindPart
	for _, part := range partSpecs() {
		k := KindPart{Name: part.name, Zone: part.zone}
		if part.zone != "" {
			k.Note = base.Zones[part.zone].Source
		}
		for _, sp := range part.specs {
			v := KindValue{Path: part.prefix + sp.path, Label: sp.label, Form: sp.form}
			v.Value, v.BuiltIn = orZero(get(mine, v.Path), sp.form), orZero(get(theirs, v.Path), sp.form)
			v.Changed = v.Value != v.BuiltIn
			if sp.form == FormChoice {
				v.Choices = []string{"plateau", "monomolecular"}
			}
			v.Source = sourceOf(p, part.zone, v)
			if v.Changed {
				k.Changed++
			}
			k.Values = append(k.Values, v)
		}
		out = append(out, k)
	}
	return out
}

func sourceOf(p coat.Profile, zone timeline.Zone, v KindValue) string {
	steps := strings.Split(v.Path, ".")
	if zone == "" {
		return p.Sources[steps[0]+"."+steps[1]]
	}
	if v.Changed {
		return p.Zones[zone].Source
	}
	return p.Sources["zones."+steps[2]]
}

// builtIn is the built-in kind of coat that p is or was made from.
func builtIn(p coat.Profile) coat.Profile {
	name := p.Base
	if name == "" {
		name = p.Name
	}
	base, err := coat.ProfileNamed(name)
	if err != nil {
		return p // a parsed profile always has one
	}
	return base
}

func treeOf(p coat.Profile) map[string]any {
	var t map[string]any
	if err := json.Unmarshal(p.JSON(), &t); err != nil {
		panic("salon: a profile that cannot be read back: " + err.Error())
	}
	return t
}

func get(t map[string]any, path string) any {
	var at any = t
	for _, step := range strings.Split(path, ".") {
		m, ok := at.(map[string]any)
		if !ok {
			return nil
		}
		at = m[step]
	}
	return at
}

func put(t map[string]any, path string, v any) {
	steps := strings.Split(path, ".")
	for _, step := range steps[:len(steps)-1] {
		next, ok := t[step].(map[string]any)
		if !ok {
			next = map[string]any{}
			t[step] = next
		}
		t = next
	}
	t[steps[len(steps)-1]] = v
}

// orZero stands in for a value that a document leaves out, as it may where it is 0.
func orZero(v any, form ValueForm) any {
	switch {
	case v != nil:
		return v
	case form == FormYesNo:
		return false
	case form == FormChoice:
		return ""
	}
	return 0.0
}

// withValues is the profile with other values, checked.
func withValues(p coat.Profile, values map[string]any, source string) (coat.Profile, error) {
	t := treeOf(p)
	sources := map[string]bool{} // whose value changed
	for path, v := range values {
		form, ok := formOf(path)
		if !ok {
			return p, invalid(path, "fault.kind.value", "name", clip(path, 80))
		}
		if n, ok := v.(float64); ok && (math.IsNaN(n) || math.IsInf(n, 0)) {
			return p, invalid(path, "fault.coat.want_number", "field", path)
		}
		if was := orZero(get(t, path), form); was == v {
			continue
		}
		steps := strings.Split(path, ".")
		sources[steps[0]+"."+steps[1]] = true
		put(t, path, v)
	}
	for at := range sources {
		if strings.HasPrefix(at, "zones.") {
			wholeTarget(t, at)
			at += ".source"
		} else {
			at = "sources\x00" + at
		}
		if source != "" {
			putSource(t, at, source)
		}
	}
	settle(t, builtIn(p))
	b, err := json.Marshal(t)
	if err != nil {
		return p, err
	}
	out, err := coat.ParseProfile(b)
	if err != nil {
		return p, err
	}
	return out, nil
}

func putSource(t map[string]any, at, source string) {
	if key, ok := strings.CutPrefix(at, "sources\x00"); ok {
		t["sources"].(map[string]any)[key] = source // its keys hold dots
		return
	}
	put(t, at, source)
}

// wholeTarget leaves what a target does not ask for out, as documents do, and an empty target altogether: a zone without a
// band has none.
func wholeTarget(t map[string]any, zone string) {
	m, ok := get(t, zone+".target").(map[string]any)
	if !ok {
		return
	}
	for _, k := range []string{"min_mm", "max_mm", "in_hair"} {
		if v, _ := m[k].(float64); v == 0 {
			delete(m, k)
		}
	}
	if len(m) == 0 {
		put(t, zone+".target", nil)
	}
}

// settle gives everything that is as built in its built-in source back.
func settle(t map[string]any, base coat.Profile) {
	b := treeOf(base)
	sources, was := t["sources"].(map[string]any), b["sources"].(map[string]any)
	for key, source := range was {
		if !strings.HasPrefix(key, "zones.") && reflect.DeepEqual(get(t, key), get(b, key)) {
			sources[key] = source
		}
	}
	zones, wasZones := t["zones"].(map[string]any), b["zones"].(map[string]any)
	for name, zone := range zones {
		z, _ := zone.(map[string]any)
		w, _ := wasZones[name].(map[string]any)
		if z == nil || w == nil {
			continue
		}
		source := z["source"]
		z["source"] = w["source"]
		if !reflect.DeepEqual(z, w) {
			z["source"] = source
		}
	}
}

func formOf(path string) (ValueForm, bool) {
	for _, part := range partSpecs() {
		if rest, ok := strings.CutPrefix(path, part.prefix); ok {
			if i := slices.IndexFunc(part.specs, func(sp spec) bool { return sp.path == rest }); i >= 0 {
				return part.specs[i].form, true
			}
		}
	}
	return "", false
}

// withBuiltIn gives values back what the built-in kind of coat says; no paths are all.
func withBuiltIn(p coat.Profile, paths []string) (coat.Profile, error) {
	base := builtIn(p)
	if len(paths) == 0 {
		out := base.CopyAs(p.Name)
		return out, nil
	}
	theirs := treeOf(base)
	values := map[string]any{}
	for _, path := range paths {
		form, ok := formOf(path)
		if !ok {
			return p, invalid(path, "fault.kind.value", "name", clip(path, 80))
		}
		values[path] = orZero(get(theirs, path), form)
	}
	return withValues(p, values, "")
}
