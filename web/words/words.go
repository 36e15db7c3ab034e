// Package words is the message catalogue: every text that a person reads, by key and language, and the one formatter
// of lengths and days. Each room keeps its texts in a file of its own under the language's folder.
package words

import (
	"embed"
	"encoding/json"
	"fmt"
	"io/fs"
	"path"
	"sort"
	"strconv"
	"strings"
	"time"

	"thatch/timeline"
)

// A language is a folder that is named like its tag, in small letters; what one of a region does not say (en-us) is said by
// the language itself.
//
//go:embed */*.json
var files embed.FS

var catalogues = mustLoad()

func mustLoad() map[string]map[string]string {
	out := map[string]map[string]string{}
	names, err := fs.Glob(files, "*/*.json")
	if err != nil {
		panic(err)
	}
	for _, name := range names {
		b, err := files.ReadFile(name)
		if err != nil {
			panic(err)
		}
		var m map[string]string
		if err := json.Unmarshal(b, &m); err != nil {
			panic(fmt.Sprintf("words: %s: %v", name, err))
		}
		lang := path.Dir(name)
		if out[lang] == nil {
			out[lang] = map[string]string{}
		}
		for k, v := range m {
			if _, twice := out[lang][k]; twice {
				panic(fmt.Sprintf("words: %s: %q is said twice", name, k))
			}
			out[lang][k] = v
		}
	}
	return out
}

// Units is how the salon writes lengths.
type Units string

const (
	Millimetres Units = "mm"
	Inches      Units = "in"
)

// Speaker puts phrases into words in one language, with the salon's units. The zero Speaker speaks English, mm, UTC.
type Speaker struct {
	Lang  string
	Units Units
	Zone  *time.Location

	// Unbroken keeps a length on one line: pages wrap, and a number alone at a line's end is read without its unit. What
	// the command line prints is cut at its spaces by scripts, so there they stay plain.
	Unbroken bool
}

// Has reports whether the catalogue knows the key.
func (s Speaker) Has(key string) bool {
	_, ok := s.find(key)
	return ok
}

func (s Speaker) find(key string) (string, bool) {
	if v, ok := catalogues[s.Lang][key]; ok {
		return v, true
	}
	if base, _, regional := strings.Cut(s.Lang, "-"); regional {
		if v, ok := catalogues[base][key]; ok {
			return v, true
		}
	}
	v, ok := catalogues[English][key]
	return v, ok
}

// Say is the text of a phrase. A key with an integer value named n is looked up as key.one or key.other first. An unknown
// key is shown as itself, so that a gap is seen and reported rather than hidden; a test keeps gaps out.
func (s Speaker) Say(p timeline.Phrase) string {
	text, ok := "", false
	if n, isInt := p.Args["n"].(int); isInt {
		form := ".other"
		if n == 1 || n == -1 {
			form = ".one"
		}
		text, ok = s.find(p.Key + form)
	}
	if !ok {
		text, ok = s.find(p.Key)
	}
	if !ok {
		return p.String()
	}
	if !strings.Contains(text, "{") {
		return text
	}
	var b strings.Builder
	for {
		open := strings.IndexByte(text, '{')
		if open < 0 {
			b.WriteString(text)
			return b.String()
		}
		shut := strings.IndexByte(text[open:], '}')
		if shut < 0 {
			b.WriteString(text)
			return b.String()
		}
		b.WriteString(text[:open])
		name := text[open+1 : open+shut]
		if v, ok := p.Args[name]; ok {
			b.WriteString(s.value(v))
		} else {
			b.WriteString("{" + name + "}")
		}
		text = text[open+shut+1:]
	}
}

// T is Say for a plain key.
func (s Speaker) T(key string, args ...any) string { return s.Say(timeline.Say(key, args...)) }

func (s Speaker) value(v any) string {
	switch v := v.(type) {
	case string:
		return v
	case int:
		return strconv.Itoa(v)
	case int64:
		return strconv.FormatInt(v, 10)
	case float64:
		return s.number(v)
	case timeline.Day:
		return s.Day(v)
	case timeline.LengthMM:
		return s.Length(float64(v))
	case time.Time:
		return s.Time(v)
	case timeline.Zone:
		return s.T("zone." + string(v))
	case timeline.Group:
		return s.T("group." + string(v))
	case timeline.Point:
		return s.T("point." + string(v))
	case timeline.Part:
		return s.T("part." + string(v))
	case timeline.Work:
		return s.T("work." + string(v))
	case timeline.Tool:
		return s.T("tool." + string(v))
	case timeline.Side:
		return s.T("side." + string(v))
	case timeline.Phase:
		return s.T("phase." + string(v))
	case timeline.Source:
		return s.T("source." + string(v))
	case timeline.Phrase:
		return s.Say(v)
	case []timeline.Zone:
		return s.list(v)
	case []timeline.Group:
		parts := make([]string, len(v))
		for i, g := range v {
			parts[i] = s.value(g)
		}
		return s.join(parts)
	case []timeline.Day:
		parts := make([]string, len(v))
		for i, d := range v {
			parts[i] = s.Day(d)
		}
		return s.join(parts)
	case []timeline.Point:
		parts := make([]string, len(v))
		for i, p := range v {
			parts[i] = s.value(p)
		}
		return s.join(parts)
	case []string:
		return s.join(v)
	default:
		return fmt.Sprint(v)
	}
}

func (s Speaker) list(zones []timeline.Zone) string {
	parts := make([]string, len(zones))
	for i, z := range zones {
		parts[i] = s.value(z)
	}
	return s.join(parts)
}

func (s Speaker) join(parts []string) string {
	switch len(parts) {
	case 0:
		return ""
	case 1:
		return parts[0]
	}
	return strings.Join(parts[:len(parts)-1], ", ") + " " + s.T("list.and") + " " + parts[len(parts)-1]
}

// Decimal writes a number with so many places (-1: as many as it has), with the decimal mark of the language.
func (s Speaker) Decimal(v float64, places int) string {
	return s.marked(strconv.FormatFloat(v, 'f', places, 64))
}

func (s Speaker) number(v float64) string { return s.marked(strconv.FormatFloat(v, 'f', -1, 64)) }

func (s Speaker) marked(number string) string {
	return strings.Replace(number, ".", s.T("number.point"), 1)
}

// Length writes a length in the salon's unit: whole and half millimetres as "12 mm" and "12.5 mm", inches to a sixteenth
// ("⅝ in", "1 ¼ in").
func (s Speaker) Length(mm float64) string {
	text := s.LengthNumber(mm) + " " + s.UnitName()
	if s.Unbroken {
		text = strings.ReplaceAll(text, " ", "\u00a0")
	}
	return text
}

// LengthNumber is Length without its unit, for tables whose head names the unit.
func (s Speaker) LengthNumber(mm float64) string {
	if s.Units == Inches {
		return inches(mm)
	}
	return s.number(roundHalf(mm))
}

// UnitName is the short name of the salon's unit.
func (s Speaker) UnitName() string {
	if s.Units == Inches {
		return s.T("unit.in")
	}
	return s.T("unit.mm")
}

// MMPerInch is exact (international inch, 1959).
const MMPerInch = 25.4

// ParseLength reads what a person typed in the salon's unit into mm: "12", "12,5", "3/4", "1 1/4", or with its unit
// ("12 mm", "1/2 in", "1.5 cm").
func (s Speaker) ParseLength(text string) (float64, error) { return parseLength(text, s.Units) }

// Day writes a day in the words and the order of the language: "Wed 25 Nov 2026", "Wed, Nov 25, 2026", "Mi 25. Nov. 2026".
// The month is always a word, so that no order of figures can be misread.
func (s Speaker) Day(d timeline.Day) string {
	if d.IsZero() {
		return s.T("day.none")
	}
	t := d.Time()
	return s.T("day.full", "weekday", s.T("weekday."+strconv.Itoa(int(t.Weekday()))), "day", t.Day(), "month", s.T("month."+strconv.Itoa(int(t.Month()))), "year", t.Year())
}

// DayShort writes "25 Nov", "Nov 25" or "25. Nov.".
func (s Speaker) DayShort(d timeline.Day) string {
	if d.IsZero() {
		return s.T("day.none")
	}
	t := d.Time()
	return s.T("day.short", "day", t.Day(), "month", s.T("month."+strconv.Itoa(int(t.Month()))))
}

// Time writes a time of day with its day, in the salon's zone.
func (s Speaker) Time(t time.Time) string {
	if t.IsZero() {
		return s.T("day.none")
	}
	zone := s.Zone
	if zone == nil {
		zone = time.UTC
	}
	t = t.In(zone)
	return s.Day(timeline.DayOf(t)) + ", " + t.Format("15:04")
}

// Fault is the sentence safe for the user. A place inside a file is told; a form shows its field itself.
func (s Speaker) Fault(f *timeline.Fault) string {
	text := s.Say(f.Say)
	if strings.ContainsAny(f.Field, ".[") {
		return text + " " + s.T("fault.where", "field", f.Field)
	}
	return text
}

// Keys returns the keys of a language in order.
func Keys(lang string) []string {
	var out []string
	for k := range catalogues[lang] {
		out = append(out, k)
	}
	sort.Strings(out)
	return out
}
