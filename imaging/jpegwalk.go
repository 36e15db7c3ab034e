package imaging

import (
	"bytes"
	"errors"
)

var (
	exifID = []byte("Exif\x00")
	xmpID  = []byte("http://ns.adobe.com/xap/1.0/\x00")
	iccID  = []byte("ICC_PROFILE\x00")
	irbID  = []byte("Photoshop 3.0\x00")
)

// walkJPEG reads the marker segments up to the first scan (ISO/IEC 10918-1, annex B). A segment is skipped by its
// length, so markers inside a segment are never mistaken for segments; bytes between segments are stepped over, as
// the usual decoders do.
func walkJPEG(c *cursor) *container {
	out := &container{}
	var icc iccChunks
	c.skip(2)
	for n := 0; ; n++ {
		if n > maxSegments {
			out.trouble = refuse(CodeDamaged, errors.New("too many segments"))
			return out
		}
		if !c.skipTo(0xff) {
			break
		}
		m := byte(0xff)
		for m == 0xff {
			b, ok := c.byte()
			if !ok {
				m = 0
				break
			}
			m = b
		}
		switch {
		case m == 0 || m == 0x01 || m == 0xd8 || m >= 0xd0 && m <= 0xd7:
			continue
		case m == 0xd9:
			out.icc = icc.join()
			if out.widthPX == 0 {
				out.trouble = refuse(CodeDamaged, errors.New("no picture before the end"))
			} else {
				out.trouble = refuse(CodeTruncated, errors.New("end before the first scan"))
			}
			return out
		}
		length, ok := c.u16be()
		if !ok || length < 2 {
			continue
		}
		body := int64(length - 2)
		switch {
		case m == 0xda:
			out.icc = icc.join()
			if out.widthPX == 0 || out.heightPX == 0 {
				out.trouble = refuse(CodeDamaged, errors.New("a scan before the frame header"))
			}
			return out
		case m >= 0xc0 && m <= 0xcf && m != 0xc4 && m != 0xc8 && m != 0xcc:
			b, full := c.take(body)
			if !full || len(b) < 6 {
				continue
			}
			out.heightPX, out.widthPX = int(b[1])<<8|int(b[2]), int(b[3])<<8|int(b[4])
			out.progressive = m == 0xc2
			if m > 0xc2 || b[0] != 8 {
				out.trouble = refuse(CodeFormatUnsupported, nil, "format", "jpeg_rare")
				out.icc = icc.join()
				return out
			}
		case m == 0xe1 || m == 0xe2 || m == 0xed:
			start, name := c.at, c.peek(min(body, 40))
			switch {
			case m == 0xe1 && bytes.HasPrefix(name, exifID) && len(out.exif) < maxEXIFBlocks:
				if b, _ := c.take(body); len(b) > 6 {
					out.addEXIF(b[6:])
				}
			case m == 0xe1 && bytes.HasPrefix(name, xmpID) && out.xmp == nil:
				b, _ := c.take(body)
				out.xmp = b[len(xmpID):]
			case m == 0xe2 && bytes.HasPrefix(name, iccID) && len(name) > len(iccID)+2 && icc.room(body):
				b, _ := c.take(body)
				icc.add(b[len(iccID)], b[len(iccID)+2:])
			case m == 0xed && bytes.HasPrefix(name, irbID) && int64(len(out.iptc))+body <= maxIPTCBytes:
				b, _ := c.take(body)
				out.iptc = append(out.iptc, b[len(irbID):]...)
			}
			c.at = start
			c.skip(body)
		default:
			c.skip(body)
		}
	}
	out.icc = icc.join()
	out.trouble = refuse(CodeTruncated, errors.New("the file ends before the first scan"))
	return out
}

// iccChunks gathers a profile cut into numbered segments (ICC.1:2010, annex B.4).
type iccChunks struct {
	parts map[byte][]byte
	bytes int64
}

func (i *iccChunks) room(n int64) bool { return i.bytes+n <= maxICCBytes }

func (i *iccChunks) add(seq byte, b []byte) {
	if i.parts == nil {
		i.parts = map[byte][]byte{}
	}
	if _, seen := i.parts[seq]; seen || seq == 0 {
		return
	}
	i.parts[seq] = b
	i.bytes += int64(len(b))
}

// join is the profile, or what of it came in order.
func (i *iccChunks) join() []byte {
	var out []byte
	for seq := 1; seq <= len(i.parts); seq++ {
		b, ok := i.parts[byte(seq)]
		if !ok {
			break
		}
		out = append(out, b...)
	}
	return out
}
