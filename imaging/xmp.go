package imaging

import (
	"bytes"
	"encoding/xml"
)

// The properties that carry the moment of capture, best first (XMP part 2, sections 2 and 3; Exif in XMP, CIPA DC-010).
// xmp:CreateDate is the making of the file: for a camera the same, for an editor not.
var xmpDates = []xml.Name{
	{Space: "http://ns.adobe.com/exif/1.0/", Local: "DateTimeOriginal"},
	{Space: "http://ns.adobe.com/photoshop/1.0/", Local: "DateCreated"},
	{Space: "http://ns.adobe.com/xap/1.0/", Local: "CreateDate"},
}

const maxXMLTokens = 20_000

// xmpDate finds the best capture date of an XMP packet; name is its property.
func xmpDate(packet []byte) (text, name string) {
	if len(packet) == 0 || len(packet) > maxXMPBytes {
		return "", ""
	}
	best := len(xmpDates)
	take := func(n xml.Name, v string) {
		for i := 0; i < best; i++ {
			if xmpDates[i] == n {
				if _, ok := parseDate(v); ok {
					best, text, name = i, plainText([]byte(v)), n.Local
				}
			}
		}
	}
	d := xml.NewDecoder(bytes.NewReader(packet))
	d.Strict = false
	var in xml.Name
	for range maxXMLTokens {
		t, err := d.RawToken()
		if err != nil {
			break
		}
		switch t := t.(type) {
		case xml.StartElement:
			in = xmpName(t.Name)
			for _, a := range t.Attr {
				take(xmpName(a.Name), a.Value)
			}
		case xml.EndElement:
			in = xml.Name{}
		case xml.CharData:
			if in.Local != "" && len(t) <= 64 {
				take(in, string(t))
			}
		}
		if best == 0 {
			break
		}
	}
	return text, name
}

// xmpName resolves the usual prefix: writers of XMP keep to the prefixes of its specification, and resolving name
// spaces would need the reader to hold every open element of a hostile packet.
func xmpName(n xml.Name) xml.Name {
	switch n.Space {
	case "exif":
		n.Space = xmpDates[0].Space
	case "photoshop":
		n.Space = xmpDates[1].Space
	case "xmp", "xap":
		n.Space = xmpDates[2].Space
	}
	return n
}
