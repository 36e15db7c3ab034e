package words

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
)

// English is what the catalogue is written in first, and what is said where nothing else is known.
const English = "en"

// Language is one that can be chosen. Name is its own name for itself.
type Language struct{ Code, Name string }

var languages = func() (out []Language) {
	for code := range catalogues {
		out = append(out, Language{code, Speaker{Lang: code}.T("language.name")})
	}
	slices.SortFunc(out, func(a, b Language) int { return cmp.Compare(a.Name, b.Name) })
	return out
}()

// Languages are in order of their names.
func Languages() []Language { return slices.Clone(languages) }

// Langs are the codes of all languages, in order.
func Langs() []string {
	out := make([]string, 0, len(languages))
	for _, l := range languages {
		out = append(out, l.Code)
	}
	slices.Sort(out)
	return out
}

// Spoken reports whether there is a language of this code.
func Spoken(code string) bool { return catalogues[code] != nil }

// What a browser may ask for at most; none of them asks for so much.
const (
	maxAskedBytes = 512
	maxAskedTags  = 24
)

// Asked is the language of ours that an Accept-Language header (RFC 9110, 12.5.4) wants most, "" where it wants none of
// them. Of a region that we have no words for, the language itself is taken (RFC 4647, 3.4).
func Asked(header string) string {
	if len(header) > maxAskedBytes {
		header = header[:maxAskedBytes]
	}
	best, most := "", 0.0
	for i, part := range strings.Split(header, ",") {
		if i == maxAskedTags {
			break
		}
		tag, params, _ := strings.Cut(part, ";")
		weight := 1.0
		if q, ok := strings.CutPrefix(strings.ToLower(strings.TrimSpace(params)), "q="); ok {
			var err error
			if weight, err = strconv.ParseFloat(q, 64); err != nil || !(weight >= 0 && weight <= 1) {
				continue
			}
		}
		if code := ours(tag); code != "" && weight > most {
			best, most = code, weight
		}
	}
	return best
}

func ours(tag string) string {
	tag = strings.ToLower(strings.TrimSpace(tag))
	for {
		if Spoken(tag) {
			return tag
		}
		cut := strings.LastIndexByte(tag, '-')
		if cut < 0 {
			return ""
		}
		tag = tag[:cut]
	}
}
