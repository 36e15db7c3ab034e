package pages

import (
	"hash/fnv"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"thatch/timeline"
	"thatch/web/words"
)

// conflict is what a person said of a session that somebody else has changed meanwhile, beside what stands there. Nothing of
// either is lost: one tap puts hers on top.
type conflict struct {
	Stands []string
	Said   []string
	Action string
	Fields []sentField // what she sent, but for the version it was made from
	Rev    timeline.Rev
}

type sentField struct{ Name, Value string }

// conflictOf is nil where the fault of the form is another than "changed meanwhile".
func conflictOf(sp words.Speaker, r *http.Request, f form, v timeline.Session) *conflict {
	if f.Fault == nil || f.Fault.Kind != timeline.Conflict || f.Fault.Say.Key != "fault.store.changed" {
		return nil
	}
	c := &conflict{Action: r.URL.Path, Rev: v.Rev, Said: saidInWords(sp, f)}
	var zones []timeline.Zone
	for _, z := range timeline.Zones() {
		if f.Is("zones", z) || f.Is("zone", z) || f.Is("at", z) || f.Is("step", z) {
			zones = append(zones, z)
		}
	}
	switch {
	case len(zones) > 0:
		for _, z := range zones {
			i := slices.IndexFunc(v.Work, func(l timeline.ZoneWork) bool { return l.Zone == z })
			if i < 0 {
				c.Stands = append(c.Stands, sp.T("conflict.nothing", "zone", z))
				continue
			}
			c.Stands = append(c.Stands, lineInWords(sp, v.Work[i]))
		}
	default:
		c.Stands = factsInWords(sp, v)
	}
	for name, values := range f.Values {
		for _, value := range values {
			if name != "rev" && name != "saw" {
				c.Fields = append(c.Fields, sentField{name, value})
			}
		}
	}
	slices.SortFunc(c.Fields, func(a, b sentField) int { return strings.Compare(a.Name+"\n"+a.Value, b.Name+"\n"+b.Value) })
	return c
}

// lineInWords is a log line in words.
func lineInWords(sp words.Speaker, l timeline.ZoneWork) string {
	parts := []string{doing(sp, l.Do, l.Share, l.TopLayer)}
	for _, p := range []struct {
		label string
		value any
	}{{"session.tool", l.Tool}, {"session.ripeness", l.Ripeness}, {"session.hair_check", l.HairCheck}, {"session.skin", l.Skin}, {"session.cover", l.Cover}, {"session.new_hair", l.NewHair}} {
		if w := word(sp, p.value); w != "" {
			parts = append(parts, sp.T("conflict.part", "what", sp.T(p.label), "is", w))
		}
	}
	if l.Remark != "" {
		parts = append(parts, quoted(sp, l.Remark))
	}
	return sp.T("conflict.line", "zone", l.Zone, "is", strings.Join(parts, ", "))
}

// factsInWords is what is said of a visit as a whole.
func factsInWords(sp words.Speaker, v timeline.Session) []string {
	out := []string{}
	add := func(label, value string) {
		if value != "" {
			out = append(out, sp.T("conflict.part", "what", sp.T(label), "is", value))
		}
	}
	add("session.logged.lines", strconv.Itoa(len(v.Work)))
	add("session.minutes", nonzero(v.Minutes))
	add("session.loft", word(sp, v.Loft))
	add("session.tolerance", word(sp, v.Tolerance))
	add("session.breaks", nonzero(v.Breaks))
	add("off.title", word(sp, v.NotToday))
	if v.Note != "" {
		add("session.note", quoted(sp, v.Note))
	}
	return out
}

// saidInWords is what a form says, field by field.
func saidInWords(sp words.Speaker, f form) []string {
	out := []string{}
	add := func(label, value string) {
		if value != "" {
			out = append(out, sp.T("conflict.part", "what", sp.T(label), "is", value))
		}
	}
	var zones []timeline.Zone
	for _, z := range timeline.Zones() {
		if f.Is("zones", z) || f.Is("zone", z) || f.Is("at", z) {
			zones = append(zones, z)
		}
	}
	if len(zones) > 0 {
		add("session.zone", sp.T("conflict.zones", "zones", zones))
	}
	switch {
	case f.Get("action") == "notready":
		add("session.do", sp.T("ripeness.not_ready"))
	case f.Get("how") != "":
		if how := timeline.Work(f.Get("how")); slices.Contains(timeline.Works(), how) {
			add("session.do", word(sp, how))
		} else if slices.ContainsFunc(shareChoices(), func(c shareChoice) bool { return c.Value == f.Get("how") }) {
			add("session.do", sp.T("share."+f.Get("how")))
		}
	case slices.Contains(timeline.Works(), timeline.Work(f.Get("do"))):
		what := word(sp, timeline.Work(f.Get("do")))
		if slices.ContainsFunc(shareChoices(), func(c shareChoice) bool { return c.Value == f.Get("share") }) && f.Get("do") == "take" {
			what = doingShare(sp, timeline.Take, sp.T("share."+f.Get("share")))
		}
		add("session.do", what)
	case f.Get("action") == "done":
		add("session.do", sp.T("sheet.how.planned"))
	}
	known := func(label, name string, all []string, prefix string) {
		if v := f.Get(name); slices.Contains(all, v) {
			add(label, sp.T(prefix+v))
		}
	}
	known("session.tool", "tool", texts(timeline.Tools()), "tool.")
	known("session.ripeness", "ripeness", texts(timeline.Ripenesses()), "ripeness.")
	known("session.hair_check", "hair_check", texts(timeline.HairChecks()), "hair_check.")
	known("session.skin", "skin", texts(timeline.Skins()), "skin.")
	known("session.cover", "cover", texts(timeline.Covers()), "cover.")
	known("session.new_hair", "new_hair", texts(timeline.NewHairs()), "new_hair.")
	known("session.loft", "loft", texts(timeline.Lofts()), "loft.")
	known("session.loft", "loft_now", texts(timeline.Lofts()), "loft.")
	known("session.tolerance", "tolerance", texts(timeline.Tolerances()), "tolerance.")
	known("off.title", "not_today", texts(timeline.NotTodays()), "not_today.")
	for _, at := range []struct{ name, label string }{{"skin_at", "sheet.where.skin"}, {"hair_at", "sheet.where.hair"}} {
		var zones []timeline.Zone
		for _, z := range timeline.Zones() {
			if f.Is(at.name, z) {
				zones = append(zones, z)
			}
		}
		if len(zones) > 0 {
			out = append(out, sp.T("conflict.where", "ask", sp.T(at.label), "zones", zones))
		}
	}
	add("session.minutes", f.text("minutes"))
	add("session.breaks", f.text("breaks"))
	for _, name := range []string{"next", "again"} {
		if d, err := f.day(name); err == nil && !d.IsZero() {
			add("session.next", sp.Day(d))
		}
	}
	for _, c := range []struct{ name, label string }{{"remark", "session.remark"}, {"add", "session.note"}, {"note", "session.note"}} {
		if t := f.text(c.name); t != "" {
			add(c.label, quoted(sp, t))
		}
	}
	return out
}

func texts[T ~string](all []T) []string {
	out := make([]string, len(all))
	for i, v := range all {
		out[i] = string(v)
	}
	return out
}

// sawOf marks what a card shows of a step. Two phones that work on different zones are in nobody's way: where the mark still
// holds, a tap that was made from an older version is made from the newest.
func sawOf(v timeline.Session, code string) string {
	h := fnv.New64a()
	say := func(s string) { _, _ = h.Write([]byte(s + "\n")) }
	switch z := timeline.Zone(code); {
	case code == "end":
		say(strconv.Itoa(v.Minutes))
		say(string(v.Tolerance) + " " + string(v.NotToday) + " " + v.Sheet.Done.String())
	case z.Known():
		for _, l := range v.Work {
			if l.Zone == z {
				say(queryOf(l).Encode())
			}
		}
	default:
		say(string(v.Loft))
		say(strconv.FormatBool(slices.Contains(v.Sheet.Ticked, code)))
	}
	return strconv.FormatUint(h.Sum64(), 36)
}

// unmoved is act, once more from the newest version where the step that the form is of has not moved meanwhile.
func (s *Site) unmoved(r *http.Request, id timeline.ID, f form, act func(f form) error) error {
	err := act(f)
	if timeline.KindOf(err) != timeline.Conflict || f.Get("saw") == "" {
		return err
	}
	v, again := s.salon.Session(r.Context(), id)
	if again != nil || f.Get("rev") == strconv.Itoa(int(v.Rev)) || sawOf(v, f.Get("at")) != f.Get("saw") {
		return err
	}
	newest := form{Values: url.Values{}}
	for k, values := range f.Values {
		newest.Values[k] = values
	}
	newest.Values.Set("rev", strconv.Itoa(int(v.Rev)))
	return act(newest)
}

// mergedNote is a note as it was edited, on top of what somebody else wrote into it meanwhile: nothing of either is lost.
func mergedNote(stands, was, typed string) string {
	stands, was, typed = strings.TrimSpace(stands), strings.TrimSpace(was), strings.TrimSpace(typed)
	if stands == was || typed == stands {
		return typed
	}
	if typed == was {
		return stands
	}
	if strings.Contains(typed, stands) {
		return typed
	}
	if more, ok := strings.CutPrefix(typed, was); ok {
		return strings.TrimSpace(stands + "\n" + strings.TrimSpace(more))
	}
	return strings.TrimSpace(stands + "\n" + typed)
}
