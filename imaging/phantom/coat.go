package phantom

import "thatch/timeline"

// ZoneCoat is the coat of one zone as it stands on one day.
type ZoneCoat struct {
	LengthMM float64 // of the hair that the outline follows, drawn straight
	LieRatio float64 // depth per length; 0 means 0.45 (judgement)
	LoftMM   float64 // what the undercoat adds to the depth
	InHair   float64 // cover, 0 (bare) to 1 (full); how sparse the zone is drawn, no matter for the depth
	Uneven   Uneven
}

// Uneven is what a hand leaves behind within a zone; the zero value is even.
type Uneven struct {
	WaveMM    float64 // amplitude of the depth along each stretch of the zone's contour
	WavelenMM float64 // 0 means 60
	PhaseDeg  float64
	BumpMM    float64 // one rise (+, hair left) or dip (−, hair missing) of the depth, over the zone's borders if it is wide
	BumpAt    float64 // its middle, 0 to 1 along the first stretch of the zone's contour, in the order of Truth.SkinLine
	BumpSDMM  float64 // its half width as a standard deviation; 0 means 20
}

const defaultLie = 0.45

// DepthMM is how far the zone's outline stands off the skin.
func (z ZoneCoat) DepthMM() float64 {
	lie := z.LieRatio
	if lie == 0 {
		lie = defaultLie
	}
	return lie*z.LengthMM + z.LoftMM
}

// Coat is the coat of a whole dog. A zone left out takes that of a neighbouring zone or a short covering coat.
type Coat map[timeline.Zone]ZoneCoat

// Overgrown is a neglected coat: jacket lengthMM long, furnishings longer, woolly.
func Overgrown(lengthMM float64) Coat {
	return shaped(map[timeline.Zone]float64{
		timeline.Skull: 0.62, timeline.Brows: 1.2, timeline.Cheek: 0.7, timeline.Beard: 1.5, timeline.Ears: 0.45,
		timeline.Throat: 0.62, timeline.Crest: 0.9, timeline.Neck: 0.95, timeline.Shoulder: 0.95, timeline.Forechest: 0.75,
		timeline.Withers: 1, timeline.Back: 1, timeline.Loin: 1.04, timeline.Ribs: 1, timeline.Rump: 0.96,
		timeline.Underline: 1.05, timeline.Belly: 0.9, timeline.Tail: 0.95, timeline.Thigh: 0.98,
		timeline.Foreleg: 1.1, timeline.Hindleg: 1.05, timeline.Feet: 0.7,
	}, lengthMM, 0.46, 2.5)
}

// RingReady is a coat inside its targets: jacket about lengthMM long, flat parts short, furnishings shaped.
func RingReady(lengthMM float64) Coat {
	s := lengthMM / 18
	return shaped(map[timeline.Zone]float64{
		timeline.Skull: 7 / s, timeline.Brows: 40, timeline.Cheek: 6 / s, timeline.Beard: 48, timeline.Ears: 4 / s,
		timeline.Throat: 6 / s, timeline.Crest: 14, timeline.Neck: 9, timeline.Shoulder: 10, timeline.Forechest: 7,
		timeline.Withers: 18, timeline.Back: 18, timeline.Loin: 18, timeline.Ribs: 16, timeline.Rump: 12,
		timeline.Underline: 18, timeline.Belly: 14, timeline.Tail: 11, timeline.Thigh: 13,
		timeline.Foreleg: 26, timeline.Hindleg: 22, timeline.Feet: 9,
	}, s, 0.43, 0.6)
}

func shaped(length map[timeline.Zone]float64, factor, lie, loft float64) Coat {
	c := Coat{}
	for z, l := range length {
		c[z] = ZoneCoat{LengthMM: l * factor, LieRatio: lie, LoftMM: loft, InHair: 1}
	}
	return c
}
