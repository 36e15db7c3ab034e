package pages

import (
	"math"
	"net/http"

	"thatch/server/salon"
	"thatch/timeline"
)

type measuredPage struct {
	frame
	salon.Measured
	Shown []sittingView
	Edges []timeline.Photo // whose edge could be looked at next
}

// sittingView is one sitting as it is shown.
type sittingView struct {
	salon.MeasuredSitting
	Told    []salon.MeasuredZone
	Not     []notMeasured
	Out     []salon.MeasuredPhoto // not used, and why
	LowMM   float64               // farthest under the line
	HighMM  float64               // farthest over it
	Frame   timeline.Photo
	LabelPX int // height of the letters on the photo
	Floor   float64
}

// notMeasured is zones without a figure for one reason.
type notMeasured struct {
	Zones []timeline.Zone
	Why   timeline.Phrase
}

var measuredView = declare[measuredPage]("measured")

func (s *Site) measured(w http.ResponseWriter, r *http.Request) error {
	m, err := s.salon.Measured(r.Context(), idOf(r, "id"))
	if err != nil {
		return err
	}
	p := measuredPage{frame: frame{Tab: "measured", Dog: navOf(m.Dog)}, Measured: m}
	for _, v := range m.Sittings {
		p.Shown = append(p.Shown, viewOf(v, m.Floor.ToplineMM))
	}
	if len(m.Sittings) == 0 {
		if p.Edges, err = s.salon.ToMeasure(r.Context(), m.Dog.ID); err != nil {
			return err
		}
	}
	return measuredView.show(s, w, r, p)
}

func viewOf(v salon.MeasuredSitting, floorMM float64) sittingView {
	out := sittingView{MeasuredSitting: v, Frame: v.First(), Floor: floorMM}
	out.LabelPX = max(1, max(out.Frame.WidthPX, out.Frame.HeightPX)/34)
	for _, q := range v.Shape.Places {
		if !v.Shape.Back(q.AtMM) {
			continue
		}
		out.LowMM, out.HighMM = math.Max(out.LowMM, -q.MM), math.Max(out.HighMM, q.MM)
	}
	for _, z := range v.Zones {
		if z.DepthMM != nil {
			out.Told = append(out.Told, z)
			continue
		}
		at := -1
		for i := range out.Not {
			if out.Not[i].Why.String() == z.Why.String() {
				at = i
			}
		}
		if at < 0 {
			at, out.Not = len(out.Not), append(out.Not, notMeasured{Why: z.Why})
		}
		out.Not[at].Zones = append(out.Not[at].Zones, z.Zone)
	}
	for _, q := range v.Photos {
		if !q.Why.IsZero() {
			out.Out = append(out.Out, q)
		}
	}
	return out
}

// LabelAt is where the letters of a run stand: over the back.
func (v sittingView) LabelAt(r salon.ToplineRun) timeline.XY {
	return timeline.XY{X: math.Round(r.At.X), Y: math.Round(math.Max(float64(2*v.LabelPX), r.At.Y-1.6*float64(v.LabelPX)))}
}

// Peak is how far a run stands off, without its sign.
func (v sittingView) Peak(r salon.ToplineRun) float64 { return math.Abs(r.PeakMM) }
