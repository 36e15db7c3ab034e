package measure

import (
	"math"

	"thatch/timeline"
)

// StoodUp is the least number of photos of a salon check: the dog walked off and stood up again before each.
const StoodUp = 5

// Check tells a salon's own spread from photos of one dog that has not changed, walked off and stood up again before each:
// the standard deviation of one standing-up, of the topline's shape at one place and of each zone's depth, pooled. depth is
// the coat by hand at that day, as far as it is known: what it is does not matter for the spread. ok is false below three
// photos that can be used.
func Check(shots []Shot, byHand map[timeline.Zone]Depth) (timeline.Floor, bool) {
	shape, ok := Toplines(shots)
	if !ok || shape.N < 3 {
		return timeline.Floor{}, false
	}
	out := timeline.Floor{N: shape.N, DepthMM: map[timeline.Zone]float64{}}
	sum, of := 0.0, 0.0
	for k := range shape.Photos[0] {
		var v []float64
		for _, row := range shape.Photos {
			if !math.IsNaN(row[k]) {
				v = append(v, row[k])
			}
		}
		if len(v) > 1 {
			_, sd := meanAnd(v)
			sum, of = sum+sd*sd*float64(len(v)-1), of+float64(len(v)-1)
		}
	}
	out.ToplineMM = math.Sqrt(sum / of)

	// Each photo against the others, as a sitting of its own: nothing says that the coat is the same.
	sittings := make([]Sitting, len(shots))
	each := make([]Shot, len(shots))
	for i := range shots {
		each[i] = shots[i]
		each[i].Sitting = i
		sittings[i].ByHand = map[timeline.Zone]Depth{}
		for z, d := range byHand {
			sittings[i].ByHand[z] = Depth{MM: d.MM, SDMM: loosely}
		}
	}
	sittings[0].ByHand = byHand
	r, ok := Depths(each, sittings)
	if !ok {
		return out, true
	}
	for _, z := range measured {
		var v []float64
		for _, of := range r.Depths {
			if f, ok := of[z]; ok {
				v = append(v, f.MM)
			}
		}
		if len(v) >= 3 {
			_, out.DepthMM[z] = meanAnd(v)
		}
	}
	return out, true
}

// loosely is how little a check's photos are told of the coat, mm.
const loosely = 5.0
