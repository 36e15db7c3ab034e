package imaging

import (
	"sort"
	"time"
)

// clockSlack is how far after now a photo may lie before its camera's clock is doubted: an hour, because phones and
// servers disagree by minutes and summer time is put on by hand.
const clockSlack = time.Hour

// gpsTolerance and gpsStep: a GPS fix is seconds to minutes old when the shutter falls, civil time is off from UTC by
// quarters of an hour.
const (
	gpsTolerance = 2 * time.Minute
	gpsStep      = 15 * time.Minute
	gpsMaxOffset = 14 * time.Hour
)

// dateClues are everything a file says about its moment.
type dateClues struct {
	exif    exifFacts
	xmp     string
	xmpName string
	iptc    string
	name    string
}

// decideTaken fills the date fields of f: the first clue of the chain that is a date wins and gives its source.
func decideTaken(f *Facts, c dateClues, opt InspectOptions) {
	f.RawDates = map[string]string{}
	keep := func(name, v string) {
		if v != "" {
			f.RawDates[name] = v
		}
	}
	keep("DateTimeOriginal", c.exif.original)
	keep("OffsetTimeOriginal", c.exif.originalOffset)
	keep("DateTimeDigitized", c.exif.digitized)
	keep("OffsetTimeDigitized", c.exif.digitizedOffset)
	keep("DateTime", c.exif.modified)
	keep("OffsetTime", c.exif.modifOff)
	keep("GPSDateStamp", c.exif.gpsDate)
	if c.exif.hasGPSTime {
		keep("GPSTimeStamp", time.Time{}.Add(c.exif.gpsTime).Format("15:04:05"))
	}
	keep("xmp:"+c.xmpName, c.xmp)
	keep("iptc", c.iptc)
	if m, ok := parseDate(c.exif.modified); ok {
		f.ModifyLocal = m.local()
	}

	flags := map[string]bool{}
	w, source := chooseDate(c, flags)
	f.TakenSource = source
	if source != SourceNone {
		settle(f, w, opt, flags)
	}
	f.Flags = make([]string, 0, len(flags))
	for name := range flags {
		f.Flags = append(f.Flags, name)
	}
	sort.Strings(f.Flags)
}

func chooseDate(c dateClues, flags map[string]bool) (wall, string) {
	// OffsetTime is the offset of DateTime, the moment of the last change, which another machine in another zone may have
	// written (Exif 2.32, section 4.6.5): it says nothing of DateTimeOriginal and is kept among the raw dates only.
	if w, ok := parseDate(c.exif.original); ok {
		if w.offsetKnown {
			return w, SourceExifOffset
		}
		if off, ok := parseOffset(c.exif.originalOffset); ok && !w.dayOnly {
			w.offset, w.offsetKnown = off, true
			return w, SourceExifOffset
		}
		if off, ok := gpsOffset(w, c.exif); ok {
			w.offset, w.offsetKnown = off, true
			return w, SourceExifGPS
		}
		return w, SourceExif
	}
	if w, ok := parseDate(c.exif.digitized); ok {
		if off, ok := parseOffset(c.exif.digitizedOffset); ok && !w.offsetKnown && !w.dayOnly {
			w.offset, w.offsetKnown = off, true
		}
		return w, SourceExifDigitized
	}
	if w, ok := parseDate(c.xmp); ok {
		if c.xmpName == "CreateDate" {
			flags[FlagLowConfidence] = true
		}
		return w, SourceXMP
	}
	if w, ok := parseDate(c.iptc); ok {
		return w, SourceIPTC
	}
	if w, ok := parseName(c.name); ok {
		flags[FlagLowConfidence] = true
		return w, SourceFilename
	}
	return wall{}, SourceNone
}

// gpsOffset is the offset of a wall clock that the GPS time of the same photo gives.
func gpsOffset(w wall, e exifFacts) (minutes int, ok bool) {
	if w.dayOnly || !e.hasGPSTime {
		return 0, false
	}
	day, ok := parseDate(e.gpsDate)
	if !ok {
		return 0, false
	}
	y, m, d := day.t.Date()
	utc := time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Add(e.gpsTime)
	diff := w.t.Sub(utc)
	off := diff.Round(gpsStep)
	if (diff-off).Abs() > gpsTolerance || off.Abs() > gpsMaxOffset {
		return 0, false
	}
	return int(off / time.Minute), true
}

// settle turns the wall clock into an instant and doubts it where there is reason.
func settle(f *Facts, w wall, opt InspectOptions, flags map[string]bool) {
	f.TakenLocal, f.OffsetKnown = w.local(), w.offsetKnown
	if w.offsetKnown {
		f.OffsetMinutes = w.offset
		f.TakenAt = w.t.Add(-time.Duration(w.offset) * time.Minute)
	} else {
		at, edge := InZone(w.t, opt.Zone)
		f.TakenAt = at
		f.OffsetMinutes = int(w.t.Sub(at) / time.Minute)
		if edge != "" && !w.dayOnly {
			flags[edge] = true
		}
	}
	if w.dayOnly {
		flags[FlagTimeUnknown] = true
	}
	if !opt.Now.IsZero() && f.TakenAt.After(opt.Now.Add(clockSlack)) && !(w.dayOnly && f.TakenAt.Before(opt.Now.Add(24*time.Hour))) {
		flags[FlagFuture] = true
		flags[FlagClockNotSet] = true
	}
	// A clock that GPS confirms is set.
	if w.t.Year() < 1995 || powerOnDefault(w) && f.TakenSource != SourceExifGPS {
		flags[FlagClockNotSet] = true
	}
}

// powerOnDefault reports whether the wall clock reads like a camera that was switched on without its clock ever being
// set: the first hour of a 1 January, its noon, or any time that day in 2000; the zero of a clock chip, whose month and day 0
// count back from 2000 to a 30 November; one maker's noon of a December day. Common practice, no source.
func powerOnDefault(w wall) bool {
	switch w.local() {
	case "1999-11-30T00:00:00", "2002-12-08T12:00:00":
		return !w.dayOnly
	}
	if w.t.Month() != time.January || w.t.Day() != 1 {
		return false
	}
	return w.t.Hour() == 0 || w.t.Hour() == 12 && w.t.Minute() == 0 && !w.dayOnly || w.t.Year() == 2000
}

// InZone is the instant at which a wall clock in zone (nil: UTC) shows t's year to second; t's own location is ignored.
// On the night the clocks go back such a time happens twice: the first is meant, edge is FlagRepeated. On the night they
// go forward it does not happen: the camera was not put forward yet, edge is FlagSkipped.
func InZone(t time.Time, zone *time.Location) (at time.Time, edge string) {
	if zone == nil {
		zone = time.UTC
	}
	y, mo, d := t.Date()
	h, mi, s := t.Clock()
	utc := time.Date(y, mo, d, h, mi, s, 0, time.UTC)
	offset := func(at time.Time) time.Duration {
		_, sec := at.In(zone).Zone()
		return time.Duration(sec) * time.Second
	}
	// The offsets in force a day before and after are the only two that can apply.
	before, after := offset(utc.Add(-24*time.Hour)), offset(utc.Add(24*time.Hour))
	first, second := utc.Add(-before), utc.Add(-after)
	okFirst, okSecond := offset(first) == before, offset(second) == after
	switch {
	case okFirst && okSecond && !first.Equal(second):
		if second.Before(first) {
			first = second
		}
		return first, FlagRepeated
	case okFirst:
		return first, ""
	case okSecond:
		return second, ""
	}
	return first, FlagSkipped
}
