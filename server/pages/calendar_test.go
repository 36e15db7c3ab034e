package pages

import (
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"thatch/server/salon"
	"thatch/timeline"
	"thatch/web/words"
)

// E: RFC 5545: content lines of at most 75 octets without their end (3.1), escapes of TEXT (3.3.11), dates (3.3.4), an
// all-day event ends on the day after it (3.6.1).
func TestACalendarHoldsVisitsAndShowsAsTheStandardHasThem(t *testing.T) {
	on := timeline.Date(2026, 6, 30)
	dog := timeline.Dog{ID: "0123456789abcdef", Name: `Moss; "the, small" \ one`}
	show := timeline.Show{ID: "fedcba9876543210", Name: strings.Repeat("Größe ", 20) + "\nsecond line"}
	file := calendarFile(words.Speaker{}, []salon.CalendarDay{{On: on, Dog: dog}, {On: on + 1, Dog: dog, Show: &show}}, time.Date(2026, 6, 1, 9, 30, 5, 0, time.FixedZone("", 7200)))
	if !strings.HasPrefix(file, "BEGIN:VCALENDAR\r\nVERSION:2.0\r\n") || !strings.HasSuffix(file, "END:VCALENDAR\r\n") {
		t.Errorf("%q", file)
	}
	lines := strings.Split(strings.TrimSuffix(file, "\r\n"), "\r\n")
	for _, l := range lines {
		if len(l) > 75 || !utf8.ValidString(l) || strings.ContainsAny(l, "\r\n") {
			t.Errorf("a line of %d octets: %q", len(l), l)
		}
	}
	whole := strings.ReplaceAll(file, "\r\n ", "")
	for _, want := range []string{
		"UID:visit-0123456789abcdef-2026-06-30@thatch\r\n", "DTSTART;VALUE=DATE:20260630\r\nDTEND;VALUE=DATE:20260701\r\n", "DTSTAMP:20260601T073005Z\r\n",
		`SUMMARY:Moss\; "the\, small" \\ one on the table` + "\r\n", "UID:show-fedcba9876543210@thatch\r\n", `Größe \nsecond line` + "\r\n",
	} {
		if !strings.Contains(whole, want) {
			t.Errorf("no %q in\n%s", want, whole)
		}
	}
	if n := strings.Count(whole, "BEGIN:VEVENT"); n != 2 || strings.Count(whole, "END:VEVENT") != n {
		t.Errorf("%d events", n)
	}
}

func FuzzCalendarLine(f *testing.F) {
	f.Add("Moss")
	f.Add(strings.Repeat("ü", 60))
	f.Fuzz(func(t *testing.T, name string) {
		line := folded("SUMMARY:" + escapedText(name))
		if !strings.HasSuffix(line, "\r\n") {
			t.Fatalf("%q has no end", line)
		}
		for _, l := range strings.Split(strings.TrimSuffix(line, "\r\n"), "\r\n") {
			if len(l) > 75 || strings.ContainsAny(l, "\r\n") {
				t.Fatalf("%q", l)
			}
		}
	})
}
