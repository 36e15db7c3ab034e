package marker

import (
	"fmt"
	"image"

	qr "github.com/piglig/go-qr" // MIT
)

// dim is the number of modules along a side of our symbols: version 2 of ISO/IEC 18004, level Q (a quarter may be lost).
const dim = 25

// grid is a square of modules, rows from the top, true is dark.
type grid [][]bool

func newGrid(n int) grid {
	all := make([]bool, n*n)
	g := make(grid, n)
	for y := range g {
		g[y] = all[y*n : (y+1)*n]
	}
	return g
}

// encode is the symbol of a text.
func encode(t Text) (grid, error) {
	if err := t.Check(); err != nil {
		return nil, err
	}
	return drawn(t.String(), -1)
}

// drawn is the symbol of one of our texts with the given mask, −1 for the one the standard prefers.
func drawn(text string, mask int) (grid, error) {
	seg, err := qr.MakeAlphanumeric(text)
	if err != nil {
		return nil, err
	}
	const v = (dim - 17) / 4
	code, err := qr.EncodeSegments([]*qr.QrSegment{seg}, qr.Quartile, v, v, mask, false)
	if err != nil {
		return nil, err
	}
	g := newGrid(dim)
	for y := range g {
		for x := range g[y] {
			g[y][x] = code.Module(x, y)
		}
	}
	return g, nil
}

// decode corrects and reads a symbol's modules; mask is the one it was drawn with.
func decode(g grid) (text string, mask int, err error) {
	// Bits of a stranger's making reach the library's tables of characters; it has been seen to overstep them.
	defer func() {
		if p := recover(); p != nil {
			text, mask, err = "", 0, fmt.Errorf("symbol: %v", p)
		}
	}()
	img := image.NewGray(image.Rect(0, 0, len(g), len(g)))
	for y := range g {
		for x, dark := range g[y] {
			if !dark {
				img.SetGray(x, y, lightest)
			}
		}
	}
	res, err := qr.DecodeDetailed(img, qr.WithFastPathOnly())
	if err != nil {
		return "", 0, err
	}
	return res.Text, res.Mask, nil
}
