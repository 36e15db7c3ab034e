package coat

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"strconv"
	"strings"

	"thatch/timeline"
)

// maxFileBytes bounds a coat file; a lifetime of sessions on every zone is far below it.
const maxFileBytes = 8 << 20

// Parse reads a coat file and checks it. Anything wrong — not JSON, a field or zone or word that is not ours, twice the
// same field, a value outside its range — is a *timeline.Fault of kind Invalid whose Field is the place.
func Parse(r io.Reader) (File, error) {
	b, err := io.ReadAll(io.LimitReader(r, maxFileBytes+1))
	if err != nil {
		return File{}, timeline.NewFault(timeline.Internal, "fault.internal").Because(err).At("read a coat file")
	}
	if len(b) > maxFileBytes {
		return File{}, timeline.NewFault(timeline.TooLarge, "fault.coat.too_large")
	}
	if f := syntax(b); f != nil {
		return File{}, f
	}
	var file File
	if f := read(b, reflect.ValueOf(&file).Elem(), ""); f != nil {
		return File{}, f
	}
	if f := present(b); f != nil {
		return File{}, f
	}
	if err := file.Validate(); err != nil {
		return File{}, err
	}
	return file, nil
}

func bad(field, key string, args ...any) *timeline.Fault {
	return timeline.NewFault(timeline.Invalid, key, append(args, "field", field)...).In(field)
}

// syntax walks the tokens so that a slip (a NaN, a comma too many) is named by the field it stands in.
func syntax(b []byte) *timeline.Fault {
	dec := json.NewDecoder(bytes.NewReader(b))
	dec.UseNumber()
	type frame struct {
		object bool
		key    string
		wait   bool // a key is read, its value is not
		n      int
	}
	var stack []frame
	place := func() string {
		s := ""
		for _, f := range stack {
			if f.object {
				s = member(s, f.key)
			} else {
				s = element(s, f.n)
			}
		}
		return s
	}
	done := func() { // a value ended
		if n := len(stack); n > 0 {
			stack[n-1].wait = false
			stack[n-1].n++
		}
	}
	for started := false; ; started = true {
		if started && len(stack) == 0 {
			if _, err := dec.Token(); !errors.Is(err, io.EOF) {
				return bad("", "fault.coat.trailing")
			}
			return nil
		}
		tok, err := dec.Token()
		if err != nil {
			line := 1 + bytes.Count(b[:min(int(dec.InputOffset()), len(b))], []byte("\n"))
			if place() == "" {
				return bad("", "fault.coat.unreadable").Because(err)
			}
			return bad(place(), "fault.coat.syntax", "line", line).Because(err)
		}
		top := len(stack) - 1
		if top >= 0 && stack[top].object && !stack[top].wait {
			if key, ok := tok.(string); ok {
				stack[top].key, stack[top].wait = key, true
				continue
			}
		}
		switch tok {
		case json.Delim('{'), json.Delim('['):
			if len(stack) > 32 {
				return bad("", "fault.coat.unreadable")
			}
			stack = append(stack, frame{object: tok == json.Delim('{')})
		case json.Delim('}'), json.Delim(']'):
			stack = stack[:top]
			done()
		default:
			done()
		}
	}
}

func member(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

func element(path string, i int) string { return path + "[" + strconv.Itoa(i) + "]" }

type pair struct {
	key   string
	value json.RawMessage
}

// object reads an object's members in order; the same key twice is a fault, because one of the two would be lost.
func object(b []byte, path string) ([]pair, *timeline.Fault) {
	dec := json.NewDecoder(bytes.NewReader(b))
	if tok, err := dec.Token(); err != nil || tok != json.Delim('{') {
		return nil, bad(path, "fault.coat.want_object")
	}
	var out []pair
	seen := map[string]bool{}
	for dec.More() {
		tok, err := dec.Token()
		key, ok := tok.(string)
		if err != nil || !ok {
			return nil, bad(path, "fault.coat.want_object")
		}
		p := pair{key: key}
		if err := dec.Decode(&p.value); err != nil {
			return nil, bad(member(path, key), "fault.coat.unreadable").Because(err)
		}
		if seen[key] {
			return nil, bad(member(path, key), "fault.coat.twice")
		}
		seen[key] = true
		out = append(out, p)
	}
	return out, nil
}

var (
	dayType = reflect.TypeFor[timeline.Day]()
	rawType = reflect.TypeFor[json.RawMessage]()
)

// read fills v from b by its type's json tags, exactly spelled.
func read(b []byte, v reflect.Value, path string) *timeline.Fault {
	null := string(bytes.TrimSpace(b)) == "null"
	switch {
	case v.Type() == dayType:
		if err := json.Unmarshal(b, v.Addr().Interface()); err != nil {
			return bad(path, "fault.coat.day").Because(err)
		}
		return nil
	case v.Type() == rawType:
		if !null {
			v.SetBytes(append([]byte(nil), bytes.TrimSpace(b)...))
		}
		return nil
	case v.Kind() == reflect.Pointer:
		if null {
			v.SetZero()
			return nil
		}
		v.Set(reflect.New(v.Type().Elem()))
		return read(b, v.Elem(), path)
	case v.Kind() == reflect.Struct:
		return readStruct(b, v, path)
	case v.Kind() == reflect.Map:
		if null {
			return nil
		}
		pairs, f := object(b, path)
		if f != nil {
			return f
		}
		if v.IsNil() {
			v.Set(reflect.MakeMapWithSize(v.Type(), len(pairs)))
		}
		for _, p := range pairs {
			e := reflect.New(v.Type().Elem()).Elem()
			if old := v.MapIndex(reflect.ValueOf(p.key).Convert(v.Type().Key())); old.IsValid() {
				e.Set(old) // a document laid over another changes what it names
			}
			if f := read(p.value, e, member(path, p.key)); f != nil {
				return f
			}
			v.SetMapIndex(reflect.ValueOf(p.key).Convert(v.Type().Key()), e)
		}
		return nil
	case v.Kind() == reflect.Slice:
		if null {
			return nil
		}
		var list []json.RawMessage
		if err := json.Unmarshal(b, &list); err != nil {
			return bad(path, "fault.coat.want_list").Because(err)
		}
		v.Set(reflect.MakeSlice(v.Type(), len(list), len(list)))
		for i, item := range list {
			if f := read(item, v.Index(i), element(path, i)); f != nil {
				return f
			}
		}
		return nil
	}
	want := map[reflect.Kind]string{reflect.String: "text", reflect.Float64: "number", reflect.Int: "whole_number", reflect.Bool: "true_false"}[v.Kind()]
	if null {
		return bad(path, "fault.coat.want_"+want)
	}
	if err := json.Unmarshal(b, v.Addr().Interface()); err != nil {
		return bad(path, "fault.coat.want_"+want).Because(err)
	}
	return nil
}

func readStruct(b []byte, v reflect.Value, path string) *timeline.Fault {
	pairs, f := object(b, path)
	if f != nil {
		return f
	}
	fields := map[string]int{}
	for i := range v.NumField() {
		name, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("json"), ",")
		fields[name] = i
	}
	for _, p := range pairs {
		i, ok := fields[p.key]
		if !ok {
			return bad(member(path, p.key), "fault.coat.field", "name", p.key)
		}
		if f := read(p.value, v.Field(i), member(path, p.key)); f != nil {
			return f
		}
	}
	return nil
}

// present checks what the Go value can no longer tell: that the three needed fields are there, and that a number whose
// zero means "not said" was not said to be zero.
func present(b []byte) *timeline.Fault {
	var raw struct {
		Dog      *json.RawMessage `json:"dog"`
		Today    *json.RawMessage `json:"today"`
		Zones    *json.RawMessage `json:"zones"`
		Sessions *struct {
			EveryDays *float64 `json:"every_days"`
			Minutes   *float64 `json:"minutes"`
		} `json:"sessions"`
	}
	if err := json.Unmarshal(b, &raw); err != nil {
		return bad("", "fault.coat.unreadable").Because(err)
	}
	for _, need := range []struct {
		name string
		at   *json.RawMessage
	}{{"dog", raw.Dog}, {"today", raw.Today}, {"zones", raw.Zones}} {
		if need.at == nil {
			return bad(need.name, "fault.coat.missing", "name", need.name)
		}
	}
	if s := raw.Sessions; s != nil {
		if s.Minutes != nil && *s.Minutes <= 0 {
			return bad("sessions.minutes", "fault.coat.positive", "value", fmt.Sprint(*s.Minutes), "highest", fmt.Sprint(maxMinutes))
		}
		if s.EveryDays != nil && *s.EveryDays <= 0 {
			return bad("sessions.every_days", "fault.coat.positive", "value", fmt.Sprint(*s.EveryDays), "highest", "365")
		}
	}
	return nil
}
