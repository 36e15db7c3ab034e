package imaging

import (
	"image"
	"math"
)

// The linear sRGB primaries adapted to D50, the white of profiles (IEC 61966-2-1; Bradford adaptation of ICC.1:2010
// annex E).
var srgbToXYZ = [3][3]float64{
	{0.4360747, 0.3850649, 0.1430804},
	{0.2225045, 0.7168786, 0.0606169},
	{0.0139322, 0.0971045, 0.7141733},
}

// colourMap converts device values of a matrix profile to sRGB: curve, matrix, curve. Colours outside sRGB are clipped.
type colourMap struct {
	linear [3][256]float32
	matrix [3][3]float32
	encode *[4097]uint8
}

// encodeSRGB is the transfer function of IEC 61966-2-1, from 0–1 in 4096 steps to 0–255.
var encodeSRGB = func() *[4097]uint8 {
	var t [4097]uint8
	for i := range t {
		t[i] = uint8(math.Round(255 * srgbGamma(float64(i)/4096)))
	}
	return &t
}()

func srgbGamma(v float64) float64 {
	if v <= 0.0031308 {
		return 12.92 * v
	}
	return 1.055*math.Pow(v, 1/2.4) - 0.055
}

// colourMapOf is the conversion that a profile asks for; nil where none is needed (no profile, sRGB itself) or none is
// possible (profiles of grey, of presses, and of look-up tables: the pixels are then taken as sRGB).
func colourMapOf(profile []byte) *colourMap {
	if len(profile) < 132 || string(profile[16:20]) != "RGB " || string(profile[20:24]) != "XYZ " {
		return nil
	}
	var toXYZ [3][3]float64
	m := &colourMap{encode: encodeSRGB}
	for i, c := range []string{"r", "g", "b"} {
		v, ok := iccXYZ(profile, c+"XYZ")
		curve := iccCurve(profile, c+"TRC")
		if !ok || curve == nil {
			return nil
		}
		for row := range 3 {
			toXYZ[row][i] = v[row]
		}
		for n := range 256 {
			y := curve(float64(n) / 255)
			if math.IsNaN(y) {
				return nil
			}
			m.linear[i][n] = float32(min(max(y, 0), 1))
		}
	}
	inv, ok := invert3(srgbToXYZ)
	if !ok {
		return nil
	}
	for row := range 3 {
		for col := range 3 {
			sum := 0.0
			for k := range 3 {
				sum += inv[row][k] * toXYZ[k][col]
			}
			if math.Abs(sum) > 16 {
				return nil
			}
			m.matrix[row][col] = float32(sum)
		}
	}
	if m.identity() {
		return nil
	}
	return m
}

// identity reports whether no sample colour moves by more than one level: then converting only adds rounding.
func (m *colourMap) identity() bool {
	for r := 0; r < 256; r += 51 {
		for g := 0; g < 256; g += 51 {
			for b := 0; b < 256; b += 51 {
				x, y, z := m.convert(uint8(r), uint8(g), uint8(b))
				if max(abs(int(x)-r), abs(int(y)-g), abs(int(z)-b)) > 1 {
					return false
				}
			}
		}
	}
	return true
}

func abs(n int) int { return max(n, -n) }

func (m *colourMap) convert(r, g, b uint8) (uint8, uint8, uint8) {
	lr, lg, lb := m.linear[0][r], m.linear[1][g], m.linear[2][b]
	at := func(row int) uint8 {
		v := m.matrix[row][0]*lr + m.matrix[row][1]*lg + m.matrix[row][2]*lb
		return m.encode[int(min(max(v, 0), 1)*4096+0.5)]
	}
	return at(0), at(1), at(2)
}

// beyond converts a colour of 0–255 a channel without clipping; outside that range, curves are carried on as straight
// lines above and mirrored below zero.
func (m *colourMap) beyond(r, g, b float64) (float64, float64, float64) {
	var lin [3]float64
	for i, v := range [3]float64{r, g, b} {
		t := &m.linear[i]
		size := math.Abs(v)
		at := min(int(size), 254)
		y := float64(t[at]) + (size-float64(at))*float64(t[at+1]-t[at])
		lin[i] = math.Copysign(y, v)
	}
	at := func(row int) float64 {
		v := float64(m.matrix[row][0])*lin[0] + float64(m.matrix[row][1])*lin[1] + float64(m.matrix[row][2])*lin[2]
		return 255 * math.Copysign(srgbGamma(math.Abs(v)), v)
	}
	return at(0), at(1), at(2)
}

// apply converts img in place; nil leaves it.
func (m *colourMap) apply(img *image.NRGBA) {
	if m == nil {
		return
	}
	rows(img.Rect.Dy(), func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			p := img.Pix[y*img.Stride : y*img.Stride+4*img.Rect.Dx()]
			for i := 0; i+3 < len(p); i += 4 {
				p[i], p[i+1], p[i+2] = m.convert(p[i], p[i+1], p[i+2])
			}
		}
	})
}

func invert3(a [3][3]float64) (out [3][3]float64, ok bool) {
	cof := func(i, j int) float64 {
		i1, i2, j1, j2 := (i+1)%3, (i+2)%3, (j+1)%3, (j+2)%3
		return a[i1][j1]*a[i2][j2] - a[i1][j2]*a[i2][j1]
	}
	det := a[0][0]*cof(0, 0) + a[0][1]*cof(0, 1) + a[0][2]*cof(0, 2)
	if det == 0 || math.IsNaN(det) {
		return out, false
	}
	for i := range 3 {
		for j := range 3 {
			out[j][i] = cof(i, j) / det
		}
	}
	return out, true
}
