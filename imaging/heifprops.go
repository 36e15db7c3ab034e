package imaging

import (
	"errors"
	"math"
)

// nclxColour are the code points of a colr box of kind nclx (ITU-T H.273): Display P3 is primaries 12 with transfer 13,
// sRGB 1 with 13; 2 is "unspecified".
type nclxColour struct {
	primaries, transfer, matrix int
	fullRange                   bool
}

// heifShape is the size and the turn of a picture while its properties are applied to it.
type heifShape struct {
	widthPX, heightPX int // as turned so far
	orientation       int // EXIF 1–8: what was done to the stored pixels so far
}

// move composes the orientation with one more step, given where it takes the vector (x, y), y pointing down.
func (s *heifShape) move(step func(x, y int) (int, int)) {
	_, _, rx, ry, dx, dy := upright(s.orientation, 1, 1)
	rx, ry = step(rx, ry)
	dx, dy = step(dx, dy)
	for o := 1; o <= 8; o++ {
		if _, _, a, b, c, d := upright(o, 1, 1); a == rx && b == ry && c == dx && d == dy {
			s.orientation = o
		}
	}
}

// irot turns by quarters counter-clockwise (ISO/IEC 23008-12, section 6.5.10).
func (s *heifShape) irot(quarters int) {
	for range quarters {
		s.move(func(x, y int) (int, int) { return y, -x })
		s.widthPX, s.heightPX = s.heightPX, s.widthPX
	}
}

// imir mirrors: 0 exchanges top and bottom (EXIF 4), 1 left and right (EXIF 2) (ISO/IEC 23008-12:2022, section 6.5.12).
func (s *heifShape) imir(mode int) {
	if mode == 0 {
		s.move(func(x, y int) (int, int) { return x, -y })
	} else {
		s.move(func(x, y int) (int, int) { return -x, y })
	}
}

// clap crops to the clean aperture (ISO/IEC 14496-12, section 12.1.4): width, height and the offset of its centre from
// the picture's centre, each a fraction; false if that is no part of the picture.
func (s *heifShape) clap(v [4]float64) bool {
	side := func(size int, length, offset float64) int {
		// The first and the last row of pixels: pc ± (length − 1)/2, pc = offset + (size − 1)/2.
		first := math.Floor(offset + float64(size-1)/2 - (length-1)/2)
		last := math.Round(first + length - 1)
		first, last = max(first, 0), min(last, float64(size-1))
		if !(last >= first) { // NaN too
			return 0
		}
		return int(last-first) + 1
	}
	w, h := side(s.widthPX, v[0], v[2]), side(s.heightPX, v[1], v[3])
	if w < 1 || h < 1 {
		return false
	}
	s.widthPX, s.heightPX = w, h
	return true
}

// readClap reads the four fractions of a clap box; false where one has no denominator.
func readClap(f *heifFields) (v [4]float64, ok bool) {
	for i := range v {
		n, d := f.uint(4), f.uint(4)
		if f.short || d == 0 {
			return v, false
		}
		v[i] = float64(n) / float64(d)
		if i >= 2 { // the offsets have a sign
			v[i] = float64(int32(n)) / float64(d)
		}
	}
	return v, true
}

var errHEIFClap = errors.New("heif: the clean aperture is no part of the picture")

// transform applies one property of a picture; properties that change neither size nor turn are left alone.
func (s *heifShape) transform(kind string, body []byte) error {
	f := heifFields{b: body}
	switch kind {
	case "irot":
		s.irot(int(f.uint(1) & 3))
	case "imir":
		s.imir(int(f.uint(1) & 1))
	case "clap":
		if v, ok := readClap(&f); !ok || !s.clap(v) {
			return errHEIFClap
		}
	}
	if f.short {
		return errHEIFShort
	}
	return nil
}

// readISPE reads the size of a picture before it is cropped or turned.
func readISPE(body []byte) (w, h int, ok bool) {
	f := heifFields{b: body}
	f.full()
	w, h = heifSide(f.uint(4)), heifSide(f.uint(4))
	return w, h, !f.short
}

func heifSide(v uint64) int { return int(min(v, math.MaxInt32)) }

// heifGrid is the description of a picture put together from tiles (ISO/IEC 23008-12, section 6.6.2.3).
type heifGrid struct {
	tiles, widthPX, heightPX int
}

func readGrid(body []byte) (g heifGrid, ok bool) {
	f := heifFields{b: body}
	_, flags := f.uint(1), f.uint(1)
	g.tiles = int(f.uint(1)+1) * int(f.uint(1)+1)
	n := 2
	if flags&1 != 0 {
		n = 4
	}
	g.widthPX, g.heightPX = heifSide(f.uint(n)), heifSide(f.uint(n))
	return g, !f.short
}

// readNCLX reads the code points of a colr box behind its kind; nil where some are missing.
func readNCLX(body []byte) *nclxColour {
	f := heifFields{b: body}
	n := &nclxColour{primaries: int(f.uint(2)), transfer: int(f.uint(2)), matrix: int(f.uint(2))}
	n.fullRange = f.uint(1)&0x80 != 0
	if f.short {
		return nil
	}
	return n
}
