package imaging

import (
	"bytes"
	"encoding/binary"
	"errors"
)

// walkWebP reads the chunks of a WebP file (RFC 9649). Every size it names is held against the ceilings, the canvas and
// each frame: a small canvas in front of a huge frame is an old trick.
func walkWebP(c *cursor) *container {
	out := &container{}
	h, _ := c.take(12)
	if len(h) < 12 {
		out.trouble = refuse(CodeTruncated, errors.New("the file ends in its header"))
		return out
	}
	end := int64(binary.LittleEndian.Uint32(h[4:])) + 8
	out.complete = end <= c.size
	end = min(end, c.size)
	pictures := 0
	size := func(w, hpx int) {
		pictures++
		if int64(w)*int64(hpx) > int64(out.widthPX)*int64(out.heightPX) || tooLargePX(w, hpx) != nil {
			out.widthPX, out.heightPX = w, hpx
		}
	}
	frame := false
	for n := 0; n <= maxSegments && c.at+8 <= end; n++ {
		h, full := c.take(8)
		if !full {
			break
		}
		kind, length := string(h[:4]), int64(binary.LittleEndian.Uint32(h[4:]))
		start := c.at
		switch kind {
		case "VP8X":
			if b, _ := c.take(min(length, 10)); len(b) == 10 {
				if b[0]&0x02 != 0 {
					out.trouble = refuse(CodeFormatUnsupported, nil, "format", "webp_animation")
				}
				size(1+int(b[4])+int(b[5])<<8+int(b[6])<<16, 1+int(b[7])+int(b[8])<<8+int(b[9])<<16)
			}
		case "VP8 ":
			if b, _ := c.take(min(length, 10)); len(b) == 10 && b[3] == 0x9d && b[4] == 0x01 && b[5] == 0x2a {
				size(int(binary.LittleEndian.Uint16(b[6:]))&0x3fff, int(binary.LittleEndian.Uint16(b[8:]))&0x3fff)
				frame = true
			}
		case "VP8L":
			if b, _ := c.take(min(length, 5)); len(b) == 5 && b[0] == 0x2f {
				v := binary.LittleEndian.Uint32(b[1:])
				size(1+int(v&0x3fff), 1+int(v>>14&0x3fff))
				frame = true
			}
		case "ICCP":
			if length <= maxICCBytes && out.icc == nil {
				out.icc, _ = c.take(length)
			}
		case "EXIF":
			if length <= maxEXIFBytes {
				b, _ := c.take(length)
				out.addEXIF(bytes.TrimPrefix(b, []byte("Exif\x00\x00")))
			}
		case "XMP ":
			if length <= maxXMPBytes && out.xmp == nil {
				out.xmp, _ = c.take(length)
			}
		}
		c.at = start
		if !c.skip(length + length&1) {
			break
		}
	}
	if out.trouble == nil {
		switch {
		case pictures == 0 || out.widthPX == 0 || out.heightPX == 0:
			out.trouble = refuse(CodeTruncated, errors.New("the file ends before its picture"))
		case !frame:
			out.trouble = refuse(CodeTruncated, errors.New("no picture"))
		}
	}
	return out
}
