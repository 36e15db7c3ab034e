package words

import (
	"encoding/json"
	"io/fs"
	"maps"
	"path"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"thatch/timeline"
)

// complete are the languages that say everything themselves: all but those of a region, which say what is other there.
func complete() []string {
	return slices.DeleteFunc(Langs(), func(code string) bool { return strings.Contains(code, "-") })
}

func TestNoKeyIsMissingInAnyLanguage(t *testing.T) {
	for _, lang := range complete() {
		for _, key := range Keys(English) {
			if text := catalogues[lang][key]; strings.TrimSpace(text) == "" && catalogues[English][key] != "" {
				t.Errorf("%s lacks %q", lang, key)
			}
		}
	}
	for _, lang := range Langs() {
		for key := range catalogues[lang] {
			if _, ok := catalogues[English][key]; !ok {
				t.Errorf("%s says %q, which nobody says in English", lang, key)
			}
		}
		if base, _, _ := strings.Cut(lang, "-"); catalogues[base] == nil {
			t.Errorf("%s stands on %s, which there is none of", lang, base)
		}
		if catalogues[lang]["language.name"] == "" {
			t.Errorf("%s has no name for itself", lang)
		}
	}
}

// Rooms keep their texts under the same name in every language, so that who adds a sentence finds where its sisters are.
func TestASentenceStandsInTheSameFileOfEveryLanguage(t *testing.T) {
	where := map[string]string{}
	read := func(lang string, found func(file, key string)) {
		names, err := fs.Glob(files, lang+"/*.json")
		if err != nil || len(names) == 0 {
			t.Fatalf("%s: %v, %d files", lang, err, len(names))
		}
		for _, name := range names {
			b, err := files.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			var m map[string]string
			if err := json.Unmarshal(b, &m); err != nil {
				t.Fatal(err)
			}
			for key := range m {
				found(path.Base(name), key)
			}
		}
	}
	read(English, func(file, key string) { where[key] = file })
	for _, lang := range complete() {
		read(lang, func(file, key string) {
			if where[key] != "" && where[key] != file {
				t.Errorf("%s: %q stands in %s, in English in %s", lang, key, file, where[key])
			}
		})
	}
}

func TestEverySentenceHasTheSamePlacesInEveryLanguage(t *testing.T) {
	set := func(text string) map[string]bool {
		out := map[string]bool{}
		for _, p := range place.FindAllString(text, -1) {
			out[p] = true
		}
		return out
	}
	for _, lang := range Langs() {
		for key, text := range catalogues[lang] {
			english, theirs := set(catalogues[English][key]), set(text)
			if strings.HasSuffix(key, ".one") { // "a dog" and "{n} dog" are both right
				delete(english, "{n}")
				delete(theirs, "{n}")
			}
			if !maps.Equal(english, theirs) {
				t.Errorf("%s: %q has the places %v, in English %v", lang, key, slices.Sorted(maps.Keys(theirs)), slices.Sorted(maps.Keys(english)))
			}
		}
	}
}

func TestASentenceOfManyHasItsSentenceOfOne(t *testing.T) {
	for _, lang := range complete() {
		for key, text := range catalogues[lang] {
			if stem, ok := strings.CutSuffix(key, ".other"); ok && strings.Contains(text, "{n}") && catalogues[lang][stem+".one"] == "" {
				t.Errorf("%s says %q but not %q", lang, key, stem+".one")
			}
		}
	}
}

// sameWords are those that are the same in English and another language, or a name.
var sameWords = map[string]bool{
	"name": true, "zone": true, "plan": true, "link": true, "links": true, "salon": true, "android": true, "letter": true, "mm": true, "a": true,
	"thatch": true, "iphone": true, "ipad": true, "api": true, "token": true, "tokens": true, "version": true, "json": true, "export": true,
}

// englishWords are said in every English sentence and in no other language of ours.
var (
	englishWords = regexp.MustCompile(`(?i)\b(the|and|of|with|is|are|this|that|from|which|not|your|when|you|into|until|every|nothing)\b`)
	letters      = regexp.MustCompile(`\p{L}+`)
	code         = regexp.MustCompile("`[^`]*`" + `|https?://\S+|--[a-z-]+|\b[A-Z_]{3,}\b|\{[a-z_]+\}|\$\{[a-z_]+\}`)
)

func TestNoEnglishIsLeftInAnotherLanguage(t *testing.T) {
	for _, lang := range complete() {
		if lang == English {
			continue
		}
		for key, text := range catalogues[lang] {
			plain := code.ReplaceAllString(text, " ")
			if m := englishWords.FindString(plain); m != "" {
				t.Errorf("%s: %q says %q: %s", lang, key, m, text)
			}
			if text != catalogues[English][key] {
				continue
			}
			for _, word := range letters.FindAllString(plain, -1) {
				if !sameWords[strings.ToLower(word)] {
					t.Errorf("%s: %q is as in English: %s", lang, key, text)
					break
				}
			}
		}
	}
}

var spokenTo = regexp.MustCompile(`\b(du|dich|dir|dein\p{L}*|Ihnen)\b`)

func TestGermanIsWrittenAsGermanIs(t *testing.T) {
	for key, text := range catalogues["de"] {
		if strings.ContainsRune(text, '”') || strings.Count(text, "„") != strings.Count(text, "“") {
			t.Errorf("%q has quotation marks of English: %s", key, text)
		}
		if spokenTo.MatchString(code.ReplaceAllString(text, " ")) {
			t.Errorf("%q speaks to somebody: %s", key, text)
		}
	}
}

// A day in November 2026; the 26th is a Thursday (ISO 8601 calendar).
func TestEveryLanguageWritesDaysAndNumbersItsOwnWay(t *testing.T) {
	day := timeline.Date(2026, time.November, 26)
	for _, c := range []struct{ lang, full, short, length, parts, list string }{
		{"en", "Thu 26 Nov 2026", "26 Nov", "12.5 mm", "0.25", "a, b and c"},
		{"en-us", "Thu, Nov 26, 2026", "Nov 26", "12.5 mm", "0.25", "a, b and c"},
		{"de", "Do 26. Nov. 2026", "26. Nov.", "12,5 mm", "0,25", "a, b und c"},
	} {
		s := Speaker{Lang: c.lang}
		for _, x := range [][2]string{
			{s.Day(day), c.full}, {s.DayShort(day), c.short}, {s.Length(12.5), c.length}, {s.Decimal(0.25, 2), c.parts}, {s.join([]string{"a", "b", "c"}), c.list},
		} {
			if x[0] != x[1] {
				t.Errorf("%s: %q, want %q", c.lang, x[0], x[1])
			}
		}
		if mm, err := s.ParseLength(s.Length(12.5)); err != nil || mm != 12.5 {
			t.Errorf("%s: %q is read back as %v, %v", c.lang, s.Length(12.5), mm, err)
		}
		inch := Speaker{Lang: c.lang, Units: Inches}
		if mm, err := inch.ParseLength(inch.Length(31.75)); err != nil || mm != 31.75 {
			t.Errorf("%s: %q is read back as %v, %v", c.lang, inch.Length(31.75), mm, err)
		}
	}
}

func TestTheLanguageIsTheOneThatIsAskedForMost(t *testing.T) {
	for _, c := range []struct{ header, want string }{
		{"", ""},
		{"de", "de"},
		{"de-AT,de;q=0.9,en;q=0.5", "de"},
		{"en-GB,en;q=0.9", "en"},
		{"en-US,en;q=0.9,de;q=0.8", "en-us"},
		{"xx, de;q=0.4, en;q=0.6", "en"},
		{"fr-CH, fr;q=0.9, *;q=0.5", ""},
		{"de;q=0, en;q=0.1", "en"},
		{"DE-de", "de"},
		{"en;q=2, de;q=0.3", "de"},
		{"en;q=NaN, de;q=0.3", "de"},
		{";;;,,,=q", ""},
	} {
		if got := Asked(c.header); got != c.want {
			t.Errorf("Asked(%q) = %q, want %q", c.header, got, c.want)
		}
	}
}

func FuzzAsked(f *testing.F) {
	for _, s := range []string{"de-AT,de;q=0.9,en;q=0.5", "en-US", "*;q=0.5", ";q=", "de;q=1e309"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, header string) {
		if got := Asked(header); got != "" && !Spoken(got) {
			t.Fatalf("%q asks for %q", header, got)
		}
	})
}
