package phantom

import "thatch/timeline"

// girth is the thickness of the body at its contour, in hundredths of the height at the withers: how far toward the
// camera the contour lies while the dog stands square, and the radius on which the surface turns away from it.
// By eye, as the rest of the drawing; a trunk about a third as wide as the dog is high.
type girth struct{ z, round float64 }

// girthBlendMM is the standard deviation with which the girth passes along the line: from the brisket's middle to
// the near leg within a few centimetres.
const girthBlendMM = 15.0

func girthOf(n node) girth {
	switch n.like {
	case timeline.Withers:
		return girth{0, 9}
	case timeline.Back:
		return girth{0, 14}
	case timeline.Loin:
		return girth{0, 14}
	case timeline.Rump:
		return girth{0, 11}
	case timeline.Tail:
		return girth{0, 3}
	case timeline.Thigh:
		return girth{5, 8}
	case timeline.Hindleg:
		return girth{9, 4.5}
	case timeline.Feet:
		if n.x > 30 {
			return girth{9, 3.5}
		}
		return girth{12, 3.5}
	case timeline.Foreleg:
		return girth{12, 4.5}
	case timeline.Underline:
		return girth{0, 13}
	case timeline.Forechest:
		return girth{0, 11}
	case timeline.Skull, timeline.Brows:
		return girth{0, 7}
	case timeline.Beard:
		return girth{0, 5}
	default: // crest and throat
		return girth{0, 8}
	}
}
