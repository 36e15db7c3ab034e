package imaging

import (
	"bytes"
	"encoding/xml"
)

// The properties that carry the moment of capture, best first (XMP part 2, sections 2 and 3; Exif in XMP, CIPA DC-010).
// xmp:CreateDate is the making of the file: for a camera the same, for an editor not. exif:DateTimeDigitized is what older
// writers have in its place.
var xmpDates = []xml.Name{
	{Space: "http://ns.adobe.com/exif/1.0/", Local: "DateTimeOriginal"},
	{Space: "http://ns.adobe.com/photoshop/1.0/", Local: "DateCreated"},
	{Space: "http://ns.adobe.com/exif/1.0/", Local: "DateTimeDigitized"},
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
	spaces := xmpSpaces{"exif": xmpDates[0].Space, "photoshop": xmpDates[1].Space, "xmp": xmpDates[3].Space, "xap": xmpDates[3].Space}
	var in xml.Name
	for range maxXMLTokens {
		t, err := d.RawToken()
		if err != nil {
			break
		}
		switch t := t.(type) {
		case xml.StartElement:
			for _, a := range t.Attr {
				spaces.declare(a)
			}
			in = spaces.resolve(t.Name)
			for _, a := range t.Attr {
				take(spaces.resolve(a.Name), a.Value)
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

// xmpSpaces are the name spaces of xmpDates by their prefixes: the usual ones, which writers keep to, and what a packet
// declares. Where a declaration ends is not followed: that would need the reader to hold every open element of a hostile
// packet, and no writer gives one of these prefixes two meanings.
type xmpSpaces map[string]string

const maxXMPPrefixes = 16

func (x xmpSpaces) declare(a xml.Attr) {
	if a.Name.Space != "xmlns" || len(x) >= maxXMPPrefixes {
		return
	}
	for _, known := range xmpDates {
		if a.Value == known.Space {
			x[a.Name.Local] = known.Space
		}
	}
}

func (x xmpSpaces) resolve(n xml.Name) xml.Name { return xml.Name{Space: x[n.Space], Local: n.Local} }
