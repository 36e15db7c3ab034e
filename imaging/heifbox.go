package imaging

import (
	"bytes"
	"encoding/binary"
)

// heifBox is one box of an ISO base media file (ISO/IEC 14496-12, section 4.2): where its body lies.
type heifBox struct {
	kind      string
	body, end int64 // end never lies beyond the enclosing box or the file
	cut       bool  // the box says that it goes on beyond
	open      bool  // the box says that it goes on to the end of what holds it, wherever that is
}

// nextBox reads the header of the box at c.at, of a container that ends at limit, and leaves c.at at its body; false
// where no box begins.
func (c *cursor) nextBox(limit int64) (b heifBox, ok bool) {
	limit = min(limit, c.size)
	start := c.at
	if start < 0 || limit-start < 8 {
		return b, false
	}
	h, _ := c.short(8)
	if len(h) < 8 {
		return b, false
	}
	size, header := uint64(binary.BigEndian.Uint32(h[:4])), uint64(8)
	b.kind = string(h[4:])
	switch size {
	case 0: // up to the end of what holds it
		size, b.open = uint64(limit-start), true
	case 1:
		if h, _ = c.short(8); len(h) < 8 {
			return b, false
		}
		size, header = binary.BigEndian.Uint64(h), 16
	}
	if b.kind == "uuid" {
		header += 16
	}
	if size < header {
		return b, false
	}
	b.body, b.end = start+int64(header), limit
	if room := uint64(limit - start); size > room {
		b.cut = true
		b.body = min(b.body, limit)
	} else {
		b.end = start + int64(size)
	}
	c.at = b.body
	return b, true
}

// short returns the next n bytes, few of them, out of the window.
func (c *cursor) short(n int) (b []byte, full bool) {
	for range n {
		v, ok := c.byte()
		if !ok {
			return b, false
		}
		b = append(b, v)
	}
	return b, true
}

// heifFields reads the fields of a box's body front to back. Reading beyond its end gives zeros and is remembered.
type heifFields struct {
	b     []byte
	short bool
}

// uint is a big-endian number of n bytes, 0 to 8.
func (f *heifFields) uint(n int) (v uint64) {
	if n > len(f.b) {
		f.b, f.short = nil, true
		return 0
	}
	for _, b := range f.b[:n] {
		v = v<<8 | uint64(b)
	}
	f.b = f.b[n:]
	return v
}

// kind is a four-character code.
func (f *heifFields) kind() string {
	if len(f.b) < 4 {
		f.b, f.short = nil, true
		return ""
	}
	s := string(f.b[:4])
	f.b = f.b[4:]
	return s
}

// text is a string that a NUL or the end of the box ends.
func (f *heifFields) text() string {
	s, rest, _ := bytes.Cut(f.b, []byte{0})
	f.b = rest
	return string(s)
}

// full is the version and the flags of a FullBox.
func (f *heifFields) full() (version int, flags uint32) {
	v := f.uint(4)
	return int(v >> 24), uint32(v & 0xffffff)
}
