package marker

import (
	"image"
	"math"
)

// Card is the card as it stands on the table, without the foot that is in its block: dotsPerMM to a millimetre. The error is a
// Fault.
func Card(t Text, l Labels, dotsPerMM float64) (img image.Image, widthMM, heightMM float64, err error) {
	s, err := newSheet(t, A4, l)
	if err != nil {
		return nil, 0, 0, err
	}
	size := float64(t.SizeMM)
	widthMM, heightMM = (card.u1-card.u0)*size, (card.v1-card.v0)*size
	left, top := s.place.x+(card.u0+0.5)*size, s.place.y+(card.v0+0.5)*size
	px := func(mm float64) int { return int(math.Round(mm * dotsPerMM)) }
	return raster(s, dotsPerMM).SubImage(image.Rect(px(left), px(top), px(left+widthMM), px(top+heightMM))), widthMM, heightMM, nil
}
