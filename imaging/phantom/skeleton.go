package phantom

import "thatch/timeline"

// The standard dog, facing left: x to the rear, y up, from the point on the table below the withers, in
// hundredths of the height at the withers.

// node is a point of the skin line. From it to the next node the line belongs to zone ("" where none is
// measured) and carries factor times the depth of the coat of like.
type node struct {
	x, y   float64
	zone   timeline.Zone
	like   timeline.Zone
	factor float64
	mark   timeline.Point
}

func in(z timeline.Zone, x, y float64) node { return node{x: x, y: y, zone: z, like: z, factor: 1} }

func off(like timeline.Zone, factor, x, y float64) node {
	return node{x: x, y: y, like: like, factor: factor}
}

func (n node) at(p timeline.Point) node { n.mark = p; return n }

// nearSide is the skin line of the near side, from the nose over the back to the hind leg and home along the belly.
var nearSide = []node{
	off(timeline.Skull, 0, -79.4, 119.8).at(timeline.Nose),
	off(timeline.Skull, 0, -78.4, 123.2),
	off(timeline.Skull, 0.5, -70, 125.8),
	off(timeline.Brows, 0.50, -62.6, 128),
	off(timeline.Brows, 0.50, -57.4, 131.2),
	in(timeline.Skull, -50, 133.6),
	in(timeline.Skull, -42, 135.6),
	in(timeline.Crest, -33.5, 135).at(timeline.Occiput),
	in(timeline.Crest, -26, 130),
	in(timeline.Crest, -17.5, 119),
	in(timeline.Crest, -10, 108.6),
	in(timeline.Withers, -4, 102.6),
	in(timeline.Withers, 0, 100).at(timeline.WithersPt),
	in(timeline.Back, 8.5, 98.6),
	in(timeline.Back, 21, 98),
	in(timeline.Back, 33, 98).at(timeline.MidBack),
	in(timeline.Loin, 43, 98),
	in(timeline.Rump, 56, 97.8),
	in(timeline.Rump, 65.5, 96.8).at(timeline.TailSet),
	in(timeline.Tail, 68.6, 98),
	in(timeline.Tail, 70.9, 104),
	in(timeline.Tail, 72.8, 117),
	in(timeline.Tail, 74, 128),
	in(timeline.Tail, 75.2, 132),
	in(timeline.Tail, 77, 128),
	in(timeline.Tail, 77.2, 116),
	in(timeline.Tail, 76.8, 103),
	in(timeline.Thigh, 76.6, 95.5),
	in(timeline.Thigh, 77.6, 90),
	in(timeline.Thigh, 78.6, 83).at(timeline.Buttock),
	in(timeline.Thigh, 77.8, 73),
	in(timeline.Thigh, 76.4, 63),
	in(timeline.Thigh, 77.2, 53),
	in(timeline.Hindleg, 79.2, 46),
	in(timeline.Hindleg, 83.6, 38),
	in(timeline.Hindleg, 89.2, 30).at(timeline.Hock),
	in(timeline.Hindleg, 88.4, 24),
	in(timeline.Hindleg, 86.4, 14),
	off(timeline.Feet, 1, 86, 6),
	off(timeline.Feet, 0.7, 86.2, 1.8),
	off(timeline.Feet, 0, 84, 0),
	off(timeline.Feet, 0, 76, 0),
	off(timeline.Feet, 0.5, 73.8, 2).at(timeline.HindPaw),
	off(timeline.Feet, 1, 75.8, 6),
	in(timeline.Hindleg, 79.2, 11),
	in(timeline.Hindleg, 80.4, 24),
	in(timeline.Hindleg, 77, 33),
	in(timeline.Hindleg, 70, 43),
	in(timeline.Hindleg, 63, 52),
	in(timeline.Hindleg, 59.4, 58),
	in(timeline.Underline, 56, 61),
	in(timeline.Underline, 48, 61.4),
	in(timeline.Underline, 36, 58.5),
	in(timeline.Underline, 20, 53.6),
	in(timeline.Underline, 9, 51),
	in(timeline.Foreleg, 2.6, 50),
	in(timeline.Foreleg, -0.4, 44),
	in(timeline.Foreleg, -2.2, 30),
	in(timeline.Foreleg, -3, 14),
	off(timeline.Feet, 1, -3, 6),
	off(timeline.Feet, 0.7, -2.8, 1.8),
	off(timeline.Feet, 0, -4.6, 0),
	off(timeline.Feet, 0, -12, 0),
	off(timeline.Feet, 0.5, -14.2, 2).at(timeline.FrontPaw),
	off(timeline.Feet, 1, -12.8, 6),
	in(timeline.Foreleg, -10.2, 11),
	in(timeline.Foreleg, -10, 28),
	in(timeline.Foreleg, -11, 44),
	in(timeline.Foreleg, -13.2, 53),
	in(timeline.Forechest, -18, 60),
	in(timeline.Forechest, -22, 68).at(timeline.Prosternum),
	in(timeline.Forechest, -23, 75),
	in(timeline.Throat, -24, 84),
	in(timeline.Throat, -27.2, 96),
	in(timeline.Throat, -31.4, 105.5),
	off(timeline.Throat, 1, -37, 111.5),
	off(timeline.Beard, 0.45, -44, 112),
	in(timeline.Beard, -51, 111),
	in(timeline.Beard, -60, 110),
	off(timeline.Beard, 1.2, -68.5, 109.6),
	off(timeline.Beard, 1.2, -75, 110.2),
	off(timeline.Beard, 0.35, -77.8, 113.4),
	off(timeline.Skull, 0, -78.6, 117),
}

// Two points lie inside the outline; x, y and z toward the camera.
var (
	eyePlace   = [3]float64{-58.2, 125.4, 6}
	elbowPlace = [3]float64{-1.2, 51.5, 15}
)

// Far legs, each a closed skin line that ends inside the trunk; they are moved and darkened when drawn.
var (
	farFore = []node{
		off(timeline.Foreleg, 0.3, -1, 62), off(timeline.Foreleg, 1, -0.4, 44), off(timeline.Foreleg, 1, -2.2, 30),
		off(timeline.Foreleg, 1, -3, 14), off(timeline.Feet, 1, -3, 6), off(timeline.Feet, 0.7, -2.8, 1.8), off(timeline.Feet, 0, -4.6, 0),
		off(timeline.Feet, 0, -12, 0), off(timeline.Feet, 0.5, -14.2, 2), off(timeline.Feet, 1, -12.8, 6), off(timeline.Foreleg, 1, -10.2, 11),
		off(timeline.Foreleg, 1, -10, 28), off(timeline.Foreleg, 1, -11, 44), off(timeline.Foreleg, 0.3, -11, 62),
	}
	farHind = []node{
		off(timeline.Thigh, 0.3, 74, 74), off(timeline.Thigh, 0.8, 76, 60), off(timeline.Hindleg, 1, 79.2, 46), off(timeline.Hindleg, 1, 83.6, 38),
		off(timeline.Hindleg, 1, 89.2, 30), off(timeline.Hindleg, 1, 88.4, 24), off(timeline.Hindleg, 1, 86.4, 14), off(timeline.Feet, 1, 86, 6),
		off(timeline.Feet, 0.7, 86.2, 1.8), off(timeline.Feet, 0, 84, 0), off(timeline.Feet, 0, 76, 0), off(timeline.Feet, 0.5, 73.8, 2),
		off(timeline.Feet, 1, 75.8, 6), off(timeline.Hindleg, 1, 79.2, 11), off(timeline.Hindleg, 1, 80.4, 24), off(timeline.Hindleg, 1, 77, 33),
		off(timeline.Hindleg, 1, 70, 43), off(timeline.Hindleg, 0.8, 64, 54), off(timeline.Hindleg, 0.3, 64, 74),
	}
	farForeShift = [2]float64{-4.5, 2.2}
	farHindShift = [2]float64{-9, 2.2}
)

// limb is a tapered round bar of the body's form, z nearer to the camera; it gives the shading its volume and
// says which hair lies over which.
type limb struct {
	x0, y0, r0 float64
	x1, y1, r1 float64
	z          float64
	over       layer
}

type layer uint8

const (
	layTail layer = iota
	layTrunk
	layHind
	layFore
	layHead
)

var limbs = []limb{
	{-44, 124, 10, -56, 120.5, 8.6, 3, layHead},
	{-56, 119.8, 9, -75, 116.6, 7, 3, layHead},
	{-34, 122, 10, -11, 98, 14, 0, layTrunk},
	{-5, 77, 22, 22, 76.5, 22.5, 0, layTrunk},
	{22, 77, 21.5, 58, 81, 17, 0, layTrunk},
	{58, 84, 14, 71, 88, 8, 0, layTrunk},
	{-14, 72, 9, -12, 62, 7, 2, layTrunk},
	{-3, 93, 7, -14, 72, 8.5, 13.5, layTrunk},
	{-13, 70, 8, -4, 55, 6.5, 14, layFore},
	{-6, 52, 5.6, -6.4, 8, 4, 13, layFore},
	{-7, 4, 3.6, -11, 3, 3, 13, layFore},
	{66.5, 83, 12, 66, 66, 10.5, 6.5, layHind},
	{66, 64, 9, 82, 34, 4.6, 8, layHind},
	{84.6, 30, 4.4, 83, 6, 3.8, 9, layHind},
	{83, 4, 3.6, 77, 3, 3, 9, layHind},
	{72.6, 98, 4.6, 75.3, 129, 3, -3, layTail},
}

// anchor fixes the lie of the hair and its zone at a place of the flank; between anchors both are interpolated.
type anchor struct {
	x, y, dx, dy float64
	zone         timeline.Zone
}

var anchors = []anchor{
	{-74, 121, 0.9, 0.2, timeline.Skull}, {-66, 122, 0.9, -0.3, timeline.Cheek}, {-72, 116, -0.25, -1, timeline.Beard},
	{-76, 112, -0.45, -1, timeline.Beard}, {-66, 113, -0.25, -1, timeline.Beard}, {-57, 115, 0, -1, timeline.Beard},
	{-50, 115, 0.35, -0.9, timeline.Beard}, {-60, 128.5, -1, -0.25, timeline.Brows}, {-50, 131.5, 1, 0.1, timeline.Skull},
	{-41, 133, 1, -0.1, timeline.Skull}, {-46, 122, 0.85, -0.55, timeline.Cheek}, {-54, 121, 0.6, -0.8, timeline.Cheek}, {-40, 117, 0.7, -0.7, timeline.Cheek},
	{-31, 131, 0.8, -0.6, timeline.Crest}, {-22, 122, 0.68, -0.73, timeline.Crest}, {-11, 107, 0.75, -0.66, timeline.Crest},
	{-28, 116, 0.6, -0.8, timeline.Neck}, {-19, 103, 0.6, -0.8, timeline.Neck}, {-32, 108, 0.4, -0.9, timeline.Throat}, {-26, 94, 0.3, -0.95, timeline.Throat},
	{-21, 76, 0.3, -0.95, timeline.Forechest}, {-19, 64, 0.3, -0.95, timeline.Forechest}, {-10, 86, 0.62, -0.78, timeline.Shoulder},
	{-11, 70, 0.5, -0.86, timeline.Shoulder}, {0, 98, 0.95, -0.25, timeline.Withers}, {6, 90, 0.88, -0.48, timeline.Withers},
	{20, 96, 1, -0.14, timeline.Back}, {34, 96, 1, -0.12, timeline.Back}, {50, 96, 1, -0.14, timeline.Loin}, {48, 84, 0.93, -0.36, timeline.Loin},
	{12, 78, 0.84, -0.54, timeline.Ribs}, {30, 78, 0.88, -0.47, timeline.Ribs}, {8, 62, 0.6, -0.8, timeline.Ribs}, {30, 66, 0.72, -0.7, timeline.Ribs},
	{20, 55, 0.5, -0.86, timeline.Underline}, {40, 62, 0.55, -0.83, timeline.Underline}, {54, 65, 0.5, -0.86, timeline.Underline},
	{64, 94, 0.86, -0.5, timeline.Rump}, {73, 89, 0.5, -0.86, timeline.Rump}, {72, 101, 0.15, 1, timeline.Tail}, {74.5, 115, 0.1, 1, timeline.Tail},
	{75.2, 129, 0.1, 1, timeline.Tail}, {64, 82, 0.5, -0.86, timeline.Thigh}, {72, 76, 0.42, -0.9, timeline.Thigh}, {62, 66, 0.25, -0.97, timeline.Thigh},
	{73, 62, 0.3, -0.95, timeline.Thigh}, {67, 52, 0.35, -0.93, timeline.Hindleg}, {76, 43, 0.4, -0.9, timeline.Hindleg}, {86, 30, 0.2, -1, timeline.Hindleg},
	{83.5, 16, 0.05, -1, timeline.Hindleg}, {82, 4, -0.2, -1, timeline.Feet}, {76.5, 4, -0.6, -0.8, timeline.Feet}, {-6, 54, 0.2, -1, timeline.Foreleg},
	{-6, 40, 0.12, -1, timeline.Foreleg}, {-6.4, 24, 0.05, -1, timeline.Foreleg}, {-6.6, 11, 0.02, -1, timeline.Foreleg}, {-6, 3, -0.1, -1, timeline.Feet}, {-12, 3, -0.6, -0.8, timeline.Feet},
}
