package phantom

import (
	"math"
	"math/rand/v2"
)

// paint gives a hair its colour by where its root is.
type paint struct {
	colour  Colour
	patches []patch
	skin    rgb
}

// patch is an ellipse of the standard dog, posed; inside its value is below 1.
type patch struct{ x, y, cos, sin, rx, ry float64 }

func (p patch) value(x, y float64) float64 {
	dx, dy := x-p.x, y-p.y
	u, v := (dx*p.cos+dy*p.sin)/p.rx, (dy*p.cos-dx*p.sin)/p.ry
	return math.Sqrt(u*u + v*v)
}

var (
	milk     = rgb{243, 239, 230}
	cream    = rgb{228, 208, 176}
	tan      = rgb{186, 122, 70}
	richTan  = rgb{178, 108, 56}
	deepTan  = rgb{138, 84, 46}
	wheat    = rgb{206, 154, 98}
	paleFawn = rgb{226, 192, 148}
	coal     = rgb{58, 54, 54}
	smoke    = rgb{84, 76, 72}
)

func paintOf(s stance) *paint {
	p := &paint{colour: s.dog.Colour, skin: rgb{206, 172, 158}}
	add := func(x, y, rx, ry, deg float64) {
		px, py := s.place(x, y)
		dx, dy := s.lie(x, y, math.Cos(deg*math.Pi/180), math.Sin(deg*math.Pi/180))
		p.patches = append(p.patches, patch{px, py, dx, dy, rx * s.mm, ry * s.mm})
	}
	rng := rand.New(rand.NewPCG(uint64(s.dog.Seed), 0x9a7c))
	j := func(a float64) float64 { return (rng.Float64()*2 - 1) * a }
	switch p.colour {
	case TanAndWhite:
		add(-48, 126, 17, 17, -8)                     // head
		add(30+j(6), 95+j(2), 27+j(6), 19+j(3), j(5)) // saddle
		add(71+j(2), 97, 9+j(2), 13+j(2), 0)          // root of the tail
		add(-80, 113, 17, 13, 14)                     // muzzle
	case BlackAndTan:
		p.skin = rgb{120, 100, 96}
		add(22, 92, 40, 26, 0)     // saddle
		add(54, 94, 30, 20, 0)     // loin
		add(-15, 112, 25, 16, -60) // neck
	case Grizzle:
		add(26, 96, 56, 24, 0)
		add(-15, 112, 24, 14, -60)
	case RedWheaten:
		add(26, 98, 60, 18, 0)
	}
	return p
}

// root is the colour of a hair rooted at (x, y), before light. over tells head from trunk and leg.
func (p *paint) root(x, y float64, over layer, rng *rand.Rand) rgb {
	// Markings end in a seam of mixed hairs.
	n := (rng.Float64() + rng.Float64() - 1) * 0.16
	switch p.colour {
	case White:
		if over == layHead && rng.Float64() < 0.10 {
			return cream
		}
		return milk.mix(cream, float32(rng.Float64()*0.22))
	case TanAndWhite:
		if over == layHead {
			if p.patches[3].value(x, y)+2*n < 1 {
				return milk.mix(cream, float32(rng.Float64()*0.3))
			}
			return tan.mix(deepTan, float32(rng.Float64()*0.5))
		}
		v := p.patches[1].value(x, y) + n
		switch {
		case over == layTrunk && v < 0.86:
			return coal.mix(smoke, float32(rng.Float64()*0.5))
		case over == layTrunk && v < 1:
			return deepTan.mix(tan, float32(rng.Float64()))
		case p.patches[2].value(x, y)+n < 1:
			return tan.mix(deepTan, float32(rng.Float64()*0.6))
		case over != layHead && p.patches[0].value(x, y)+n < 0.9:
			return tan
		}
		return milk.mix(cream, float32(rng.Float64()*0.16))
	case BlackAndTan:
		if over != layHead && over != layFore {
			for _, q := range p.patches {
				if over == layTail || q.value(x, y)+n < 1 {
					return coal.mix(smoke, float32(rng.Float64()*0.5))
				}
			}
		}
		return tan.mix(richTan, float32(rng.Float64()))
	case Grizzle:
		dark := 0.07
		for _, q := range p.patches {
			if over != layHead && over != layFore {
				dark = max(dark, 0.62*smooth(1.15, 0.7, q.value(x, y)))
			}
		}
		if over == layTail {
			dark = 0.5
		}
		if rng.Float64() < dark {
			return rgb{92, 84, 78}.mix(rgb{150, 128, 104}, float32(rng.Float64()*0.6))
		}
		return rgb{188, 156, 118}.mix(rgb{214, 190, 156}, float32(rng.Float64()*0.8))
	default: // RedWheaten
		back := smooth(1.3, 0.5, p.patches[0].value(x, y))
		if over == layHead {
			back = 0.45
		}
		return paleFawn.mix(wheat, float32(0.35+0.5*rng.Float64())).mix(richTan, float32(back*(0.35+0.5*rng.Float64())))
	}
}

// ear is the colour of the ear's leather.
func (p *paint) ear() rgb {
	switch p.colour {
	case White:
		return cream.mix(milk, 0.35)
	case TanAndWhite:
		return deepTan.mix(tan, 0.35)
	case BlackAndTan:
		return deepTan.mix(tan, 0.3)
	case Grizzle:
		return smoke.mix(tan, 0.3)
	default:
		return deepTan.mix(richTan, 0.5)
	}
}
