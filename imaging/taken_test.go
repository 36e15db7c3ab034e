package imaging

import (
	"slices"
	"testing"
	"time"
	_ "time/tzdata" // daylight saving is tested on a machine without a zone database too
)

func mustZone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

func TestTheDateChainBelievesTheBestClueFirst(t *testing.T) {
	berlin := mustZone(t, "Europe/Berlin")
	utc := func(s string) time.Time {
		at, err := time.Parse(time.RFC3339, s)
		if err != nil {
			t.Fatal(err)
		}
		return at.UTC()
	}
	gps := func(h, m, s int) time.Duration {
		return time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + time.Duration(s)*time.Second
	}
	const name = "IMG_20200102_030405.jpg"
	for _, c := range []struct {
		case_  string
		clues  dateClues
		source string
		local  string
		at     time.Time
		offset int
		known  bool
		flags  []string
	}{
		{"an offset beside the date makes an instant",
			dateClues{exif: exifFacts{original: "2024:05:06 07:08:09", originalOffset: "-03:30"}, name: name},
			SourceExifOffset, "2024-05-06T07:08:09", utc("2024-05-06T10:38:09Z"), -210, true, nil},
		{"an offset that is no offset is passed over",
			dateClues{exif: exifFacts{original: "2024:05:06 07:08:09", originalOffset: "   :  "}},
			SourceExif, "2024-05-06T07:08:09", utc("2024-05-06T05:08:09Z"), 120, false, nil},
		{"a GPS time a minute off gives the offset",
			dateClues{exif: exifFacts{original: "2011:05:07 13:02:49", gpsDate: "2011:05:07", gpsTime: gps(19, 3, 43), hasGPSTime: true}},
			SourceExifGPS, "2011-05-07T13:02:49", utc("2011-05-07T19:02:49Z"), -360, true, nil},
		{"a GPS time on the day before gives the offset across midnight",
			dateClues{exif: exifFacts{original: "2024:05:07 04:00:10", gpsDate: "2024:05:06", gpsTime: gps(22, 15, 0), hasGPSTime: true}},
			SourceExifGPS, "2024-05-07T04:00:10", utc("2024-05-06T22:15:10Z"), 345, true, nil},
		{"a GPS time off by seven minutes gives none",
			dateClues{exif: exifFacts{original: "2024:05:06 12:00:00", gpsDate: "2024:05:06", gpsTime: gps(10, 7, 0), hasGPSTime: true}},
			SourceExif, "2024-05-06T12:00:00", utc("2024-05-06T10:00:00Z"), 120, false, nil},
		{"a GPS time 22 hours off gives none",
			dateClues{exif: exifFacts{original: "2008:10:22 16:28:39", gpsDate: "2008:10:23", gpsTime: gps(14, 27, 7), hasGPSTime: true}},
			SourceExif, "2008-10-22T16:28:39", utc("2008-10-22T14:28:39Z"), 120, false, nil},
		{"a GPS time alone is no capture date",
			dateClues{exif: exifFacts{gpsDate: "2024:05:06", gpsTime: gps(10, 0, 0), hasGPSTime: true}},
			SourceNone, "", time.Time{}, 0, false, nil},
		{"the date of change alone is no capture date",
			dateClues{exif: exifFacts{modified: "2024:05:06 07:08:09"}},
			SourceNone, "", time.Time{}, 0, false, nil},
		{"a zero date gives way to the digitized one",
			dateClues{exif: exifFacts{original: "0000:00:00 00:00:00", digitized: "2024:01:06 07:08:09", digitizedOffset: "+05:45"}},
			SourceExifDigitized, "2024-01-06T07:08:09", utc("2024-01-06T01:23:09Z"), 345, true, nil},
		{"XMP before IPTC before the name",
			dateClues{xmp: "2017-05-29T11:11:16.500+02:00", xmpName: "DateTimeOriginal", iptc: "2016-01-01", name: name},
			SourceXMP, "2017-05-29T11:11:16", utc("2017-05-29T09:11:16Z"), 120, true, nil},
		{"the making of an XMP file is a weak clue",
			dateClues{xmp: "2017-05-29", xmpName: "CreateDate"},
			SourceXMP, "2017-05-29T12:00:00", utc("2017-05-29T10:00:00Z"), 120, false, []string{FlagLowConfidence, FlagTimeUnknown}},
		{"IPTC before the name",
			dateClues{iptc: "2017-05-29 17:19:21-0400", name: name},
			SourceIPTC, "2017-05-29T17:19:21", utc("2017-05-29T21:19:21Z"), -240, true, nil},
		{"the name last, and doubted",
			dateClues{name: name},
			SourceFilename, "2020-01-02T03:04:05", utc("2020-01-02T02:04:05Z"), 60, false, []string{FlagLowConfidence}},
		{"nothing",
			dateClues{name: "DSC00012.JPG"},
			SourceNone, "", time.Time{}, 0, false, nil},
		{"a clock before 1995 was not set, the date is kept",
			dateClues{exif: exifFacts{original: "1980:03:05 00:00:12"}},
			SourceExif, "1980-03-05T00:00:12", utc("1980-03-04T23:00:12Z"), 60, false, []string{FlagClockNotSet}},
		{"a date in 2099 is kept and doubted",
			dateClues{exif: exifFacts{original: "2099:08:12 19:59:29", originalOffset: "+02:00"}},
			SourceExifOffset, "2099-08-12T19:59:29", utc("2099-08-12T17:59:29Z"), 120, true, []string{FlagClockNotSet, FlagFuture}},
		{"a power-on default was not set",
			dateClues{exif: exifFacts{original: "2016:01:01 00:02:10"}},
			SourceExif, "2016-01-01T00:02:10", utc("2015-12-31T23:02:10Z"), 60, false, []string{FlagClockNotSet}},
		{"a midnight of New Year that GPS confirms was set",
			dateClues{exif: exifFacts{original: "2016:01:01 00:02:10", gpsDate: "2015:12:31", gpsTime: gps(23, 2, 0), hasGPSTime: true}},
			SourceExifGPS, "2016-01-01T00:02:10", utc("2015-12-31T23:02:10Z"), 60, true, nil},
		{"02:30 on the night the clocks go forward never was",
			dateClues{exif: exifFacts{original: "2024:03:31 02:30:00"}},
			SourceExif, "2024-03-31T02:30:00", utc("2024-03-31T01:30:00Z"), 60, false, []string{FlagSkipped}},
		{"02:30 on the night the clocks go back was twice",
			dateClues{exif: exifFacts{original: "2024:10:27 02:30:00"}},
			SourceExif, "2024-10-27T02:30:00", utc("2024-10-27T00:30:00Z"), 120, false, []string{FlagRepeated}},
		{"an offset settles which of the two it was",
			dateClues{exif: exifFacts{original: "2024:10:27 02:30:00", originalOffset: "+01:00"}},
			SourceExifOffset, "2024-10-27T02:30:00", utc("2024-10-27T01:30:00Z"), 60, true, nil},
		{"a minute ago by a server that is behind is not the future",
			dateClues{exif: exifFacts{original: "2026:11:25 13:10:00"}},
			SourceExif, "2026-11-25T13:10:00", utc("2026-11-25T12:10:00Z"), 60, false, nil},
	} {
		t.Run(c.case_, func(t *testing.T) {
			var f Facts
			decideTaken(&f, c.clues, InspectOptions{Zone: berlin, Now: testNow})
			if f.TakenSource != c.source || f.TakenLocal != c.local || !f.TakenAt.Equal(c.at) || f.OffsetMinutes != c.offset || f.OffsetKnown != c.known {
				t.Errorf("got %s %q %v %d %v\nwant %s %q %v %d %v", f.TakenSource, f.TakenLocal, f.TakenAt, f.OffsetMinutes, f.OffsetKnown,
					c.source, c.local, c.at, c.offset, c.known)
			}
			if !slices.Equal(f.Flags, c.flags) && len(f.Flags)+len(c.flags) > 0 {
				t.Errorf("flags %v, want %v", f.Flags, c.flags)
			}
		})
	}
}

// Kind A: in a zone, the instant shows the wall clock again, except where the clocks jumped over it.
func TestAnInstantShowsTheWallClockItCameFrom(t *testing.T) {
	for _, name := range []string{"Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu", "Africa/Casablanca", "Pacific/Apia"} {
		zone := mustZone(t, name)
		skipped, repeated := 0, 0
		for at := time.Date(2024, 1, 1, 0, 7, 0, 0, time.UTC); at.Year() < 2025; at = at.Add(30 * time.Minute) {
			got, edge := InZone(at, zone)
			same := got.In(zone).Format(localLayout) == at.Format(localLayout)
			switch {
			case edge == FlagSkipped:
				skipped++
				if same {
					t.Errorf("%s: %v was said to be skipped but exists", name, at)
				}
			case !same:
				t.Errorf("%s: %v became %v", name, at, got.In(zone))
			case edge == FlagRepeated:
				repeated++
			}
		}
		if skipped != repeated {
			t.Errorf("%s: %d half-hours skipped, %d repeated", name, skipped, repeated)
		}
		if name == "Europe/Berlin" && skipped != 2 {
			t.Errorf("%s: %d half-hours skipped, want 2", name, skipped)
		}
	}
}

func TestNamesOfFilesCarryDatesInTheirUsualForms(t *testing.T) {
	const full, noon = "2024-05-06T07:08:09", "2024-05-06T12:00:00"
	for name, want := range map[string]string{
		"IMG_20240506_070809.jpg":                full,
		"20240506_070809.jpg":                    full,
		"20240506_070809(1).jpg":                 full,
		"PXL_20240506_070809123.jpg":             full,
		"PXL_20240506_070809123.MP.jpg":          full,
		"2024-05-06 07.08.09.jpg":                full,
		"Screenshot_2024-05-06-07-08-09.png":     full,
		"photo_2024-05-06_07-08-09.jpg":          full,
		"2024-05-06-070809.jpeg":                 full,
		"Image 2024-05-06 at 07.08.09.jpeg":      full,
		"a folder/20240506_070809.jpg":           full,
		"IMG-20240506-WA0001.jpg":                noon,
		"2024-05-06.jpg":                         noon,
		"IMG_20241306_070809.jpg":                "",
		"IMG_20240230_070809.jpg":                "",
		"120240506070809.jpg":                    "",
		"IMG20240506070809.jpg":                  full,
		"20240506070809.jpg":                     full,
		"20240506_070809(0).jpg":                 full,
		"20240506_070809_HDR.jpg":                full,
		"20240506_070809~2.jpg":                  full,
		"IMG_20240506_070809_123.jpg":            full,
		"message-2024-05-06-070809.jpg":          full,
		"message-2024-05-06-07-08-09-123.jpg":    full,
		"2024-05-06T07_08_09.jpg":                full,
		`C:\photos\20240506_070809.jpg`:          full,
		"Shot 2024-05-06 at 7.08.09 AM.png":      full,
		"Shot 2024-05-06 at 7.08.09\u202fPM.png": "2024-05-06T19:08:09",
		"Shot 2024-05-06 at 12.08.09 am.png":     "2024-05-06T00:08:09",
		"Shot 2024-05-06 at 19.08.09 PM.png":     "2024-05-06T19:08:09",
		"20240506_070809 Amber.jpg":              full,
		"20240506_256199.jpg":                    noon,
		"IMG_20240506.jpg":                       noon,
		"2024.05.06 (2).jpg":                     noon,
		"2024-0506.jpg":                          "",
		"1714979289000.jpg":                      "",
		"20241231T240000.jpg":                    "2024-12-31T12:00:00",
		"DSC_0042.jpg":                           "",
		"19991231235959999999.jpg":               "",
		"":                                       "",
	} {
		w, ok := parseName(name)
		got := ""
		if ok {
			got = w.local()
		}
		if got != want {
			t.Errorf("%q: %q, want %q", name, got, want)
		}
	}
}

func TestDatesOfFilesAreReadOrLeftAlone(t *testing.T) {
	for in, want := range map[string]string{
		"2024:05:06 07:08:09":       "2024-05-06T07:08:09",
		"2024:05:06 07:08:09.123":   "2024-05-06T07:08:09",
		"2024-05-06T07:08:09+02:00": "2024-05-06T07:08:09",
		"2024-05-06T07:08Z":         "2024-05-06T07:08:00",
		"2024:05:06 07:08:09 PM":    "2024-05-06T19:08:09",
		"2024:05:06 12:08:09 AM":    "2024-05-06T00:08:09",
		"2024:05:06":                "2024-05-06T12:00:00",
		"2024:02:29 00:00:00":       "2024-02-29T00:00:00",
		"2024:06:30 23:59:60":       "2024-06-30T23:59:59",
		"2023:02:29 00:00:00":       "",
		"2024:05:06 24:00:00":       "",
		"2024:05:06 07:08:  ":       "2024-05-06T07:08:00",
		"2024:05:06   :  :  ":       "2024-05-06T12:00:00",
		"2024:05:06  7:08:09":       "2024-05-06T07:08:09",
		"2024:05:06 07:08:09.999":   "2024-05-06T07:08:09",
		"2024-05-06T07:08:09-05":    "2024-05-06T07:08:09",
		"2024:05:  ":                "",
		"2024:05":                   "",
		"2024:05:06 23:60:00":       "",
		"1825:01:01 00:00:00":       "",
		"2024:00:06 07:08:09":       "",
		"0000:00:00 00:00:00":       "",
		"    :  :     :  :  ":       "",
		"2024:05:06 07:08:09 junk":  "",
		"2024:05:06 07:08:09+25:00": "",
		"2024":                      "",
		"":                          "",
	} {
		w, ok := parseDate(in)
		got := ""
		if ok {
			got = w.local()
		}
		if got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}
