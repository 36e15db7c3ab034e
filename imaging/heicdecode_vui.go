package imaging

import "errors"

// Phones say the matrix and the range of their samples only inside the coded picture: in the video usability information
// (VUI) at the end of the sequence parameter set (SPS), which the decoder configuration (hvcC) carries. Everything in
// front of it has to be read over. Section numbers are of ITU-T H.265 (V10).

const (
	unspecified   = 2  // of every code point
	nalSPS        = 33 // table 7-1
	maxHVCCBytes  = 64 << 10
	maxHVCCArrays = 32
)

var errSPS = errors.New("hevc: a sequence parameter set that cannot be read")

// codedColourOf reads the code points out of a decoder configuration record (ISO/IEC 14496-15, section 8.3.3); nil where
// it has no SPS that can be read. What an SPS leaves out is unspecified, and of video range (section E.3.1).
func codedColourOf(hvcc []byte) *nclxColour {
	f := heifFields{b: hvcc}
	if len(f.b) < 23 {
		return nil
	}
	f.b = f.b[22:]
	for range min(f.uint(1), maxHVCCArrays) {
		kind := f.uint(1) & 63
		for range f.uint(2) {
			n := f.uint(2)
			if f.short || n > uint64(len(f.b)) {
				return nil
			}
			nal := f.b[:n]
			f.b = f.b[n:]
			if kind != nalSPS {
				continue
			}
			if c, err := spsColour(nal); err == nil {
				return &c
			}
			return nil
		}
	}
	return nil
}

// spsBits reads an SPS bit by bit; reading beyond the end gives zeros and is remembered.
type spsBits struct {
	b     []byte
	at    int // bits
	short bool
}

// newSPSBits is the payload of a NAL unit without its emulation prevention (section 7.4.2).
func newSPSBits(nal []byte) *spsBits {
	var b []byte
	zeros := 0
	for _, v := range nal {
		if zeros >= 2 && v == 3 {
			zeros = 0
			continue
		}
		if zeros++; v != 0 {
			zeros = 0
		}
		b = append(b, v)
	}
	return &spsBits{b: b}
}

func (s *spsBits) skip(bits int) {
	if s.at += bits; s.at > 8*len(s.b) {
		s.at, s.short = 8*len(s.b), true
	}
}

// u is an unsigned number of at most 32 bits.
func (s *spsBits) u(bits int) (v uint32) {
	for range bits {
		if s.at >= 8*len(s.b) {
			s.short = true
			return 0
		}
		v = v<<1 | uint32(s.b[s.at/8]>>(7-s.at%8))&1
		s.at++
	}
	return v
}

func (s *spsBits) flag() bool { return s.u(1) == 1 }

// ue is an Exp-Golomb number (section 9.2).
func (s *spsBits) ue() uint32 {
	zeros := 0
	for s.u(1) == 0 {
		if zeros++; s.short || zeros > 31 {
			s.short = true
			return 0
		}
	}
	return 1<<zeros - 1 + s.u(zeros)
}

func (s *spsBits) ues(n int) {
	for range n {
		s.ue()
	}
}

// spsColour reads the SPS in a NAL unit (section 7.3.2.2.1) as far as the colour description of its VUI.
func spsColour(nal []byte) (c nclxColour, err error) {
	c = nclxColour{unspecified, unspecified, unspecified, false}
	s := newSPSBits(nal)
	s.skip(16 + 4)
	layers := int(s.u(3))
	s.skip(1)
	s.profileTierLevel(layers)
	s.ue()
	if s.ue() == 3 { // chroma_format_idc
		s.skip(1)
	}
	s.ues(2)
	if s.flag() { // conformance window
		s.ues(4)
	}
	s.ues(2)
	lsbBits := s.ue() + 4
	first := layers
	if s.flag() { // ordering info of every layer
		first = 0
	}
	s.ues(3 * (layers - first + 1))
	s.ues(6)
	if s.flag() { // scaling lists, of its own
		if s.flag() {
			s.scalingLists()
		}
	}
	s.skip(2)
	if s.flag() { // PCM
		s.skip(8)
		s.ues(2)
		s.skip(1)
	}
	if err := s.referenceSets(); err != nil {
		return c, err
	}
	if s.flag() { // long-term reference pictures
		n := s.ue()
		if n > 32 || lsbBits > 16 {
			return c, errSPS
		}
		s.skip(int(n) * (int(lsbBits) + 1))
	}
	s.skip(2)
	if s.flag() {
		s.vui(&c)
	}
	if s.short {
		return c, errSPS
	}
	return c, nil
}

// vui reads section E.2.1 as far as the colour description.
func (s *spsBits) vui(c *nclxColour) {
	if s.flag() && s.u(8) == 255 { // aspect ratio, said in full
		s.skip(32)
	}
	if s.flag() { // overscan
		s.skip(1)
	}
	if !s.flag() {
		return
	}
	s.skip(3)
	c.fullRange = s.flag()
	if s.flag() {
		c.primaries, c.transfer, c.matrix = int(s.u(8)), int(s.u(8)), int(s.u(8))
	}
}

// profileTierLevel steps over section 7.3.3.
func (s *spsBits) profileTierLevel(layers int) {
	const profile, level = 88, 8
	s.skip(profile + level)
	if layers == 0 {
		return
	}
	said := s.u(16) // two flags for each of eight
	for i := range layers {
		if said>>(15-2*i)&1 == 1 {
			s.skip(profile)
		}
		if said>>(14-2*i)&1 == 1 {
			s.skip(level)
		}
	}
}

// scalingLists steps over section 7.3.4.
func (s *spsBits) scalingLists() {
	for size := range 4 {
		step := 1
		if size == 3 {
			step = 3
		}
		for matrix := 0; matrix < 6; matrix += step {
			if !s.flag() {
				s.ue()
				continue
			}
			if size > 1 {
				s.ue()
			}
			s.ues(min(64, 1<<(4+2*size)))
		}
	}
}

// referenceSets steps over the short-term reference picture sets (section 7.3.7), of which a still picture has none.
func (s *spsBits) referenceSets() error {
	n := s.ue()
	if n > 64 {
		return errSPS
	}
	pictures := uint32(0) // of the set before
	for i := range n {
		if i > 0 && s.flag() { // predicted from the set before
			s.skip(1)
			s.ue()
			kept := uint32(0)
			for range pictures + 1 {
				used := s.flag()
				if !used {
					used = s.flag() // for later pictures
				}
				if used {
					kept++
				}
			}
			pictures = kept
		} else {
			before, after := s.ue(), s.ue()
			if before > 16 || after > 16 {
				return errSPS
			}
			pictures = before + after
			for range pictures {
				s.ue()
				s.skip(1)
			}
		}
		if pictures > 32 || s.short {
			return errSPS
		}
	}
	return nil
}

// codedColours reads the code points of the first coded picture that the photo is made of.
func (w *heifWalk) codedColours(item *heifItem) *nclxColour {
	for range maxHEIFDepth {
		var found *nclxColour
		w.properties(item, func(kind string, b heifBox) {
			if kind == "hvcC" && found == nil {
				found = codedColourOf(w.body(b, maxHVCCBytes))
			}
		})
		if found != nil || len(item.from) == 0 || w.t.items[item.from[0]] == nil {
			return found
		}
		item = w.t.items[item.from[0]]
	}
	return nil
}

// assembled reports whether the photo is put together from others: libheif goes through RGB then, by the code points of
// each tile, and what it returns is in JPEG's colours already.
func (w *heifWalk) assembled(item *heifItem) bool {
	for range maxHEIFDepth {
		if item.kind != "iden" || len(item.from) == 0 || w.t.items[item.from[0]] == nil {
			break
		}
		item = w.t.items[item.from[0]]
	}
	return item.kind == "grid" || item.kind == "iovl"
}
