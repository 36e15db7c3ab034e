package overlay

import "image"

// Path is a set of polylines, px.
type Path [][]XY

// Lines are what is drawn on one photo; an empty Path is not drawn.
type Lines struct {
	Skin         Path
	Measured     Path
	Expected     Path
	ExpectedLow  Path // p10
	ExpectedHigh Path // p90
	TargetMin    Path
	TargetMax    Path
}

// PathD is the data of an SVG path through the polylines, one decimal: PathD(line) or PathD(path...).
func PathD(lines ...[]XY) string { return "" }

// Draw burns the lines into a copy of img.
func Draw(img *image.NRGBA, l Lines) *image.NRGBA { return img }

// SideBySide puts two pictures beside each other at equal height, gap px apart.
func SideBySide(a, b *image.NRGBA, gap int) *image.NRGBA { return a }
