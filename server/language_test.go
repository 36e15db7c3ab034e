package server_test

import (
	"html"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"thatch/server"
	"thatch/server/guard"
	"thatch/timeline"
	"thatch/web/words"
)

// pagesOf are all pages there are: a new one is in the table, and so in every test of this file.
func pagesOf() (out []guard.Row) {
	for _, row := range guard.Table() {
		if row.Answer == guard.Page && row.Method == http.MethodGet {
			out = append(out, row)
		}
	}
	return out
}

// fragments are parts of a page, for a script that puts them into it.
var fragments = []string{"/sessions/{id}/photos"}

func TestEveryPageSpeaksTheLanguageThatIsAskedFor(t *testing.T) {
	x := built(t, func(x *house) server.Login { return saidToBe{x} })
	langOf := func(who, path string, headers ...string) string {
		resp, text := x.ask(who, "GET", path, "", nil, headers...)
		if m := regexp.MustCompile(`<html lang="([^"]*)"`).FindStringSubmatch(text); m != nil {
			return m[1]
		}
		return resp.Status + " " + resp.Header.Get("Location")
	}
	saved := func(lang string) {
		set := must(x.s.Settings(t.Context()))
		set.Lang = lang
		must(x.s.SaveSettings(t.Context(), set))
	}
	const cookie, german, american = "thatch_lang=de", "de-AT,de;q=0.9,en;q=0.1", "en-US,en;q=0.9"
	for _, c := range []struct {
		salon, cookie, browser string
		inside, outside        string
	}{
		{"", "", "", "en", "en"},
		{"", "", german, "de", "de"},
		{"", "", american, "en-us", "en-us"},
		{"", "thatch_lang=fr", "fr-CH,fr", "en", "en"},
		{"", cookie, american, "de", "de"},
		{"de", "", "", "de", "de"},
		{"de", "", american, "de", "en-us"},
		{"en", cookie, "", "de", "de"},
		{"en", "", german, "en", "de"},
	} {
		saved(c.salon)
		for _, row := range pagesOf() {
			if slices.Contains(fragments, row.Pattern) {
				continue
			}
			path := x.path(row, true)
			for who, want := range map[string]string{"owner": c.inside, "": c.outside} {
				if who == "" && row.Least != guard.Anyone || who != "" && row.Pattern == "/signin" {
					continue
				}
				if got := langOf(who, path, "Cookie", c.cookie, "Accept-Language", c.browser); got != want {
					t.Errorf("salon %q, cookie %q, browser %q: %s is in %q for %q, want %q", c.salon, c.cookie, c.browser, path, got, who, want)
				}
			}
		}
		if c.browser == "" && c.cookie == "" {
			continue
		}
		for _, gone := range []string{"/share/" + strings.Repeat("q", 43), "/join/" + strings.Repeat("q", 43)} {
			if got := langOf("", gone, "Cookie", c.cookie, "Accept-Language", c.browser); got != c.outside {
				t.Errorf("salon %q, browser %q: %s is in %q, want %q", c.salon, c.browser, gone, got, c.outside)
			}
		}
	}
}

func TestALanguageIsKeptInTheBrowserThatChoseIt(t *testing.T) {
	x := built(t, func(x *house) server.Login { return saidToBe{x} })
	const form = "application/x-www-form-urlencoded"
	for _, who := range []string{"", "reader", "owner"} {
		resp, _ := x.ask(who, "POST", "/lang", form, strings.NewReader("lang=de&back=/trust"))
		if resp.StatusCode != http.StatusSeeOther || resp.Header.Get("Location") != "/trust" || len(resp.Cookies()) != 1 || resp.Cookies()[0].Value != "de" || !resp.Cookies()[0].HttpOnly {
			t.Errorf("%q: %s to %q with %v", who, resp.Status, resp.Header.Get("Location"), resp.Cookies())
		}
		if resp, _ := x.ask(who, "POST", "/lang", form, strings.NewReader("lang=../en&back=/")); resp.StatusCode != http.StatusUnprocessableEntity || len(resp.Cookies()) != 0 {
			t.Errorf("%q: a language that is none: %s with %v", who, resp.Status, resp.Cookies())
		}
		if resp, _ := x.ask(who, "POST", "/lang", form, strings.NewReader("lang=de&back=//elsewhere.example/")); resp.Header.Get("Location") != "/" {
			t.Errorf("%q is sent to %q", who, resp.Header.Get("Location"))
		}
	}
	if set := must(x.s.Settings(t.Context())); set.Lang != "" {
		t.Errorf("a browser's choice became the salon's: %q", set.Lang)
	}
}

var (
	scripts = regexp.MustCompile(`(?s)<(script|style)\b.*?</(?:script|style)>`)
	spoken  = regexp.MustCompile(`\b(?:alt|aria-label|title|placeholder|data-word[a-z-]*)="([^"]*)"`)
	tag     = regexp.MustCompile(`<[^>]*>`)
	names   = regexp.MustCompile(`lang="en[^"]*"[^>]*>[^<]*<`) // the names of languages, for themselves
	rawKey  = regexp.MustCompile(`\b(ui|fault|said|dog|session|plan|today|first|kinds|people|care|sheet)\.[a-z_.]{3,}\b`)
	english = regexp.MustCompile(`(?i)\b(the|and|of|with|is|are|this|that|from|which|not|your|when|you|into|until|every|nothing|for)\b`)
	blank   = regexp.MustCompile(`\s+`)
)

// saidOn is what a page says, to the eye and to the ear, in pieces.
func saidOn(page string) (out []string) {
	page = names.ReplaceAllString(scripts.ReplaceAllString(page, ""), "<")
	for _, m := range spoken.FindAllStringSubmatch(page, -1) {
		out = append(out, m[1])
	}
	out = append(out, tag.Split(page, -1)...)
	for i, s := range out {
		out[i] = strings.TrimSpace(blank.ReplaceAllString(html.UnescapeString(s), " "))
	}
	return slices.DeleteFunc(out, func(s string) bool { return s == "" || s == "Somebody" }) // who asks, in this test
}

// What people wrote themselves is left as they wrote it; that the house of this test has none of those words in it makes the
// test sharp.
func TestAGermanPageSaysNothingInEnglish(t *testing.T) {
	x := built(t, func(x *house) server.Login { return saidToBe{x} })
	inEnglish, inGerman := map[string]string{}, map[string]bool{}
	for _, key := range words.Keys(words.English) {
		inEnglish[words.Speaker{Lang: "en"}.T(key)] = key
		inGerman[words.Speaker{Lang: "de"}.T(key)] = true
	}
	pieces := 0
	for _, row := range pagesOf() {
		who := string(timeline.Owner)
		if row.Pattern == "/signin" {
			who = ""
		}
		for _, exists := range []bool{true, false} {
			if !exists && !named(row) {
				continue
			}
			path := x.path(row, exists)
			_, text := x.ask(who, "GET", path, "", nil, "Accept-Language", "de")
			for _, s := range saidOn(text) {
				pieces++
				switch key := inEnglish[s]; {
				case key == "language.name":
				case key != "" && !inGerman[s]:
					t.Errorf("%s says %s in English: %q", path, key, s)
				case rawKey.MatchString(s):
					t.Errorf("%s shows a key: %q", path, s)
				case english.MatchString(s):
					t.Errorf("%s says in English: %q", path, s)
				}
			}
		}
	}
	if pieces < 2000 {
		t.Errorf("only %d pieces of text were read", pieces)
	}
}
