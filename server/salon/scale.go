package salon

import (
	"thatch/imaging/align"
	"thatch/imaging/align/marker"
	"thatch/store"
	"thatch/timeline"
)

// ScaleBy is what says how large a millimetre is in a photo, best first.
type ScaleBy string

const (
	ScaleByMarker  ScaleBy = "marker"
	ScaleByTape    ScaleBy = "tape"
	ScaleByWithers ScaleBy = "withers" // circular for depths: the coat at the withers is part of the height
)

// ScaleFigure is the scale of a photo at the dog.
type ScaleFigure struct {
	By         ScaleBy // "": none is known, and Why says so
	MMPerPX    float64
	SDMMPerPX  float64
	DistanceMM float64 // from camera to dog; 0: not known
	Why        timeline.Phrase
}

// Percent is the standard deviation of the scale, as a share of it in hundredths.
func (f ScaleFigure) Percent() float64 { return 100 * f.SDMMPerPX / f.MMPerPX }

// ForDepths reports whether depths may be read by this scale.
func (f ScaleFigure) ForDepths() bool { return f.By == ScaleByMarker || f.By == ScaleByTape }

// scaleSeen is the scale that marker or tape give; By is "" where neither does.
func scaleSeen(p timeline.Photo, of store.Scale) ScaleFigure {
	out := ScaleFigure{}
	if look := of.Marker; look != nil && look.Seen != nil {
		out = ScaleFigure{By: ScaleByMarker, MMPerPX: look.Seen.MMPerPX, SDMMPerPX: look.Seen.SDMMPerPX}
	} else if t := p.Tape; t != nil {
		// Its marks are tapped as the dog's points are.
		mm, sd, err := align.ScaleFromTape(t.A, t.B, t.MM, align.TapeSD{TapPX: tapShare * bodyPX(p.Landmarks), MM: tapeSDMM})
		if err != nil {
			return out
		}
		out = ScaleFigure{By: ScaleByTape, MMPerPX: mm, SDMMPerPX: sd}
	} else {
		return out
	}
	out.SDMMPerPX = marker.OffPlaneSD(out.SDMMPerPX, marker.OffPlaneSDMM, of.FocalPX, p.WidthPX, p.HeightPX)
	if of.FocalPX > 0 {
		out.DistanceMM = of.FocalPX * out.MMPerPX
	}
	return out
}

// tapeSDMM is how well two marks on a table are that far apart as is said. Judgement, no source.
const tapeSDMM = 1.0
