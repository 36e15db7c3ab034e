package imaging

import (
	"image"
	"math"
)

// LinearLight is the light of each encoded value of sRGB, 0 to 1 (IEC 61966-2-1): what a pixel half covered is half of.
func LinearLight() (light [256]float64) {
	for i := range light {
		light[i] = linearOf(float64(i) / 255)
	}
	return light
}

// linearOf is sRGB's transfer function, encoded 0 to 1 to light.
func linearOf(v float64) float64 {
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

// Lab is CIE L*a*b* (CIE 15, white D65) of sRGB pixels, three numbers a pixel, by rows.
func Lab(img *image.NRGBA) []float32 {
	linear := LinearLight()
	f := func(t float64) float64 {
		if t > 216.0/24389 {
			return math.Cbrt(t)
		}
		return (24389.0/27*t + 16) / 116
	}
	w, h := img.Rect.Dx(), img.Rect.Dy()
	out := make([]float32, 3*w*h)
	for y := range h {
		for x := range w {
			i := img.PixOffset(img.Rect.Min.X+x, img.Rect.Min.Y+y)
			r, g, b := linear[img.Pix[i]], linear[img.Pix[i+1]], linear[img.Pix[i+2]]
			fx := f((0.4124564*r + 0.3575761*g + 0.1804375*b) / 0.95047)
			fy := f(0.2126729*r + 0.7151522*g + 0.0721750*b)
			fz := f((0.0193339*r + 0.1191920*g + 0.9503041*b) / 1.08883)
			o := out[3*(y*w+x):]
			o[0], o[1], o[2] = float32(116*fy-16), float32(500*(fx-fy)), float32(200*(fy-fz))
		}
	}
	return out
}
