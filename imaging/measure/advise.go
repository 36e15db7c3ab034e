package measure

import (
	"math"

	"thatch/timeline"
)

// Run is a stretch of the topline that lies off its line.
type Run struct {
	FromMM, ToMM float64 // from the withers towards the tail set
	PeakMM       float64 // at its farthest place, + high
	SDMM         float64 // there
	PeakAtMM     float64
	Zone         timeline.Zone // in which the farthest place lies
	Most         bool          // on the same side in most photos
	Sure         bool          // farther off than twice the salon's own spread and its own standard deviation allow for
}

// LengthMM of the run along the back.
func (r Run) LengthMM() float64 { return r.ToMM - r.FromMM }

const (
	leastOffMM  = 1.5  // under which a back is straight to every eye
	leastRunMM  = 14.0 // a tuft is no rise
	mostOf      = 2.0 / 3
	leastPhotos = 2
	surely      = 1.645 // of a standard deviation: nine times in ten it is not chance
)

// Runs are the stretches in which a topline is high or low, from the withers to the tail set, those left out that are highest or
// lowest where neck or tail begins. floorMM is the salon's own
// spread of one standing-up (Floor.ToplineMM). A rise is Sure where it exceeds twice that: a wrong "leave" costs two weeks,
// a wrong "take" costs the show.
func (s Shape) Runs(floorMM float64) []Run {
	out := []Run{}
	for k := 0; k < len(s.Places); {
		p := s.Places[k]
		if math.Abs(p.MM) < leastOffMM {
			k++
			continue
		}
		r := Run{FromMM: p.AtMM, ToMM: p.AtMM}
		end := k
		for ; end < len(s.Places) && math.Abs(s.Places[end].MM) >= leastOffMM/2 && (s.Places[end].MM > 0) == (p.MM > 0); end++ {
			q := s.Places[end]
			r.ToMM = q.AtMM
			if math.Abs(q.MM) > math.Abs(r.PeakMM) {
				r.PeakMM, r.SDMM, r.PeakAtMM, r.Zone = q.MM, q.SDMM, q.AtMM, q.Zone
			}
		}
		k = end
		if r.LengthMM() < leastRunMM || !s.Back(r.PeakAtMM) {
			continue
		}
		r.Most = s.most(r)
		r.Sure = r.Most && math.Abs(r.PeakMM) > 2*floorMM && math.Abs(r.PeakMM) > surely*r.SDMM
		out = append(out, r)
	}
	return out
}

// Back reports whether a place of the topline is the back's own: at both ends neck and tail run into it.
func (s Shape) Back(atMM float64) bool { return atMM >= endsMM && atMM <= s.LengthMM-endsMM }

// endsMM is how far neck and tail reach; judgement, no source.
const endsMM = 20.0

// most reports whether the run shows in most photos.
func (s Shape) most(r Run) bool {
	k := int(math.Round(r.PeakAtMM / StepMM))
	same, of := 0, 0
	for _, row := range s.Photos {
		if k < len(row) && !math.IsNaN(row[k]) {
			of++
			if row[k]*r.PeakMM > 0 && math.Abs(row[k]) >= leastOffMM/2 {
				same++
			}
		}
	}
	return of >= leastPhotos && float64(same) >= mostOf*float64(of)
}

// Flush is the length, drawn straight, that hair of a run would need for the run to lie on the line: its depth now, less
// what stands too high or more what is missing, by how the coat lies.
func (r Run) Flush(depthMM, lie, loftMM float64) float64 {
	return math.Max(0, (depthMM-r.PeakMM-loftMM)/lie)
}
