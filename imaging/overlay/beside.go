package overlay

import (
	"image"
	"image/color"
	"image/draw"

	xdraw "golang.org/x/image/draw"
)

// SideBySide puts a to the left of b, gap px of neutral grey between them, both as high as the lower of the two, so that
// neither is blown up. An empty picture takes no room.
func SideBySide(a, b *image.NRGBA, gap int) *image.NRGBA {
	if a.Bounds().Empty() || b.Bounds().Empty() {
		one := a
		if a.Bounds().Empty() {
			one = b
		}
		out := image.NewNRGBA(image.Rect(0, 0, one.Bounds().Dx(), one.Bounds().Dy()))
		draw.Draw(out, out.Bounds(), one, one.Bounds().Min, draw.Src)
		return out
	}
	gap = max(gap, 0)
	h := min(a.Bounds().Dy(), b.Bounds().Dy())
	wide := func(m *image.NRGBA) int { return max(1, (m.Bounds().Dx()*h+m.Bounds().Dy()/2)/m.Bounds().Dy()) }
	wa, wb := wide(a), wide(b)
	out := image.NewNRGBA(image.Rect(0, 0, wa+gap+wb, h))
	draw.Draw(out, out.Bounds(), image.NewUniform(color.NRGBA{0x80, 0x80, 0x80, 0xff}), image.Point{}, draw.Src)
	put := func(m *image.NRGBA, r image.Rectangle) {
		if m.Bounds().Size() == r.Size() {
			draw.Draw(out, r, m, m.Bounds().Min, draw.Src)
			return
		}
		xdraw.CatmullRom.Scale(out, r, m, m.Bounds(), xdraw.Src, nil)
	}
	put(a, image.Rect(0, 0, wa, h))
	put(b, image.Rect(wa+gap, 0, wa+gap+wb, h))
	return out
}
