package marker

import (
	"bytes"
	"image"
	"image/draw"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"testing"

	"thatch/imaging"
)

// scene is a photo by a pinhole camera of a printed sheet's card, whose geometry is known exactly.
type scene struct {
	text     Text
	widthPX  float64 // of the symbol, seen square
	turn     float64 // degrees about the card's vertical
	lean     float64 // about its horizontal
	roll     float64
	focal    float64
	mid      XY                      // of the symbol, px
	blur     float64                 // σ, px
	noise    float64                 // σ, levels
	light    float64                 // how much darker the far end of the card is, 0–1
	dim      float64                 // reflected light of the paper, 0–1
	quality  int                     // of the JPEG; 0: none
	curve    float64                 // of a card bent about its vertical: its width over the radius
	cover    func(u, v float64) bool // what lies on it, in sides of the symbol
	seed     uint64
	contrast float64 // of the ink: light it reflects, 0–1
}

var sheets = map[Text]*image.Gray{}

const sheetDPMM = 8

// printed is the sheet of a text as a fine picture, and the place of the symbol's middle in it.
func printed(t testing.TB, text Text) (*image.Gray, XY, float64) {
	t.Helper()
	s, err := newSheet(text, A4, Labels{Title: "Test", Name: "Test"})
	if err != nil {
		t.Fatal(err)
	}
	half := float64(text.SizeMM) / 2
	if sheets[text] == nil {
		sheets[text] = raster(s, sheetDPMM)
	}
	return sheets[text], XY{X: s.place.x + half, Y: s.place.y + half}, float64(text.SizeMM)
}

// shoot lays the scene over img and returns the true scale in mm per px and the true corners.
func (s scene) shoot(t testing.TB, img *image.NRGBA) (mmPerPX float64, at [4]XY) {
	t.Helper()
	sheet, origin, size := printed(t, s.text)
	b := img.Bounds()
	axis := XY{X: float64(b.Dx()-1) / 2, Y: float64(b.Dy()-1) / 2}
	mmPerPX = size / s.widthPX
	z := mmPerPX * s.focal
	c := [3]float64{z * (s.mid.X - axis.X) / s.focal, z * (s.mid.Y - axis.Y) / s.focal, z}
	r := turned(s.turn, s.lean, s.roll)
	project := func(u, v float64) XY { // mm on the card from the middle
		u, w := s.bend(u, size)
		var p [3]float64
		for i := range p {
			p[i] = c[i] + r[i][0]*u + r[i][1]*v + r[i][2]*w
		}
		return XY{X: axis.X + s.focal*p[0]/p[2], Y: axis.Y + s.focal*p[1]/p[2]}
	}
	for i, q := range [4]XY{{X: -1, Y: -1}, {X: 1, Y: -1}, {X: 1, Y: 1}, {X: -1, Y: 1}} {
		at[i] = project(q.X*size/2, q.Y*size/2)
	}
	box := image.Rectangle{}
	for _, q := range [4]XY{{X: card.u0, Y: card.v0}, {X: card.u1, Y: card.v0}, {X: card.u1, Y: card.v1}, {X: card.u0, Y: card.v1}} {
		p := project(q.X*size, q.Y*size)
		box = box.Union(image.Rect(int(p.X)-8, int(p.Y)-8, int(p.X)+9, int(p.Y)+9))
	}
	// To the squares of 16 px that a JPEG of 4:2:0 is made of.
	box = image.Rect(box.Min.X&^15, box.Min.Y&^15, (box.Max.X+15)&^15, (box.Max.Y+15)&^15).Intersect(b)
	// Back from the photo to the card: where a ray first meets the plane, or the cylinder that a bent card is part of.
	card3 := func(p [3]float64) (out [3]float64) {
		for i := range 3 {
			for j := range 3 {
				out[j] += r[i][j] * p[i]
			}
		}
		return out
	}
	from := card3([3]float64{-c[0], -c[1], -c[2]})
	first := card3([3]float64{-axis.X / s.focal, -axis.Y / s.focal, 1}) // the ray of the pixel 0, 0, and what a px changes of it
	perX, perY := card3([3]float64{1 / s.focal, 0, 0}), card3([3]float64{0, 1 / s.focal, 0})
	radius := size / s.curve
	unproject := func(x, y float64) (u, v float64) {
		d0, d1, d2 := first[0]+x*perX[0]+y*perY[0], first[1]+x*perX[1]+y*perY[1], first[2]+x*perX[2]+y*perY[2]
		if s.curve == 0 {
			k := -from[2] / d2
			return from[0] + k*d0, from[1] + k*d1
		}
		p, q := d0*d0+d2*d2, from[0]*d0+(from[2]-radius)*d2
		root := q*q - p*(square(from[0])+square(from[2]-radius)-radius*radius)
		if root < 0 {
			return math.Inf(1), 0 // past its edge
		}
		k := (-q - math.Sqrt(root)) / p
		return radius * math.Atan2(from[0]+k*d0, radius-from[2]-k*d2), from[1] + k*d1
	}
	rng := rand.New(rand.NewPCG(s.seed, 77))
	w, h := box.Dx(), box.Dy()
	light := make([]float64, w*h)
	const fine = 4
	perSide, slope := 1/size, s.light/(card.u1-card.u0)
	var inked [256]float64 // a dot half inked reflects half of the light
	for i := range inked {
		inked[i] = (s.contrast + (1-s.contrast)*float64(i)/255) * s.dim
	}
	for y := range h {
		for x := range w {
			var sum, inside float64
			for j := range fine {
				for i := range fine {
					px := float64(box.Min.X+x) + (float64(i)+0.5)/fine - 0.5
					py := float64(box.Min.Y+y) + (float64(j)+0.5)/fine - 0.5
					u, v := unproject(px, py)
					su, sv := u*perSide, v*perSide
					if su < card.u0 || su > card.u1 || sv < card.v0 || sv > card.v1 {
						continue
					}
					inside++
					if s.cover != nil && s.cover(su, sv) {
						sum += 0.25 + 0.05*math.Sin(40*su+13*sv)
						continue
					}
					dot := sheet.Pix[clampTo(int((origin.Y+v)*sheetDPMM), sheet.Rect.Dy())*sheet.Stride+clampTo(int((origin.X+u)*sheetDPMM), sheet.Rect.Dx())]
					sum += inked[dot] * (1 - slope*(0.5*(card.u1-card.u0)+su))
				}
			}
			p := img.Pix[img.PixOffset(box.Min.X+x, box.Min.Y+y):]
			light[y*w+x] = (sum + (fine*fine-inside)*float64(linear[p[1]])) / (fine * fine)
		}
	}
	light = blurred(light, w, h, s.blur)
	out := image.NewNRGBA(image.Rect(0, 0, w, h))
	for i, v := range light {
		e := 255*encoded(v) + rng.NormFloat64()*s.noise
		g := uint8(math.Max(0, math.Min(255, math.Round(e))))
		out.Pix[4*i], out.Pix[4*i+1], out.Pix[4*i+2], out.Pix[4*i+3] = g, g, g, 255
	}
	var src image.Image = out
	if s.quality > 0 {
		var buf bytes.Buffer
		if err := imaging.EncodeJPEG(&buf, out, s.quality); err != nil {
			t.Fatal(err)
		}
		var err error
		if src, err = jpeg.Decode(&buf); err != nil {
			t.Fatal(err)
		}
	}
	draw.Draw(img, box, src, image.Point{}, draw.Src)
	return mmPerPX, at
}

// bend is where a place on a card bent about its vertical lies: along the flat card, and behind it.
func (s scene) bend(u, size float64) (float64, float64) {
	if s.curve == 0 {
		return u, 0
	}
	radius := size / s.curve
	return radius * math.Sin(u/radius), radius * (1 - math.Cos(u/radius))
}

func clampTo(i, n int) int { return max(0, min(n-1, i)) }

func encoded(v float64) float64 {
	if v <= 0.0031308 {
		return 12.92 * max(0, v)
	}
	return 1.055*math.Pow(v, 1/2.4) - 0.055
}

// turned is a rotation: first about the card's vertical, then about the horizontal, then in the photo.
func turned(turn, lean, roll float64) (m [3][3]float64) {
	rad := math.Pi / 180
	st, ct := math.Sincos(turn * rad)
	sl, cl := math.Sincos(lean * rad)
	sr, cr := math.Sincos(roll * rad)
	y := [3][3]float64{{ct, 0, -st}, {0, 1, 0}, {st, 0, ct}}
	x := [3][3]float64{{1, 0, 0}, {0, cl, sl}, {0, -sl, cl}}
	z := [3][3]float64{{cr, -sr, 0}, {sr, cr, 0}, {0, 0, 1}}
	return times(z, times(x, y))
}

func times(a, b [3][3]float64) (m [3][3]float64) {
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				m[i][j] += a[i][k] * b[k][j]
			}
		}
	}
	return m
}

func blurred(in []float64, w, h int, sigma float64) []float64 {
	if sigma <= 0 {
		return in
	}
	n := int(math.Ceil(3 * sigma))
	k := make([]float64, 2*n+1)
	sum := 0.0
	for i := range k {
		k[i] = math.Exp(-square(float64(i-n)) / (2 * sigma * sigma))
		sum += k[i]
	}
	pass := func(in []float64, at func(i, j int) int, a, b int) []float64 {
		out := make([]float64, len(in))
		for i := range a {
			for j := range b {
				for d, v := range k {
					out[at(i, j)] += v / sum * in[at(i, clampTo(j+d-n, b))]
				}
			}
		}
		return out
	}
	in = pass(in, func(i, j int) int { return i*w + j }, h, w)
	return pass(in, func(i, j int) int { return j*w + i }, w, h)
}

// room is an empty photo: soft shades of a wall and a table's edge, with noise.
func room(w, h int, seed uint64) *image.NRGBA {
	rng := rand.New(rand.NewPCG(seed, 5))
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			v := 120 + 40*math.Sin(float64(x)/700)*math.Cos(float64(y)/500)
			if y > h*2/3 {
				v -= 50
			}
			g := uint8(v + float64(rng.IntN(13)) - 6)
			i := img.PixOffset(x, y)
			img.Pix[i], img.Pix[i+1], img.Pix[i+2], img.Pix[i+3] = g, g, g, 255
		}
	}
	return img
}

// typical is an ordinary photo of the marker.
func typical(width, turn, lean float64, seed uint64) scene {
	rng := rand.New(rand.NewPCG(seed, 11))
	return scene{
		text: Text{Dog: "7h2k9m4qx0abcdef", SizeMM: 80}, widthPX: width, turn: turn, lean: lean, roll: rng.Float64()*10 - 5,
		focal: FocalPX(24+rng.Float64()*30, 4032, 3024), mid: XY{X: 800 + rng.Float64()*2400, Y: 1400 + rng.Float64()*900},
		blur: 1, noise: 3, light: 0.3, dim: 0.5 + 0.3*rng.Float64(), quality: 85, contrast: 0.05, seed: seed,
	}
}
