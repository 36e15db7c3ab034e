package pages

import (
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/go-chi/chi/v5"

	"thatch/server/status"
	"thatch/timeline"
)

const formLimitBytes = 1 << 20

// form is what a person sent, kept as it was typed, and what was wrong with it.
type form struct {
	url.Values
	Fault *timeline.Fault // nil: nothing wrong
	visit *visit
}

// readForm reads a posted form of at most a megabyte.
func readForm(w http.ResponseWriter, r *http.Request) (form, error) {
	r.Body = http.MaxBytesReader(w, r.Body, formLimitBytes)
	if err := r.ParseForm(); err != nil {
		var tooLarge *http.MaxBytesError
		if errors.As(err, &tooLarge) {
			return form{}, timeline.NewFault(timeline.TooLarge, "fault.form.large").Because(err)
		}
		return form{}, timeline.NewFault(timeline.Invalid, "fault.form").Because(err)
	}
	for name, values := range r.PostForm {
		for _, v := range append(values, name) {
			if !utf8.ValidString(v) || strings.ContainsRune(v, 0) { // no browser sends this
				return form{}, timeline.NewFault(timeline.Invalid, "fault.form")
			}
		}
	}
	return form{Values: r.PostForm, visit: visitOf(r)}, nil
}

// text is a trimmed field.
func (f form) text(name string) string { return strings.TrimSpace(f.Get(name)) }

// Get is a field as it was typed; the zero form has none.
func (f form) Get(name string) string {
	if f.Values == nil {
		return ""
	}
	return f.Values.Get(name)
}

// Is reports whether a field has one of its values: for radios and boxes in templates.
func (f form) Is(name string, value any) bool {
	for _, v := range f.Values[name] {
		if v == asText(value) {
			return true
		}
	}
	return false
}

// Wrong reports whether the fault lies in this field.
func (f form) Wrong(name string) bool {
	return f.Fault != nil && (f.Fault.Field == name || fieldOf(f.Fault.Field) == name)
}

func asText(v any) string {
	switch v := v.(type) {
	case string:
		return v
	case int:
		return strconv.Itoa(v)
	case timeline.Zone:
		return string(v)
	case timeline.Undercoat:
		return string(v)
	case timeline.Texture:
		return string(v)
	case timeline.Side:
		return string(v)
	case timeline.Phase:
		return string(v)
	case timeline.CoatState:
		return string(v)
	case timeline.Work:
		return string(v)
	case timeline.Tool:
		return string(v)
	case timeline.Ripeness:
		return string(v)
	case timeline.Cover:
		return string(v)
	case timeline.NewHair:
		return string(v)
	case timeline.HairCheck:
		return string(v)
	case timeline.Skin:
		return string(v)
	case timeline.Loft:
		return string(v)
	case timeline.Tolerance:
		return string(v)
	case timeline.NotToday:
		return string(v)
	}
	return ""
}

// day is a field as a day; empty is no day.
func (f form) day(name string) (timeline.Day, error) {
	text := f.text(name)
	if text == "" {
		return 0, nil
	}
	d, err := timeline.ParseDay(text)
	if err != nil {
		return 0, timeline.NewFault(timeline.Invalid, "fault.form.day", "text", short(text)).In(name).Because(err)
	}
	return d, nil
}

// whole is a field as a whole number between min and max; empty is 0.
func (f form) whole(name string, min, max int) (int, error) {
	text := f.text(name)
	if text == "" {
		return 0, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < min || n > max {
		return 0, timeline.NewFault(timeline.Invalid, "fault.form.number", "text", short(text), "min", min, "max", max).In(name)
	}
	return n, nil
}

// length is a field in the salon's unit, mm; empty is 0.
func (f form) length(r *http.Request, name string) (float64, error) {
	text := f.text(name)
	if text == "" {
		return 0, nil
	}
	mm, err := speakerOf(visitOf(r).settings).ParseLength(text)
	if err != nil {
		if fault := status.Fault(err); fault.Kind == timeline.Invalid {
			return 0, fault.In(name)
		}
		return 0, err
	}
	return mm, nil
}

// lengthKept is length, but a field that still shows was means just that: what was rounded for the screen is not stored
// rounded.
func (f form) lengthKept(r *http.Request, name string, was float64) (float64, error) {
	sp := speakerOf(visitOf(r).settings)
	sp.Unbroken = false // typed anew, its space is a plain one
	if text := strings.ReplaceAll(f.text(name), "\u00a0", " "); was > 0 && (text == sp.Length(was) || text == sp.LengthNumber(was)) {
		return was, nil
	}
	return f.length(r, name)
}

// rev is the version that the form was made from.
func (f form) rev() (timeline.Rev, error) {
	n, err := strconv.Atoi(f.text("rev"))
	if err != nil || n < 0 {
		return 0, timeline.NewFault(timeline.Invalid, "fault.form")
	}
	return timeline.Rev(n), nil
}

// refused puts a fault beside the form that caused it, if a person can put it right there: the page is then shown again
// with the input kept. Otherwise the error comes back and ends on the page of faults.
func (f *form) refused(err error) (code int, rest error) {
	switch timeline.KindOf(err) {
	case timeline.Invalid, timeline.Conflict, timeline.TooLarge:
		f.Fault = status.Fault(err)
		if f.visit != nil {
			f.visit.fault = f.Fault
		}
		return status.Of(err), nil
	}
	return 0, err
}

// again shows the form's page once more where a person can put the fault right there, with the status of the fault.
func (f *form) again(err error, show func(code int) error) error {
	code, rest := f.refused(err)
	if rest != nil {
		return rest
	}
	return show(code)
}

func short(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return s
}

func kindOf(r *http.Request) string { return chi.URLParam(r, "kind") }
