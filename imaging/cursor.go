package imaging

import "io"

// cursor walks a file front to back through a small window, so that a walk over headers reads only headers: skipping
// is free. Positions are 64-bit and never pass the end.
type cursor struct {
	r      io.ReaderAt
	size   int64
	at     int64 // next byte
	window []byte
	start  int64 // of the window in the file
	err    error // a failure of the reader itself, never the end of the file
}

const cursorWindow = 4096

func newCursor(r io.ReaderAt, size int64) *cursor {
	return &cursor{r: r, size: size, window: make([]byte, 0, cursorWindow)}
}

// fill puts the byte at c.at into the window; false at the end of the file.
func (c *cursor) fill() bool {
	if c.at >= c.start && c.at < c.start+int64(len(c.window)) {
		return true
	}
	if c.at >= c.size || c.err != nil {
		return false
	}
	n := min(int64(cursorWindow), c.size-c.at)
	got, err := c.r.ReadAt(c.window[:n], c.at)
	c.window, c.start = c.window[:got], c.at
	if err != nil && err != io.EOF {
		c.err = err
	}
	return got > 0
}

func (c *cursor) byte() (byte, bool) {
	if !c.fill() {
		return 0, false
	}
	b := c.window[c.at-c.start]
	c.at++
	return b, true
}

func (c *cursor) u16be() (int, bool) {
	hi, _ := c.byte()
	lo, ok := c.byte()
	return int(hi)<<8 | int(lo), ok
}

// take returns the next n bytes, or as many as the file still has; full says whether all were there.
func (c *cursor) take(n int64) (b []byte, full bool) {
	n, want := min(max(n, 0), c.size-c.at), n
	b = make([]byte, n)
	got, err := c.r.ReadAt(b, c.at)
	if err != nil && err != io.EOF {
		c.err = err
	}
	c.at += int64(got)
	return b[:got], int64(got) == want
}

// skip moves n bytes on; false if the file ends before.
func (c *cursor) skip(n int64) bool {
	if n < 0 || n > c.size-c.at {
		c.at = c.size
		return false
	}
	c.at += n
	return true
}

// skipTo moves to the next byte v; false if there is none. The byte itself is next.
func (c *cursor) skipTo(v byte) bool {
	for {
		if !c.fill() {
			return false
		}
		for i, b := range c.window[c.at-c.start:] {
			if b == v {
				c.at += int64(i)
				return true
			}
		}
		c.at = c.start + int64(len(c.window))
	}
}

// peek returns up to n bytes without moving.
func (c *cursor) peek(n int64) []byte {
	at := c.at
	b, _ := c.take(n)
	c.at = at
	return b
}
