package imaging

import (
	"encoding/binary"
	"io"
)

const (
	bitBuffer = 64 << 10
	// A block has at most 64 symbols of 31 bits, each byte of which may be stuffed; markers and the look-ahead of a
	// refill come on top.
	blockBytes = 1 << 10
)

// bitReader reads segments and then entropy-coded bits (T.81, F.2.2.5) from a window over the file. n bits are left in
// acc, from its top; below them may stand a copy of what comes next. pad of the n are zeros put in after the data ended
// at a marker or at the end of the file: a sound scan never uses them.
type bitReader struct {
	r        io.Reader
	buf      []byte
	pos, end int
	eof      bool

	acc uint64
	n   uint
	pad uint
}

// more moves what is left to the front of the window and fills it up.
func (b *bitReader) more() {
	b.end = copy(b.buf, b.buf[b.pos:b.end])
	b.pos = 0
	for b.end < len(b.buf) && !b.eof {
		n, err := b.r.Read(b.buf[b.end:])
		b.end += n
		if err != nil {
			b.eof = true
		}
	}
}

func (b *bitReader) byte() (byte, error) {
	if b.pos == b.end {
		if b.more(); b.pos == b.end {
			return 0, errOtherJPEG
		}
	}
	b.pos++
	return b.buf[b.pos-1], nil
}

func (b *bitReader) u16() (int, error) {
	hi, _ := b.byte()
	lo, err := b.byte()
	return int(hi)<<8 | int(lo), err
}

// take returns the next n bytes, n < 65536, valid until the next call.
func (b *bitReader) take(n int) ([]byte, error) {
	if b.end-b.pos < n {
		if b.more(); b.end-b.pos < n {
			return nil, errOtherJPEG
		}
	}
	b.pos += n
	return b.buf[b.pos-n : b.pos], nil
}

func (b *bitReader) discard(n int) error {
	_, err := b.take(n)
	return err
}

// marker returns the next marker's second byte.
func (b *bitReader) marker() (byte, error) {
	if x, err := b.byte(); err != nil || x != 0xff {
		return 0, errOtherJPEG
	}
	for {
		if x, err := b.byte(); err != nil || x != 0xff {
			return x, err
		}
	}
}

// restart drops what is left of the interval and reads the marker between two (T.81, F.2.2.5, E.2.4).
func (b *bitReader) restart(expect byte) error {
	// A refill stops before a marker, so only the bits that fill up the interval's last byte may be left.
	if b.n-b.pad >= 8 {
		return errOtherJPEG
	}
	b.acc, b.n, b.pad = 0, 0, 0
	if m, err := b.marker(); err != nil || m != expect {
		return errOtherJPEG
	}
	return nil
}

// ended reports whether no segment comes between here and the end of the picture or of the file. Other bytes are stepped
// over, as the usual decoders do.
func (b *bitReader) ended() bool {
	var last byte
	for {
		x, err := b.byte()
		switch {
		case err != nil || last == 0xff && x == 0xd9:
			return true
		case last == 0xff && x > 0x01 && x != 0xff && (x < 0xd0 || x > 0xd7):
			return false
		}
		last = x
	}
}

// refill brings n to at least 56. The bytes of one block are in the window, or the file has no more.
func refill(buf []byte, pos int, acc uint64, n, pad uint) (int, uint64, uint, uint) {
	if pos+8 <= len(buf) {
		w := binary.BigEndian.Uint64(buf[pos:])
		if (^w-0x0101010101010101)&w&0x8080808080808080 == 0 { // no byte is 0xff
			acc |= w >> n
			return pos + int((63-n)>>3), acc, n | 56, pad
		}
	}
	// Below n only what was counted may stand now: padding must be zeros.
	if n == 0 {
		acc = 0
	} else {
		acc &= ^uint64(0) << (64 - n)
	}
	for n <= 56 {
		var x byte
		switch {
		case pos >= len(buf):
			pad += 8
		case buf[pos] != 0xff:
			x = buf[pos]
			pos++
		case pos+1 < len(buf) && buf[pos+1] == 0:
			x = 0xff
			pos += 2
		default: // a marker, which stays where it is
			pad += 8
		}
		acc |= uint64(x) << (56 - n)
		n += 8
	}
	return pos, acc, n, pad
}

// block decodes the symbols of one block (T.81, F.2.2). The coefficients up to zigzag position last that belong to the
// square of last's transform are dequantised into out, by rows of four; out nil keeps nothing. flat says that only the
// first is not zero.
func (b *bitReader) block(c *jpegComponent, out *[32]int32, last int) (flat bool, err error) {
	if b.end-b.pos < blockBytes && !b.eof {
		b.more()
	}
	buf, pos, acc, n, pad := b.buf[:b.end], b.pos, b.acc, b.n, b.pad

	if n < 32 {
		pos, acc, n, pad = refill(buf, pos, acc, n, pad)
	}
	size, length := c.dc.symbol(acc)
	if length == 0 || size > 15 {
		return false, errOtherJPEG
	}
	acc <<= length
	n -= length
	if size > 0 {
		diff := extend(acc, uint(size))
		acc <<= size
		n -= uint(size)
		c.pred += diff
	}
	flat = true
	k := 1
	ac := c.ac
	if out != nil {
		*out = [32]int32{}
		out[0] = c.pred * c.dequan[0]
		place := &placeOf4
		for k <= last {
			if n < 32 {
				pos, acc, n, pad = refill(buf, pos, acc, n, pad)
			}
			e := ac.quick[acc>>(64-quickBits)]
			if e != 0 {
				k += int(e >> 8 & 63)
				used := uint(e & 63)
				acc <<= used
				n -= used
				if k > 63 {
					goto done // the end of the block, or a run over it
				}
				if v := int32(e) >> 16; v != 0 {
					out[place[k&63]&31] = v * c.dequan[k&63]
					if k <= last {
						flat = false
					}
				}
				k++
				continue
			}
			rs, length := ac.symbol(acc)
			if length == 0 {
				return false, errOtherJPEG
			}
			acc <<= length
			n -= length
			run, size := int(rs>>4), uint(rs&15)
			if size == 0 {
				if run != 15 {
					goto done
				}
				k += 16
				continue
			}
			v := extend(acc, size)
			acc <<= size
			n -= size
			if k += run; k > 63 {
				goto done
			}
			out[place[k&63]&31] = v * c.dequan[k&63]
			if k <= last {
				flat = false
			}
			k++
		}
	}
	// What is left matters to nobody but must be walked over.
	for k <= 63 {
		if n < 32 {
			pos, acc, n, pad = refill(buf, pos, acc, n, pad)
		}
		e := ac.quick[acc>>(64-quickBits)]
		if e == 0 {
			rs, length := ac.symbol(acc)
			if length == 0 {
				return false, errOtherJPEG
			}
			run, size := int(rs>>4), uint(rs&15)
			if size == 0 && run != 15 {
				acc <<= length
				n -= length
				break
			}
			used := length + size
			acc <<= used
			n -= used
			k += run + 1
			continue
		}
		used := uint(e & 63)
		acc <<= used
		n -= used
		k += int(e>>8&63) + 1
	}
done:
	if n < pad {
		return false, errOtherJPEG // the data ended inside the block
	}
	b.pos, b.acc, b.n, b.pad = pos, acc, n, pad
	return flat, nil
}

// extend is the signed value of the next size bits, size 1 to 15 (T.81, F.2.2.1, EXTEND).
func extend(acc uint64, size uint) int32 {
	v := int32(acc >> (64 - size))
	if v < 1<<(size-1) {
		v += -1<<size + 1
	}
	return v
}
