package pages

import (
	"fmt"
	"net/http"
	"strings"
	"time"
	"unicode/utf8"

	"thatch/server/salon"
	"thatch/timeline"
	"thatch/web/words"
)

// calendar is a file of visits and shows for the calendar of a phone (iCalendar, RFC 5545).
func (s *Site) calendar(w http.ResponseWriter, r *http.Request) error {
	days, err := s.salon.Calendar(r.Context())
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/calendar; charset=utf-8")
	w.Header().Set("Content-Disposition", `attachment; filename="thatch.ics"`)
	w.Header().Set("Cache-Control", "no-store")
	_, _ = w.Write([]byte(calendarFile(speakerOf(visitOf(r).settings), days, s.salon.Now()))) // the browser went away: nobody to tell
	return nil
}

func calendarFile(sp words.Speaker, days []salon.CalendarDay, now time.Time) string {
	var b strings.Builder
	line := func(name, value string) { b.WriteString(folded(name + ":" + value)) }
	line("BEGIN", "VCALENDAR")
	line("VERSION", "2.0")
	line("PRODID", "-//Thatch//Thatch//EN")
	for _, d := range days {
		// The same visit, asked for again, is the same event.
		uid, what := fmt.Sprintf("visit-%s-%s", d.Dog.ID, d.On), sp.T("calendar.visit", "name", d.Dog.Name)
		if d.Show != nil {
			uid, what = "show-"+string(d.Show.ID), sp.T("calendar.show", "name", d.Dog.Name, "show", d.Show.Name)
		}
		line("BEGIN", "VEVENT")
		line("UID", uid+"@thatch")
		line("DTSTAMP", now.UTC().Format("20060102T150405Z"))
		line("DTSTART;VALUE=DATE", basicDay(d.On))
		line("DTEND;VALUE=DATE", basicDay(d.On+1))
		line("SUMMARY", escapedText(what))
		line("TRANSP", "TRANSPARENT")
		line("END", "VEVENT")
	}
	line("END", "VCALENDAR")
	return b.String()
}

func basicDay(d timeline.Day) string { return d.Time().Format("20060102") }

var calendarEscapes = strings.NewReplacer(`\`, `\\`, `;`, `\;`, `,`, `\,`, "\r\n", `\n`, "\n", `\n`, "\r", `\n`)

// escapedText is TEXT of RFC 5545, 3.3.11.
func escapedText(s string) string { return calendarEscapes.Replace(s) }

// folded is a line of at most 75 octets, and the rest of it on lines that begin with a space (RFC 5545, 3.1); no letter is cut.
func folded(s string) string {
	const most = 75
	var b strings.Builder
	n := 0
	for _, r := range s {
		size := utf8.RuneLen(r)
		if size < 0 {
			continue // no letter
		}
		if n+size > most {
			b.WriteString("\r\n ")
			n = 1
		}
		b.WriteRune(r)
		n += size
	}
	return b.String() + "\r\n"
}
