package align

import (
	"bytes"
	"errors"
	"reflect"
	"strings"
	"testing"

	"thatch/timeline"
)

func TestPointFilesAreReadStrictly(t *testing.T) {
	for _, c := range []struct{ name, in, key, field string }{
		{"two photos", `{"a.jpg":{"withers":[1,2.5],"nose":[-3,0]},"b.jpg":{}}`, "", ""},
		{"no photo", ` {} `, "", ""},
		{"not JSON", `withers`, "fault.align.not_points", ""},
		{"empty", ``, "fault.align.not_points", ""},
		{"cut off", `{"a.jpg":{"withers":[1,2]`, "fault.align.not_points", ""},
		{"a list", `[]`, "fault.align.not_points", ""},
		{"a photo that is a list", `{"a.jpg":[]}`, "fault.align.not_points", `"a.jpg"`},
		{"an unknown point", `{"a.jpg":{"withers":[1,2],"wither":[1,2]}}`, "fault.align.unknown_point", `"a.jpg".wither`},
		{"three numbers", `{"a.jpg":{"nose":[1,2,3]}}`, "fault.align.not_xy", `"a.jpg".nose`},
		{"a null", `{"a.jpg":{"nose":null}}`, "fault.align.not_xy", `"a.jpg".nose`},
		{"a null inside", `{"a.jpg":{"nose":[1,null]}}`, "fault.align.not_xy", `"a.jpg".nose`},
		{"a number too large", `{"a.jpg":{"nose":[1,1e999]}}`, "fault.align.not_xy", `"a.jpg".nose`},
		{"a point twice", `{"a.jpg":{"nose":[1,2],"nose":[1,2]}}`, "fault.align.point_twice", `"a.jpg".nose`},
		{"a photo twice", `{"a.jpg":{},"a.jpg":{}}`, "fault.align.point_twice", `"a.jpg"`},
		{"more after the end", `{} {}`, "fault.align.not_points", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			m, err := ReadLandmarks(strings.NewReader(c.in))
			if c.key == "" {
				if err != nil || m == nil {
					t.Fatalf("%v, %v", m, err)
				}
				return
			}
			var f *timeline.Fault
			if !errors.As(err, &f) || f.Say.Key != c.key || f.Kind != timeline.Invalid || f.Field != c.field {
				t.Errorf("%v, want %s in %q", err, c.key, c.field)
			}
		})
	}
}

func FuzzReadLandmarks(f *testing.F) {
	f.Add([]byte(`{"a.jpg":{"withers":[1,2.5],"nose":[-3,0]},"b \"q\".jpg":{}}`))
	f.Add([]byte(`{"a":{"nose":[1e308,-1e-320]}}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		m, err := ReadLandmarks(bytes.NewReader(b))
		if err != nil {
			return
		}
		var w bytes.Buffer
		if err := WriteLandmarks(&w, m); err != nil {
			t.Fatalf("read but not written: %v", err)
		}
		again, err := ReadLandmarks(&w)
		if err != nil || !reflect.DeepEqual(m, again) {
			t.Fatalf("written and read back: %v, %v, want %v", again, err, m)
		}
	})
}
