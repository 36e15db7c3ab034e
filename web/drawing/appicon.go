package drawing

import (
	"image"
	"image/color"
	"math"
)

// The tuft of web/icons/mark.svg on its 24 × 24, and the colours of the band.
var (
	tuft      = [][4]float64{{3, 8, 7, 20}, {7.5, 5.5, 11.5, 20}, {12.5, 4.5, 16, 20}, {17.5, 5.5, 20.5, 18.5}}
	tuftWidth = 2.6
	bandInk   = color.NRGBA{0xf2, 0xf5, 0xee, 0xff}
	band      = color.NRGBA{0x0b, 0x3a, 0x2b, 0xff}
)

// AppIcon is the mark as phones show it among their programs, widthPX on a side: on a tile with round corners, or, full, on a
// whole square that the phone cuts to its own shape, with the mark inside the circle that is never cut (the W3C manifest's
// safe zone, 40 % of the side from the middle). Few colours, so that the file is small.
func AppIcon(widthPX int, full bool) *image.Paletted {
	const shades = 16
	pal := color.Palette{color.NRGBA{}}
	for i := 0; i <= shades; i++ {
		f := float64(i) / shades
		mix := func(a, b uint8) uint8 { return uint8(math.Round(float64(a)*(1-f) + float64(b)*f)) }
		pal = append(pal, color.NRGBA{mix(band.R, bandInk.R), mix(band.G, bandInk.G), mix(band.B, bandInk.B), 0xff})
	}
	edge := len(pal)
	for i := 1; i < shades; i++ {
		pal = append(pal, color.NRGBA{band.R, band.G, band.B, uint8(255 * i / shades)})
	}
	img := image.NewPaletted(image.Rect(0, 0, widthPX, widthPX), pal)
	side := float64(widthPX)
	scale := side * 0.68 / 24
	if full {
		scale = side * 0.52 / 24
	}
	shift := func(v, middle float64) float64 { return side/2 + (v-middle)*scale }
	for y := range widthPX {
		for x := range widthPX {
			px, py := float64(x)+0.5, float64(y)+0.5
			out := -1.0
			if !full {
				out = outsideTile(px-side/2, py-side/2, side/2, side*0.2)
			}
			near := math.Inf(1)
			for _, s := range tuft {
				near = min(near, toSegment(px, py, shift(s[0], 11.75), shift(s[1], 12.25), shift(s[2], 11.75), shift(s[3], 12.25)))
			}
			ink := clamp(tuftWidth*scale/2 - near + 0.5)
			cover := clamp(0.5 - out)
			switch {
			case cover == 0:
			case cover < 1 && ink == 0:
				if i := int(math.Round(cover * shades)); i > 0 && i < shades {
					img.SetColorIndex(x, y, uint8(edge+i-1))
				} else if i == shades {
					img.SetColorIndex(x, y, 1)
				}
			default:
				img.SetColorIndex(x, y, uint8(1+math.Round(ink*shades)))
			}
		}
	}
	return img
}

func clamp(v float64) float64 { return min(1, max(0, v)) }

// outsideTile is the distance from a square with round corners around the origin, negative inside.
func outsideTile(x, y, half, radius float64) float64 {
	qx, qy := math.Abs(x)-half+radius, math.Abs(y)-half+radius
	return math.Hypot(max(qx, 0), max(qy, 0)) + min(max(qx, qy), 0) - radius
}

func toSegment(x, y, ax, ay, bx, by float64) float64 {
	dx, dy := bx-ax, by-ay
	t := clamp(((x-ax)*dx + (y-ay)*dy) / (dx*dx + dy*dy))
	return math.Hypot(x-ax-t*dx, y-ay-t*dy)
}
