package imaging

import (
	"image"
	"math"
)

// Code points of colour are those of ITU-T H.273 (07/2021). HEIC samples come as the file codes them; pixels and planes
// everywhere else here are JPEG's: full range, the matrix of BT.601 (JFIF 1.02).

// lumaWeights are K_R and K_B of a matrix (table 4); unspecified is taken as BT.601, like libheif does.
func lumaWeights(matrix int) (kr, kb float64) {
	switch matrix {
	case 1:
		return 0.2126, 0.0722
	case 4:
		return 0.30, 0.11
	case 7:
		return 0.212, 0.087
	case 9, 10:
		return 0.2627, 0.0593
	}
	return 0.299, 0.114
}

// affine takes the three samples of a pixel, 0–255, to three others: a matrix, then an offset.
type affine [3][4]float64

// jfifOf takes coded samples to JPEG's.
func jfifOf(c nclxColour) affine {
	var toRGB [3][3]float64 // of luma from 0, chroma about 0
	switch c.matrix {
	case 0: // green, blue, red
		toRGB = [3][3]float64{{0, 0, 1}, {1, 0, 0}, {0, 1, 0}}
	case 8: // YCgCo
		toRGB = [3][3]float64{{1, -1, 1}, {1, 1, 0}, {1, -1, -1}}
	default:
		kr, kb := lumaWeights(c.matrix)
		kg := 1 - kr - kb
		toRGB = [3][3]float64{{1, 0, 2 * (1 - kr)}, {1, -2 * kb * (1 - kb) / kg, -2 * kr * (1 - kr) / kg}, {1, 2 * (1 - kb), 0}}
	}
	// Full range: 0–255. Video range of 8 bits: luma 16–235, chroma 16–240.
	scale, zero := [3]float64{1, 1, 1}, [3]float64{0, 128, 128}
	if !c.fullRange {
		scale, zero = [3]float64{255.0 / 219, 255.0 / 224, 255.0 / 224}, [3]float64{16, 128, 128}
	}
	if c.matrix == 0 { // three times the same
		scale[1], scale[2], zero[1], zero[2] = scale[0], scale[0], zero[0], zero[0]
	}
	fromRGB := [3][3]float64{{0.299, 0.587, 0.114}, {-0.168736, -0.331264, 0.5}, {0.5, -0.418688, -0.081312}}
	var out affine
	for row := range 3 {
		out[row][3] = [3]float64{0, 128, 128}[row]
		for col := range 3 {
			for k := range 3 {
				out[row][col] += fromRGB[row][k] * toRGB[k][col] * scale[col]
			}
			out[row][3] -= out[row][col] * zero[col]
		}
	}
	return out
}

// toJFIF brings a decoded picture's samples to JPEG's, in place; pictures of red, green and blue are left alone.
func toJFIF(img image.Image, c nclxColour) {
	a := jfifOf(c)
	switch img := img.(type) {
	case *image.Gray:
		if c.matrix == 0 || c.matrix == 8 {
			a = jfifOf(nclxColour{matrix: unspecified, fullRange: c.fullRange})
		}
		table := levels(a[0][0], a[0][3]+128*(a[0][1]+a[0][2]))
		lookUp(plane{img.Pix, img.Stride, img.Rect.Dx(), img.Rect.Dy()}, table)
	case *image.YCbCr:
		p := planesOf(img)
		if a.mixes() {
			if p[1].w != p[0].w && (c.matrix == 0 || c.matrix == 8) {
				return // no picture of this kind has fewer samples of two of its colours
			}
			a.apply(p)
			return
		}
		for i := range p {
			lookUp(p[i], levels(a[i][i], a[i][3]))
		}
	}
}

// mixes reports whether any sample depends on another one.
func (a affine) mixes() bool {
	for row := range 3 {
		for col := range 3 {
			if row != col && math.Abs(a[row][col]) > 1e-4 {
				return true
			}
		}
	}
	return false
}

// levels tables a straight line, clipped; nil where nothing moves.
func levels(slope, offset float64) *[256]uint8 {
	var t [256]uint8
	same := true
	for i := range t {
		t[i] = uint8(math.Round(min(max(slope*float64(i)+offset, 0), 255)))
		same = same && int(t[i]) == i
	}
	if same {
		return nil
	}
	return &t
}

func lookUp(p plane, t *[256]uint8) {
	if t == nil {
		return
	}
	rows(p.h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			row := p.pix[y*p.stride:][:p.w]
			for i, v := range row {
				row[i] = t[v]
			}
		}
	})
}

// apply converts planes in place. Chroma is that of the pixel's own place, as image/color takes it. Where chroma has
// fewer samples than luma, it must not depend on luma.
func (a affine) apply(p [3]plane) {
	const one = 1 << 16
	var m [3][4]int32
	for row := range 3 {
		for col := range 4 {
			m[row][col] = int32(math.Round(a[row][col] * one))
		}
		m[row][3] += one / 2
	}
	at := func(row int, y, cb, cr int32) uint8 {
		v := m[row][0]*y + m[row][1]*cb + m[row][2]*cr + m[row][3]
		return uint8(min(max(v, 0), 256*one-1) / one)
	}
	high, wide := 1, 1 // pixels to a sample of chroma
	if p[1].h != p[0].h {
		high = 2
	}
	if p[1].w != p[0].w {
		wide = 2
	}
	rows(p[1].h, func(c0, c1 int) {
		for c := c0; c < c1; c++ {
			cbs, crs := p[1].pix[c*p[1].stride:][:p[1].w], p[2].pix[c*p[2].stride:][:p[1].w]
			for x := range cbs {
				cb, cr := int32(cbs[x]), int32(crs[x])
				first := int32(0)
				for y := c * high; y < min((c+1)*high, p[0].h); y++ {
					row := p[0].pix[y*p[0].stride:][:p[0].w]
					for i := x * wide; i < min((x+1)*wide, len(row)); i++ {
						first = int32(row[i])
						row[i] = at(0, first, cb, cr)
					}
				}
				cbs[x], crs[x] = at(1, first, cb, cr), at(2, first, cb, cr)
			}
		}
	})
}

// primariesOf are the chromaticities of red, green and blue (table 2), all of them with the white of D65.
var primariesOf = map[int][3][2]float64{
	1:  {{0.640, 0.330}, {0.300, 0.600}, {0.150, 0.060}}, // BT.709, sRGB
	5:  {{0.640, 0.330}, {0.290, 0.600}, {0.150, 0.060}}, // BT.601, 625 lines
	6:  {{0.630, 0.340}, {0.310, 0.595}, {0.155, 0.070}}, // BT.601, 525 lines
	7:  {{0.630, 0.340}, {0.310, 0.595}, {0.155, 0.070}}, // SMPTE ST 240
	9:  {{0.708, 0.292}, {0.170, 0.797}, {0.131, 0.046}}, // BT.2020, BT.2100
	12: {{0.680, 0.320}, {0.265, 0.690}, {0.150, 0.060}}, // Display P3
	22: {{0.630, 0.340}, {0.295, 0.605}, {0.155, 0.077}}, // EBU Tech. 3213-E
}

// colourMapOfNCLX is the conversion to sRGB that code points ask for; nil where none is needed, or where they are
// unspecified or unknown: the pixels are then taken as sRGB.
func colourMapOfNCLX(c nclxColour) *colourMap {
	primaries, ok := primariesOf[c.primaries]
	if !ok {
		primaries = primariesOf[1]
	}
	curve := transferOf(c.transfer)
	from, okFrom := toXYZ(primaries)
	srgb, _ := toXYZ(primariesOf[1])
	inverse, okTo := invert3(srgb)
	if !okFrom || !okTo {
		return nil
	}
	m := &colourMap{encode: encodeSRGB}
	for i := range 3 {
		for n := range 256 {
			m.linear[i][n] = float32(min(max(curve(float64(n)/255), 0), 1))
		}
		for col := range 3 {
			sum := 0.0
			for k := range 3 {
				sum += inverse[i][k] * from[k][col]
			}
			m.matrix[i][col] = float32(sum)
		}
	}
	if m.identity() {
		return nil
	}
	return m
}

// toXYZ is the matrix from linear RGB of the given primaries and the white of D65 to XYZ (SMPTE RP 177-1993).
func toXYZ(xy [3][2]float64) (m [3][3]float64, ok bool) {
	const whiteX, whiteY = 0.3127, 0.3290
	for i, c := range xy {
		m[0][i], m[1][i], m[2][i] = c[0]/c[1], 1, (1-c[0]-c[1])/c[1]
	}
	inverse, ok := invert3(m)
	white := [3]float64{whiteX / whiteY, 1, (1 - whiteX - whiteY) / whiteY}
	for i := range 3 {
		scale := inverse[i][0]*white[0] + inverse[i][1]*white[1] + inverse[i][2]*white[2]
		for row := range 3 {
			m[row][i] *= scale
		}
	}
	return m, ok
}

// whiteNits is the luminance of a white surface in a picture of high dynamic range (ITU-R BT.2408-7, table 1); what is
// brighter is clipped.
const whiteNits = 203

// transferOf is the curve from a coded value to linear light, both 0–1 (table 3). Cameras write the curve of BT.709 (1)
// into pictures whose profile, beside it, is sRGB's: its kin are taken as sRGB, as they look on the camera.
func transferOf(transfer int) func(float64) float64 {
	switch transfer {
	case 4:
		return func(v float64) float64 { return math.Pow(v, 2.2) }
	case 5:
		return func(v float64) float64 { return math.Pow(v, 2.8) }
	case 8:
		return func(v float64) float64 { return v }
	case 16: // PQ, SMPTE ST 2084
		return func(v float64) float64 {
			const m1, m2, c1, c2, c3 = 2610.0 / 16384, 2523.0 / 32, 3424.0 / 4096, 2413.0 / 128, 2392.0 / 128
			p := math.Pow(v, 1/m2)
			return 10_000 * math.Pow(max(p-c1, 0)/(c2-c3*p), 1/m1) / whiteNits
		}
	case 18: // HLG, ITU-R BT.2100-2 table 5, on a display of 1000 cd/m² whose gamma of 1.2 is applied to each colour
		return func(v float64) float64 {
			const a, b, c = 0.17883277, 0.28466892, 0.55991073
			scene := v * v / 3
			if v > 0.5 {
				scene = (math.Exp((v-c)/a) + b) / 12
			}
			return 1000 * math.Pow(scene, 1.2) / whiteNits
		}
	}
	return linearOf
}
