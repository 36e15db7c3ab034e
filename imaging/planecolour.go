package imaging

import (
	"image"
	"image/color"
	"math"
	"sync"
)

// colourGrid is a colourMap tabled in YCbCr, the colours that JPEG keeps, so that a picture need not leave its planes:
// 33 nodes an axis, linear between them. A node packs luma, Cb and Cr in lanes of 21 bits, 1/16 of a level each:
// 255·16 weighed by 8·8·8 fits the lane, so that one multiplication weighs all three.
//
// Where the table would be off, at the edge of sRGB, where colours are clipped, and in the deepest shade, where its curve
// is steep, the pixel is converted by the map itself.
type colourGrid struct {
	node  [gridNodes * gridNodes * gridNodes]uint64 // by Cb, Cr, luma
	steep [gridCells * gridCells * gridCells]bool
	exact *colourMap
}

const (
	gridCells = 32
	gridNodes = gridCells + 1
	gridStep  = 256 / gridCells
	gridError = 1 // levels of a channel of RGB, up to which the table is believed
	lane      = 21
	laneMask  = 1<<lane - 1
	laneUnit  = 16 * gridStep * gridStep * gridStep // of a level, weighed
)

// lastGrid is kept because photos of one phone share a profile.
var lastGrid struct {
	sync.Mutex
	of   [3][256]float32
	by   [3][3]float32
	grid *colourGrid
}

// grid tables the map.
func (m *colourMap) grid() *colourGrid {
	lastGrid.Lock()
	defer lastGrid.Unlock()
	if lastGrid.grid == nil || lastGrid.of != m.linear || lastGrid.by != m.matrix {
		lastGrid.grid, lastGrid.of, lastGrid.by = newColourGrid(m), m.linear, m.matrix
	}
	return lastGrid.grid
}

func newColourGrid(m *colourMap) *colourGrid {
	g := &colourGrid{exact: m}
	rows(gridNodes, func(b0, b1 int) {
		for b := b0; b < b1; b++ {
			for r := range gridNodes {
				for y := range gridNodes {
					v := m.planeColour([3]float64{float64(y * gridStep), float64(b * gridStep), float64(r * gridStep)})
					at := func(v float64) uint64 { return uint64(min(max(v, 0), 255)*16 + 0.5) }
					g.node[(b*gridNodes+r)*gridNodes+y] = at(v[0]) | at(v[1])<<lane | at(v[2])<<(2*lane)
				}
			}
		}
	})
	rows(gridCells, func(b0, b1 int) {
		for b := b0; b < b1; b++ {
			for r := range gridCells {
				for y := range gridCells {
					g.steep[(b*gridCells+r)*gridCells+y] = g.off(y, b, r)
				}
			}
		}
	})
	return g
}

// planeColour converts a colour of full-range YCbCr of BT.601, as JFIF 1.02 has it. A colour that no RGB
// has is carried on before it is converted, and clipped only then.
func (m *colourMap) planeColour(c [3]float64) [3]float64 {
	rgb := toRGB(c)
	r, g, b := m.beyond(rgb[0], rgb[1], rgb[2])
	r, g, b = min(max(r, 0), 255), min(max(g, 0), 255), min(max(b, 0), 255)
	return [3]float64{
		0.299*r + 0.587*g + 0.114*b,
		128 - 0.168736*r - 0.331264*g + 0.5*b,
		128 + 0.5*r - 0.418688*g - 0.081312*b,
	}
}

func toRGB(c [3]float64) [3]float64 {
	cb, cr := c[1]-128, c[2]-128
	return [3]float64{c[0] + 1.402*cr, c[0] - 0.344136*cb - 0.714136*cr, c[0] + 1.772*cb}
}

// off reports whether a cell's table is off anywhere it is looked at: in its middle and towards each of its corners.
func (g *colourGrid) off(y, b, r int) bool {
	for _, at := range [][3]float64{{4, 4, 4}, {1, 1, 1}, {1, 7, 7}, {7, 1, 7}, {7, 7, 1}, {2, 2, 6}, {2, 6, 2}, {6, 2, 2}, {6, 6, 6}} {
		c := [3]float64{float64(y*gridStep) + at[0], float64(b*gridStep) + at[1], float64(r*gridStep) + at[2]}
		in := toRGB(c)
		if min(in[0], in[1], in[2]) < -gridStep || max(in[0], in[1], in[2]) > 255+gridStep {
			continue // no picture has it but by its coding
		}
		var table [3]float64
		for corner := range 8 {
			dy, db, dr := corner&1, corner>>1&1, corner>>2
			weight := 1.0
			for i, d := range [3]int{dy, db, dr} {
				if d == 1 {
					weight *= at[i] / gridStep
				} else {
					weight *= 1 - at[i]/gridStep
				}
			}
			n := g.node[((b+db)*gridNodes+r+dr)*gridNodes+y+dy]
			for i := range table {
				table[i] += weight * float64(n>>(i*lane)&laneMask) / 16
			}
		}
		want, got := toRGB(g.exact.planeColour(c)), toRGB(table)
		for i := range want {
			if math.Abs(want[i]-got[i]) > gridError {
				return true
			}
		}
	}
	return false
}

// apply converts a 4:2:0 picture in place.
func (g *colourGrid) apply(img *image.YCbCr) {
	p := planesOf(img)
	w, h := p[0].w, p[0].h
	rows(p[1].h, func(c0, c1 int) {
		var columns [gridNodes + 1]uint64 // weighed by Cb and Cr: by luma only to be weighed yet
		for c := c0; c < c1; c++ {
			top := p[0].pix[2*c*p[0].stride:][:w]
			low := top
			if 2*c+1 < h {
				low = p[0].pix[(2*c+1)*p[0].stride:][:w]
			}
			cbs, crs := p[1].pix[c*p[1].stride:][:p[1].w], p[2].pix[c*p[2].stride:][:p[1].w]
			for x := range cbs {
				x0, x1 := 2*x, min(2*x+1, w-1)
				a, b, d, e := top[x0], top[x1], low[x0], low[x1]
				cb, cr := uint(cbs[x]), uint(crs[x])
				first, last := min(a, b, d, e)/gridStep, max(a, b, d, e)/gridStep
				steep := g.steep[(cb/gridStep*gridCells+cr/gridStep)*gridCells:][:gridCells]
				if steep[first] || steep[last] {
					quad := [4]uint8{a, b, d, e}
					cbs[x], crs[x] = g.exact.quad(&quad, cbs[x], crs[x])
					low[x0], low[x1] = quad[2], quad[3]
					top[x0], top[x1] = quad[0], quad[1]
					continue
				}
				fb, fr := uint64(cb%gridStep), uint64(cr%gridStep)
				at := (cb/gridStep*gridNodes + cr/gridStep) * gridNodes
				n00, n01 := g.node[at:][:gridNodes], g.node[at+gridNodes:][:gridNodes]
				n10, n11 := g.node[at+gridNodes*gridNodes:][:gridNodes], g.node[at+(gridNodes+1)*gridNodes:][:gridNodes]
				w11 := fb * fr
				w10, w01 := fb*gridStep-w11, fr*gridStep-w11
				w00 := gridStep*gridStep - w10 - w01 - w11
				for k := uint(first); k <= uint(last)+1 && k < gridNodes; k++ {
					columns[k] = w00*n00[k] + w01*n01[k] + w10*n10[k] + w11*n11[k]
				}
				mean := (uint(a) + uint(b) + uint(d) + uint(e) + 2) / 4
				top[x0] = luma(&columns, a)
				top[x1] = luma(&columns, b)
				if &low[0] != &top[0] {
					low[x0] = luma(&columns, d)
					low[x1] = luma(&columns, e)
				}
				k, f := mean/gridStep, uint64(mean%gridStep)
				v := (gridStep-f)*columns[k] + f*columns[k+1]
				cbs[x] = level(v >> lane)
				crs[x] = level(v >> (2 * lane))
			}
		}
	})
}

// quad converts four pixels that share their chroma.
func (m *colourMap) quad(lumas *[4]uint8, cb, cr uint8) (uint8, uint8) {
	var sum [3]int32
	for i, y := range lumas {
		r, g, b := color.YCbCrToRGB(y, cb, cr)
		r, g, b = m.convert(r, g, b)
		sum[0], sum[1], sum[2] = sum[0]+int32(r), sum[1]+int32(g), sum[2]+int32(b)
		lumas[i], _, _ = color.RGBToYCbCr(r, g, b)
	}
	_, cb, cr = color.RGBToYCbCr(uint8((sum[0]+2)/4), uint8((sum[1]+2)/4), uint8((sum[2]+2)/4))
	return cb, cr
}

func luma(columns *[gridNodes + 1]uint64, y byte) byte {
	k, f := y/gridStep, uint64(y%gridStep)
	v := (gridStep-f)*columns[k] + f*columns[k+1]
	return level(v)
}

// level is the byte in the lowest lane.
func level(v uint64) byte {
	return uint8((v&laneMask + laneUnit/2) / laneUnit)
}
