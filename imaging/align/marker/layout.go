package marker

// The card, in sides of the symbol from the symbol's middle, u to the right and v down. Printing and finding both go by
// this; a change of it needs a new version of the text, for cards that are out there.
//
//	quiet zone of four modules round the symbol (ISO/IEC 18004, 9.1)
//	below it a grey and a white patch, side by side
//
// box is a rectangle on the card.
type box struct{ u0, v0, u1, v1 float64 }

const quiet = 4.0 / dim

var (
	greyPatch  = box{-0.5, 0.5 + quiet, -0.04, 0.5 + quiet + 0.22}
	whitePatch = box{0.04, 0.5 + quiet, 0.5, 0.5 + quiet + 0.22}
	// card is what is cut out: a frame of quiet zone all round.
	card = box{-0.5 - quiet, -0.5 - quiet, 0.5 + quiet, 0.5 + quiet + 0.22 + quiet}
)

// greyLevel is what the grey patch is printed with, 0–255 encoded: between a dog's shades, far from black and paper.
const greyLevel = 128

// inner is the box without its rim, which blur mixes with what is beside it.
func (b box) inner() box {
	du, dv := (b.u1-b.u0)*0.2, (b.v1-b.v0)*0.2
	return box{b.u0 + du, b.v0 + dv, b.u1 - du, b.v1 - dv}
}
