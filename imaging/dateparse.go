package imaging

import (
	"regexp"
	"strconv"
	"strings"
	"time"
)

// wall is a wall-clock time read from a file, without a zone unless the text itself named one.
type wall struct {
	t           time.Time // the wall clock written as if it were UTC
	offset      int       // minutes from UTC
	offsetKnown bool
	dayOnly     bool // the text named no time; t is noon
}

const localLayout = "2006-01-02T15:04:05"

func (w wall) local() string { return w.t.Format(localLayout) }

// dateText is the date of Exif (colons) and of ISO 8601 and XMP (dashes, T), with what cameras add: fractions, a zone,
// AM or PM. Anything else after it makes the text no date: a guess would be a wrong day. Seconds and fractions are cut, not
// rounded: a photo is never later than it was taken.
var dateText = regexp.MustCompile(`^(\d{4})[:\-/.](\d{1,2})[:\-/.](\d{1,2})(?:[ T]+(\d{1,2}):(\d{1,2})(?::(\d{1,2})(?:[.,]\d{1,9})?)?\s*([AaPp][Mm])?\s*(Z|z|[+\-]\d{2}(?::?\d{2})?)?)?$`)

// parseDate reads a date of EXIF or XMP. ok is false for blanks, zeros, impossible days and everything unknown.
func parseDate(s string) (w wall, ok bool) {
	if len(s) > 64 {
		return w, false
	}
	// What of a date is not known is left blank between its colons (Exif 2.32, section 4.6.5, DateTimeOriginal).
	s = strings.TrimRight(strings.TrimSpace(s), " :")
	m := dateText.FindStringSubmatch(s)
	if m == nil {
		return w, false
	}
	num := func(i int) int { n, _ := strconv.Atoi(m[i]); return n }
	hour, min, sec := num(4), num(5), num(6)
	if m[4] == "" {
		hour, w.dayOnly = 12, true
	}
	if half := m[7]; half != "" {
		if hour < 1 || hour > 12 {
			return w, false
		}
		hour = hourOfHalf(hour, half)
	}
	if w.t, ok = civil(num(1), num(2), num(3), hour, min, sec); !ok {
		return w, false
	}
	if m[8] != "" {
		if w.offset, ok = parseOffset(m[8]); !ok {
			return wall{}, false
		}
		w.offsetKnown = true
	}
	return w, true
}

// civil is a wall-clock time of the years 1826 (the oldest photograph) to 9999, refused where the calendar has no such
// day or the clock no such time. A leap second counts as the second before it.
func civil(y, mo, d, h, mi, s int) (time.Time, bool) {
	if s == 60 {
		s = 59
	}
	if y < 1826 || y > 9999 || mo < 1 || mo > 12 || d < 1 || h > 23 || mi > 59 || s > 59 {
		return time.Time{}, false
	}
	t := time.Date(y, time.Month(mo), d, h, mi, s, 0, time.UTC)
	return t, t.Day() == d
}

// parseOffset reads "+01:00", "-0530", "+02", "Z" as minutes from UTC; civil time has never been more than 14 hours off today.
func parseOffset(s string) (minutes int, ok bool) {
	s = strings.TrimSpace(s)
	if s == "Z" || s == "z" {
		return 0, true
	}
	switch len(s) {
	case 3:
		s += ":00"
	case 5:
		s = s[:3] + ":" + s[3:]
	}
	if len(s) != 6 || (s[0] != '+' && s[0] != '-') || s[3] != ':' {
		return 0, false
	}
	h, errH := strconv.ParseUint(s[1:3], 10, 8)
	m, errM := strconv.ParseUint(s[4:6], 10, 8)
	if errH != nil || errM != nil || m > 59 || h*60+m > 14*60 {
		return 0, false
	}
	minutes = int(h*60 + m)
	if s[0] == '-' {
		minutes = -minutes
	}
	return minutes, true
}

// The forms of a moment in a file's name. Groups: year, month, day, hour, minute, second, the half of a twelve-hour clock.
// Three digits behind the seconds are milliseconds. Some systems put a narrow space before AM and PM.
var nameTimes = []*regexp.Regexp{
	nameForm(`[-_.:]?`, `(?:[-_. T]|_at_| at )+([0-2]\d)[-_.:h]?([0-5]\d)[-_.:m]?([0-5]\d)(?:\d{3})?`), // 20240506_070809
	nameForm(``, `([0-2]\d)([0-5]\d)([0-5]\d)(?:\d{3})?`),                                              // 20240506070809
	nameForm(`[-_.]`, `(?:[ _]|_at_| at )+(\d)[-_.:]([0-5]\d)[-_.:]([0-5]\d)`),                         // 2024-05-06 at 7.08.09
}

func nameForm(between, clock string) *regexp.Regexp {
	return regexp.MustCompile(`(?:^|[^0-9])((?:19|20)\d\d)` + between + `([01]\d)` + between + `([0-3]\d)` + clock +
		`(?:[\s\x{a0}\x{202f}]*([AaPp])\.?[Mm]\b)?(?:[^0-9]|$)`)
}

var nameDay = regexp.MustCompile(`(?:^|[^0-9])((?:19|20)\d\d)([-_.]?)([01]\d)([-_.]?)([0-3]\d)(?:[^0-9]|$)`)

// parseName reads a date from the name of a file: YYYYMMDD_HHMMSS in its usual forms, or the day alone.
func parseName(name string) (w wall, ok bool) {
	if i := strings.LastIndexAny(name, `/\`); i >= 0 {
		name = name[i+1:]
	}
	if len(name) > 255 {
		return w, false
	}
	num := func(s string) int { n, _ := strconv.Atoi(s); return n }
	for _, form := range nameTimes {
		m := form.FindStringSubmatch(name)
		if m == nil {
			continue
		}
		hour := num(m[4])
		if m[7] != "" && hour >= 1 && hour <= 12 {
			hour = hourOfHalf(hour, m[7])
		}
		if w.t, ok = civil(num(m[1]), num(m[2]), num(m[3]), hour, num(m[5]), num(m[6])); ok {
			return w, true
		}
	}
	if m := nameDay.FindStringSubmatch(name); m != nil && m[2] == m[4] {
		if w.t, ok = civil(num(m[1]), num(m[3]), num(m[5]), 12, 0, 0); ok {
			w.dayOnly = true
			return w, true
		}
	}
	return wall{}, false
}

// hourOfHalf is an hour of the twelve-hour clock, 1 to 12, on the clock of twenty-four; half begins with A or P.
func hourOfHalf(hour int, half string) int {
	hour %= 12
	if half[0] == 'P' || half[0] == 'p' {
		hour += 12
	}
	return hour
}
