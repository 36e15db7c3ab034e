package phantom

import (
	"image"
	"math"
	"math/rand/v2"
)

// develop is the camera's part after the light: exposure, white balance, and sensor noise that is partly shared
// between neighbouring pixels, as after demosaicing.
func develop(img *image.NRGBA, cam Camera) {
	gain := math.Pow(2, cam.Exposure/2.2)
	var lut [3][256]float64
	for c, wb := range [3]float64{1 + 0.10*cam.WhiteBalance, 1, 1 - 0.12*cam.WhiteBalance} {
		for i := range 256 {
			v := float64(i) / 255 * gain * wb
			if v > 0.85 { // a shoulder instead of a hard clip
				v = 0.85 + 0.15*(1-math.Exp(-(v-0.85)/0.15))
			}
			lut[c][i] = v * 255
		}
	}
	rng := rand.New(rand.NewPCG(uint64(cam.Seed), 0x6e01))
	const size = 1 << 14
	noise := make([]float32, size)
	last := 0.0
	for i := range noise {
		g := rng.NormFloat64()
		noise[i] = float32((0.95*g + 0.3*last) * cam.NoiseSD)
		last = g
	}
	var table [3][256]float32
	for c := range 3 {
		for i := range 256 {
			table[c][i] = float32(lut[c][i]) + 0.5
		}
	}
	w, h := img.Rect.Dx(), img.Rect.Dy()
	for y := range h {
		row := img.Pix[y*img.Stride : y*img.Stride+4*w]
		// A fresh place in the table for every few pixels, so that no pattern repeats.
		for x := 0; x < w; x += 61 {
			o := rng.Uint32()
			for i := x; i < min(w, x+61); i++ {
				p := row[i*4 : i*4+3 : i*4+3]
				l := noise[(o+uint32(i))&(size-1)]
				q := noise[(o*7+uint32(i))&(size-1)] * 0.5
				for c, k := range [3]float32{l + q, l, l - q} {
					v := table[c][p[c]] + k
					switch {
					case v < 0:
						v = 0
					case v > 255:
						v = 255
					}
					p[c] = uint8(v)
				}
			}
		}
	}
}
