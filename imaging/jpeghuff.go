package imaging

// quickBits is how many bits the table of whole symbols looks at.
const quickBits = 10

// huffTable decodes one Huffman code (T.81, C.2, F.2.2.3).
type huffTable struct {
	// quick tells for the next ten bits, of a table for AC coefficients, what a symbol and the bits of its value come
	// to: bits 0–5 how many bits they are, 8–13 the run of zeros before the coefficient (63: the block ends), 16–31 the
	// coefficient, signed. 0: more bits are needed.
	quick [1 << quickBits]uint32
	// short tells for the next ten bits the symbol (8–15) and its length (0–7). 0: the code is longer.
	short  [1 << quickBits]uint16
	values [256]byte
	// past[l] is the first code, left-aligned in 16 bits, that is longer than l; from[l] is where its codes begin in
	// values, less the first code.
	past [18]uint32
	from [17]int32
}

// newHuffTable is the table of a DHT segment; nil where the lengths are no code.
func newHuffTable(lengths [16]byte, values []byte, ac bool) *huffTable {
	t := &huffTable{}
	copy(t.values[:], values)
	code, index := uint32(0), int32(0)
	for l := uint(1); l <= 16; l++ {
		n := uint32(lengths[l-1])
		t.from[l] = index - int32(code)
		if code+n > 1<<l {
			return nil
		}
		for range n {
			if l <= quickBits {
				first := code << (quickBits - l)
				for i := range uint32(1) << (quickBits - l) {
					t.short[first+i] = uint16(t.values[index])<<8 | uint16(l)
				}
			}
			code++
			index++
		}
		t.past[l] = code << (16 - l)
		code <<= 1
	}
	t.past[17] = 1 << 16
	if !ac {
		return t
	}
	for bits := range t.quick {
		s := t.short[bits]
		if s == 0 {
			continue
		}
		length, run, size := uint(s&255), uint32(s>>12), uint(s>>8&15)
		switch {
		case size == 0 && run != 15:
			t.quick[bits] = uint32(length) | 63<<8
		case size == 0:
			t.quick[bits] = uint32(length) | 15<<8
		case length+size <= quickBits:
			v := extend(uint64(bits)<<(64-quickBits+length), size)
			t.quick[bits] = uint32(length+size) | run<<8 | uint32(v)<<16
		}
	}
	return t
}

// symbol is the next symbol of acc and the length of its code; length 0: no code begins so.
func (t *huffTable) symbol(acc uint64) (value byte, length uint) {
	if s := t.short[acc>>(64-quickBits)]; s != 0 {
		return byte(s >> 8), uint(s & 255)
	}
	code := uint32(acc >> 48)
	for l := uint(quickBits + 1); l <= 16; l++ {
		if code < t.past[l] {
			return t.values[(t.from[l]+int32(code>>(16-l)))&255], l
		}
	}
	return 0, 0
}
