package salon

import (
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"thatch/timeline"
)

// Bounds of what people may enter. They catch slips of the finger; a dog outside them does not exist.
const (
	maxNameRunes    = 80
	maxNoteRunes    = 5000
	maxRemarkRunes  = 500
	minWithersMM    = 100.0
	maxWithersMM    = 1100.0
	maxLengthMM     = 400.0
	maxMinutes      = 720
	maxEveryDays    = 180
	maxShowDaysAway = 3 * 366
	maxVisitDaysAgo = 40 * 366 // a photo older than any digital camera's is a slip of the finger
	defaultEvery    = 14
	defaultMinutes  = 120
)

func invalid(field, key string, args ...any) error {
	return timeline.NewFault(timeline.Invalid, key, args...).In(field)
}

func notFound(op string) *timeline.Fault {
	return timeline.NewFault(timeline.NotFound, "fault.not_found").At(op)
}

func isNotFound(err error) bool { return err != nil && timeline.KindOf(err) == timeline.NotFound }

// checkWord refuses a word that is not one of the answers; "" is refused too.
func checkWord[T ~string](field string, v T, all []T) error {
	if slices.Contains(all, v) {
		return nil
	}
	return invalid(field, "fault.word", "text", clip(string(v), 40), "answers", codes(all))
}

// codes are the words as files and addresses carry them: who wrote a wrong one wrote it there, not on a screen.
func codes[T ~string](all []T) []string {
	out := make([]string, len(all))
	for i, w := range all {
		out[i] = string(w)
	}
	return out
}

// checkWordOrUnsaid is checkWord that lets "" through: not said.
func checkWordOrUnsaid[T ~string](field string, v T, all []T) error {
	if v == "" {
		return nil
	}
	return checkWord(field, v, all)
}

func checkZone(field string, z timeline.Zone) error {
	if z.Known() {
		return nil
	}
	return invalid(field, "fault.zone.unknown", "text", clip(string(z), 40), "zones", codes(timeline.Zones()))
}

// cleanLine is a short text without control characters and outer space; too long is refused, never cut.
func cleanLine(field, text string, maxRunes int) (string, error) {
	text = strings.TrimSpace(strings.ToValidUTF8(text, ""))
	text = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return -1
		}
		return r
	}, text)
	if n := utf8.RuneCountInString(text); n > maxRunes {
		return "", invalid(field, "fault.text_too_long", "n", n, "max", maxRunes)
	}
	return text, nil
}

// cleanText is cleanLine for several lines.
func cleanText(field, text string, maxRunes int) (string, error) {
	text = strings.ReplaceAll(strings.ToValidUTF8(text, ""), "\r\n", "\n")
	text = strings.TrimSpace(strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' && r != '\t' {
			return -1
		}
		return r
	}, text))
	if n := utf8.RuneCountInString(text); n > maxRunes {
		return "", invalid(field, "fault.text_too_long", "n", n, "max", maxRunes)
	}
	return text, nil
}

func checkBetween(field, key string, v, low, high float64) error {
	if math.IsNaN(v) || v < low || v > high {
		return invalid(field, key, "min", timeline.LengthMM(low), "max", timeline.LengthMM(high))
	}
	return nil
}

func clip(s string, n int) string {
	r := []rune(s)
	if len(r) > n {
		return string(r[:n]) + "…"
	}
	return s
}

// inOrder returns zones once each, in anatomical order.
func inOrder(zones []timeline.Zone) []timeline.Zone {
	out := slices.Clone(zones)
	slices.SortFunc(out, func(a, b timeline.Zone) int { return a.Order() - b.Order() })
	out = slices.Compact(out)
	if out == nil {
		out = []timeline.Zone{}
	}
	return out
}
