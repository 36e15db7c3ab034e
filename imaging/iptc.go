package imaging

import "encoding/binary"

// iptcDate reads the creation date (IIM 4.2, data sets 2:55 and 2:60) from the image resources of an APP13 segment
// (resource 0x0404), written as parseDate reads it: "2017-05-29 17:19:21-0400", or the day alone.
func iptcDate(resources []byte) string {
	b := resources
	for len(b) >= 12 && string(b[:4]) == "8BIM" {
		id := binary.BigEndian.Uint16(b[4:])
		name := (int(b[6]) + 2) &^ 1 // the length byte and the name, padded to even
		at := 6 + name
		if at+4 > len(b) {
			return ""
		}
		size := int64(binary.BigEndian.Uint32(b[at:]))
		at += 4
		end := int64(at) + size
		if end > int64(len(b)) {
			end = int64(len(b))
		}
		if id == 0x0404 {
			return iimDate(b[at:end])
		}
		end += size & 1
		if end > int64(len(b)) {
			return ""
		}
		b = b[end:]
	}
	return ""
}

func iimDate(b []byte) string {
	var day, clock string
	for len(b) >= 5 && b[0] == 0x1c {
		n := int(binary.BigEndian.Uint16(b[3:]))
		if n > 0x7fff || 5+n > len(b) {
			break
		}
		if v := plainText(b[5 : 5+n]); b[1] == 2 && b[2] == 55 && day == "" {
			day = v
		} else if b[1] == 2 && b[2] == 60 && clock == "" {
			clock = v
		}
		b = b[5+n:]
	}
	if len(day) != 8 {
		return ""
	}
	s := day[:4] + "-" + day[4:6] + "-" + day[6:]
	if len(clock) < 6 {
		return s
	}
	at := s + " " + clock[:2] + ":" + clock[2:4] + ":" + clock[4:6]
	// A clock of blanks, or an offset of them, must not cost the day.
	for _, best := range []string{at + clock[6:], at} {
		if _, ok := parseDate(best); ok && len(best) <= len("2006-01-02 15:04:05-0700") {
			return best
		}
	}
	return s
}
