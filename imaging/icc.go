package imaging

import (
	"encoding/binary"
	"math"
	"unicode/utf16"
)

const maxICCTags = 100

// iccTag is the body of a tag of a profile (ICC.1:2010, section 7.3), nil where it is absent or lies outside.
func iccTag(p []byte, sig string) []byte {
	if len(p) < 132 || string(p[36:40]) != "acsp" {
		return nil
	}
	n := binary.BigEndian.Uint32(p[128:])
	for i := uint32(0); i < n && i < maxICCTags; i++ {
		e := 132 + 12*int(i)
		if e+12 > len(p) {
			return nil
		}
		if string(p[e:e+4]) != sig {
			continue
		}
		at, size := uint64(binary.BigEndian.Uint32(p[e+4:])), uint64(binary.BigEndian.Uint32(p[e+8:]))
		if at+size > uint64(len(p)) {
			if at >= uint64(len(p)) {
				return nil
			}
			size = uint64(len(p)) - at
		}
		return p[at : at+size]
	}
	return nil
}

// iccName is the description of a profile, "" where there is none: textDescriptionType of version 2, of which the
// ASCII part counts, or multiLocalizedUnicodeType of version 4, of which English counts, else the first.
func iccName(p []byte) string {
	b := iccTag(p, "desc")
	if len(b) < 12 {
		return ""
	}
	switch string(b[:4]) {
	case "desc":
		n := uint64(binary.BigEndian.Uint32(b[8:]))
		return plainText(b[12:min(12+n, uint64(len(b)))])
	case "mluc":
		if len(b) < 16 {
			return ""
		}
		n, size := binary.BigEndian.Uint32(b[8:]), binary.BigEndian.Uint32(b[12:])
		if size < 12 {
			return ""
		}
		name := ""
		for i := uint64(0); i < uint64(n) && i < 200; i++ {
			e := 16 + i*uint64(size)
			if e+12 > uint64(len(b)) {
				break
			}
			bytes, at := uint64(binary.BigEndian.Uint32(b[e+4:])), uint64(binary.BigEndian.Uint32(b[e+8:]))
			if at > uint64(len(b)) {
				continue
			}
			s := utf16Text(b[at:min(at+min(bytes, 512), uint64(len(b)))])
			if string(b[e:e+2]) == "en" {
				return s
			}
			if name == "" {
				name = s
			}
		}
		return name
	}
	return ""
}

func utf16Text(b []byte) string {
	u := make([]uint16, 0, len(b)/2)
	for i := 0; i+1 < len(b); i += 2 {
		c := binary.BigEndian.Uint16(b[i:])
		if c == 0 {
			break
		}
		if c < 0x20 || c == 0x7f {
			c = ' '
		}
		u = append(u, c)
	}
	return string(utf16.Decode(u))
}

// iccXYZ reads an XYZType tag.
func iccXYZ(p []byte, sig string) (v [3]float64, ok bool) {
	b := iccTag(p, sig)
	if len(b) < 20 || string(b[:4]) != "XYZ " {
		return v, false
	}
	for i := range v {
		v[i] = float64(int32(binary.BigEndian.Uint32(b[8+4*i:]))) / 65536
	}
	return v, true
}

// iccCurve reads a tone curve, curveType or parametricCurveType, as a function of 0–1.
func iccCurve(p []byte, sig string) func(float64) float64 {
	b := iccTag(p, sig)
	if len(b) < 12 {
		return nil
	}
	switch string(b[:4]) {
	case "curv":
		n := int(min(binary.BigEndian.Uint32(b[8:]), 1<<16))
		b = b[12:]
		if n == 0 {
			return func(x float64) float64 { return x }
		}
		if len(b) < 2*n {
			return nil
		}
		if n == 1 {
			g := float64(binary.BigEndian.Uint16(b)) / 256
			return func(x float64) float64 { return math.Pow(x, g) }
		}
		return func(x float64) float64 {
			at := x * float64(n-1)
			i := min(int(at), n-2)
			lo, hi := float64(binary.BigEndian.Uint16(b[2*i:])), float64(binary.BigEndian.Uint16(b[2*i+2:]))
			return (lo + (hi-lo)*(at-float64(i))) / 65535
		}
	case "para":
		kind := binary.BigEndian.Uint16(b[8:])
		if int(kind) > 4 {
			return nil
		}
		var v [7]float64
		n := [5]int{1, 3, 4, 5, 7}[kind]
		if len(b) < 12+4*n {
			return nil
		}
		for i := range n {
			v[i] = float64(int32(binary.BigEndian.Uint32(b[12+4*i:]))) / 65536
		}
		g, a, bb, c, d, e, f := v[0], v[1], v[2], v[3], v[4], v[5], v[6]
		// ICC.1:2010, table 65.
		switch kind {
		case 0:
			return func(x float64) float64 { return math.Pow(x, g) }
		case 1:
			return func(x float64) float64 {
				if a*x+bb >= 0 {
					return math.Pow(a*x+bb, g)
				}
				return 0
			}
		case 2:
			return func(x float64) float64 {
				if a*x+bb >= 0 {
					return math.Pow(a*x+bb, g) + c
				}
				return c
			}
		case 3:
			return func(x float64) float64 {
				if x >= d {
					return math.Pow(a*x+bb, g)
				}
				return c * x
			}
		default:
			return func(x float64) float64 {
				if x >= d {
					return math.Pow(a*x+bb, g) + e
				}
				return c*x + f
			}
		}
	}
	return nil
}
