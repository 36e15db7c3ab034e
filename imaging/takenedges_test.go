package imaging

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"slices"
	"testing"
	"time"
)

// The nights of 2024 on which clocks change, of the IANA time zone database: kind E. Lord Howe's clocks go by half an hour.
func TestPhotosOfTheNightsOnWhichClocksChange(t *testing.T) {
	const london, newYork, lordHowe = "Europe/London", "America/New_York", "Australia/Lord_Howe"
	for _, c := range []struct {
		case_, zone, local string
		utc                string
		offset             int
		flag               string
	}{
		{"London, half an hour before clocks go forward", london, "2024-03-31T00:30:00", "2024-03-31T00:30:00", 0, ""},
		{"London, 01:30 that never was", london, "2024-03-31T01:30:00", "2024-03-31T01:30:00", 0, FlagSkipped},
		{"London, 02:30 on the night clocks go forward", london, "2024-03-31T02:30:00", "2024-03-31T01:30:00", 60, ""},
		{"London, 01:30 that was twice", london, "2024-10-27T01:30:00", "2024-10-27T00:30:00", 60, FlagRepeated},
		{"London, the last second before the hour that was twice", london, "2024-10-27T00:59:59", "2024-10-26T23:59:59", 60, ""},
		{"London, 02:30 on the night clocks go back", london, "2024-10-27T02:30:00", "2024-10-27T02:30:00", 0, ""},
		{"New York, 02:30 that never was", newYork, "2024-03-10T02:30:00", "2024-03-10T07:30:00", -300, FlagSkipped},
		{"New York, 03:00 is the first there is", newYork, "2024-03-10T03:00:00", "2024-03-10T07:00:00", -240, ""},
		{"New York, 01:30 that was twice", newYork, "2024-11-03T01:30:00", "2024-11-03T05:30:00", -240, FlagRepeated},
		{"New York, 02:30 on the night clocks go back", newYork, "2024-11-03T02:30:00", "2024-11-03T07:30:00", -300, ""},
		{"Lord Howe, 02:15 that never was", lordHowe, "2024-10-06T02:15:00", "2024-10-05T15:45:00", 630, FlagSkipped},
		{"Lord Howe, 02:30 is the first there is", lordHowe, "2024-10-06T02:30:00", "2024-10-05T15:30:00", 660, ""},
		{"Lord Howe, 01:45 that was twice", lordHowe, "2024-04-07T01:45:00", "2024-04-06T14:45:00", 660, FlagRepeated},
		{"Lord Howe, 01:15 was once", lordHowe, "2024-04-07T01:15:00", "2024-04-06T14:15:00", 660, ""},
		{"Lord Howe, 02:30 on the night clocks go back", lordHowe, "2024-04-07T02:30:00", "2024-04-06T16:00:00", 630, ""},
	} {
		t.Run(c.case_, func(t *testing.T) {
			local, err := time.Parse(localLayout, c.local)
			if err != nil {
				t.Fatal(err)
			}
			var f Facts
			decideTaken(&f, dateClues{exif: exifFacts{original: local.Format(exifLayout)}}, InspectOptions{Zone: mustZone(t, c.zone), Now: testNow})
			if got := f.TakenAt.Format(localLayout); got != c.utc || f.OffsetMinutes != c.offset || f.OffsetKnown || f.TakenLocal != c.local {
				t.Errorf("%s UTC, offset %d, local %s; want %s, %d", got, f.OffsetMinutes, f.TakenLocal, c.utc, c.offset)
			}
			want := []string{}
			if c.flag != "" {
				want = []string{c.flag}
			}
			if !slices.Equal(f.Flags, want) {
				t.Errorf("flags %v, want %v", f.Flags, want)
			}
			// A day alone has no hour that could be skipped.
			decideTaken(&f, dateClues{exif: exifFacts{original: local.Format("2006:01:02")}}, InspectOptions{Zone: mustZone(t, c.zone), Now: testNow})
			if !slices.Equal(f.Flags, []string{FlagTimeUnknown}) || f.TakenLocal[:10] != c.local[:10] {
				t.Errorf("the day alone: %s, flags %v", f.TakenLocal, f.Flags)
			}
		})
	}
}

func TestTheOffsetThatGPSGives(t *testing.T) {
	for _, c := range []struct {
		case_, local, gps string // gps: UTC
		offset            int
		ok                bool
	}{
		{"the same second", "2024:05:06 12:00:00", "2024:05:06 10:00:00", 120, true},
		{"two minutes late", "2024:05:06 12:02:00", "2024:05:06 10:00:00", 120, true},
		{"two minutes early", "2024:05:06 11:58:00", "2024:05:06 10:00:00", 120, true},
		{"a second more than two minutes late", "2024:05:06 12:02:01", "2024:05:06 10:00:00", 0, false},
		{"a second more than two minutes early", "2024:05:06 11:57:59", "2024:05:06 10:00:00", 0, false},
		{"five and three quarters of an hour", "2024:05:06 15:45:30", "2024:05:06 10:00:00", 345, true},
		{"three and a half hours behind", "2024:05:06 06:30:00", "2024:05:06 10:00:00", -210, true},
		{"UTC itself", "2024:05:06 10:00:59", "2024:05:06 10:00:00", 0, true},
		{"fourteen hours ahead, over midnight", "2024:05:07 00:00:00", "2024:05:06 10:00:00", 840, true},
		{"fourteen hours and a quarter ahead", "2024:05:07 00:15:00", "2024:05:06 10:00:00", 0, false},
		{"eleven hours behind, on the day before", "2024:05:05 23:00:00", "2024:05:06 10:00:00", -660, true},
		{"fourteen hours and a quarter behind", "2024:05:05 19:45:00", "2024:05:06 10:00:00", 0, false},
		{"midnight UTC between shutter and fix", "2024:05:06 02:00:30", "2024:05:05 23:59:50", 120, true},
		{"the turn of the year", "2024:12:31 19:00:10", "2025:01:01 00:00:05", -300, true},
		{"a leap day", "2024:03:01 00:30:00", "2024:02:29 23:30:00", 60, true},
		{"a day wrong", "2024:05:06 12:00:00", "2024:05:07 10:00:00", 0, false},
	} {
		t.Run(c.case_, func(t *testing.T) {
			at, err := time.Parse(exifLayout, c.gps)
			if err != nil {
				t.Fatal(err)
			}
			e := exifFacts{original: c.local, gpsDate: at.Format("2006:01:02"), gpsTime: at.Sub(at.Truncate(24 * time.Hour)), hasGPSTime: true}
			var f Facts
			decideTaken(&f, dateClues{exif: e}, InspectOptions{Zone: mustZone(t, "Asia/Tokyo"), Now: testNow})
			if !c.ok {
				if f.TakenSource != SourceExif || f.OffsetKnown || f.OffsetMinutes != 540 {
					t.Errorf("%s, offset %d: the salon's zone must decide", f.TakenSource, f.OffsetMinutes)
				}
				return
			}
			if f.TakenSource != SourceExifGPS || !f.OffsetKnown || f.OffsetMinutes != c.offset || f.TakenAt.Sub(at).Abs() > 2*time.Minute {
				t.Errorf("%s, offset %d, %v; want %d", f.TakenSource, f.OffsetMinutes, f.TakenAt, c.offset)
			}
		})
	}
	// GPS without its date, or with a time no clock shows, says nothing.
	for name, e := range map[string]exifFacts{
		"no date":     {original: testDate, gpsTime: 5 * time.Hour, hasGPSTime: true},
		"no time":     {original: testDate, gpsDate: "2024:05:06"},
		"a day alone": {original: "2024:05:06", gpsDate: "2024:05:06", gpsTime: 12 * time.Hour, hasGPSTime: true},
	} {
		var f Facts
		if decideTaken(&f, dateClues{exif: e}, InspectOptions{Now: testNow}); f.TakenSource != SourceExif {
			t.Errorf("%s: %s", name, f.TakenSource)
		}
	}
}

func TestAGPSTimeThatNoClockShowsIsNone(t *testing.T) {
	be := binary.BigEndian
	for _, c := range []struct {
		h, m, s uint32
		ok      bool
	}{{0, 0, 0, true}, {23, 59, 60, true}, {24, 0, 0, false}, {1, 60, 0, false}, {1, 1, 61, false}} {
		b := rawEXIF(be, [][]rawTag{
			{ascii(0x0110, "m"), {id: 0x8825, typ: 4, count: 1, at: dirAt(2)}},
			{{id: 7, typ: 5, count: 3, value: rationals(be, c.h, 1, c.m, 1, c.s, 1)}, ascii(0x1d, "2024:05:06")},
		})
		if f, err := readEXIF(b); err != nil || f.hasGPSTime != c.ok {
			t.Errorf("%d:%d:%d: %v, %v", c.h, c.m, c.s, f.hasGPSTime, err)
		}
	}
}

// Exif 2.32, section 4.6.5: OffsetTime belongs to DateTime, each of the others to its own date.
func TestAnOffsetCountsForItsOwnDateOnly(t *testing.T) {
	tokyo := mustZone(t, "Asia/Tokyo")
	for _, c := range []struct {
		case_  string
		exif   exifFacts
		source string
		offset int
		known  bool
	}{
		{"OffsetTime alone says nothing of DateTimeOriginal", exifFacts{original: testDate, modified: testDate, modifOff: "+02:00"}, SourceExif, 540, false},
		{"OffsetTimeDigitized says nothing of DateTimeOriginal", exifFacts{original: testDate, digitized: testDate, digitizedOffset: "+02:00"}, SourceExif, 540, false},
		{"OffsetTimeOriginal says nothing of DateTimeDigitized", exifFacts{digitized: testDate, originalOffset: "+02:00"}, SourceExifDigitized, 540, false},
		{"all three: the original's counts", exifFacts{original: testDate, originalOffset: "-05:00", digitizedOffset: "+02:00", modifOff: "+01:00"}, SourceExifOffset, -300, true},
		{"an offset within the date", exifFacts{original: testDate + "+02:00"}, SourceExifOffset, 120, true},
		{"the digitized date's own offset", exifFacts{digitized: testDate, digitizedOffset: "+02:00"}, SourceExifDigitized, 120, true},
		{"Z is UTC", exifFacts{original: testDate, originalOffset: "Z"}, SourceExifOffset, 0, true},
		{"an offset without a colon", exifFacts{original: testDate, originalOffset: "+0530"}, SourceExifOffset, 330, true},
		{"an offset of hours alone", exifFacts{original: testDate, originalOffset: "+02"}, SourceExifOffset, 120, true},
		{"an offset of 15 hours is none", exifFacts{original: testDate, originalOffset: "+15:00"}, SourceExif, 540, false},
	} {
		t.Run(c.case_, func(t *testing.T) {
			var f Facts
			decideTaken(&f, dateClues{exif: c.exif}, InspectOptions{Zone: tokyo, Now: testNow})
			if f.TakenSource != c.source || f.OffsetMinutes != c.offset || f.OffsetKnown != c.known || f.TakenLocal != "2024-05-06T07:08:09" {
				t.Errorf("%s, %d (%v), %s; want %s, %d (%v)", f.TakenSource, f.OffsetMinutes, f.OffsetKnown, f.TakenLocal, c.source, c.offset, c.known)
			}
			// Raw strings are kept whether they count or not.
			if c.exif.modifOff != "" && f.RawDates["OffsetTime"] != c.exif.modifOff {
				t.Errorf("raw dates %v", f.RawDates)
			}
		})
	}
}

func TestAClockThatWasNeverSetIsDoubtedAndItsDateKept(t *testing.T) {
	for date, doubted := range map[string]bool{
		"1970:01:01 00:00:00": true, "1980:01:01 00:00:00": true, "1994:12:31 23:59:59": true, "1995:01:02 00:00:00": false,
		"1999:11:30 00:00:00": true, "1999:11:30 00:00:01": false, "2002:12:08 12:00:00": true, "2002:12:08 12:00:01": false,
		"2000:01:01 17:45:00": true, "2010:01:01 00:59:59": true, "2010:01:01 01:00:00": false, "2010:01:01 12:00:30": true,
		"2010:01:01 12:01:00": false, "2020:01:01": false, testDate: false, "2026:11:25 13:00:00": false, "2026:11:25 13:00:01": true,
	} {
		var f Facts
		decideTaken(&f, dateClues{exif: exifFacts{original: date}}, InspectOptions{Now: testNow})
		if got := slices.Contains(f.Flags, FlagClockNotSet); got != doubted || f.TakenSource != SourceExif {
			t.Errorf("%s: flags %v, source %s", date, f.Flags, f.TakenSource)
		}
	}
}

// Photos whose date stands in XMP or IPTC alone, whole files through Inspect.
func TestPhotosWithoutEXIFAreDatedByTheirNotes(t *testing.T) {
	xmp := func(body string) string {
		return `<?xpacket begin="` + "\ufeff" + `" id="W5M0MpCehiHzreSzNTczkc9d"?><x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">` +
			body + `</rdf:RDF></x:xmpmeta><?xpacket end="w"?>`
	}
	asJPEG := func(xmp string) []byte {
		return insert(encodeTestJPEG(t, testPicture(40, 30)), segment(0xe1, "http://ns.adobe.com/xap/1.0/\x00"+xmp))
	}
	asPNG := func(xmp string) []byte {
		b := pngWithEXIF(t, testPicture(40, 30), EXIFFields{})
		return slices.Concat(b[:33], pngChunk("iTXt", []byte("XML:com.adobe.xmp\x00\x00\x00\x00\x00"+xmp)), b[33:])
	}
	asIPTC := func(sets ...string) []byte {
		iim := ""
		for i := 0; i+1 < len(sets); i += 2 {
			iim += "\x1c\x02" + sets[i] + string(binary.BigEndian.AppendUint16(nil, uint16(len(sets[i+1])))) + sets[i+1]
		}
		if len(iim)%2 == 1 {
			iim += "\x00"
		}
		return insert(encodeTestJPEG(t, testPicture(40, 30)), segment(0xed, "Photoshop 3.0\x008BIM\x04\x25\x00\x00\x00\x00\x00\x028B8BIM\x04\x04\x00\x00"+
			string(binary.BigEndian.AppendUint32(nil, uint32(len(iim))))+iim))
	}
	attribute := xmp(`<rdf:Description xmlns:exif="http://ns.adobe.com/exif/1.0/" exif:DateTimeOriginal="2024-05-06T07:08:09.25+02:00"/>`)
	for _, c := range []struct {
		case_  string
		file   []byte
		source string
		local  string
		offset string
		flags  []string
	}{
		{"a JPEG, the date an attribute", asJPEG(attribute), SourceXMP, "2024-05-06T07:08:09", "+02:00", nil},
		{"a PNG, likewise", asPNG(attribute), SourceXMP, "2024-05-06T07:08:09", "+02:00", nil},
		{"the date an element, without an offset", asJPEG(xmp(`<rdf:Description><exif:DateTimeOriginal> 2024-05-06T07:08:09 </exif:DateTimeOriginal></rdf:Description>`)),
			SourceXMP, "2024-05-06T07:08:09", "", nil},
		{"a prefix of the writer's own", asJPEG(xmp(`<rdf:Description n1:DateTimeOriginal="2024-05-06T07:08:09Z" xmlns:n1="http://ns.adobe.com/exif/1.0/"/>`)),
			SourceXMP, "2024-05-06T07:08:09", "+00:00", nil},
		{"a prefix of nobody's", asJPEG(xmp(`<rdf:Description n1:DateTimeOriginal="2024-05-06T07:08:09Z"/>`)), SourceNone, "", "", nil},
		{"the best of several", asJPEG(xmp(`<rdf:Description xmp:CreateDate="2023-01-02T03:04:05" xmp:ModifyDate="2025-01-01" photoshop:DateCreated="2024-05-06T07:08:09"/>`)),
			SourceXMP, "2024-05-06T07:08:09", "", nil},
		{"a bad one does not hide a good one", asJPEG(xmp(`<rdf:Description exif:DateTimeOriginal="0000-00-00T00:00:00" photoshop:DateCreated="2024-05-06"/>`)),
			SourceXMP, "2024-05-06T12:00:00", "", []string{FlagTimeUnknown}},
		{"the making of the file is doubted", asJPEG(xmp(`<rdf:Description xap:CreateDate="2024-05-06T07:08"/>`)),
			SourceXMP, "2024-05-06T07:08:00", "", []string{FlagLowConfidence}},
		{"the change of the file is no date of the photo", asJPEG(xmp(`<rdf:Description xmp:ModifyDate="2024-05-06T07:08:09"/>`)), SourceNone, "", "", nil},
		{"a month is no day", asJPEG(xmp(`<rdf:Description photoshop:DateCreated="2024-05"/>`)), SourceNone, "", "", nil},
		{"IPTC, day and time with offset", asIPTC("\x37", "20240506", "\x3c", "070809-0330"), SourceIPTC, "2024-05-06T07:08:09", "-03:30", nil},
		{"IPTC, time without offset", asIPTC("\x37", "20240506", "\x3c", "070809"), SourceIPTC, "2024-05-06T07:08:09", "", nil},
		{"IPTC, the day alone", asIPTC("\x37", "20240506"), SourceIPTC, "2024-05-06T12:00:00", "", []string{FlagTimeUnknown}},
		{"IPTC, a clock of blanks does not cost the day", asIPTC("\x37", "20240506", "\x3c", "      +0000"), SourceIPTC, "2024-05-06T12:00:00", "", []string{FlagTimeUnknown}},
		{"IPTC, an offset of blanks does not cost the time", asIPTC("\x37", "20240506", "\x3c", "070809     "), SourceIPTC, "2024-05-06T07:08:09", "", nil},
		{"IPTC, a time without its day", asIPTC("\x3c", "070809+0000"), SourceNone, "", "", nil},
		{"IPTC, a year whose day is not known", asIPTC("\x37", "20240000"), SourceNone, "", "", nil},
	} {
		t.Run(c.case_, func(t *testing.T) {
			f, err := Inspect(bytes.NewReader(c.file), int64(len(c.file)), "", InspectOptions{Now: testNow})
			if err != nil {
				t.Fatal(err)
			}
			offset := ""
			if f.OffsetKnown {
				offset = fmt.Sprintf("%+03d:%02d", f.OffsetMinutes/60, max(f.OffsetMinutes, -f.OffsetMinutes)%60)
			}
			if f.TakenSource != c.source || f.TakenLocal != c.local || offset != c.offset || !slices.Equal(f.Flags, append([]string{}, c.flags...)) {
				t.Errorf("%s %s %q %v; want %s %s %q %v", f.TakenSource, f.TakenLocal, offset, f.Flags, c.source, c.local, c.offset, c.flags)
			}
		})
	}
}
