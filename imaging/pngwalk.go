package imaging

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"io"
	"strings"
)

// walkPNG reads the chunks of a PNG (ISO/IEC 15948), stepping over the picture itself: eXIf may follow it.
func walkPNG(c *cursor) *container {
	out := &container{}
	c.skip(8)
	for n := 0; n <= maxSegments; n++ {
		h, full := c.take(8)
		if !full {
			break
		}
		length, kind := int64(binary.BigEndian.Uint32(h)), string(h[4:])
		if n == 0 {
			b, full := c.take(13)
			if kind != "IHDR" || length != 13 || !full {
				out.trouble = refuse(CodeDamaged, errors.New("the first chunk is not IHDR"))
				return out
			}
			w, hpx := binary.BigEndian.Uint32(b), binary.BigEndian.Uint32(b[4:])
			if w == 0 || hpx == 0 || w > 1<<31-1 || hpx > 1<<31-1 {
				out.trouble = refuse(CodeDamaged, errors.New("size out of range"))
				return out
			}
			out.widthPX, out.heightPX = int(w), int(hpx)
			c.skip(4)
			continue
		}
		start := c.at
		switch kind {
		case "IEND":
			out.complete = true
			return out
		case "eXIf":
			if length <= maxEXIFBytes {
				b, _ := c.take(length)
				out.addEXIF(bytes.TrimPrefix(b, []byte("Exif\x00\x00")))
			}
		case "iCCP":
			if length <= maxICCBytes && out.icc == nil {
				b, _ := c.take(length)
				if i := bytes.IndexByte(b, 0); i >= 0 && i+2 <= len(b) {
					out.icc = inflate(b[i+2:], maxICCBytes)
				}
			}
		case "iTXt", "zTXt", "tEXt":
			if key, _, ok := bytes.Cut(c.peek(min(length, 80)), []byte{0}); ok && length <= maxInflateText && out.wantsText(string(key)) {
				b, _ := c.take(length)
				out.pngText(kind, string(key), b[len(key)+1:])
			}
		}
		c.at = start
		if !c.skip(length + 4) {
			break
		}
	}
	if out.widthPX == 0 && out.trouble == nil {
		out.trouble = refuse(CodeTruncated, errors.New("the file ends in its header"))
	}
	return out
}

// wantsText reports whether a text chunk of this name is read: XMP, and the EXIF that some programs wrote as hex text
// before eXIf existed.
func (c *container) wantsText(name string) bool {
	switch name {
	case "XML:com.adobe.xmp":
		return c.xmp == nil
	case "Raw profile type exif", "Raw profile type APP1":
		return len(c.exif) < maxEXIFBlocks
	}
	return false
}

func (c *container) pngText(kind, name string, rest []byte) {
	switch kind {
	case "zTXt":
		if len(rest) < 1 {
			return
		}
		rest = inflate(rest[1:], maxInflateText)
	case "iTXt":
		if len(rest) < 2 {
			return
		}
		packed := rest[0] == 1
		_, rest, _ = bytes.Cut(rest[2:], []byte{0})
		_, rest, _ = bytes.Cut(rest, []byte{0})
		if packed {
			rest = inflate(rest, maxInflateText)
		}
	}
	if name == "XML:com.adobe.xmp" {
		if c.xmp == nil && len(rest) <= maxXMPBytes {
			c.xmp = rest
		}
		return
	}
	// "\nexif\n    1234\n4578...": a name, a length, then the bytes in hex.
	f := strings.Fields(string(rest))
	if len(f) < 3 {
		return
	}
	raw, _ := hex.DecodeString(strings.Join(f[2:], ""))
	if bytes.HasPrefix(raw, exifID) && len(raw) > 6 {
		c.addEXIF(raw[6:])
	}
}

// inflate unpacks at most limit bytes; what does not fit, or comes after damage, is dropped.
func inflate(b []byte, limit int64) []byte {
	z, err := zlib.NewReader(bytes.NewReader(b))
	if err != nil {
		return nil
	}
	defer z.Close()
	var out bytes.Buffer
	_, _ = io.Copy(&out, io.LimitReader(z, limit))
	return out.Bytes()
}
