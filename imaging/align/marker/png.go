package marker

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/png"
	"io"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/math/fixed"
)

const (
	dotsPerInch  = 300
	dotsPerMM    = dotsPerInch / 25.4
	dotsPerMetre = 11811 // 300 dots an inch
)

// raster is the sheet as a picture; a dot that an edge crosses is as grey as its share, so that edges keep their place.
func raster(s *sheet, dpmm float64) *image.Gray {
	img := image.NewGray(image.Rect(0, 0, int(math.Round(s.paper.WidthMM*dpmm)), int(math.Round(s.paper.HeightMM*dpmm))))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	share := func(i int, a, b float64) float64 {
		return math.Max(0, math.Min(b, float64(i+1))-math.Max(a, float64(i)))
	}
	for _, r := range s.rects {
		x0, x1, y0, y1 := r.x*dpmm, (r.x+r.w)*dpmm, r.y*dpmm, (r.y+r.h)*dpmm
		for y := max(0, int(y0)); y < min(img.Rect.Dy(), int(math.Ceil(y1))); y++ {
			sy := share(y, y0, y1)
			for x := max(0, int(x0)); x < min(img.Rect.Dx(), int(math.Ceil(x1))); x++ {
				p := &img.Pix[y*img.Stride+x]
				k := sy * share(x, x0, x1)
				*p = uint8(math.Max(0, math.Round(float64(*p)-k*float64(255-r.grey)))) // what adjoins adds up
			}
		}
	}
	for _, t := range s.texts {
		d := font.Drawer{Dst: img, Src: image.Black, Face: face(t.size, dpmm), Dot: fixed.Point26_6{X: fixed.Int26_6(t.x * dpmm * 64), Y: fixed.Int26_6(t.y * dpmm * 64)}}
		d.DrawString(t.text)
	}
	return img
}

func writePNG(w io.Writer, s *sheet) error {
	var b bytes.Buffer
	if err := png.Encode(&b, raster(s, dotsPerMM)); err != nil {
		return err
	}
	_, err := w.Write(withDensity(b.Bytes()))
	return err
}

// withDensity adds the chunk that says how large a dot is (PNG, 11.3.4.3, pHYs), behind the header.
func withDensity(b []byte) []byte {
	const header = 8 + 12 + 13
	var body [9]byte
	binary.BigEndian.PutUint32(body[0:], dotsPerMetre)
	binary.BigEndian.PutUint32(body[4:], dotsPerMetre)
	body[8] = 1 // per metre
	chunk := append([]byte("pHYs"), body[:]...)
	out := append([]byte{}, b[:header]...)
	out = binary.BigEndian.AppendUint32(out, uint32(len(body)))
	out = append(out, chunk...)
	out = binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(chunk))
	return append(out, b[header:]...)
}
