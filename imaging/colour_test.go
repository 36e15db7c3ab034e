package imaging

import (
	"encoding/binary"
	"math"
	"testing"
)

// primaries are chromaticities of red, green, blue, and the gamma that the profile names (0: sRGB's own curve).
type primaries struct {
	xy    [3][2]float64
	gamma float64
	name  string
}

var (
	// SMPTE EG 432-1 primaries with the sRGB curve and D65, as phones use them.
	p3Primaries = primaries{[3][2]float64{{0.680, 0.320}, {0.265, 0.690}, {0.150, 0.060}}, 0, "Display P3"}
	// Adobe RGB (1998) Color Image Encoding, section 4.3: gamma 2 51/256.
	adobePrimaries = primaries{[3][2]float64{{0.64, 0.33}, {0.21, 0.71}, {0.15, 0.06}}, 563.0 / 256, "Adobe RGB (1998)"}
	// IEC 61966-2-1.
	srgbPrimaries = primaries{[3][2]float64{{0.64, 0.33}, {0.30, 0.60}, {0.15, 0.06}}, 0, "sRGB"}
)

type mat3 = [3][3]float64

func mul3(a, b mat3) (c mat3) {
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				c[i][j] += a[i][k] * b[k][j]
			}
		}
	}
	return c
}

func apply3(a mat3, v [3]float64) (o [3]float64) {
	for i := range 3 {
		for k := range 3 {
			o[i] += a[i][k] * v[k]
		}
	}
	return o
}

var d65 = [3]float64{0.3127 / 0.3290, 1, (1 - 0.3127 - 0.3290) / 0.3290}

// toXYZ is linear RGB → XYZ at D65, from the chromaticities alone (SMPTE RP 177).
func (p primaries) toXYZ() mat3 {
	var m mat3
	for i, c := range p.xy {
		m[0][i], m[1][i], m[2][i] = c[0]/c[1], 1, (1-c[0]-c[1])/c[1]
	}
	inv, _ := invert3(m)
	s := apply3(inv, d65)
	for i := range 3 {
		for j := range 3 {
			m[j][i] *= s[i]
		}
	}
	return m
}

func (p primaries) linear(v float64) float64 {
	if p.gamma != 0 {
		return math.Pow(v, p.gamma)
	}
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

// testProfile writes a matrix profile of version 2 or 4 (ICC.1:2001-04, ICC.1:2010), adapted to D50 by Bradford.
func testProfile(p primaries, version byte) []byte {
	bradford := mat3{{0.8951, 0.2664, -0.1614}, {-0.7502, 1.7135, 0.0367}, {0.0389, -0.0685, 1.0296}}
	inv, _ := invert3(bradford)
	from, to := apply3(bradford, d65), apply3(bradford, [3]float64{0.9642, 1, 0.8249})
	m := mul3(mul3(inv, mat3{{to[0] / from[0], 0, 0}, {0, to[1] / from[1], 0}, {0, 0, to[2] / from[2]}}), bradford)
	m = mul3(m, p.toXYZ())
	be := binary.BigEndian
	s15 := func(b []byte, v float64) []byte { return be.AppendUint32(b, uint32(int32(math.Round(v*65536)))) }
	type tag struct {
		sig  string
		body []byte
	}
	var tags []tag
	if version == 4 {
		b := append([]byte("mluc\x00\x00\x00\x00"), 0, 0, 0, 1, 0, 0, 0, 12, 'e', 'n', 'U', 'S')
		b = be.AppendUint32(b, uint32(2*len(p.name)))
		b = be.AppendUint32(b, 28)
		for _, c := range p.name {
			b = be.AppendUint16(b, uint16(c))
		}
		tags = append(tags, tag{"desc", b})
	} else {
		b := be.AppendUint32([]byte("desc\x00\x00\x00\x00"), uint32(len(p.name)+1))
		tags = append(tags, tag{"desc", append(append(b, p.name...), make([]byte, 79)...)})
	}
	for i, c := range []string{"r", "g", "b"} {
		b := []byte("XYZ \x00\x00\x00\x00")
		for row := range 3 {
			b = s15(b, m[row][i])
		}
		tags = append(tags, tag{c + "XYZ", b})
		switch {
		case p.gamma != 0:
			b = be.AppendUint32([]byte("curv\x00\x00\x00\x00"), 1)
			b = be.AppendUint16(b, uint16(math.Round(p.gamma*256)))
		case version == 4:
			b = append([]byte("para\x00\x00\x00\x00"), 0, 3, 0, 0)
			for _, v := range []float64{2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045} {
				b = s15(b, v)
			}
		default:
			b = be.AppendUint32([]byte("curv\x00\x00\x00\x00"), 1024)
			for n := range 1024 {
				b = be.AppendUint16(b, uint16(math.Round(65535*p.linear(float64(n)/1023))))
			}
		}
		tags = append(tags, tag{c + "TRC", b})
	}
	out := make([]byte, 128)
	out[8] = version
	copy(out[12:], "mntrRGB XYZ ")
	copy(out[36:], "acsp")
	out = be.AppendUint32(out, uint32(len(tags)))
	at := 132 + 12*len(tags)
	var data []byte
	for _, t := range tags {
		out = append(out, t.sig...)
		out = be.AppendUint32(out, uint32(at+len(data)))
		out = be.AppendUint32(out, uint32(len(t.body)))
		data = append(data, t.body...)
		for len(data)%4 != 0 {
			data = append(data, 0)
		}
	}
	out = append(out, data...)
	be.PutUint32(out, uint32(len(out)))
	return out
}

var srgbXYZ = srgbPrimaries.toXYZ()

// lab is CIE L*a*b* (CIE 15) of sRGB values at D65.
func lab(rgb [3]float64) [3]float64 {
	var lin [3]float64
	for i, v := range rgb {
		lin[i] = srgbPrimaries.linear(v)
	}
	xyz := apply3(srgbXYZ, lin)
	f := func(t float64) float64 {
		if t > 216.0/24389 {
			return math.Cbrt(t)
		}
		return (24389.0/27*t + 16) / 116
	}
	x, y, z := f(xyz[0]/d65[0]), f(xyz[1]), f(xyz[2]/d65[2])
	return [3]float64{116*y - 16, 500 * (x - y), 200 * (y - z)}
}

// deltaE00 is CIEDE2000 (CIE 142-2001; written as Sharma, Wu, Dalal 2005, Color Res. Appl. 30:21–30).
func deltaE00(p, q [3]float64) float64 {
	rad := math.Pi / 180
	c1, c2 := math.Hypot(p[1], p[2]), math.Hypot(q[1], q[2])
	c7 := math.Pow((c1+c2)/2, 7)
	g := 0.5 * (1 - math.Sqrt(c7/(c7+math.Pow(25, 7))))
	a1, a2 := p[1]*(1+g), q[1]*(1+g)
	C1, C2 := math.Hypot(a1, p[2]), math.Hypot(a2, q[2])
	hue := func(b, a float64) float64 {
		if a == 0 && b == 0 {
			return 0
		}
		return math.Mod(math.Atan2(b, a)/rad+360, 360)
	}
	h1, h2 := hue(p[2], a1), hue(q[2], a2)
	dh := h2 - h1
	hm := (h1 + h2) / 2
	if C1*C2 == 0 {
		dh, hm = 0, h1+h2
	} else {
		if dh > 180 {
			dh -= 360
		} else if dh < -180 {
			dh += 360
		}
		if math.Abs(h1-h2) > 180 {
			if h1+h2 < 360 {
				hm += 180
			} else {
				hm -= 180
			}
		}
	}
	dL, dC := q[0]-p[0], C2-C1
	dH := 2 * math.Sqrt(C1*C2) * math.Sin(dh/2*rad)
	L, C := (p[0]+q[0])/2, (C1+C2)/2
	T := 1 - 0.17*math.Cos((hm-30)*rad) + 0.24*math.Cos(2*hm*rad) + 0.32*math.Cos((3*hm+6)*rad) - 0.20*math.Cos((4*hm-63)*rad)
	sl := 1 + 0.015*(L-50)*(L-50)/math.Sqrt(20+(L-50)*(L-50))
	sc, sh := 1+0.045*C, 1+0.015*C*T
	C7 := math.Pow(C, 7)
	rt := -2 * math.Sqrt(C7/(C7+math.Pow(25, 7))) * math.Sin(60*math.Exp(-math.Pow((hm-275)/25, 2))*rad)
	return math.Sqrt(math.Pow(dL/sl, 2) + math.Pow(dC/sc, 2) + math.Pow(dH/sh, 2) + rt*dC/sc*dH/sh)
}

// coatPatches are 24 colours, coats among them.
var coatPatches = [...][3]uint8{
	{150, 80, 45}, {170, 95, 50}, {120, 60, 35}, {200, 160, 100}, {190, 150, 95}, {225, 200, 160},
	{40, 38, 36}, {90, 88, 85}, {128, 128, 128}, {200, 200, 200}, {245, 244, 240}, {0, 0, 0}, {255, 255, 255},
	{70, 50, 35}, {110, 100, 90}, {160, 140, 115}, {90, 110, 70}, {80, 100, 130}, {60, 70, 110}, {140, 60, 60},
	{180, 110, 60}, {130, 90, 60}, {210, 180, 140}, {100, 70, 50},
}

// Check 35, kind X: Display P3 and Adobe RGB to sRGB by the published primaries and curves, through D65 and in double
// precision, against the profile path.
func TestWideGamutPhotosKeepTheirColours(t *testing.T) {
	for _, p := range []primaries{p3Primaries, adobePrimaries} {
		for _, version := range []byte{2, 4} {
			profile := testProfile(p, version)
			if got := iccName(profile); got != p.name {
				t.Errorf("name %q, want %q", got, p.name)
			}
			m := colourMapOf(profile)
			if m == nil {
				t.Fatalf("%s: no conversion", p.name)
			}
			back, _ := invert3(srgbPrimaries.toXYZ())
			direct := mul3(back, p.toXYZ())
			moved := 0.0
			for _, c := range coatPatches {
				var lin, want [3]float64
				for i, v := range c {
					lin[i] = p.linear(float64(v) / 255)
				}
				for i, v := range apply3(direct, lin) {
					want[i] = srgbGamma(min(max(v, 0), 1))
				}
				r, g, b := m.convert(c[0], c[1], c[2])
				got := [3]float64{float64(r) / 255, float64(g) / 255, float64(b) / 255}
				if d := deltaE00(lab(got), lab(want)); d > 0.5 {
					t.Errorf("%s v%d, %v: ΔE00 %.2f", p.name, version, c, d)
				}
				raw := [3]float64{float64(c[0]) / 255, float64(c[1]) / 255, float64(c[2]) / 255}
				moved = max(moved, deltaE00(lab(raw), lab(want)))
			}
			// Otherwise this test would pass by converting nothing.
			if moved < 2 {
				t.Errorf("%s: dropping the profile costs only ΔE00 %.2f", p.name, moved)
			}
		}
	}
	for _, version := range []byte{2, 4} {
		if colourMapOf(testProfile(srgbPrimaries, version)) != nil {
			t.Errorf("sRGB v%d is converted", version)
		}
	}
}

// Kind M: four pairs of the test data of Sharma, Wu, Dalal 2005, table 1, quoted from memory.
func TestTheColourDifferenceIsThePublishedOne(t *testing.T) {
	for _, c := range []struct {
		p, q [3]float64
		want float64
	}{
		{[3]float64{50, 2.6772, -79.7751}, [3]float64{50, 0, -82.7485}, 2.0425},
		{[3]float64{50, 2.5, 0}, [3]float64{73, 25, -18}, 27.1492},
		{[3]float64{50, 2.49, -0.001}, [3]float64{50, -2.49, 0.0011}, 7.2195},
		{[3]float64{50, -0.001, 2.49}, [3]float64{50, 0.0011, -2.49}, 4.7461},
	} {
		if got := deltaE00(c.p, c.q); math.Abs(got-c.want) > 1e-4 {
			t.Errorf("%.4f, want %.4f", got, c.want)
		}
	}
}
