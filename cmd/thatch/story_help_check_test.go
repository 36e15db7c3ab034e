package main

import "testing"

func TestALookIntoJSONCanFail(t *testing.T) {
	const doc = `{"a": [{"x": 1.5, "s": "no way"}], "n": null}`
	for _, c := range []struct {
		path, how string
		want      []string
		ok        bool
	}{
		{"a.0.x", "is", []string{"1.5"}, true},
		{"a.0.x", "is", []string{"1.6"}, false},
		{"n", "is", []string{"null"}, true},
		{"a", "is", []string{"null"}, false},
		{"a.0.x", "near", []string{"1.49", "0.02"}, true},
		{"a.0.x", "near", []string{"1.4", "0.02"}, false},
		{"a.0.s", "near", []string{"1", "9"}, false},
		{"a", "len", []string{"1"}, true},
		{"a", "len", []string{"0"}, false},
		{"n", "len", []string{"0"}, false},
		{".", "keys", []string{"n,a"}, true},
		{".", "keys", []string{"a"}, false},
		{"a.0.s", "like", []string{"^no"}, true},
		{"a.0.s", "like", []string{"^way"}, false},
	} {
		got, err := lookInto(doc, c.path, c.how, c.want)
		if err != nil || (got == "") != c.ok {
			t.Errorf("%s %s %v: %q, %v", c.path, c.how, c.want, got, err)
		}
	}
	for _, c := range [][2]string{{"b", doc}, {"a.1", doc}, {"n.x", doc}, {"a", doc + "{}"}} {
		if _, err := lookInto(c[1], c[0], "is", []string{"1"}); err == nil {
			t.Errorf("%s: no error", c[0])
		}
	}
}

func TestAComplaintThatIsNoClearLineIsSeen(t *testing.T) {
	for s, clear := range map[string]bool{
		"thatch: The dog Wisp is not here.\n":  true,
		"":                                     false,
		"The dog Wisp is not here.\n":          false,
		"thatch: The dog\nWisp is not here.\n": false,
		"thatch: fault.dog.not_found (name=Wisp)\n":  false,
		"thatch: The dog {name} is not here.\n":      false,
		"thatch: The dog %!s(MISSING) is not here\n": false,
		"thatch: \n": false,
	} {
		if got := notOneClearLine(s); (got == "") != clear {
			t.Errorf("%q: %q", s, got)
		}
	}
}
