package imaging

import "io"

// scans counts the scans of a JPEG, at most one more than are allowed. A scan costs the decoder a walk over the whole
// picture, however few bytes it has, so a small file of many scans is an attack. complete says whether the end marker
// was met.
func scans(r io.ReaderAt, size int64) (n int, complete bool) {
	c := newCursor(r, size)
	c.skip(2)
	for c.skipTo(0xff) {
		c.skip(1)
		m, ok := c.byte()
		if !ok {
			break
		}
		switch {
		case m == 0xff:
			c.at--
		case m == 0 || m == 0x01 || m >= 0xd0 && m <= 0xd8:
		case m == 0xd9:
			return n, true
		default:
			if m == 0xda {
				if n++; n > maxJPEGScans {
					return n, false
				}
			}
			if length, ok := c.u16be(); ok && length >= 2 {
				c.skip(int64(length - 2))
			}
		}
	}
	return n, false
}
