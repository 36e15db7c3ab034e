package pages_test

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"
)

var (
	anyTag    = regexp.MustCompile(`<!--.*?-->|<!doctype[^>]*>|<(/?)([a-zA-Z][a-zA-Z0-9-]*)((?:[^>"']|"[^"]*"|'[^']*')*?)(/?)>`)
	attribute = regexp.MustCompile(`([a-zA-Z:-]+)(?:="([^"]*)")?`)
	void      = []string{"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"} // E: HTML Living Standard, 13.1.2
	noNesting = []string{"form", "a", "button", "label", "p", "h1", "h2", "h3", "option"}                                      // E: the same, 4.4 and 4.10
)

// malformed is what a browser would have to guess in a page: tags that do not close, the same ID or attribute twice, names of
// IDs that nobody bears, fields without a label. Empty: nothing.
func malformed(page string) []string {
	var wrong []string
	say := func(format string, args ...any) { wrong = append(wrong, fmt.Sprintf(format, args...)) }
	var open []string
	ids, named, hasLabel := map[string]int{}, map[string]string{}, map[string]bool{}
	var fields []map[string]string
	for _, m := range anyTag.FindAllStringSubmatch(page, -1) {
		name := strings.ToLower(m[2])
		switch {
		case name == "":
			continue
		case m[1] == "/":
			if n := len(open); n == 0 || open[n-1] != name {
				say("</%s> closes %v", name, open[max(0, len(open)-3):])
				return wrong
			}
			open = open[:len(open)-1]
			continue
		}
		attrs := map[string]string{}
		for _, a := range attribute.FindAllStringSubmatch(m[3], -1) {
			if _, twice := attrs[a[1]]; twice {
				say("<%s> has %s twice", name, a[1])
			}
			attrs[a[1]] = a[2]
		}
		if id := attrs["id"]; id != "" {
			ids[id]++
		}
		for _, ref := range []string{"for", "aria-labelledby", "aria-describedby"} {
			for _, id := range strings.Fields(attrs[ref]) {
				named[id] = "<" + name + "> " + ref
			}
		}
		if id, here := strings.CutPrefix(attrs["href"], "#"); here {
			named[id] = "<" + name + "> href"
		}
		if name == "label" && attrs["for"] != "" {
			hasLabel[attrs["for"]] = true
		}
		if slices.Contains([]string{"input", "select", "textarea"}, name) && attrs["type"] != "hidden" {
			_, spoken := attrs["aria-label"]
			if !spoken && !slices.Contains(open, "label") {
				fields = append(fields, attrs)
			}
		}
		if name == "img" {
			if _, ok := attrs["alt"]; !ok {
				say("a picture has no alt")
			}
		}
		if slices.Contains(noNesting, name) && slices.Contains(open, name) {
			say("<%s> lies in <%s>", name, name)
		}
		if !slices.Contains(void, name) && m[4] != "/" {
			open = append(open, name)
		}
	}
	if len(open) > 0 {
		say("%v never close", open)
	}
	for id, n := range ids {
		if n > 1 {
			say("ID %q is there %d times", id, n)
		}
	}
	for id, who := range named {
		if ids[id] == 0 {
			say("%s names %q, which is not there", who, id)
		}
	}
	for _, f := range fields {
		if !hasLabel[f["id"]] {
			say("the field %q has no label", f["name"])
		}
	}
	return wrong
}

func TestTheCheckOfPagesSeesWhatIsMalformed(t *testing.T) {
	for page, want := range map[string]string{
		`<p><b>x</p></b>`:                                   "closes",
		`<main><p>x</p>`:                                    "never close",
		`<p id="a">x</p><p id="a">y</p>`:                    "2 times",
		`<form><form></form></form>`:                        "lies in",
		`<img src="x">`:                                     "alt",
		`<input id="n" name="n">`:                           "no label",
		`<input aria-label="n" aria-describedby="gone">`:    "not there",
		`<a href="#gone">x</a>`:                             "not there",
		`<p class="a" class="b">x</p>`:                      "twice",
		`<p title="a > b">x</p><br><svg><path d=""/></svg>`: "",
		`<label for="n">n</label><input id="n">`:            "",
	} {
		got := strings.Join(malformed(page), "; ")
		if want == "" && got != "" || want != "" && !strings.Contains(got, want) {
			t.Errorf("%s: %q, want %q", page, got, want)
		}
	}
}
