package overlay

import (
	"math"
	"strconv"
	"strings"
)

// Lines are what is drawn on one photo, px of that photo; an empty Path is not drawn.
type Lines struct {
	Skin         Path
	Measured     Path
	Expected     Path
	ExpectedLow  Path // p10
	ExpectedHigh Path // p90
	TargetMin    Path
	TargetMax    Path
}

// PathD is the data of an SVG path through the polylines, one decimal: PathD(line) or PathD(path...). Polylines of fewer
// than two points, and points that are not finite, are left out. SVG's pixel grid has its origin at the corner of the
// top left pixel, so half a pixel is added.
func PathD(lines ...[]XY) string {
	var b strings.Builder
	for _, line := range lines {
		var pts []XY
		for _, p := range line {
			if finite(p) {
				pts = append(pts, p)
			}
		}
		if len(pts) < 2 {
			continue
		}
		for i, p := range pts {
			b.WriteByte("LM"[btoi(i == 0)])
			b.WriteString(tenth(p.X + 0.5))
			b.WriteByte(' ')
			b.WriteString(tenth(p.Y + 0.5))
		}
	}
	return b.String()
}

func tenth(v float64) string {
	// Rounded first, so that −0.04 is not written as "-0.0".
	return strconv.FormatFloat(math.Round(v*10)/10+0, 'f', 1, 64)
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}
