package pages

import (
	"fmt"
	"html/template"
	"reflect"

	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/timeline/plan"
	"thatch/web"
	"thatch/web/drawing"
	"thatch/web/words"
)

// funcs are what templates may call. Every text goes through t, say or word; every length through len.
func funcs(sp words.Speaker) template.FuncMap {
	return template.FuncMap{
		"t":        sp.T,                                      // t "key" "name" value …
		"has":      sp.Has,                                    // has "key"
		"say":      sp.Say,                                    // say of a timeline.Phrase
		"word":     func(v any) string { return word(sp, v) }, // of a zone, work, phase, verdict …
		"fault":    sp.Fault,
		"len":      sp.Length,       // mm as a float64
		"lennum":   sp.LengthNumber, // the same without its unit
		"unit":     sp.UnitName,
		"day":      sp.Day,
		"dayshort": sp.DayShort,
		"time":     sp.Time,
		"clock":    clock, // "14:05" of a timeline.Moment
		"icon":     icon,
		"asset":    asset,
		"dict":     dict,
		"list":     func(v ...any) []any { return v },
		"count":    func(v any) int { return reflect.ValueOf(v).Len() },
		"add":      func(a, b int) int { return a + b },
		"percent":  func(p float64) string { return fmt.Sprintf("%.0f %%", p*100) },
		"dogshape": drawing.Dog,
		"groups":   timeline.Groups,
		"zones":    timeline.Zones,
	}
}

// word is a value of the vocabulary in the salon's language; "" stays "".
func word(sp words.Speaker, v any) string {
	prefix := ""
	switch v.(type) {
	case timeline.Zone:
		prefix = "zone."
	case timeline.Group:
		prefix = "group."
	case timeline.Point:
		prefix = "point."
	case timeline.Part:
		prefix = "part."
	case timeline.Work:
		prefix = "work."
	case timeline.Tool:
		prefix = "tool."
	case timeline.Ripeness:
		prefix = "ripeness."
	case timeline.Cover:
		prefix = "cover."
	case timeline.HairCheck:
		prefix = "hair_check."
	case timeline.Skin:
		prefix = "skin."
	case timeline.Loft:
		prefix = "loft."
	case timeline.Side:
		prefix = "side."
	case timeline.Phase:
		prefix = "phase."
	case timeline.CoatState:
		prefix = "coat_state."
	case timeline.Source:
		prefix = "source."
	case timeline.Undercoat:
		prefix = "undercoat."
	case timeline.Texture:
		prefix = "texture."
	case plan.Verdict:
		return sp.T("verdict." + fmt.Sprint(v))
	case coat.Status:
		prefix = "status."
	}
	s := fmt.Sprint(v)
	if s == "" {
		return ""
	}
	return sp.T(prefix + s)
}

func clock(m timeline.Moment) string {
	if len(m.Local) < 16 {
		return ""
	}
	return m.Local[11:16]
}

// icon is drawn in the colour of the text beside it and is not read out: the text beside it says the same.
func icon(name string) (template.HTML, error) {
	inner := web.Icon(name)
	if inner == "" {
		return "", fmt.Errorf("no icon %q", name)
	}
	return template.HTML(`<svg class="icon" viewBox="0 0 24 24" aria-hidden="true" focusable="false">` + inner + `</svg>`), nil
}

func asset(name string) (string, error) {
	url, ok := web.AssetURL(name)
	if !ok {
		return "", fmt.Errorf("no asset %q", name)
	}
	return url, nil
}

// dict gives a partial several values: dict "Name" value …
func dict(pairs ...any) (map[string]any, error) {
	if len(pairs)%2 != 0 {
		return nil, fmt.Errorf("dict wants names and values")
	}
	m := make(map[string]any, len(pairs)/2)
	for i := 0; i < len(pairs); i += 2 {
		name, ok := pairs[i].(string)
		if !ok {
			return nil, fmt.Errorf("dict: %v is not a name", pairs[i])
		}
		m[name] = pairs[i+1]
	}
	return m, nil
}
