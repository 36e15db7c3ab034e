package pages

import (
	"fmt"
	"html/template"
	"math"
	"reflect"
	"strconv"
	"strings"

	"thatch/server/salon"
	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/timeline/plan"
	"thatch/web"
	"thatch/web/drawing"
	"thatch/web/words"
)

// funcs are what templates may call. Every text goes through t, say or word; every length through len.
func funcs(sp words.Speaker, mayChange bool) template.FuncMap {
	return template.FuncMap{
		"mayChange":  func() bool { return mayChange },          // what only leads to changing something is not shown to who only looks
		"t":          sp.T,                                      // t "key" "name" value …
		"has":        sp.Has,                                    // has "key"
		"say":        sp.Say,                                    // say of a timeline.Phrase
		"word":       func(v any) string { return word(sp, v) }, // of a zone, work, phase, verdict …
		"fault":      sp.Fault,
		"len":        sp.Length,       // mm as a float64
		"lennum":     sp.LengthNumber, // the same without its unit
		"unit":       sp.UnitName,
		"day":        sp.Day,
		"dayshort":   sp.DayShort,
		"time":       sp.Time,
		"clock":      clock, // "14:05" of a timeline.Moment
		"icon":       icon,
		"asset":      asset,
		"dict":       dict,
		"list":       func(v ...any) []any { return v },
		"count":      func(v any) int { return reflect.ValueOf(v).Len() },
		"add":        func(a, b int) int { return a + b },
		"sub":        func(a, b int) int { return a - b },
		"span":       func(d coat.Dist) float64 { return d.P90 - d.P10 }, // four of five are inside it
		"percent":    func(p float64) string { return fmt.Sprintf("%.0f %%", p*100) },
		"languages":  words.Languages,
		"dogshape":   drawing.Dog,
		"scenes":     drawing.Scenes,
		"groups":     timeline.Groups,
		"zones":      timeline.Zones,
		"ripenesses": timeline.Ripenesses,
		"duration":   durationOf,
		"doing":      func(v any) (string, error) { return doingOf(sp, v) }, // of a ZoneWork or plan.Line: "take a quarter"
		"quoted":     func(v string) string { return quoted(sp, v) },
		"whole":      salon.WholeMinutes,
		"verdict":    func(v string) plan.Verdict { return plan.Verdict(v) },
		"num":        func(v *float64) float64 { return *v },
		"ptr":        func(v float64) *float64 { return &v },
		"mm":         func(v float64) timeline.LengthMM { return timeline.LengthMM(v) }, // for t
		"signednum":  func(v float64) string { return signedNumber(sp, v) },
		"signed":     func(v *float64) string { return signed(sp, *v) },
		"tenths":     func(v float64) string { return sp.Decimal(v, 2) }, // hundredths: a scale
		"minutes":    minutes,                                            // "2006-01-02T15:04" of a local time
		"linekind":   lineKind,
		"nonzero":    nonzero, // of an int for a field: "" for 0
		"tomorrow":   func(d timeline.Day) timeline.Day { return d + 1 },
		"careevery":  careEvery,
	}
}

// quoted is what somebody wrote, in the quotation marks of the language.
func quoted(sp words.Speaker, text string) string { return sp.T("session.quote", "text", text) }

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
	case timeline.NewHair:
		prefix = "new_hair."
	case timeline.HairCheck:
		prefix = "hair_check."
	case timeline.Skin:
		prefix = "skin."
	case timeline.Loft:
		prefix = "loft."
	case timeline.Tolerance:
		prefix = "tolerance."
	case timeline.NotToday:
		prefix = "not_today."
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
	case timeline.Care:
		prefix = "care."
	case timeline.Lesson:
		prefix = "lesson."
	case timeline.Sign:
		prefix = "sign."
	case timeline.BagItem:
		prefix = "bag."
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

func nonzero(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// signed writes a change with its sign, which says as much as any colour.
func signed(sp words.Speaker, mm float64) string {
	switch {
	case sp.LengthNumber(math.Abs(mm)) == sp.LengthNumber(0):
		return "±" + sp.Length(0)
	case mm < 0:
		return "−" + sp.Length(-mm)
	}
	return "+" + sp.Length(mm)
}

// signedNumber is signed without the unit; what rounds to nothing has no sign.
func signedNumber(sp words.Speaker, mm float64) string {
	n := sp.LengthNumber(math.Abs(mm))
	switch {
	case n == sp.LengthNumber(0):
		return n
	case mm < 0:
		return "−" + n
	}
	return "+" + n
}

func minutes(local string) string {
	if len(local) < 16 {
		return ""
	}
	return local[:16]
}

// lineKind reports whether lines of a kind are drawn; "target" stands for both its bounds.
func lineKind(lines []salon.Line, kind string) bool {
	for _, l := range lines {
		if strings.HasPrefix(l.Kind, kind) {
			return true
		}
	}
	return false
}
