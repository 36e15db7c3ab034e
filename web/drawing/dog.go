// Package drawing is the salon's own picture of a rough-coated terrier, standing side-on, nose to the left: every zone as
// a shape that can be tapped, and its hair as strokes along the lie.
//
// The picture is made from the tables of points in figure.go, always the same. It shows where zones lie; it measures nothing.
package drawing

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"

	"thatch/timeline"
)

// Size of the drawing, units.
const (
	Width  = 860
	Height = 740
)

// Shape is one zone of the drawing; feet are two pieces.
type Shape struct {
	Zone   timeline.Zone
	Pieces []Piece
	At     XY // deepest inside what is seen of it: where a sign is put
}

// Piece is a part of a shape that one body clips.
type Piece struct {
	Area string // path data; to be clipped by the body named Clip
	Hair string // path data of its strokes
	Clip string // "tail", "trunk", "hind", "fore"
}

// Figure is the whole drawing, in the order of painting.
type Figure struct {
	Far     string // the legs of the far side
	FarHair string
	Bodies  []Body
	Shapes  []Shape // a later one lies over an earlier one
	Rough   string  // hair that stands over the outline
	Lines   string  // mouth, fold of the ear, claws
	Nose    string
	Eye     XY
}

// Body is a closed outline that clips shapes.
type Body struct{ Name, D string }

// Dog is the figure. It is made once.
var Dog = sync.OnceValue(draw)

func draw() Figure {
	r := rand.New(rand.NewPCG(7, 22)) // always the same hair
	c := newCanvas()
	var fig Figure
	for _, b := range outlines {
		fig.Bodies = append(fig.Bodies, Body{Name: b.name, D: pathD(c.bodies[b.name], true)})
	}
	coat := make([]hairs, len(figure))
	// The hairs of a zone are a few kinds, not each its own: it is not seen, and pages with the drawing are a fifth shorter.
	kinds := make([][6]hair, len(figure))
	for i, z := range figure {
		for k := range kinds[i] {
			kinds[i][k] = hair{(z.lieDeg + r.Float64()*26 - 13) * math.Pi / 180, z.hair * (0.7 + 0.5*r.Float64()), r.Float64()*5 - 1}
		}
	}
	const gap = 16.0
	for y := 8.0; y < Height; y += gap * 0.8 {
		for x := 8.0; x < Width; x += gap {
			p := XY{X: x + r.Float64()*gap*0.9, Y: y + r.Float64()*gap*0.7}
			if i := c.top(p); i >= 0 {
				coat[i].stroke(p, kinds[i][r.IntN(len(kinds[i]))])
			}
		}
	}
	for i, z := range figure {
		piece := Piece{Area: pathD(c.areas[i], true), Hair: coat[i].String(), Clip: z.clip}
		shape := Shape{Zone: z.zone, At: c.deepest(i)}
		if at := slices.IndexFunc(fig.Shapes, func(s Shape) bool { return s.Zone == z.zone }); at >= 0 {
			// A zone in two pieces is painted where its last piece comes.
			shape = fig.Shapes[at]
			fig.Shapes = slices.Delete(fig.Shapes, at, at+1)
		}
		shape.Pieces = append(shape.Pieces, piece)
		fig.Shapes = append(fig.Shapes, shape)
	}
	fig.Rough = rough(r, c)
	fig.Far, fig.FarHair = far(r)
	var lines strings.Builder
	for _, l := range details {
		lines.WriteString(pathD(spline(l, false, 6), false))
	}
	fig.Lines = lines.String()
	fig.Nose = pathD(spline(nose, true, 6), true)
	fig.Eye = eye
	return fig
}

// rough lets hair stand over the outline, in the lie of the zone it grows from.
func rough(r *rand.Rand, c *canvas) string {
	var b hairs
	for _, o := range outlines {
		pts := c.bodies[o.name]
		way := 0.0
		for i := range pts {
			p, q := pts[i], pts[(i+1)%len(pts)]
			step := math.Hypot(q.X-p.X, q.Y-p.Y)
			if way += step; way < 8 || step == 0 {
				continue
			}
			way = 0
			// The outlines run clockwise on the screen: inward is to the right of the way.
			in := XY{X: p.X - (q.Y-p.Y)/step*5, Y: p.Y + (q.X-p.X)/step*5}
			i := c.top(in)
			if i < 0 || figure[i].clip != o.name {
				continue // another body lies over this edge
			}
			out := math.Atan2(p.Y-in.Y, p.X-in.X)
			lie := figure[i].lieDeg * math.Pi / 180
			// Between the lie and straight out, so that hair follows the body and still breaks the line.
			angle := math.Atan2(math.Sin(lie)*1.6+math.Sin(out), math.Cos(lie)*1.6+math.Cos(out))
			b.stroke(in, hair{math.Round((angle+r.Float64()*0.4-0.2)*10) / 10, figure[i].hair * (0.6 + 0.2*float64(r.IntN(3))), float64(r.IntN(3))})
		}
	}
	return b.String()
}

func far(r *rand.Rand) (legs, coat string) {
	var b hairs
	for _, leg := range farLegs {
		pts := spline(leg, true, 6)
		legs += pathD(pts, true)
		for n := 0; n < 46; {
			p := pts[r.IntN(len(pts))]
			q := XY{X: p.X + r.Float64()*44 - 22, Y: p.Y + r.Float64()*44 - 22}
			if inside(pts, q) {
				b.stroke(q, hair{(82 + 5*float64(r.IntN(5))) * math.Pi / 180, 18, 1})
				n++
			}
		}
	}
	return legs, b.String()
}
